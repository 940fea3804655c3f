package document

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"benchbell/quote"
	"benchbell/quote/draw"
	"benchbell/quote/geom"
	"benchbell/quote/pdf"
)

// Days are the coming working days of a shop.
type Days struct {
	At   time.Time // as of when, in the studio's zone
	Days []Day
	Rows []DaysRow
	Wet  []DaysWet // what dries, and what is planned to
}

// Day is one of them, with its hours.
type Day struct {
	Opens, Closes time.Time // in the studio's zone
	Agreed        []DaysAgreed
}

// DaysAgreed is an appointment, or a date that a client was told.
type DaysAgreed struct {
	Commission quote.CommissionID
	What       string    // "first fitting"; empty: the promised date
	At         time.Time // zero: all day
}

// DaysRow is a maker or a place, with what is done there.
type DaysRow struct {
	Title string
	Maker bool
	Work  []DaysWork
}

// DaysWork is a stretch of work on one commission.
type DaysWork struct {
	Commission quote.CommissionID
	Titles     []string // of the operations
	From, To   time.Time
	InHand     bool
	Done       bool
}

// DaysWet is something that dries.
type DaysWet struct {
	Commission quote.CommissionID
	Material   string
	From, To   time.Time
	Planned    bool // it is not put on yet
}

// DaysPapers are what the days are printed on, across (ISO 216).
var DaysPapers = []string{"A3", "A4"}

func daysSize(paper string) (w, h geom.MM, ok bool) {
	switch paper {
	case "A3":
		return 420, 297, true
	case "A4":
		return 297, 210, true
	}
	return 0, 0, false
}

// Picture draws the days for a paper, as SVG; Print makes a PDF of the same picture. The same days give the same bytes.
func (d Days) Picture(paper string) ([]byte, error) {
	s, err := d.scene(paper)
	return s.SVG(), err
}

// Print makes the PDF for the wall.
func (d Days) Print(paper string) (quote.File, error) {
	s, err := d.scene(paper)
	if err != nil {
		return quote.File{}, err
	}
	data, err := pdf.PrintScene(s, d.At)
	return quote.File{Name: fmt.Sprintf("days-%s-%s.pdf", d.At.Format(time.DateOnly), strings.ToLower(paper)), MIME: "application/pdf", Data: data}, err
}

// Lines are what is done in a row on one day, a line for each commission, in the order in which they are begun.
func (d Days) Lines(r DaysRow, day int) (out []DaysWork) {
	for _, w := range r.Work {
		if !d.on(day, w.From) {
			continue
		}
		i := slices.IndexFunc(out, func(o DaysWork) bool { return o.Commission == w.Commission })
		if i < 0 {
			w.Titles = slices.Clone(w.Titles)
			out = append(out, w)
			continue
		}
		o := &out[i]
		for _, t := range w.Titles {
			if !slices.Contains(o.Titles, t) {
				o.Titles = append(o.Titles, t)
			}
		}
		o.InHand, o.Done = o.InHand || w.InHand, o.Done && w.Done
		if w.To.After(o.To) {
			o.To = w.To
		}
	}
	slices.SortStableFunc(out, func(a, b DaysWork) int { return a.From.Compare(b.From) })
	return out
}

// Dry is what has dried on one day, the last of each material of a commission, what is wet now before what is planned.
func (d Days) Dry(day int) (out []DaysWet) {
	for _, x := range d.Wet {
		if !d.on(day, x.To) {
			continue
		}
		i := slices.IndexFunc(out, func(o DaysWet) bool {
			return o.Commission == x.Commission && o.Material == x.Material && o.Planned == x.Planned
		})
		switch {
		case i < 0:
			out = append(out, x)
		case x.To.After(out[i].To):
			out[i].To = x.To
		}
	}
	slices.SortStableFunc(out, func(a, b DaysWet) int {
		if a.Planned != b.Planned {
			if a.Planned {
				return 1
			}
			return -1
		}
		return a.To.Compare(b.To)
	})
	return out
}

func (d Days) on(day int, t time.Time) bool {
	return t.In(d.At.Location()).Format(time.DateOnly) == d.Days[day].Opens.Format(time.DateOnly)
}

func (d Days) scene(paper string) (draw.Scene, error) {
	w, h, ok := daysSize(paper)
	if !ok {
		return draw.Scene{}, fmt.Errorf("the days are not printed on %q, but on %s", paper, strings.Join(DaysPapers, " or "))
	}
	p := draw.DaysPicture{Title: "Days", Width: w, Height: h, Now: d.At,
		Foot: "As planned on " + d.At.Format("Mon 2 Jan, 15:04") + ". What dries can be seen to the minute under Curing."}
	clock := func(t time.Time) string { return t.In(d.At.Location()).Format("15:04") }
	agreed := draw.DayRow{Title: "Agreed", Bare: true}
	for _, x := range d.Days {
		p.Columns = append(p.Columns, draw.DayColumn{Title: x.Opens.Format("Mon 2 Jan"), Opens: x.Opens, Closes: x.Closes})
		var lines []string
		for _, a := range x.Agreed {
			if a.What == "" {
				lines = append(lines, fmt.Sprintf("%s promised", a.Commission))
			} else {
				lines = append(lines, fmt.Sprintf("%s %s %s", clock(a.At), a.Commission, a.What))
			}
		}
		agreed.Lines = append(agreed.Lines, lines)
	}
	p.Rows = append(p.Rows, agreed)
	for _, r := range d.Rows {
		row := draw.DayRow{Title: r.Title}
		for _, b := range r.Work {
			bar := draw.DayBar{From: b.From, To: b.To}
			switch {
			case b.Done:
				bar.State = draw.DayDone
			case b.InHand:
				bar.State = draw.DayInHand
			}
			row.Bars = append(row.Bars, bar)
		}
		for i := range d.Days {
			var lines []string
			for _, l := range d.Lines(r, i) {
				lines = append(lines, fmt.Sprintf("%s %s", l.Commission, strings.ToLower(strings.Join(l.Titles, ", "))))
			}
			row.Lines = append(row.Lines, lines)
		}
		p.Rows = append(p.Rows, row)
	}
	wet := draw.DayRow{Title: "Dry by", Wet: true}
	for _, x := range d.Wet {
		bar := draw.DayBar{From: x.From, To: x.To, State: draw.DayInHand}
		if x.Planned {
			bar.State = draw.DayPlanned
		}
		wet.Bars = append(wet.Bars, bar)
	}
	for i := range d.Days {
		var lines []string
		for _, x := range d.Dry(i) {
			lines = append(lines, fmt.Sprintf("%s %s %s", clock(x.To), x.Commission, strings.ToLower(x.Material)))
		}
		wet.Lines = append(wet.Lines, lines)
	}
	p.Rows = append(p.Rows, wet)
	return draw.Days(p), nil
}
