package board

import (
	"cmp"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"benchbell/bot/shop"
	"benchbell/quote"
)

// stage is a step of a commission's life.
type stage struct {
	Says string
	Done bool
	Here bool
}

// stages are the line of steps, with the states in which a commission is at each.
var stages = []struct {
	says   string
	states string
}{{"Asked", "choosing"}, {"Measured", "measuring checking"}, {"Quoted", "computing failed quoted expired"}, {"Approved", "approved"}, {"In work", "working"},
	{"Ready", "ready"}, {"Handed over", "delivered"}}

// line is what stands in a list of the page, by columns.
type line struct {
	At, What, Who, More string
	Path                string
	Rev                 string
}

type pieces struct {
	Title  string
	Count  int
	Labels string
	Is     string // how far they are
	State  string // how they are drawn
	Shape  *shape
}

type assembly struct {
	Title  string
	Count  int
	States string // how many pieces are how far
	Pieces []pieces
}

// fact is a name with its value.
type fact struct{ Name, Value string }

type commissionView struct {
	frame
	ID, Client, Thread string
	Order              order
	Stages             []stage
	Ended              string // where it left the line of steps
	Facts              []fact
	Assemblies         []assembly
	Work, Money        []fact
	Body               []fact
	HasBody            bool
	Promises           []line
	Meetings           []line
	Revisions          []line
	Documents          []line
	Messages           []line
	Trail              []line
	// Addresses of other pages of the messages and of the trail.
	LaterMessages, EarlierMessages, LaterTrail, EarlierTrail string
	Prints                                                   bool // there is something to print
	Traveller, Labels                                        string
}

// Commission answers the page of one commission.
func (b *Board) Commission(w http.ResponseWriter, r *http.Request, v Visit) error {
	q := r.URL.Query()
	id := quote.CommissionID(strings.ToUpper(strings.TrimSpace(q.Get("of"))))
	page := func(key string) int { return pageNumber(url.Values{"page": {q.Get(key)}}) }
	ask := shop.Folder{Of: shop.On(id), Messages: page("messages"), Trail: page("trail")}
	x, err := see[shop.Whole](r.Context(), b, v, ask)
	if refusalIn(err) != nil {
		return b.nothing(w, v, fmt.Sprintf("There is no commission %q; they are numbered like C0007.", id))
	}
	if err != nil {
		return err
	}
	return render(w, "commission", b.commissionView(v, x, ask))
}

// nothing says that there is nothing to show.
func (b *Board) nothing(w http.ResponseWriter, v Visit, say string) error {
	w.WriteHeader(http.StatusNotFound)
	return render(w, "nothing", struct {
		frame
		Say string
	}{b.frame(v, "Nothing here", time.Now()), say})
}

func (b *Board) commissionView(v Visit, x shop.Whole, ask shop.Folder) commissionView {
	id := string(x.ID)
	o := commissionView{frame: b.frame(v, id, x.At), ID: id, Client: x.ClientName}
	o.Order = o.order(x.Order, o.Base+"orders")
	o.Thread = o.Order.Thread
	o.stages(x)
	o.Facts = append(o.Facts, fact{"Sets", o.Order.Sets})
	if x.Finish != "" {
		o.Facts = append(o.Facts, fact{"Finish", x.Finish})
	}
	if x.Wanted != "" {
		o.Facts = append(o.Facts, fact{"Wanted by", o.promised(x.Wanted)})
	}
	if x.Notes != "" {
		o.Facts = append(o.Facts, fact{"Notes", x.Notes})
	}
	if o.Prints = len(x.Assemblies) > 0; o.Prints {
		o.Traveller, o.Labels = o.Base+"days?traveller="+url.QueryEscape(id), o.Base+"days?labels="+url.QueryEscape(id)
	}
	for _, a := range x.Assemblies {
		s := assembly{Title: a.Title}
		for _, g := range a.Pieces {
			s.Count += len(g.Labels)
			s.Pieces = append(s.Pieces, pieces{g.Title, len(g.Labels), strings.Join(g.Labels, ", "), string(g.State), drawnAs(g.State), b.shapes.of(x.Drawn, ofLabel+g.Labels[0])})
		}
		s.States = far(a)
		o.Assemblies = append(o.Assemblies, s)
	}
	if h := x.Hours; h.Quoted > 0 {
		o.Work = append(o.Work, fact{"Quoted", fmt.Sprintf("%.1f h, 8 in 10 between %.1f and %.1f h", h.Quoted, h.Low, h.High)})
		if h.All > 0 {
			o.Work = append(o.Work, fact{"Planned", fmt.Sprintf("%.1f h in %d steps", h.Planned.Hours(), h.All)})
		}
		if h.Done > 0 {
			o.Work = append(o.Work, fact{"Worked", fmt.Sprintf("%.1f h, known of %d of the %d steps done", h.Worked.Hours(), h.Known, h.Done)})
		}
	}
	if m := x.Money; m != nil {
		o.Money = []fact{{"Price", m.Total.Format(m.Currency)}, {"Deposit", m.Deposit.Format(m.Currency)}, {"Balance", m.Balance.Format(m.Currency)}}
		switch {
		case !m.PaidAt.IsZero():
			paid := "deposit confirmed " + o.when(m.PaidAt)
			if m.PaidBy != "" {
				paid += " by " + m.PaidBy
			}
			o.Money = append(o.Money, fact{"Paid", paid})
			if x.State != "delivered" && x.State != "cancelled" {
				o.Money = append(o.Money, fact{"Due", m.Balance.Format(m.Currency) + " before it is handed over"})
			}
		case x.State == "approved":
			o.Money = append(o.Money, fact{"Due", m.Deposit.Format(m.Currency) + o.until(" by ", m.DepositBy)})
		}
	}
	if x.Body != nil {
		o.HasBody = true
		for _, t := range x.Body.Taken {
			value := "not given"
			switch {
			case t.Known && t.Estimated:
				value = t.Value.String() + ", estimated"
			case t.Known:
				value = t.Value.String() + ", written “" + t.Typed + "”"
			}
			o.Body = append(o.Body, fact{t.Label, value})
		}
	}
	o.promises(x)
	for _, a := range x.Meetings {
		l := line{What: quote.Capital(string(a.Which)) + ", " + string(a.How), More: string(a.State), At: "no time yet"}
		if a.State == "offered" {
			l.More = "times are offered to the client"
		}
		if !a.At.IsZero() {
			l.At = o.when(a.At)
		}
		o.Meetings = append(o.Meetings, l)
	}
	o.papers(x)
	for _, m := range x.Messages {
		l := line{At: o.when(m.At), Who: m.Name, What: did(m)}
		if m.Text != "" {
			l.What += ": “" + m.Text + "”"
		}
		switch {
		case m.AnsweredAt.IsZero():
			l.More = "nobody has answered yet"
		case m.Answer != "":
			l.More = m.Answerer + " answered " + o.when(m.AnsweredAt) + ": “" + m.Answer + "”"
		default:
			l.More = m.Answerer + " dealt with it " + o.when(m.AnsweredAt)
		}
		o.Messages = append(o.Messages, l)
	}
	for _, e := range x.Trail {
		l := line{At: o.when(e.At), What: e.What, More: e.Detail, Who: e.Name}
		if l.Who == "" {
			l.Who = "by itself"
		}
		if e.OnBehalf != "" {
			l.Who += " for the client"
		}
		o.Trail = append(o.Trail, l)
	}
	at := func(messages, trail int) string {
		q := url.Values{"of": {id}}
		for key, n := range map[string]int{"messages": messages, "trail": trail} {
			if n > 0 {
				q.Set(key, strconv.Itoa(n+1))
			}
		}
		return o.Base + "commission?" + q.Encode()
	}
	if ask.Messages > 0 {
		o.LaterMessages = at(ask.Messages-1, ask.Trail) + "#messages"
	}
	if x.MoreMessages {
		o.EarlierMessages = at(ask.Messages+1, ask.Trail) + "#messages"
	}
	if ask.Trail > 0 {
		o.LaterTrail = at(ask.Messages, ask.Trail-1) + "#trail"
	}
	if x.MoreTrail {
		o.EarlierTrail = at(ask.Messages, ask.Trail+1) + "#trail"
	}
	return o
}

// far says how many pieces of an assembly are how far, the furthest first.
func far(a shop.Assembly) string {
	n := map[shop.PieceState]int{}
	for _, g := range a.Pieces {
		n[g.State] += len(g.Labels)
	}
	var out []string
	for _, s := range slices.Backward(shop.PieceStates()) {
		if n[s] > 0 {
			out = append(out, fmt.Sprintf("%d %s", n[s], s))
		}
	}
	return strings.Join(out, ", ")
}

// stages says how far along the line of steps a commission is, or has been.
func (o *commissionView) stages(x shop.Whole) {
	here := -1
	for i, s := range stages {
		if strings.Contains(" "+s.states+" ", " "+string(x.State)+" ") {
			here = i
		}
	}
	if here < 0 { // declined or cancelled: as far as it came
		o.Ended = quote.Capital(stateNames[x.State])
		switch {
		case !x.DepositAt.IsZero():
			here = 4
		case x.Approval != nil:
			here = 3
		case len(x.Revisions) > 0:
			here = 2
		default:
			here = 0
		}
	}
	for i, s := range stages {
		o.Stages = append(o.Stages, stage{Says: s.says, Done: i < here || x.State == "delivered", Here: i == here})
	}
}

// promises are the dates told, the last first.
func (o *commissionView) promises(x shop.Whole) {
	says := map[string]string{"offered": "offered with the quote", "given": "stands", "kept": "kept", "missed": "missed", "void": "no longer holds"}
	for i := len(x.Promises) - 1; i >= 0; i-- {
		p := x.Promises[i]
		l := line{At: o.promised(p.Date), What: says[string(p.State)], Who: "told " + o.when(p.ToldAt)}
		if p.Odds >= 0 {
			l.More = fmt.Sprintf("%d of 100 when told", shop.Of100(p.Odds))
		}
		o.Promises = append(o.Promises, l)
	}
}

// papers are the revisions and what there is to open of them.
func (o *commissionView) papers(x shop.Whole) {
	at := func(key string, revision, n int) string {
		q := url.Values{"of": {o.ID}}
		if revision > 0 {
			q.Set("revision", strconv.Itoa(revision))
		}
		if n > 0 {
			q.Set(key, strconv.Itoa(n))
		}
		return o.Base + "document?" + q.Encode()
	}
	for _, r := range x.Revisions {
		l := line{At: o.when(r.AskedAt), What: fmt.Sprintf("Revision %d: %s", r.Revision, r.State), More: r.Change}
		if l.More == "" && r.Revision == 1 {
			l.More = "as first asked for"
		}
		if !r.IssuedAt.IsZero() {
			l.Path, l.Who = at("", r.Revision, 0), "Quote (PDF)"
		}
		o.Revisions = append(o.Revisions, l)
	}
	for _, f := range x.Pictures {
		o.Documents = append(o.Documents, line{What: cmp.Or(f.Alt, f.Name), Path: at("picture", x.Revision, f.N)})
	}
	for _, f := range x.Sent {
		o.Documents = append(o.Documents, line{What: "From the client: " + f.Name, Path: at("sent", 0, f.N)})
	}
}

// shownTypes are the files that a browser may show; any other is saved.
var shownTypes = map[string]bool{"image/png": true, "image/jpeg": true, "image/gif": true, "image/webp": true}

// Document answers a file of a commission.
func (b *Board) Document(w http.ResponseWriter, r *http.Request, v Visit) error {
	q := r.URL.Query()
	n := func(key string) int {
		k, err := strconv.Atoi(q.Get(key))
		if err != nil {
			return 0
		}
		return k
	}
	f, err := see[shop.File](r.Context(), b, v, shop.Document{Of: shop.On(quote.CommissionID(q.Get("of"))), Revision: n("revision"), Picture: n("picture"), Sent: n("sent")})
	if refusalIn(err) != nil {
		return b.nothing(w, v, "There is no such document; open it from its commission's page.")
	}
	if err != nil {
		return err
	}
	h := w.Header()
	how := "attachment"
	if h.Set("Content-Type", "application/octet-stream"); shownTypes[f.MIME] {
		how = "inline"
		h.Set("Content-Type", f.MIME)
	} else if f.MIME == "application/pdf" {
		h.Set("Content-Type", f.MIME)
	}
	h.Set("Content-Security-Policy", alone)
	h.Set("Content-Disposition", fmt.Sprintf("%s; filename=%q", how, strings.Map(plainName, f.Name)))
	h.Set("Content-Length", strconv.Itoa(len(f.Data)))
	w.Write(f.Data) // fails where the browser has gone away
	return nil
}

// plainName leaves of a file's name what every browser and folder takes.
func plainName(r rune) rune {
	if r == '.' || r == '-' || r == '_' || r >= '0' && r <= '9' || r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' {
		return r
	}
	return '_'
}

// drawnAs is how a piece is drawn by how far it is: dashed where nothing is done with it, solid where nothing is left.
func drawnAs(s shop.PieceState) string {
	switch s {
	case shop.Uncut:
		return "planned"
	case shop.Packed:
		return "done"
	}
	return "dry"
}
