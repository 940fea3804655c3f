// Package document lays a quote out for the people who read it: the text and drawings of the printed quote, and the
// pictures and short summary for the thread.
//
// It computes nothing: every figure comes from the quote. It refuses a finish or a time zone the snapshot does not know.
// What always holds: the same quote and snapshot give the same document.
package document

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"benchbell/quote"
	"benchbell/quote/body"
	"benchbell/quote/cutting"
	"benchbell/quote/draw"
	"benchbell/quote/figure"
	"benchbell/quote/foam"
	"benchbell/quote/geom"
	"benchbell/quote/measure"
	"benchbell/quote/pattern"
	"benchbell/quote/pdf"
	"benchbell/quote/picture"
	"benchbell/quote/price"
)

// drawnTogether is how many sets, or sides of one, share a drawing on the quote: with more it would not be legible on a
// page.
const drawnTogether = 2

// Make lays out the quote as text and scenes, and paints the pictures for the thread.
func Make(q quote.Quote, s quote.Snapshot, sets map[string]*pattern.Set) (pdf.Document, []quote.Picture, error) {
	zone, err := time.LoadLocation(s.Studio.Calendar.Zone)
	if err != nil {
		return pdf.Document{}, nil, fmt.Errorf("time zone %q is not known: %w", s.Studio.Calendar.Zone, err)
	}
	finish, err := s.FinishOrdered()
	if err != nil {
		return pdf.Document{}, nil, err
	}
	date := func(t time.Time) string { return t.In(zone).Format("2 January 2006") }
	d := pdf.Document{
		Paper: pdf.Paper(s.Studio.Paper), Created: s.At.UTC(),
		Studio: s.Studio.Name, Address: s.Studio.Address, Contact: s.Studio.Contact, TaxNumber: s.Studio.TaxNumber,
		Number: string(q.Commission), Revision: q.Revision, Client: s.Client,
		Issued: date(q.Issued), ValidTo: date(q.Expires.Add(-time.Minute)),
		Terms: s.Studio.Terms,
	}
	for _, it := range s.Items {
		set := sets[it.Set]
		d.Intro = append(d.Intro, it.Named(set.Title)+". "+set.Summary)
	}
	d.Facts = facts(q, s, finish, zone)
	d.Lines, d.Totals = priceLines(q, s)
	d.Promise = fmt.Sprintf("Ready by %s. We keep such a date %s. The date is held until the end of %s; after that you are shown a new one before you approve.",
		quote.LongDate(q.Promise), howOften(q.Confidence), heldTo(q, zone))
	if q.Late {
		d.Promise += fmt.Sprintf(" That is later than the %s you asked for.", quote.LongDate(s.Wanted))
	}
	d.PlanNote = fmt.Sprintf("Assumes a start on %s. Hatched bars are glue and paint curing at %g °C and %g %% humidity. These are planning values; the data sheets come first.",
		date(startOf(q)), s.Studio.Room.Celsius, s.Studio.Room.Humidity)
	d.Changes = s.Changes
	d.Body = bodyFacts(s)
	d.Cautions = cautions(q, s, sets)

	var pictures []quote.Picture
	var together []draw.PieceGroup
	drawings := groups(q, s, sets)
	for i, g := range drawings {
		if together = append(together, g...); i+1 == len(drawings) || len(together)+len(drawings[i+1]) > drawnTogether {
			d.Drawings = append(d.Drawings, draw.Pieces("", together, picture.PageWidth))
			together = nil
		}
	}
	number := string(q.Commission)
	shown := []shownScene{}
	if worn, ok := worn(q, s); ok {
		d.Drawings = append(d.Drawings, worn)
		shown = append(shown, shownScene{"worn", "How it is worn: front and back, on a plain figure of your measurements", worn})
	}
	d.Plan = planScenes(picture.PlanPicture(q.Plan, s.Studio, zone, "", promiseTime(q, zone)))
	shown = append(shown,
		shownScene{"pieces", "What is made: the graded pieces", draw.Pieces(number+" · what is made", slices.Concat(drawings...), picture.PageWidth)},
		shownScene{"plan", "Plan of the work with its cures; ready by " + quote.LongDate(q.Promise),
			draw.Gantt(picture.PlanPicture(q.Plan, s.Studio, zone, number+" · plan", promiseTime(q, zone)))})
	shapes, err := q.ByLabel()
	if err != nil {
		return d, nil, err
	}
	for _, l := range q.Sheets {
		sc := draw.Layout(cutting.SheetPicture(q, l, shapes, s.Studio))
		d.Sheets = append(d.Sheets, pdf.Captioned{Caption: usedNote, Scene: sc})
		shown = append(shown, shownScene{fmt.Sprintf("sheet-%d", l.Number), "Cut layout, " + cutting.SheetTitle(q, l), sc})
	}
	for _, x := range shown {
		p, err := picture.Paint(fmt.Sprintf("%s-r%d-%s.png", q.Commission, q.Revision, x.name), x.scene, x.alt)
		if err != nil {
			return d, nil, err
		}
		pictures = append(pictures, p)
	}
	return d, pictures, nil
}

// howOften says a confidence, 50, 80 or 95, as people say it.
func howOften(percent int) string {
	if percent%10 == 0 {
		return fmt.Sprintf("about %d times in 10", percent/10)
	}
	return fmt.Sprintf("about %d times in 20", percent/5)
}

// heldTo is the last day for which the date is held.
func heldTo(q quote.Quote, zone *time.Location) string {
	return quote.LongDate(q.Held.Add(-time.Minute).In(zone).Format(time.DateOnly))
}

// usedNote explains a figure in the title of a layout.
const usedNote = "The share used is how much of the sheet becomes pieces; of the rest, what is large enough goes on the rack of offcuts."

// shownScene is a drawing for the thread. What matters most comes first, since a message holds only some.
type shownScene struct {
	name, alt string
	scene     draw.Scene
}

// facts are what the first page says of what is ordered, a line each.
func facts(q quote.Quote, s quote.Snapshot, finish quote.Finish, zone *time.Location) []pdf.Fact {
	out := []pdf.Fact{
		{Label: "Finish", Value: finish.Title + ": " + finish.Note},
		{Label: "Weight", Value: fmt.Sprintf("about %s in all, straps and coats included", quote.Weight(q.Grams))},
		{Label: "Parcel", Value: q.Parcel.Words()},
		{Label: "Pieces", Value: fmt.Sprintf("%d, cut from %d sheets", len(q.Pieces), len(q.Sheets))},
		{Label: "Bench time", Value: fmt.Sprintf("about %.0f hours, most likely between %.0f and %.0f", q.Hours, q.HoursLow, q.HoursHigh)},
	}
	if f := fittings(q, s, zone); f != "" {
		out = append(out, pdf.Fact{Label: "Fittings", Value: f})
	}
	if s.Wanted != "" {
		out = append(out, pdf.Fact{Label: "Wanted by", Value: quote.LongDate(s.Wanted)})
	}
	if s.Notes != "" {
		out = append(out, pdf.Fact{Label: "Your notes", Value: s.Notes})
	}
	return out
}

// fittings says when the client tries on what is made, and how; empty where nothing is worn.
func fittings(q quote.Quote, s quote.Snapshot, zone *time.Location) string {
	about := func(id string) string {
		for _, x := range q.Plan.Operations {
			if x.ID == id {
				return x.Start.In(zone).Format("Monday 2 January")
			}
		}
		return ""
	}
	first, final := about(quote.FirstFitting), about(quote.FinalFitting)
	if first == "" || final == "" {
		return ""
	}
	if s.Studio.Appointments.Fittings == quote.ByPictures {
		return fmt.Sprintf("by pictures, the first about %s, the final one about %s; you agree the days", first, final)
	}
	return fmt.Sprintf("in the workshop, the first about %s, the final one about %s; you pick the times", first, final)
}

// bodyFacts are the measurements it is made to, and what was added to them.
func bodyFacts(s quote.Snapshot) []pdf.Fact {
	var out []pdf.Fact
	for _, t := range s.Body {
		label := t.Key
		if def, ok := measure.Lookup(t.Key); ok {
			label = def.Label
		}
		if t.Side != foam.NoSide {
			label += ", " + string(t.Side)
		}
		value := measure.Format(t.Value)
		if t.Estimated() {
			value = fmt.Sprintf("about %s (estimated, give or take %s)", value, measure.Format(t.Deviation))
		}
		out = append(out, pdf.Fact{Label: label, Value: value})
	}
	if s.Clothing > 0 {
		out = append(out, pdf.Fact{Label: "Worn beneath", Value: s.Clothing.String() + " thick"})
	}
	if s.Allowance > 0 {
		out = append(out, pdf.Fact{Label: "Extra to trim at a fitting", Value: s.Allowance.String() + " on every girth"})
	}
	return out
}

// worn draws what is ordered on a plain figure with the client's measurements; false if none of it is worn.
func worn(q quote.Quote, s quote.Snapshot) (draw.Scene, bool) {
	var worn []figure.Worn
	for _, g := range q.Graded {
		worn = append(worn, picture.Worn(g)...)
	}
	if len(worn) == 0 {
		return draw.Scene{}, false
	}
	size := map[string]geom.MM{}
	for k, t := range body.On(s.Body, foam.NoSide) {
		size[k] = t.Value
	}
	return figure.Dressed(size, worn, string(q.Commission)+" · how it is worn"), true
}

// groups are the drawings of what is made: for each set its sides, each once.
func groups(q quote.Quote, s quote.Snapshot, sets map[string]*pattern.Set) [][]draw.PieceGroup {
	var out [][]draw.PieceGroup
	at := map[string]int{} // set → index in out
	seen := map[string]bool{}
	for _, g := range q.Graded {
		k := g.Set + "/" + string(g.Side)
		// For a pair one side is drawn: the other is its mirror image unless it was measured separately.
		if seen[k] || (g.Side == foam.Right && seen[g.Set+"/"+string(foam.Left)] && !apart(s)) {
			continue
		}
		seen[k] = true
		title := g.Title
		if g.Side != foam.NoSide {
			title += ", " + string(g.Side)
		}
		i, ok := at[g.Set]
		if !ok {
			i = len(out)
			at[g.Set] = i
			out = append(out, nil)
		}
		out[i] = append(out[i], draw.PieceGroup{Title: title, Pieces: picture.Named(g)})
	}
	return out
}

// apart reports whether left and right were measured separately.
func apart(s quote.Snapshot) bool {
	return slices.ContainsFunc(s.Body, func(t quote.Taken) bool { return t.Side != foam.NoSide })
}

var sectionTitles = map[price.Section]string{
	price.Foam: "Foam", price.Consumables: "Glue and finish", price.Fittings: "Straps and fittings", price.Labour: "Bench time",
}

func priceLines(q quote.Quote, s quote.Snapshot) ([]pdf.Line, []pdf.Fact) {
	e := q.Estimate
	money := func(m price.Money) string { return m.Format(e.Currency) }
	var lines []pdf.Line
	for _, sec := range []price.Section{price.Foam, price.Consumables, price.Fittings, price.Labour} {
		first := true
		for _, l := range e.Lines {
			if l.Section != sec {
				continue
			}
			if first {
				lines = append(lines, pdf.Line{Title: sectionTitles[sec], Heading: true})
				first = false
			}
			lines = append(lines, pdf.Line{Title: l.Title, Quantity: l.Quantity, Amount: money(l.Amount)})
		}
	}
	totals := []pdf.Fact{{Label: "Subtotal", Value: money(e.Subtotal)}}
	if e.Discount != 0 {
		totals = append(totals, pdf.Fact{Label: "Discount " + s.Studio.Prices.Discount.String(), Value: money(-e.Discount)}, pdf.Fact{Label: "Net", Value: money(e.Net)})
	}
	if e.TaxRate != 0 {
		totals = append(totals, pdf.Fact{Label: e.TaxName + " " + e.TaxRate.String(), Value: money(e.Tax)})
	}
	return lines, append(totals,
		pdf.Fact{Label: "Total", Value: money(e.Total), Strong: true},
		pdf.Fact{Label: fmt.Sprintf("Deposit %s, due %s after you approve", s.Studio.Prices.Deposit, price.Counted(s.Studio.DepositDays, "day")), Value: money(e.Deposit)},
		pdf.Fact{Label: "Balance, due before delivery", Value: money(e.Balance)})
}

// cautions of the studio, of the sets, and of the materials used.
func cautions(q quote.Quote, s quote.Snapshot, sets map[string]*pattern.Set) []string {
	out := append([]string(nil), s.Studio.Cautions...)
	seen := map[string]bool{}
	for _, c := range out {
		seen[c] = true
	}
	for _, it := range s.Items {
		for _, c := range sets[it.Set].Cautions {
			if !seen[c] {
				seen[c] = true
				out = append(out, c)
			}
		}
	}
	return append(out, "Paint and clear coat keep hardening for days after handover; protect them from pressure and moisture for as long as their data sheets say.")
}

// startOf is when the first operation begins.
func startOf(q quote.Quote) time.Time {
	if len(q.Plan.Operations) == 0 {
		return q.Issued
	}
	t := q.Plan.Operations[0].Start
	for _, o := range q.Plan.Operations {
		if o.Start.Before(t) {
			t = o.Start
		}
	}
	return t
}

func promiseTime(q quote.Quote, zone *time.Location) time.Time {
	t, err := time.ParseInLocation(time.DateOnly, q.Promise, zone)
	if err != nil {
		return q.Plan.End
	}
	return t.Add(12 * time.Hour)
}

// legibleTogether is how many operations are legible in one picture of a plan on a page; draw.Gantt has the same limit.
const legibleTogether = 30

// laterPages is how high a picture may be on a page of the plan that has no heading and no note, A4 across.
const laterPages geom.MM = 160

// planScenes draws a plan for the quote's annex: in one picture, or in several if there is a lot to show.
func planScenes(g draw.PlanPicture) []draw.Scene {
	bars := map[int]bool{}
	for _, l := range g.Lanes {
		for _, b := range l.Bars {
			bars[b.Number] = true
		}
	}
	if len(bars) <= legibleTogether {
		return []draw.Scene{draw.Gantt(g)}
	}
	g.Later = laterPages
	return draw.Gantts(g)
}

func Summary(q quote.Quote, s quote.Snapshot, sets map[string]*pattern.Set) string {
	var b strings.Builder
	var what []string
	for _, it := range s.Items {
		what = append(what, it.Named(sets[it.Set].Title))
	}
	finish, _ := s.FinishOrdered() // checked while costing
	fmt.Fprintf(&b, "%s, revision %d: %s · %s.\n", q.Commission, q.Revision, strings.Join(what, "; "), finish.Title)
	fmt.Fprintf(&b, "%s on %s, about %.0f hours, about %s; %s.\n", price.Counted(len(q.Pieces), "piece"), price.Counted(len(q.Sheets), "sheet"), q.Hours, quote.Weight(q.Grams), q.Parcel.Words())
	e := q.Estimate
	fmt.Fprintf(&b, "*%s* in total", e.Total.Format(e.Currency))
	if e.Tax != 0 {
		fmt.Fprintf(&b, ", including %s %s", e.Tax.Format(e.Currency), e.TaxName)
	}
	fmt.Fprintf(&b, "; deposit %s.\n", e.Deposit.Format(e.Currency))
	fmt.Fprintf(&b, quote.ReadyBy+"*%s*; we keep such a date %s.", quote.LongDate(q.Promise), howOften(q.Confidence))
	return b.String()
}
