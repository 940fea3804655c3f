package counter

import (
	"net/http"
	"slices"
	"time"

	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/quote"
)

const (
	// lookAgain is how often an open page is fetched again, in seconds: what changes without a word in the thread, such as steps at
	// the bench, is at most that old.
	lookAgain = 60
	// saidShown is how much of the conversation the page has; the rest is in the thread.
	saidShown = 3
)

// frame is what every view has.
type frame struct {
	Visit
	ID    string
	Every int
	zone  *time.Location
	at    time.Time
}

// step is one of the steps from the first choice to the day the work is collected.
type step struct{ Name, State string } // done, now or planned

var stepNames = []string{"Choose", "Measure", "Check", "Quote", "Make", "Collect"}

// reached is the step that a commission is at, from 0; as many as there are once all is over.
var reached = map[ledger.State]int{ledger.Choosing: 0, ledger.Measuring: 1, ledger.Checking: 2, ledger.Computing: 3, ledger.Failed: 3, ledger.Quoted: 3,
	ledger.Expired: 3, ledger.Approved: 3, ledger.Working: 4, ledger.Ready: 5, ledger.Delivered: 6}

// stage is what the page asks for, or says, at this moment.
type stage struct {
	Kind   string // of template
	Title  string
	Lead   string
	Told   string // what was refused, in a sentence
	Sorted bool   // it stands beside a field, so that it is not said at the top too
	Chosen []line // what is ordered, with links to change it
	Sets   *setsView
	Many   []itemView
	Finish []finishView
	Detail *detailsView
	Body   *bodyView
	Check  *checkView
	Quote  *quoteView
	Wait   *waitView
	Status *statusView
	Change *changeView
	Cancel bool // the commission can be cancelled by its client
}

// line is one line of a summary; Path leads to where it can be changed.
type line struct{ Name, Says, Path string }

type view struct {
	frame
	Steps []step
	Step  int // the one at, from 1
	Rev   string
	stage
	Talk *talkView
}

// talkView is the end of the conversation.
type talkView struct {
	Rev  string
	Said []said
}

type said struct {
	By, When, Text string
	Own            bool
}

// page answers the page as it is now.
func (c *Counter) page(w http.ResponseWriter, r *http.Request, v Visit) error {
	o, err := c.sheet(r.Context(), v)
	if err != nil {
		return err
	}
	q := r.URL.Query()
	f := frame{Visit: v, ID: string(o.Commission.ID), Every: lookAgain, zone: c.inZone(), at: c.o.Now().In(c.inZone())}
	p := &looking{Counter: c, frame: f, r: r, o: o, at: q.Get("at"), n: c.notes.find(q.Get("note"), v)}
	s, err := p.stage()
	if err != nil {
		return err
	}
	if s.Told == "" && !s.Sorted {
		s.Told = p.told()
	}
	x := view{frame: f, stage: s}
	at, is := reached[o.Commission.State]
	for i, name := range stepNames {
		st := step{name, "planned"}
		switch {
		case !is: // it will not be made
		case i < at:
			st.State = "done"
		case i == at:
			st.State = "now"
			x.Step = i + 1
		}
		x.Steps = append(x.Steps, st)
	}
	x.Rev = revision(s)
	if v.Thread != "" {
		list, err := v.Said(r.Context(), saidShown)
		if err != nil {
			return err
		}
		t := &talkView{}
		for _, y := range list {
			text := y.Text
			if text == "" && y.Files > 0 {
				text = "sent pictures"
			}
			t.Said = append(t.Said, said{By: y.By, Own: y.Own, When: f.when(y.At), Text: text})
		}
		t.Rev = revision(t)
		x.Talk = t
	}
	return render(w, x)
}

func (c *Counter) inZone() *time.Location {
	loc, err := time.LoadLocation(c.o.Studio().Calendar.Zone)
	if err != nil {
		return time.UTC
	}
	return loc
}

// looking is a page being made.
type looking struct {
	*Counter
	frame
	r  *http.Request
	o  shop.OrderSheet
	at string // the place within the state that is asked for
	n  note
}

// told is what the press before was refused for.
func (p *looking) told() string {
	switch {
	case p.n.no != nil:
		return p.refusalWords(p.frame, p.n.no)
	case p.n.say != "":
		return p.n.say
	case len(p.n.problems) > 0:
		return "some of it is not understood; correct what is marked, the rest is kept"
	}
	return ""
}

// stage is what the page has at its head, by the state of the commission and the place that is asked for.
func (p *looking) stage() (stage, error) {
	switch c := p.o.Commission; {
	case c.State == ledger.Choosing,
		shop.Drafting(c.State) && slices.Contains([]string{atSets, atMany, atFinish, atDetails}, p.at):
		return p.choosing()
	case c.State == ledger.Measuring, c.State == ledger.Checking && p.at == atBody:
		return p.measuring()
	case c.State == ledger.Checking:
		return p.checking()
	case c.State == ledger.Computing, c.State == ledger.Failed:
		return p.waiting(), nil
	case canDecide(c.State) && p.at == atChange:
		return p.changing()
	case canDecide(c.State):
		return p.quoted()
	}
	return p.standing()
}

// chosen sums up what is ordered; place leads to where each can be changed, empty where it cannot.
func (p *looking) chosen(change bool) []line {
	at := func(place string) string {
		if !change {
			return ""
		}
		return p.Path + "?at=" + place
	}
	var out []line
	for i, it := range p.o.Items {
		name, place := "", atMany
		if i == 0 {
			name, place = "Ordered", atSets
		}
		l := line{Name: name, Says: p.Counter.o.Rules.Describe(it), Path: at(place)}
		if i > 0 {
			l.Path = ""
		}
		out = append(out, l)
	}
	if key := p.o.Commission.Finish; key != "" {
		out = append(out, line{"Finish", p.finishTitle(key), at(atFinish)})
	}
	return out
}

func (p *looking) finishTitle(key string) string {
	for _, f := range p.Counter.o.Studio().Finishes {
		if f.Key == key {
			return f.Title
		}
	}
	return key
}

func (p *looking) setTitle(name string) string {
	if x, ok := p.Counter.o.Rules.Set(name); ok {
		return x.Title
	}
	return name
}

// waitView is a quote that is being worked out, or could not be.
type waitView struct {
	Stages []step
	Failed bool
	Now    string
}

var stageWords = map[quote.Stage]string{quote.Scaling: "patterns drawn to your body", quote.Nesting: "pieces laid out on foam",
	quote.Costing: "material and hours counted", quote.Planning: "a place found in the shop's plan", quote.Printing: "the quote printed"}

func (p *looking) waiting() stage {
	s := stage{Kind: "wait", Title: "Your quote is being worked out",
		Lead:   "It takes some seconds. This page shows it as soon as it is there; you can also come back later.",
		Chosen: p.chosen(false), Wait: &waitView{}, Cancel: true}
	at := slices.Index(quote.Stages, p.o.Request.Stage)
	for i, x := range quote.Stages {
		st := step{quote.Capital(stageWords[x]), "planned"}
		if i < at {
			st.State = "done"
		} else if i == at {
			st.State = "now"
		}
		s.Wait.Stages = append(s.Wait.Stages, st)
	}
	if p.o.Commission.State == ledger.Failed {
		s.Title, s.Lead, s.Wait.Failed = "Your quote could not be worked out", "The studio has been told. You can try again, or change what you ordered or measured.", true
	}
	return s
}
