package desk

import (
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/quote"
	"benchbell/quote/price"
)

// maxShown is how many pictures go with a quote; transports take ten files in a message, one is the PDF.
const maxShown = 9

func quoteKey(id quote.CommissionID, revision int) string {
	return fmt.Sprintf("%s/quote/%d", id, revision)
}

func (w *work) quoteFiles(rev ledger.Revision) ([]chat.File, error) {
	pdf, _, err := w.t.PDF(rev.Commission, rev.Revision)
	if err != nil {
		return nil, err
	}
	files := []chat.File{{Name: fmt.Sprintf("quote-%s-r%d.pdf", rev.Commission, rev.Revision), MIME: "application/pdf",
		Alt: fmt.Sprintf("Quote %s, revision %d", rev.Commission, rev.Revision), Data: pdf}}
	pics, err := w.t.RevisionPictures(rev.Commission, rev.Revision)
	if err != nil {
		return nil, err
	}
	return append(files, pics[:min(len(pics), maxShown)]...), nil
}

// quotePost shows a quote with the actions that are open to it; without files, so that an edit keeps them.
func (w *work) quotePost(c ledger.Commission, rev ledger.Revision) (chat.Post, error) {
	q := rev.Quote
	var b strings.Builder
	fmt.Fprintf(&b, "*Quote %s, revision %d*\n", c.ID, rev.Revision)
	b.WriteString(strings.TrimSpace(clip(q.Summary, 1000)) + "\n")
	if rev.Revision > 1 {
		diff, err := w.against(rev)
		if err != nil {
			return chat.Post{}, err
		}
		if diff != "" {
			b.WriteString(diff + "\n")
		}
	}
	if q.Late {
		fmt.Fprintf(&b, "This is later than the %s you asked for.\n", dateWords(rev.Snapshot.Wanted))
	}
	fmt.Fprintf(&b, "Valid until %s.", w.d.until(rev.ExpiresAt))
	p := chat.Post{Key: quoteKey(c.ID, rev.Revision), Text: clip(b.String(), chat.MaxText-200)}
	if rev.State == ledger.RevQuoted {
		at := fmt.Sprintf("/%s/%d", c.ID, rev.Revision)
		p.Buttons = []chat.Button{
			{Action: "approve" + at, Label: "Approve", Tone: chat.Good},
			{Action: "change" + at, Label: "Ask for a change"},
			{Action: "decline" + at, Label: "Decline", Tone: chat.Grave},
		}
	}
	return p, nil
}

// against says what differs from the latest earlier revision that was quoted.
func (w *work) against(rev ledger.Revision) (string, error) {
	for n := rev.Revision - 1; n >= 1; n-- {
		old, err := w.t.Revision(rev.Commission, n)
		if err != nil {
			return "", err
		}
		if old.IssuedAt.IsZero() {
			continue
		}
		return fmt.Sprintf("Against revision %d: %s; %s.", n, priceDiff(old.Quote.Estimate, rev.Quote.Estimate),
			dateDiff(old.Quote.Promise, rev.Quote.Promise)), nil
	}
	return "", nil
}

func priceDiff(old, now price.Estimate) string {
	to := now.Total.Format(now.Currency)
	switch d := now.Total - old.Total; {
	case old.Currency != now.Currency:
		return fmt.Sprintf("the price was %s and is %s", old.Total.Format(old.Currency), to)
	case d > 0:
		return fmt.Sprintf("the price rises by %s to %s", d.Format(now.Currency), to)
	case d < 0:
		return fmt.Sprintf("the price falls by %s to %s", (-d).Format(now.Currency), to)
	}
	return "the price stays " + to
}

func dateDiff(old, now string) string {
	a, errA := time.Parse(time.DateOnly, old)
	b, errB := time.Parse(time.DateOnly, now)
	if errA != nil || errB != nil || a.Equal(b) {
		return "the promised date stays " + dateWords(now)
	}
	days := int(b.Sub(a).Hours() / 24)
	way := "later"
	if days < 0 {
		days, way = -days, "earlier"
	}
	unit := "days"
	if days == 1 {
		unit = "day"
	}
	return fmt.Sprintf("the promised date moves %d %s %s to %s", days, unit, way, dateWords(now))
}

// retire ends the current revision and takes the buttons off its post.
func (w *work) retire(c ledger.Commission, to ledger.RevisionState, say string, buttons ...chat.Button) error {
	if c.Revision == 0 {
		return nil
	}
	if err := w.t.SetRevisionState(c.ID, c.Revision, to); err != nil {
		return err
	}
	rev, err := w.t.Revision(c.ID, c.Revision)
	if err != nil {
		return err
	}
	if rev.IssuedAt.IsZero() { // never quoted: what there is to see is its progress
		return w.t.PutPost(c.ID, chat.Post{Key: progressKey(c.ID, c.Revision), Text: fmt.Sprintf("*%s, revision %d*: %s", c.ID, c.Revision, say)}, w.now)
	}
	p, err := w.quotePost(c, rev)
	if err != nil {
		return err
	}
	p.Text += "\n*" + say + "*"
	p.Buttons = buttons
	return w.t.PutPost(c.ID, p, w.now)
}

// decidable refuses everything but the current, quoted, unexpired revision.
func (w *work) decidable(c ledger.Commission, revision int) error {
	a, err := w.t.Approval(c.ID)
	if err == nil {
		return refuse("revision %d of %s was already approved on %s by %s", a.Revision, c.ID, w.d.when(a.At), a.Name)
	}
	if !errors.Is(err, ledger.ErrNone) {
		return err
	}
	if revision < 1 || revision > c.Revision {
		return refuse("%s has no revision %d", c.ID, revision)
	}
	if c.State.Closed() {
		return refuse("%s is %s since %s", c.ID, stateWords[c.State], w.d.when(c.ChangedAt))
	}
	if revision < c.Revision {
		return refuse("revision %d was replaced by revision %d", revision, c.Revision)
	}
	switch c.State {
	case ledger.Quoted, ledger.Expired:
		return nil
	case ledger.Computing:
		return refuse("revision %d of %s is still being worked out", c.Revision, c.ID)
	case ledger.Choosing, ledger.Measuring, ledger.Checking:
		return refuse("revision %d is set aside while %s is changed; a new revision follows once the measurements are confirmed", revision, c.ID)
	}
	return refuse("%s is %s", c.ID, stateWords[c.State])
}

// live refuses also an expired quote.
func (w *work) live(c ledger.Commission, revision int) error {
	if err := w.decidable(c, revision); err != nil {
		return err
	}
	rev, err := w.t.Revision(c.ID, revision)
	if err != nil {
		return err
	}
	if c.State == ledger.Expired || !w.now.Before(rev.ExpiresAt) {
		return refuse("the quote was valid until %s; press Quote again under it for today's price and date", w.d.until(rev.ExpiresAt))
	}
	return nil
}

func (w *work) approve(c ledger.Commission, revision int) (chat.Reply, error) {
	if err := w.live(c, revision); err != nil {
		return chat.Reply{}, err
	}
	_, sha, err := w.t.PDF(c.ID, revision)
	if err != nil {
		return chat.Reply{}, err
	}
	a := ledger.Approval{Commission: c.ID, Revision: revision, Person: w.in.Person.ID, Name: oneLine(w.in.Person.Name), At: w.now, SHA256: sha}
	by := a.Name
	if w.in.Person.ID != c.Client {
		a.OnBehalfOf = c.ClientName
		by = fmt.Sprintf("%s for %s", a.Name, c.ClientName)
	}
	if err := w.t.AddApproval(a); err != nil {
		return chat.Reply{}, err
	}
	c.State = ledger.Approved
	if err := w.save(&c, "approved", fmt.Sprintf("revision %d, PDF %s", revision, sha)); err != nil {
		return chat.Reply{}, err
	}
	say := fmt.Sprintf("Approved by %s on %s. SHA-256 of the PDF: %s.", by, w.d.when(w.now), sha)
	if err := w.retire(c, ledger.RevApproved, say); err != nil {
		return chat.Reply{}, err
	}
	rev, err := w.t.Revision(c.ID, revision)
	if err != nil {
		return chat.Reply{}, err
	}
	e := rev.Quote.Estimate
	deposit := fmt.Sprintf("The deposit is %s; once the studio has it, the work enters the shop plan.", e.Deposit.Format(e.Currency))
	if err := w.t.PutPost(c.ID, chat.Post{Key: string(c.ID) + "/approved", Text: fmt.Sprintf("*%s, revision %d, is approved.* %s", c.ID, revision, deposit)}, w.now); err != nil {
		return chat.Reply{}, err
	}
	err = w.note(fmt.Sprintf("%s/note/approved", c.ID), fmt.Sprintf("%s · %s: revision %d approved by %s. Deposit awaited: %s.",
		c.ID, c.ClientName, revision, by, e.Deposit.Format(e.Currency)),
		[]chat.Button{{Action: fmt.Sprintf("deposit/%s", c.ID), Label: "Deposit received", Tone: chat.Good}}, nil)
	return chat.Reply{Text: "Approved. " + deposit}, err
}

func (w *work) decline(c ledger.Commission, revision int) (chat.Reply, error) {
	if err := w.decidable(c, revision); err != nil {
		return chat.Reply{}, err
	}
	c.State = ledger.Declined
	if err := w.save(&c, "declined", fmt.Sprintf("revision %d", revision)); err != nil {
		return chat.Reply{}, err
	}
	if err := w.retire(c, ledger.RevDeclined, fmt.Sprintf("Declined on %s.", w.d.when(w.now))); err != nil {
		return chat.Reply{}, err
	}
	err := w.note(fmt.Sprintf("%s/note/declined", c.ID), fmt.Sprintf("%s · %s: revision %d was declined.", c.ID, c.ClientName, revision), nil, nil)
	return chat.Reply{Text: fmt.Sprintf("%s is declined. Thank you for asking; a new commission can be begun at any time.", c.ID)}, err
}

// cancel ends a commission: the client until the deposit is in, the studio until the work is finished.
func (w *work) cancel(c ledger.Commission) (chat.Reply, error) {
	if err := w.mine(c); err != nil {
		return chat.Reply{}, err
	}
	switch {
	case c.State.Closed():
		return chat.Reply{}, refuse("%s is %s since %s", c.ID, stateWords[c.State], w.d.when(c.ChangedAt))
	case c.State == ledger.Ready:
		return chat.Reply{}, refuse("%s is finished and cannot be cancelled", c.ID)
	case c.State == ledger.Working && !w.in.Person.Studio:
		return chat.Reply{}, refuse("%s is in work; talk to the studio, who can cancel it", c.ID)
	}
	was := c.State
	if err := w.t.DropRequests(c.ID, w.now); err != nil {
		return chat.Reply{}, err
	}
	c.State = ledger.Cancelled
	if err := w.save(&c, "cancelled", "was "+string(was)); err != nil {
		return chat.Reply{}, err
	}
	say := fmt.Sprintf("Cancelled on %s.", w.d.when(w.now))
	if c.Revision > 0 && !drafting(was) && was != ledger.Approved && was != ledger.Working {
		if err := w.retire(c, ledger.RevDropped, say); err != nil {
			return chat.Reply{}, err
		}
	}
	if err := w.takeBackCheck(ledger.Commission{ID: c.ID, State: was, Revision: c.Revision}); err != nil {
		return chat.Reply{}, err
	}
	if was == ledger.Approved {
		if err := w.note(fmt.Sprintf("%s/note/approved", c.ID), fmt.Sprintf("%s · %s was approved, and is cancelled.", c.ID, c.ClientName), nil, nil); err != nil {
			return chat.Reply{}, err
		}
	}
	if was == ledger.Measuring || was == ledger.Checking {
		if err := w.t.PutPost(c.ID, chat.Post{Key: bodyKey(c), Text: fmt.Sprintf("*Measurements of %s*: not needed any more.", c.ID)}, w.now); err != nil {
			return chat.Reply{}, err
		}
	}
	if err := w.putCard(c, false); err != nil {
		return chat.Reply{}, err
	}
	items, err := w.t.Items(c.ID)
	if err != nil {
		return chat.Reply{}, err
	}
	for _, it := range items {
		if err := w.putItem(c, it); err != nil {
			return chat.Reply{}, err
		}
	}
	if err := w.t.PutPost(c.ID, chat.Post{Key: string(c.ID) + "/cancelled", Text: fmt.Sprintf("*%s is cancelled.*", c.ID)}, w.now); err != nil {
		return chat.Reply{}, err
	}
	err = w.note(fmt.Sprintf("%s/note/cancelled", c.ID), fmt.Sprintf("%s · %s is cancelled by %s.", c.ID, c.ClientName, oneLine(w.in.Person.Name)), nil, nil)
	return chat.Reply{Text: fmt.Sprintf("%s is cancelled.", c.ID)}, err
}

// requote has the same wishes worked out again at today's price and date.
func (w *work) requote(c ledger.Commission, revision int) (chat.Reply, error) {
	if err := w.decidable(c, revision); err != nil {
		return chat.Reply{}, err
	}
	rev, err := w.t.Revision(c.ID, revision)
	if err != nil {
		return chat.Reply{}, err
	}
	if c.State == ledger.Quoted && w.now.Before(rev.ExpiresAt) {
		return chat.Reply{}, refuse("revision %d is valid until %s; approve it, or ask for a change", revision, w.d.until(rev.ExpiresAt))
	}
	if _, err := w.wantedBy(c.WantedTyped); err != nil {
		c.Wanted, c.WantedTyped = "", "" // the day asked for has passed meanwhile
	}
	if err := w.compute(&c, []string{"quoted again at today's price and date"}); err != nil {
		return chat.Reply{}, err
	}
	return chat.Reply{Text: fmt.Sprintf("Revision %d is being worked out.", c.Revision)}, nil
}

// changeTyped is a change form as typed, kept while something in it is not understood.
type changeTyped struct {
	Revision int               `json:"revision"`
	Values   map[string]string `json:"values,omitempty"`
	Asked    []string          `json:"asked,omitempty"` // understood, and waiting for new measurements
}

func (w *work) changeForm(c ledger.Commission, revision int) (chat.Reply, error) {
	if err := w.decidable(c, revision); err != nil {
		return chat.Reply{}, err
	}
	items, err := w.t.Items(c.ID)
	if err != nil {
		return chat.Reply{}, err
	}
	var counts, titles []string
	for _, it := range items {
		counts = append(counts, strconv.Itoa(it.Count))
		s, _ := w.d.set(it.Set)
		titles = append(titles, s.Title)
	}
	value := map[string]string{"finish": w.finishTitle(c.Finish), "count": strings.Join(counts, ", "), "wanted": c.WantedTyped, "again": "no"}
	var was changeTyped
	if c.ChangeTyped != "" && json.Unmarshal([]byte(c.ChangeTyped), &was) == nil && was.Revision == revision && was.Values != nil {
		value = was.Values
	}
	return chat.Reply{Form: &chat.Form{Action: fmt.Sprintf("change/%s/%d", c.ID, revision), Title: fmt.Sprintf("Change %s, revision %d", c.ID, revision),
		Fields: []chat.Field{
			{Key: "what", Label: "What should change", Hint: "darker wash, no straps", Value: value["what"], Long: true, Optional: true},
			{Key: "finish", Label: "Finish", Value: value["finish"], Optional: true},
			{Key: "count", Label: clip("How many: "+strings.Join(titles, ", "), chat.MaxLabel), Value: value["count"], Optional: true},
			{Key: "wanted", Label: "Wanted by (empty: no date)", Hint: "2027-03-01 or 1 March 2027", Value: value["wanted"], Optional: true},
			{Key: "again", Label: "Measure again? (yes or no)", Value: value["again"], Optional: true},
		}}}, nil
}

func (w *work) change(c ledger.Commission, revision int) (chat.Reply, error) {
	if err := w.decidable(c, revision); err != nil {
		return chat.Reply{}, err
	}
	items, err := w.t.Items(c.ID)
	if err != nil {
		return chat.Reply{}, err
	}
	var problems, differs []string
	next := c
	v := w.in.Values
	if what := clip(strings.TrimSpace(v["what"]), maxNotes/2); what != "" {
		next.Notes = clip(strings.TrimSpace(c.Notes+"\n"+what), maxNotes)
		differs = append(differs, what)
	}
	if name := oneLine(v["finish"]); name != "" {
		f, err := w.finishNamed(name, items)
		if err != nil {
			problems = append(problems, "Finish: "+err.Error()+".")
		} else if f.Key != c.Finish {
			next.Finish = f.Key
			differs = append(differs, "finish "+f.Title)
		}
	}
	if text := oneLine(v["count"]); text != "" {
		f := strings.FieldsFunc(text, func(r rune) bool { return r == ',' || r == ';' || r == ' ' })
		if len(f) != len(items) {
			problems = append(problems, fmt.Sprintf("How many: “%s” should be %s, in the order asked.", text, many(len(items), "number")))
		}
		for i := 0; i < len(f) && len(f) == len(items); i++ {
			n, err := strconv.Atoi(f[i])
			if err != nil || n < 1 || n > maxCount {
				problems = append(problems, fmt.Sprintf("How many: “%s” should be a number from 1 to %d.", f[i], maxCount))
			} else if n != items[i].Count {
				items[i].Count = n
				differs = append(differs, w.itemWords(items[i]))
			}
		}
	}
	if typed := oneLine(v["wanted"]); typed != c.WantedTyped {
		next.WantedTyped = typed
		if next.Wanted, err = w.wantedBy(typed); err != nil {
			problems = append(problems, "Wanted by: "+err.Error()+".")
		} else if next.Wanted != c.Wanted {
			differs = append(differs, "wanted by "+dateWords(next.Wanted))
		}
	}
	again := false
	switch a := strings.ToLower(oneLine(v["again"])); a {
	case "", "no", "n":
	case "yes", "y":
		again = true
		differs = append(differs, "measured again")
	default:
		problems = append(problems, fmt.Sprintf("Measure again: “%s” should be yes or no.", a))
	}
	if len(problems) > 0 {
		text, err := json.Marshal(changeTyped{Revision: revision, Values: v})
		if err != nil {
			return chat.Reply{}, err
		}
		c.ChangeTyped = string(text)
		if err := w.save(&c, "change not understood", ""); err != nil {
			return chat.Reply{}, err
		}
		return chat.Reply{Text: "Nothing is changed yet. " + strings.Join(problems, " "), Buttons: []chat.Button{
			{Action: fmt.Sprintf("change/%s/%d", c.ID, revision), Label: "Mend it", Tone: chat.Good}}}, nil
	}
	if len(differs) == 0 {
		return chat.Reply{}, refuse("nothing in it differs from revision %d; say what should change", revision)
	}
	if err := w.t.SetItems(c.ID, items); err != nil {
		return chat.Reply{}, err
	}
	change := strings.Join(differs, "; ")
	if again {
		if err := w.retire(next, ledger.RevReplaced, "Set aside for a change; a new revision follows."); err != nil {
			return chat.Reply{}, err
		}
		text, err := json.Marshal(changeTyped{Revision: revision, Asked: differs})
		if err != nil {
			return chat.Reply{}, err
		}
		next.State, next.ChangeTyped = ledger.Measuring, string(text)
		if err := w.save(&next, "change asked for", change); err != nil {
			return chat.Reply{}, err
		}
		all, err := w.wants(next)
		if err != nil {
			return chat.Reply{}, err
		}
		for _, x := range all {
			if x.have.Known {
				x.have.Known, x.have.Problem = false, "to be measured again"
				if err := w.t.SetMeasurement(c.ID, x.have); err != nil {
					return chat.Reply{}, err
				}
			}
		}
		if err := w.putHowTo(next); err != nil {
			return chat.Reply{}, err
		}
		rep, err := w.progressBody(next, nil)
		if rep.Form != nil { // a form cannot follow a form everywhere
			rep = chat.Reply{Text: "Please measure again; the earlier values are filled in.",
				Buttons: []chat.Button{{Action: "rest/" + string(c.ID), Label: "Give measurements", Tone: chat.Good}}}
		}
		return rep, err
	}
	if err := w.record(next, "change asked for", change); err != nil {
		return chat.Reply{}, err
	}
	if err := w.compute(&next, differs); err != nil {
		return chat.Reply{}, err
	}
	return chat.Reply{Text: fmt.Sprintf("Revision %d is being worked out.", next.Revision)}, nil
}
