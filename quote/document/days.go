package document

import (
	"fmt"
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

func (d Days) scene(paper string) (draw.Scene, error) {
	w, h, ok := daysSize(paper)
	if !ok {
		return draw.Scene{}, fmt.Errorf("the days are not printed on %q, but on %s", paper, strings.Join(DaysPapers, " or "))
	}
	p := draw.DaysPicture{Title: "Days", Width: w, Height: h, Now: d.At, Agreed: "Agreed", Drying: "Dries",
		Foot: "As planned on " + d.At.Format("Mon 2 Jan, 15:04") + ".", More: "More dries than there is room for: see Curing."}
	for _, x := range d.Days {
		c := draw.DayColumn{Title: x.Opens.Format("Mon 2 Jan"), Opens: x.Opens, Closes: x.Closes}
		for _, a := range x.Agreed {
			switch {
			case a.What == "":
				c.Agreed = append(c.Agreed, fmt.Sprintf("%s promised", a.Commission))
			default:
				c.Agreed = append(c.Agreed, fmt.Sprintf("%s %s %s", a.At.In(d.At.Location()).Format("15:04"), a.Commission, a.What))
			}
		}
		p.Columns = append(p.Columns, c)
	}
	for _, r := range d.Rows {
		row := draw.DayRow{Title: r.Title}
		for _, b := range r.Work {
			bar := draw.DayBar{From: b.From, To: b.To, Label: string(b.Commission), Words: strings.ToLower(strings.Join(b.Titles, ", "))}
			switch {
			case b.Done:
				bar.State = draw.DayDone
			case b.InHand:
				bar.State = draw.DayInHand
			}
			row.Bars = append(row.Bars, bar)
		}
		p.Rows = append(p.Rows, row)
	}
	for _, x := range d.Wet {
		bar := draw.DayBar{From: x.From, To: x.To, Label: string(x.Commission), State: draw.DayInHand,
			Words: fmt.Sprintf("dry %s, %s", x.To.In(d.At.Location()).Format("Mon 15:04"), strings.ToLower(x.Material))}
		if x.Planned {
			bar.State = draw.DayPlanned
		}
		p.Wet = append(p.Wet, bar)
	}
	return draw.Days(p), nil
}
