package quote

import (
	"fmt"
	"slices"
	"sort"
	"time"

	"benchbell/quote/draw"
	"benchbell/quote/figure"
	"benchbell/quote/measure"
	"benchbell/quote/nest"
	"benchbell/quote/pattern"
	"benchbell/quote/pdf"
	"benchbell/quote/plan"
	"benchbell/quote/price"
)

// Pixels per picture millimetre of the PNGs for chat: sharp on a phone's screen, small to send.
const chatPixels = 6

// drawingWidth of "what is made" on the quote, mm: the text width of its page.
const drawingWidth = 170

// drawnTogether is how many sets, or sides of one, share a drawing on the quote: more would not be legible on a page.
const drawnTogether = 2

// document lays out the quote as text and scenes, and paints the pictures for the thread.
func (q *Quote) document(s Snapshot, sets map[string]*pattern.Set) (pdf.Document, []Picture, error) {
	zone, err := time.LoadLocation(s.Studio.Calendar.Zone)
	if err != nil {
		return pdf.Document{}, nil, fmt.Errorf("time zone %q is not known: %w", s.Studio.Calendar.Zone, err)
	}
	finish, err := s.finish()
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
		d.Intro = append(d.Intro, it.title(set)+". "+set.Summary)
	}
	d.Facts = []pdf.Fact{
		{Label: "Finish", Value: finish.Title + ": " + finish.Note},
		{Label: "Weight", Value: fmt.Sprintf("about %.0f g in all, straps and coats included", q.Grams)},
		{Label: "Parcel", Value: q.Parcel.words()},
		{Label: "Pieces", Value: fmt.Sprintf("%d, cut from %d sheets", len(q.Pieces), len(q.Sheets))},
		{Label: "Bench time", Value: fmt.Sprintf("%.1f h expected (give or take %.1f h)", q.Hours, q.HoursSD)},
	}
	if s.Wanted != "" {
		d.Facts = append(d.Facts, pdf.Fact{Label: "Wanted by", Value: longDate(s.Wanted)})
	}
	if s.Notes != "" {
		d.Facts = append(d.Facts, pdf.Fact{Label: "Your notes", Value: s.Notes})
	}
	d.Lines, d.Totals = q.lines(s)
	d.Promise = fmt.Sprintf("Ready by %s. At least %d of 100 simulated runs of the workshop's plan keep this date.", longDate(q.Promise), q.Sure)
	if q.Late {
		d.Promise += fmt.Sprintf(" This is later than the %s asked for.", longDate(s.Wanted))
	}
	d.PlanNote = fmt.Sprintf("Assumes a start on %s. Hatched bars are glue and paint curing at %g °C and %g %% humidity: planning values; each product's data sheet decides.",
		date(q.start()), s.Studio.Room.Celsius, s.Studio.Room.Humidity)
	d.Changes = s.Changes
	for _, t := range s.Body {
		label := t.Key
		if def, ok := measure.Lookup(t.Key); ok {
			label = def.Label
		}
		if t.Side != pattern.NoSide {
			label += ", " + string(t.Side)
		}
		value := measure.Format(t.Value)
		if t.Estimated() {
			value = fmt.Sprintf("about %s, estimated, give or take %s", value, measure.Format(t.Deviation))
		}
		d.Body = append(d.Body, pdf.Fact{Label: label, Value: value})
	}
	if s.Clothing > 0 {
		d.Body = append(d.Body, pdf.Fact{Label: "Worn beneath", Value: s.Clothing.String() + " thick"})
	}
	if s.Allowance > 0 {
		d.Body = append(d.Body, pdf.Fact{Label: "Room for a mock-up", Value: s.Allowance.String() + " on every girth"})
	}
	d.Cautions = q.cautions(s, sets)

	var pictures []Picture
	var together []draw.PieceGroup
	drawings := q.groups(s, sets)
	for i, g := range drawings {
		if together = append(together, g...); i+1 == len(drawings) || len(together)+len(drawings[i+1]) > drawnTogether {
			d.Drawings = append(d.Drawings, draw.Pieces("", together, drawingWidth))
			together = nil
		}
	}
	number := string(q.Commission)
	shown := []shownScene{}
	if worn, ok := q.worn(s); ok {
		d.Drawings = append(d.Drawings, worn)
		shown = append(shown, shownScene{"worn", "How it is worn: front and back, on a plain figure of your measurements", worn})
	}
	d.Plan = planScenes(PlanPicture(q.Plan, s.Studio, zone, "", q.promiseTime(zone)))
	shown = append(shown,
		shownScene{"pieces", "What is made: the graded pieces", draw.Pieces(number+" · what is made", slices.Concat(drawings...), drawingWidth)},
		shownScene{"plan", "Plan of the work with its cures; ready by " + longDate(q.Promise),
			draw.Gantt(PlanPicture(q.Plan, s.Studio, zone, number+" · plan", q.promiseTime(zone)))})
	shapes, err := q.byLabel()
	if err != nil {
		return d, nil, err
	}
	for _, l := range q.Sheets {
		sc := draw.Layout(q.sheetPicture(l, shapes, s.Studio))
		d.Sheets = append(d.Sheets, pdf.Captioned{Caption: q.sheetTitle(l), Scene: sc})
		shown = append(shown, shownScene{fmt.Sprintf("sheet-%d", l.Number), "Cut layout, " + q.sheetTitle(l), sc})
	}
	for _, x := range shown {
		p, err := picture(fmt.Sprintf("%s-r%d-%s.png", q.Commission, q.Revision, x.name), x.scene, x.alt)
		if err != nil {
			return d, nil, err
		}
		pictures = append(pictures, p)
	}
	return d, pictures, nil
}

// shownScene is a drawing that goes to the thread: what matters most first, since a message holds only some.
type shownScene struct {
	name, alt string
	scene     draw.Scene
}

// worn draws what is ordered on a plain figure of the client's measurements; false where nothing of it is worn.
func (q *Quote) worn(s Snapshot) (draw.Scene, bool) {
	var worn []figure.Worn
	for _, g := range q.Graded {
		worn = append(worn, wear(g)...)
	}
	if len(worn) == 0 {
		return draw.Scene{}, false
	}
	body := s.body(pattern.NoSide)
	for k, t := range s.takenFor(pattern.Right) { // where the sides were taken apart, one stands for the figure
		if _, ok := body[k]; !ok {
			body[k] = t.Value
		}
	}
	return figure.Dressed(body, worn, string(q.Commission)+" · how it is worn"), true
}

func picture(name string, s draw.Scene, alt string) (Picture, error) {
	data, err := s.PNG(chatPixels)
	if err != nil {
		return Picture{}, fmt.Errorf("the picture %s could not be painted: %w", name, err)
	}
	return Picture{Name: name, MIME: "image/png", Alt: alt, Data: data}, nil
}

// named lists the pieces of a graded set with copies folded.
func named(g pattern.Graded) []draw.NamedPiece {
	var out []draw.NamedPiece
	at := map[string]int{}
	for _, p := range g.Pieces {
		if i, ok := at[p.ID]; ok {
			out[i].Count++
			continue
		}
		at[p.ID] = len(out)
		out = append(out, draw.NamedPiece{Name: fmt.Sprintf("%s, %g mm", p.Title, float64(p.Thickness)), Shape: p.Shape, Scores: p.Scores, Count: 1})
	}
	return out
}

// groups is the drawing of what is made: for each set its sides, each once.
func (q *Quote) groups(s Snapshot, sets map[string]*pattern.Set) [][]draw.PieceGroup {
	var out [][]draw.PieceGroup
	at := map[string]int{} // set → index in out
	seen := map[string]bool{}
	for _, g := range q.Graded {
		k := g.Set + "/" + string(g.Side)
		// A pair shows one side: the other is its mirror image unless it was measured apart.
		if seen[k] || (g.Side == pattern.Right && seen[g.Set+"/"+string(pattern.Left)] && !s.apart()) {
			continue
		}
		seen[k] = true
		title := g.Title
		if g.Side != pattern.NoSide {
			title += ", " + string(g.Side)
		}
		i, ok := at[g.Set]
		if !ok {
			i = len(out)
			at[g.Set] = i
			out = append(out, nil)
		}
		out[i] = append(out[i], draw.PieceGroup{Title: title, Pieces: named(g)})
	}
	return out
}

// apart reports whether left and right were measured apart.
func (s Snapshot) apart() bool {
	for _, t := range s.Body {
		if t.Side != pattern.NoSide {
			return true
		}
	}
	return false
}

func (q *Quote) sheetTitle(l SheetLayout) string {
	return fmt.Sprintf("sheet %d of %d · EVA foam %s · %g × %g mm · %.0f %% used", l.Number, len(q.Sheets), l.Thickness,
		float64(l.Layout.Width), float64(l.Layout.Height), 100*l.Layout.Used)
}

// sheetPicture describes one sheet for draw.Layout; shapes are the graded pieces by label.
func (q *Quote) sheetPicture(l SheetLayout, shapes map[string]pattern.Piece, st Studio) draw.SheetPicture {
	return draw.SheetPicture{Title: q.sheetTitle(l), Commission: string(q.Commission), Width: l.Layout.Width, Height: l.Layout.Height,
		Pieces: laidPieces(l.Layout, shapes), Offcut: rest(l.Layout, nil, nil, shapes, st)}
}

// laidPieces are the pieces of a layout where they lie.
func laidPieces(l nest.Layout, shapes map[string]pattern.Piece) []draw.LaidPiece {
	var out []draw.LaidPiece
	for _, pl := range l.Placed {
		p := shapes[pl.Item]
		lp := draw.LaidPiece{Label: pl.Item, Owner: pl.Owner, Shape: pl.At.Shape(p.Shape), Mirrored: p.Mirrored != pl.At.Mirrored}
		for _, sc := range p.Scores {
			lp.Scores = append(lp.Scores, pl.At.Path(sc))
		}
		for _, m := range p.Marks {
			lp.Marks = append(lp.Marks, pl.At.Path(m.Path))
		}
		out = append(out, lp)
	}
	return out
}

var sectionTitles = map[price.Section]string{
	price.Foam: "Foam", price.Consumables: "Glue and finish", price.Fittings: "Straps and fittings", price.Labour: "Bench time",
}

func (q *Quote) lines(s Snapshot) ([]pdf.Line, []pdf.Fact) {
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
		pdf.Fact{Label: fmt.Sprintf("Deposit %s, due in %d days", s.Studio.Prices.Deposit, s.Studio.DepositDays), Value: money(e.Deposit)},
		pdf.Fact{Label: "Balance before it leaves", Value: money(e.Balance)})
}

// cautions of the studio, of the sets, and of the materials used.
func (q *Quote) cautions(s Snapshot, sets map[string]*pattern.Set) []string {
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
	return append(out, "Paint and clear coat go on hardening for days after handover; keep them from pressure and moisture as long as their data sheets say.")
}

// start is when the first operation begins.
func (q *Quote) start() time.Time {
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

func (q *Quote) promiseTime(zone *time.Location) time.Time {
	t, err := time.ParseInLocation(time.DateOnly, q.Promise, zone)
	if err != nil {
		return q.Plan.End
	}
	return t.Add(12 * time.Hour)
}

// legibleTogether is how many operations one picture of a plan holds legibly on a page; draw.Gantt's own measure.
const legibleTogether = 30

// planScenes draws a plan for the quote's annex: in one picture, or in several where there is much to show.
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
	return draw.Gantts(g)
}

// PlanPicture describes a plan for draw.Gantt: a lane for each maker and place, cures beneath by assembly, the critical
// chain marked.
func PlanPicture(p plan.Solution, st Studio, zone *time.Location, title string, promise time.Time) draw.PlanPicture {
	g := draw.PlanPicture{Title: title, Zone: zone, Promise: promise}
	number := map[string]int{}
	ops := append([]plan.Scheduled(nil), p.Operations...)
	sort.SliceStable(ops, func(i, j int) bool { return ops[i].Start.Before(ops[j].Start) })
	for i, o := range ops {
		number[o.ID] = i + 1
		if g.From.IsZero() || o.Start.Before(g.From) {
			g.From = o.Start
		}
		if o.End.After(g.To) {
			g.To = o.End
		}
		if o.Cure != nil && o.Cure.Ready.After(g.To) {
			g.To = o.Cure.Ready
		}
	}
	if promise.After(g.To) {
		g.To = promise
	}
	for _, r := range st.Resources {
		lane := draw.Lane{Title: r.Title}
		for _, o := range ops {
			for _, id := range o.Resources {
				if id != r.ID {
					continue
				}
				bar := draw.Bar{Number: number[o.ID], Title: o.Title, Kind: o.Kind, Critical: o.Critical}
				for _, sp := range o.Spans {
					bar.Spans = append(bar.Spans, draw.Span{From: sp.From, To: sp.To})
				}
				lane.Bars = append(lane.Bars, bar)
			}
		}
		g.Lanes = append(g.Lanes, lane)
	}
	// A cure is critical where a critical operation waited for it.
	critical := map[string]bool{}
	for _, o := range ops {
		if o.Critical && o.Wait != nil && o.Wait.Why == plan.WaitCure {
			critical[o.Wait.For] = true
		}
	}
	for _, o := range ops {
		if o.Cure != nil && o.Cure.Ready.After(o.Cure.From) {
			g.Cures = append(g.Cures, draw.CureBar{Title: o.Cure.Material, Lane: o.Group, From: o.Cure.From, Ready: o.Cure.Ready, Latest: o.Cure.Latest, Critical: critical[o.ID]})
		}
	}
	g.Open = openSpans(st.Calendar, zone, g.From, g.To)
	return g
}

// openSpans lists the working hours between two times.
func openSpans(c plan.Calendar, zone *time.Location, from, to time.Time) []draw.Span {
	var out []draw.Span
	const horizon = 2 * 366 // days drawn at most
	f := from.In(zone)
	for i := 0; i < horizon; i++ {
		day := time.Date(f.Year(), f.Month(), f.Day()+i, 0, 0, 0, 0, zone)
		if day.After(to) {
			break
		}
		if !c.Open(day) {
			continue
		}
		for _, s := range c.Shifts {
			if s.Weekday == day.Weekday() {
				at := func(m int) time.Time {
					return time.Date(day.Year(), day.Month(), day.Day(), m/60, m%60, 0, 0, zone)
				}
				out = append(out, draw.Span{From: at(s.From), To: at(s.To)})
			}
		}
	}
	return out
}
