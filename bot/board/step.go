package board

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"time"

	"benchbell/bot/shop"
	"benchbell/quote"
	"benchbell/quote/plan"
)

// button is something that can be done with a step.
type button struct {
	Do, Say string
	Main    bool // what is most likely wanted
}

// step is one operation as a row of the day.
type step struct {
	ID                     string
	Commission, Title      string
	Operation              int
	Buttons                []button
	N                      int      // of the appointment that is missed
	Takes, From, Place, Of string   // how long, from when, where, with whom
	Lay                    []string // what to lay out
	Why                    string   // it is done again
	Waits                  string   // why it cannot be begun
	State                  string   // how its outline is drawn: planned, inhand, wet, dry or done
	Shape                  *shape   `json:"-"` // the commission's revision has it
	Window                 string   // of the coat before it, when it closes
	Closing                bool     // soon, or it has
	Refused                string   // why the press did nothing
	Asked                  string   // what the press would do
	Effects                []string
	Again                  string // the press that does it all the same
	Seen                   string
	Told                   bool // it is what the page leads to: what was refused or asked

	Action       string `json:"-"` // the page that its buttons lead to
	Path         string `json:"-"` // of its own page
	Token, Whose string `json:"-"`
}

// InHand says that somebody is at it.
func (s step) InHand() bool { return s.State == "inhand" }

// told puts on a step what somebody was told of it.
func (s *step) told(f frame, n note) {
	s.Refused, s.Effects = n.say(f)
	if n.No.Seen != "" {
		s.Asked, s.Refused, s.Seen, s.Again = s.Refused, "", n.No.Seen, n.Do
	}
}

func (f frame) stepPath(op shop.Operation) string {
	return fmt.Sprintf("%sstep?commission=%s&operation=%d", f.Base, url.QueryEscape(string(op.Commission)), op.Seq)
}

// spent is what was logged of an operation this time; 0 where nothing is known.
func spent(logs []shop.Log, op shop.Operation) (sum time.Duration) {
	for _, l := range logs {
		if l.Seq == op.Seq && l.Round == op.Round {
			sum += l.Took
		}
	}
	return sum
}

// row is an operation that is to do or in hand, for a maker.
func (b *Board) row(f frame, d shop.BenchDay, op shop.Operation, maker string) step {
	s := step{ID: fmt.Sprintf("%s-%s-%d", maker, op.Commission, op.Seq), Commission: string(op.Commission), Title: op.Words(), Operation: op.Seq,
		Takes: quote.TimeWords(takes(op)), From: "from " + f.clock(op.Start), State: "planned", Action: "today", Token: f.Token, Why: op.Why, Path: f.stepPath(op)}
	r := d.Quotes[op.Commission]
	s.Shape, s.Lay = b.shapes.of(r, op.Op), lay(b.studio(), r, op)
	for _, r := range b.studio().Resources {
		if !slices.Contains(op.Resources, r.ID) || r.ID == maker {
			continue
		}
		if r.Kind != "maker" && s.Place == "" {
			s.Place = r.Title
		} else if r.Kind == "maker" && maker != nobody {
			s.Of = r.Title
		}
	}
	for _, x := range d.Drying {
		if x.Next != nil && x.Next.Commission == op.Commission && x.Next.Seq == op.Seq && !x.Closes.IsZero() {
			s.Window, s.Closing = f.window(d.At, x), x.Closing || x.Missed
		}
	}
	return s
}

// line is a row of what is in hand or can be begun.
func (b *Board) line(f frame, d shop.BenchDay, l shop.BenchLine, maker string) step {
	op := l.Operation
	s := b.row(f, d, op, maker)
	start := button{"start", "Start", true}
	if l.Rank == shop.InHand {
		s.State = "inhand"
		sofar := ""
		if took := spent(d.Logs[op.Commission], op); took >= time.Minute {
			sofar = ", " + quote.TimeWords(took) + " so far"
		}
		s.From = "since " + f.clock(op.StartedAt) + sofar
		s.Buttons = []button{{"done", "Done", true}, {"pause", "Pause", false}}
		if !op.PausedAt.IsZero() {
			s.State, s.From = "planned", "paused "+f.clock(op.PausedAt)+sofar
			s.Buttons = []button{{"start", "Go on", true}, {"done", "Done", false}}
		}
		s.Buttons = append(s.Buttons, button{"back", "Take back", false})
	} else {
		s.Buttons = []button{start}
	}
	if a := l.Meeting; a != nil {
		if a.At.IsZero() {
			s.Waits = "the client has picked no time yet"
		} else {
			s.Waits = "agreed with the client for " + f.clock(a.At)
		}
		if a.At.Sub(d.At) > early { // the client is not there
			s.Buttons = nil
		} else if !a.At.IsZero() && !a.At.After(d.At) {
			s.N = a.N
			s.Buttons = append(s.Buttons, button{"missed", "Nobody came", false})
		}
	}
	return s
}

// past is an operation that was done today.
func (b *Board) past(f frame, d shop.BenchDay, op shop.Operation, maker string) step {
	same := func(x shop.Operation) bool { return x.Commission == op.Commission && x.Seq == op.Seq }
	s := step{ID: fmt.Sprintf("%s-%s-%d", maker, op.Commission, op.Seq), Commission: string(op.Commission), Title: op.Words(),
		Operation: op.Seq, From: "done " + f.clock(op.DoneAt),
		State: "done", Action: "today", Shape: b.shapes.of(d.Quotes[op.Commission], op.Op), Token: f.Token, Path: f.stepPath(op)}
	if s.Takes = "time not known"; spent(d.Logs[op.Commission], op) > 0 {
		s.Takes = "took " + quote.TimeWords(spent(d.Logs[op.Commission], op))
	}
	if slices.ContainsFunc(d.Rests, same) {
		s.Buttons = append(s.Buttons, button{"rack", "Rack the rest", false})
	}
	if slices.ContainsFunc(d.Back, same) {
		s.Buttons = append(s.Buttons, button{"back", "Take back", false})
	}
	return s
}

// logged is a spell of work as a row to be corrected.
type logged struct {
	N               int
	Says, Took, Who string
	Typed           string // what the field begins with
	Open, Told      bool
	Refused         string
}

// part is one of the pieces that can go back.
type part struct {
	Label, Title string
	Path         string
}

type stepView struct {
	frame
	Step   step
	Logs   []logged
	Target string
	Parts  []part
	MayGo  bool // back
	Done   bool
	Typed  string // the reason, as it was typed
	Picked map[string]bool
	Rev    string
}

// Step answers the page of one operation: what it is done to and with, how long it took, and what can be mended of that.
func (b *Board) Step(w http.ResponseWriter, r *http.Request, v Visit) error {
	if r.Method == http.MethodPost {
		return b.press(w, r, v)
	}
	q := r.URL.Query()
	seq, err := strconv.Atoi(q.Get("operation"))
	if err != nil {
		seq = 0 // none has that number, and the shop says so
	}
	x, err := see[shop.StepSeen](r.Context(), b, v, shop.Step{OfOperation: shop.OnOperation(quote.CommissionID(q.Get("commission")), seq)})
	if no := refusalIn(err); no != nil {
		f := b.frame(v, "Step", time.Now())
		say, _ := note{Commission: q.Get("commission"), Operation: seq, No: no}.say(f)
		w.WriteHeader(http.StatusNotFound)
		return render(w, "nostep", struct {
			frame
			Says string
		}{f, say})
	}
	if err != nil {
		return err
	}
	n, _ := b.notes.find(q.Get("note"), v.Person)
	return render(w, "stepview", b.stepView(v, x, n))
}

func (b *Board) stepView(v Visit, x shop.StepSeen, n note) stepView {
	o := stepView{frame: b.frame(v, "Step", x.At), Picked: map[string]bool{}}
	op := x.Operation
	d := shop.BenchDay{Bench: shop.Bench{At: x.At},
		Quotes: map[quote.CommissionID]shop.Revision{op.Commission: x.Revision},
		Logs:   map[quote.CommissionID][]shop.Log{op.Commission: x.Logs}}
	switch op.State {
	case shop.IsDone:
		o.Step = b.past(o.frame, d, op, "step")
		o.Step.Lay = lay(b.studio(), x.Revision, op)
		o.Done = true
	case shop.AtWork:
		o.Step = b.line(o.frame, d, shop.BenchLine{Operation: op, Rank: shop.InHand}, "step")
	default:
		o.Step = b.row(o.frame, d, op, "step")
		for i, w := range x.Waits {
			if i > 0 {
				o.Step.Waits += "; "
			}
			o.Step.Waits += o.waits(w, op.Group)
		}
	}
	o.Step.Buttons, o.Step.Action = nil, "step"
	if x.Back {
		o.Step.Buttons = []button{{"back", "Take back", false}}
	}
	if x.Work.Duration > 0 {
		o.Target = quote.TimeWords(time.Duration(float64(x.Work.Duration)*max(op.Share, 0)) * time.Minute)
		if low, high := x.Work.Low, x.Work.High; op.Share == 1 && high > low {
			o.Target += fmt.Sprintf(", from %s to %s", quote.TimeWords(minutes(low)), quote.TimeWords(minutes(high)))
		}
	}
	for _, l := range x.Logs {
		g := logged{N: l.N, Who: l.Name, Open: l.Until.IsZero(), Took: "not known"}
		switch {
		case l.From.IsZero():
			g.Says = "done " + o.clock(l.Until) + " without a start"
		case g.Open:
			g.Says = "since " + o.clock(l.From)
		default:
			g.Says = o.clock(l.From) + " to " + o.clock(l.Until)
		}
		if l.Round > 1 {
			g.Says += fmt.Sprintf(", done again (%d)", l.Round)
		}
		if l.Took > 0 {
			g.Took, g.Typed = quote.TimeWords(l.Took), fmt.Sprint(int(l.Took.Round(time.Minute).Minutes()))
		}
		if l.Minutes > 0 {
			g.Says += "; typed " + o.clock(l.CorrectedAt)
		}
		if n.of(string(op.Commission), op.Seq) && n.Do == "correct" && n.N == l.N {
			g.Told = true
			g.Refused, _ = n.say(o.frame)
			g.Typed = n.Typed
		}
		o.Logs = append(o.Logs, g)
	}
	if cut, err := x.Revision.Quote.ByLabel(); err == nil && o.Done {
		for _, p := range x.Revision.Quote.Pieces {
			if slices.Contains(x.Work.Pieces, p.Label) {
				o.Parts = append(o.Parts, part{p.Label, p.Title, path(cut[p.Label].Shape.Outer, wholeBox)})
			}
		}
	}
	o.MayGo = o.Done && x.Work.ID != ""
	if n.of(string(op.Commission), op.Seq) && n.Do != "correct" {
		o.Step.told(o.frame, n)
		o.Step.Told = true
		o.Typed = n.Typed
		for _, p := range n.Pieces {
			o.Picked[p] = true
		}
	}
	o.Rev = revision([]any{o.Step, o.Logs, o.Typed, o.Picked})
	return o
}

func minutes(m plan.Minutes) time.Duration { return time.Duration(m) * time.Minute }
