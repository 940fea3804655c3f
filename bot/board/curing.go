package board

import (
	"fmt"
	"time"

	"benchbell/bot/shop"
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

type curingView struct {
	frame
	Drying dryings
}

func (b *Board) curingView(v Visit, d shop.BenchDay) curingView {
	o := curingView{frame: b.frame(v, "Curing", d.At)}
	o.Drying = b.dryings(o.frame, d)
	return o
}

func (b *Board) dryings(f frame, d shop.BenchDay) dryings {
	var out dryings
	for _, x := range d.Drying {
		op := x.Operation
		v := drying{ID: fmt.Sprintf("d-%s-%d", op.Commission, op.Seq), Commission: string(op.Commission), Title: title(op),
			Stuff: capital(op.Cure), Closing: x.Closing, Missed: x.Missed, State: "wet", Shape: b.shapes.of(d.Quotes[op.Commission], op.Op)}
		left := x.Ready.Sub(d.At)
		if v.Dry = left <= 0; v.Dry {
			out.Dry++
			v.State = "dry"
			v.Ready = "ready since " + f.clock(x.Ready)
		} else {
			out.Wet++
			v.Ready, v.Left = "ready "+f.clock(x.Ready), "in "+span(left)
			if op.CureFor > 0 {
				v.Share = int(100 * left / op.CureFor)
			}
		}
		if n := x.Next; n != nil {
			next := title(*n)
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
		return fmt.Sprintf("Window closes soon: %s, in %s", f.clock(x.Closes), span(x.Closes.Sub(now)))
	}
	return fmt.Sprintf("Window closes %s, in %s", f.clock(x.Closes), span(x.Closes.Sub(now)))
}
