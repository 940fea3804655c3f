package board

import (
	"fmt"
	"time"

	"benchbell/bot/shop"
	"benchbell/quote"
)

// drying is a part that dries, or is dry and waits.
type drying struct {
	ID, Rev           string
	Commission, Title string
	Stuff             string // what dries
	Dry               bool
	Ready, Left       string
	Next, Window      string
	Closing, Missed   bool
	Share             int // of the cure that is left, in percent of its length
	State             string
	Slower            string // than planned
	Remedy            *step  // for a window that was missed
	Shape             *shape `json:"-"` // the commission's revision has it
}

// Wet is how much of its outline is still hatched, from the left.
func (d drying) Wet() int { return d.Share * shapeWide / 100 }

// dryings are those that dry, and those that are dry.
type dryings struct {
	Rev      string
	All      []drying
	Wet, Dry int
}

// air is what the page says of the air at the bench, and what was typed of it and could not be read.
type air struct {
	Rev, Says         string
	Refused           string
	Token             string `json:"-"`
	Celsius, Humidity string
}

type curingView struct {
	frame
	Drying dryings
	Air    air
}

func (b *Board) curingView(v Visit, d shop.BenchDay, n note) curingView {
	o := curingView{frame: b.frame(v, "Curing", d.At)}
	planned := fmt.Sprintf("%.3g °C, %.3g %% humidity", d.Air.Planned.Celsius, d.Air.Planned.Humidity)
	o.Air = air{Says: "Planned for " + planned + "; not measured in the last 12 h", Token: v.Token}
	if !d.Air.At.IsZero() {
		o.Air.Says = fmt.Sprintf("%.3g °C, %.3g %% humidity since %s; planned for %s", d.Air.Now.Celsius, d.Air.Now.Humidity, o.clock(d.Air.At), planned)
	}
	if n.No != nil && n.Do == "air" {
		o.Air.Refused, _ = n.say(o.frame)
		o.Air.Celsius, o.Air.Humidity = n.Celsius, n.Humidity
	}
	o.Air.Rev = revision(o.Air)
	o.Drying = b.dryings(o.frame, d, n)
	return o
}

func (b *Board) dryings(f frame, d shop.BenchDay, n note) dryings {
	var out dryings
	for _, x := range d.Drying {
		op := x.Operation
		v := drying{ID: fmt.Sprintf("d-%s-%d", op.Commission, op.Seq), Commission: string(op.Commission), Title: op.Words(),
			Stuff: quote.Capital(op.Cure), Closing: x.Closing, Missed: x.Missed, State: "wet", Shape: b.shapes.of(d.Quotes[op.Commission], op.Op)}
		left := x.Ready.Sub(d.At)
		if v.Dry = left <= 0; v.Dry {
			out.Dry++
			v.State = "dry"
			v.Ready = "ready since " + f.clock(x.Ready)
		} else {
			out.Wet++
			v.Ready, v.Left = "ready "+f.clock(x.Ready), "in "+quote.TimeWords(left)
			if op.CureFor > 0 {
				v.Share = int(100 * left / op.CureFor)
			}
		}
		if n := x.Next; n != nil {
			next := n.Words()
			if n.Group == op.Group { // said already
				next = n.Title
			}
			v.Next = "ready for “" + next + "”"
			if n.Kind == "paint" {
				v.Next = "ready for paint: “" + next + "”"
			}
			if !v.Dry {
				v.Next = "then " + v.Next
			}
			if x.Wait != nil {
				v.Next += ", which waits besides: " + f.waits(*x.Wait, n.Group)
			}
		} else {
			v.Next = "nothing waits for it"
		}
		v.Window = f.window(d.At, x)
		if x.Slower >= time.Minute && !v.Dry {
			v.Slower = "dries slower than planned in this air: " + quote.TimeWords(x.Slower) + " later"
		}
		if r := x.Remedy; r != nil {
			v.Remedy = &step{ID: fmt.Sprintf("r-%s-%d", op.Commission, op.Seq), Commission: string(op.Commission), Operation: r.Coat.Seq, Action: "curing", Token: f.Token,
				Takes:   quote.TimeWords(r.Takes) + ", " + r.Cost.Format(b.studio().Prices.Currency),
				Buttons: []button{{"abrade", "Plan it", true}}}
			if n.of(v.Commission, r.Coat.Seq) && n.Do == "abrade" {
				v.Remedy.told(f, n)
				v.Remedy.Told = true
			}
		}
		v.Rev = revision(v)
		out.All = append(out.All, v)
	}
	out.Rev = revision(out)
	return out
}

// window says when the next coat must be on; empty where it has no end.
func (f frame) window(now time.Time, x shop.Drying) string {
	switch {
	case x.Closes.IsZero() || x.Next == nil:
		return ""
	case x.Missed:
		return fmt.Sprintf("Window closed %s: key the surface first, as the data sheet says", f.clock(x.Closes))
	case x.Closing:
		return fmt.Sprintf("Window closes soon: %s, in %s", f.clock(x.Closes), quote.TimeWords(x.Closes.Sub(now)))
	}
	return fmt.Sprintf("Window closes %s, in %s", f.clock(x.Closes), quote.TimeWords(x.Closes.Sub(now)))
}
