package document

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"benchbell/quote"
	"benchbell/quote/cure"
	"benchbell/quote/cutting"
	"benchbell/quote/draw"
	"benchbell/quote/geom"
	"benchbell/quote/pattern"
	"benchbell/quote/pdf"
	"benchbell/quote/plan"
	"benchbell/quote/price"
)

// AtWork is a commission as it stands in the shop's plan.
type AtWork struct {
	Snapshot   quote.Snapshot
	Quote      quote.Quote
	Operations []plan.Scheduled // as the plan has them now; empty: as the quote's own plan had them
	Done       map[string]bool  // by operation
	Promise    string           // the date that the client was told, "2026-12-18"; empty: the quote's
}

// Traveller makes the sheet that goes through the shop with a commission; page is the address of its page. It has neither the client's
// name nor a measurement. The same commission at the same state of the plan gives the same bytes.
func Traveller(w AtWork, page string) (quote.File, error) {
	s, q := w.Snapshot, w.Quote
	zone, err := time.LoadLocation(s.Studio.Calendar.Zone)
	if err != nil {
		return quote.File{}, fmt.Errorf("time zone %q is not known: %w", s.Studio.Calendar.Zone, err)
	}
	finish, err := s.FinishOrdered()
	if err != nil {
		return quote.File{}, err
	}
	t := pdf.Traveller{Paper: pdf.Paper(s.Studio.Paper), Created: s.At.UTC(), Studio: s.Studio.Name, Number: string(q.Commission), Revision: q.Revision, Page: page}
	var titles []string
	for _, it := range s.Items {
		set, err := pattern.Parse([]byte(s.Patterns[it.Set].Drawing), []byte(s.Patterns[it.Set].TOML))
		if err != nil {
			return quote.File{}, fmt.Errorf("the pattern %s cannot be read: %w", it.Set, err)
		}
		titles = append(titles, it.Named(set.Title))
	}
	promise := w.Promise
	if promise == "" {
		promise = q.Promise
	}
	t.Facts = []pdf.Fact{{Label: "Made", Value: strings.Join(titles, "; ")}, {Label: "Finish", Value: finish.Title},
		{Label: "Promised for", Value: quote.LongDate(promise), Strong: true},
		{Label: "Foam", Value: fmt.Sprintf("%s on %s", price.Counted(len(q.Pieces), "piece"), price.Counted(len(q.Sheets), "sheet"))},
		{Label: "Bench time", Value: fmt.Sprintf("about %.0f hours", q.Hours)},
		{Label: "Room", Value: fmt.Sprintf("drying for %g °C and %g %% humidity", s.Studio.Room.Celsius, s.Studio.Room.Humidity)}}
	t.Steps = w.steps(zone)
	for _, l := range q.Estimate.Lines {
		if l.Section == price.Consumables || l.Section == price.Fittings {
			t.Uses = append(t.Uses, pdf.Fact{Label: l.Title, Value: l.Quantity})
		}
	}
	t.Cautions = benchCautions(q.Work)
	shapes, err := q.ByLabel()
	if err != nil {
		return quote.File{}, err
	}
	for _, l := range q.Sheets {
		x := pdf.TravellerSheet{Title: cutting.SheetTitle(q, l), Scene: draw.Layout(cutting.SheetPicture(q, l, shapes, s.Studio))}
		for _, p := range q.Pieces {
			if p.Sheet == l.Number {
				x.Pieces = append(x.Pieces, pdf.TravellerPiece{Label: p.Label, Size: sizeWords(p.Width, p.Height)})
			}
		}
		t.Sheets = append(t.Sheets, x)
	}
	data, err := pdf.PrintTraveller(t)
	if err != nil {
		return quote.File{}, err
	}
	return quote.File{Name: fmt.Sprintf("%s-r%d-traveller.pdf", q.Commission, q.Revision), MIME: "application/pdf", Data: data}, nil
}

// sizeWords is a size in whole millimetres, rounded up: what it is cut from must hold it.
func sizeWords(w, h geom.MM) string {
	return fmt.Sprintf("%.0f × %.0f mm", math.Ceil(float64(w)-1e-6), math.Ceil(float64(h)-1e-6))
}

// steps are the operations in the order of the plan, with what dries after each.
func (w AtWork) steps(zone *time.Location) []pdf.TravellerStep {
	ops := slices.Clone(w.Operations)
	if len(ops) == 0 {
		ops = slices.Clone(w.Quote.Plan.Operations)
	}
	slices.SortStableFunc(ops, func(a, b plan.Scheduled) int { return a.Start.Compare(b.Start) })
	names := map[string]string{}
	for _, r := range w.Snapshot.Studio.Resources {
		names[r.ID] = r.Title
	}
	of := map[string]int{}
	for _, o := range w.Quote.Work.Operations {
		of[o.ID] = o.Assembly
	}
	several := len(w.Quote.Work.Assemblies) > 1
	var out []pdf.TravellerStep
	for _, o := range ops {
		x := pdf.TravellerStep{Title: o.Title, Day: o.Start.In(zone).Format("Mon 2 Jan 15:04"), Takes: hoursWords(plan.Worked(o.Start, o.End, o.Spans)), Done: w.Done[o.ID]}
		var who []string
		for _, r := range o.Resources {
			name := names[r]
			if name == "" {
				name = r
			}
			who = append(who, name)
		}
		x.Where = strings.Join(who, ", ")
		if several && of[o.ID] > 0 { // otherwise it is of everything
			x.Group = o.Group
		}
		x.After = driesWords(w.Quote.Work, o.ID)
		out = append(out, x)
	}
	return out
}

// hoursWords is a time as the bench says it.
func hoursWords(d time.Duration) string {
	m := int(d.Minutes())
	switch {
	case m < 60:
		return fmt.Sprintf("%d min", m)
	case m%60 == 0:
		return fmt.Sprintf("%d h", m/60)
	}
	return fmt.Sprintf("%d h %02d", m/60, m%60)
}

// driesWords says what dries after an operation, and when what comes next can go on; empty where nothing does.
func driesWords(b quote.Breakdown, id string) string {
	for _, o := range b.Operations {
		for _, l := range o.After {
			if l.After != id || l.Cure == "" {
				continue
			}
			windows := l.Windows
			if len(windows) == 0 {
				windows = []plan.LagWindow{{From: l.Min, To: l.Max}}
			}
			var when []string
			for _, x := range windows {
				from := hoursWords(time.Duration(x.From) * time.Minute)
				if x.To > 0 {
					when = append(when, fmt.Sprintf("%s to %s after it", from, hoursWords(time.Duration(x.To)*time.Minute)))
				} else {
					when = append(when, "from "+from+" after it")
				}
			}
			return fmt.Sprintf("%s dries. Next, “%s”: %s.", l.Cure, o.Title, strings.Join(when, ", or "))
		}
		if o.ID == id && o.Tail > 0 && o.TailCure != "" {
			return fmt.Sprintf("%s dries for %s before it leaves the shop.", o.TailCure, hoursWords(time.Duration(o.Tail)*time.Minute))
		}
	}
	return ""
}

// careFor says what to take care of in work of a kind (common practice; the data sheets come first).
var careFor = []struct {
	kinds []string
	care  string
}{
	{[]string{"cut"}, "Cutting: a sharp blade, held square, away from the hand that holds the foam."},
	{[]string{"bevel"}, "Sanding: dust extraction on, a dust mask, eye protection."},
	{[]string{"score", "form", "seal"}, "Heat: never heat foam until it smokes; keep the gun moving, and solvents away from it."},
	{[]string{"prime", "paint", "wash", "clear"}, "Spraying: booth extraction on, a respirator that suits the substance, no flame or spark."},
}

// benchCautions are the cautions that apply to what is done and used.
func benchCautions(b quote.Breakdown) []string {
	var out []string
	for _, c := range careFor {
		if slices.ContainsFunc(b.Operations, func(o quote.Operation) bool { return slices.Contains(c.kinds, o.Kind) }) {
			out = append(out, c.care)
		}
	}
	// What several materials ask for is said once, of all of them; what every material of the table asks for comes last, of none.
	var order []string
	of := map[string][]string{}
	seen := map[string]bool{}
	for _, o := range b.Operations {
		for _, m := range o.Materials {
			x, ok := cure.Lookup(m.Key)
			if m.Key == "" || seen[m.Key] || !ok {
				continue
			}
			seen[m.Key] = true
			for _, c := range x.Cautions {
				if of[c] == nil {
					order = append(order, c)
				}
				of[c] = append(of[c], x.Title)
			}
		}
	}
	for _, c := range order {
		if !everyMaterial(c) {
			out = append(out, quote.Capital(strings.Join(of[c], ", "))+": "+c+".")
		}
	}
	return append(out, "Planning values only: each product's own data sheet and the local rules come before anything printed here.")
}

// everyMaterial reports whether a caution stands with every material of the table, and so says nothing of one.
func everyMaterial(c string) bool {
	return !slices.ContainsFunc(cure.Materials(), func(m cure.Material) bool { return !slices.Contains(m.Cautions, c) })
}
