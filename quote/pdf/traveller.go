package pdf

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"time"

	"benchbell/quote/draw"
	"benchbell/quote/geom"
)

// Traveller is the sheet that goes through the shop with one commission: what to do, in order, with a box to tick for each. It has
// nothing of its client.
type Traveller struct {
	Paper    Paper
	Created  time.Time
	Studio   string
	Number   string // "C0007"
	Revision int
	Page     string // address of the commission's page, as a QR code; empty: none
	Facts    []Fact
	Steps    []TravellerStep
	Uses     []Fact // glue, paint and fittings, with how much of each
	Cautions []string
	Sheets   []TravellerSheet
}

// TravellerStep is one operation.
type TravellerStep struct {
	Title, Group string
	Day          string // planned
	Takes        string // target time
	Where        string // who and which place
	After        string // what dries after it and the window of what comes next; empty: nothing
	Done         bool
}

// TravellerSheet is a sheet of foam with the pieces on it.
type TravellerSheet struct {
	Title  string
	Scene  draw.Scene
	Pieces []TravellerPiece
}

// TravellerPiece is a line of the cut list.
type TravellerPiece struct {
	Label, Size string
}

// PrintTraveller prints a traveller. The same traveller gives the same bytes.
func PrintTraveller(t Traveller) (out []byte, err error) {
	defer func() {
		if r := recover(); r != nil { // as in Print
			out, err = nil, fmt.Errorf("the traveller of %q could not be printed: %v", t.Number, r)
		}
	}()
	pages := 0
	var p *printer
	for range 2 { // the first pass counts the pages
		if p, err = layTraveller(t, pages); err != nil {
			return nil, fmt.Errorf("the traveller of %q could not be printed: %w", t.Number, err)
		}
		pages = p.page()
	}
	var buf bytes.Buffer
	if err := p.PDF.Output(&buf); err != nil {
		return nil, fmt.Errorf("the traveller of %q could not be printed: %w", t.Number, err)
	}
	return buf.Bytes(), nil
}

func layTraveller(t Traveller, pages int) (*printer, error) {
	d := Document{Paper: t.Paper, Created: t.Created, Studio: t.Studio, Number: t.Number, Revision: t.Revision}
	foot := fmt.Sprintf("Traveller %s · revision %d · each product's data sheet comes before this sheet", t.Number, t.Revision)
	p := newSheets(d, fmt.Sprintf("Traveller %s, revision %d", t.Number, t.Revision), "Shop traveller", foot, pages)
	if err := p.travellerHead(t); err != nil {
		return nil, err
	}
	p.steps(t.Steps)
	if len(t.Uses) > 0 {
		p.heading("Glue, paint and fittings", math.Min(float64((len(t.Uses)+1)/2)*(2*bodyLine+1.6), 70))
		p.facts(t.Uses)
	}
	p.list("Take care", t.Cautions)
	for i, s := range t.Sheets {
		p.foam(s, i == 0)
	}
	return p, p.PDF.Error()
}

// codeSize is the QR code on a traveller, mm: a phone reads it at arm's length.
const codeSize = 30.0

func (p *printer) travellerHead(t Traveller) error {
	p.fill(0, 0, p.w, 3, draw.Accent)
	if t.Page != "" && p.pages > 0 {
		if err := p.Code(p.w-side-codeSize+3, 9, codeSize, t.Page); err != nil {
			return err
		}
	}
	p.text(side, 16, smallSize, draw.Regular, draw.Start, draw.Grey,
		clip(draw.Regular, smallSize, p.width()-codeSize-4, t.Studio+" · shop traveller · printed for the shop, not for the client"))
	p.text(side, 31, 14, draw.Bold, draw.Start, draw.Accent, t.Number)
	if p.pages > 0 {
		w := float64(draw.TextWidth(draw.Bold, 14, t.Number))
		p.text(side+w+4, 31, 5, draw.Regular, draw.Start, draw.Ink, fmt.Sprintf("revision %d", t.Revision))
	}
	p.y = 39
	p.facts(t.Facts)
	return nil
}

// tick prints a box to tick, filled where it is done; y is the baseline of its line.
func (p *printer) tick(x, y, size float64, done bool) {
	if p.pages == 0 {
		return
	}
	p.Pen(draw.Ink, 0.3, nil, 1)
	p.PDF.Rect(x, y-size+0.5, size, size, "D")
	if done {
		p.fill(x+0.7, y-size+1.2, size-1.4, size-1.4, draw.Ink)
	}
}

const (
	stepBox  = 4.0
	dayWide  = 31.0
	timeWide = 19.0
	whoWide  = 33.0
)

func (p *printer) steps(steps []TravellerStep) {
	if len(steps) == 0 {
		return
	}
	const boxes, number = 7.0, 8.0
	titleX := side + boxes + number
	dayX := p.w - side - dayWide - timeWide - whoWide
	titleWide := dayX - titleX - 3
	head := func() {
		p.y += 3
		for _, c := range []struct {
			x  float64
			at draw.Anchor
			s  string
		}{{titleX, draw.Start, "Step"}, {dayX, draw.Start, "Planned"},
			{dayX + dayWide + timeWide - 3, draw.End, "Target"}, {dayX + dayWide + timeWide + 1, draw.Start, "Who and where"}} {
			p.text(c.x, p.y, smallSize, draw.Regular, c.at, draw.Grey, c.s)
		}
		p.y += 1.8
		p.rule(p.y, draw.Ink, 0.3)
		p.y += 0.4
	}
	p.heading("In this order", 24)
	head()
	for i, s := range steps {
		title := s.Title
		if s.Group != "" && !strings.Contains(strings.ToLower(title), strings.ToLower(s.Group)) {
			title += " · " + s.Group
		}
		lines := draw.Fit(draw.Bold, bodySize, geom.MM(titleWide), title, 3)
		who := draw.Fit(draw.Regular, smallSize, whoWide-1, s.Where, 3)
		var after []string
		if s.After != "" {
			after = draw.Fit(draw.Regular, smallSize, geom.MM(p.w-side-titleX-4), s.After, 2)
		}
		h := math.Max(float64(max(len(lines), len(who), 1))*bodyLine, stepBox+0.7) + float64(len(after))*smallLine + 1.6
		if p.need(h) {
			head()
		}
		base := p.y + bodyLine*0.74 + 0.4
		p.tick(side, base+0.2, stepBox, s.Done)
		p.text(titleX-2, base, bodySize, draw.Regular, draw.End, draw.Grey, fmt.Sprint(i+1))
		for j, l := range lines {
			p.text(titleX, base+float64(j)*bodyLine, bodySize, draw.Bold, draw.Start, draw.Ink, l)
		}
		p.text(dayX, base, bodySize, draw.Regular, draw.Start, draw.Ink, clip(draw.Regular, bodySize, dayWide-1, s.Day))
		p.text(dayX+dayWide+timeWide-3, base, bodySize, draw.Regular, draw.End, draw.Ink, clip(draw.Regular, bodySize, timeWide, s.Takes))
		for j, l := range who {
			p.text(dayX+dayWide+timeWide+1, base+float64(j)*smallLine, smallSize, draw.Regular, draw.Start, draw.Ink, l)
		}
		y := p.y + h - float64(len(after))*smallLine - 0.9
		for j, l := range after {
			p.text(titleX+4, y+float64(j)*smallLine+smallLine*0.72, smallSize, draw.Regular, draw.Start, draw.Ink, l)
		}
		if len(after) > 0 && p.pages > 0 { // hatched is wet
			p.hatched(titleX, y+0.5, 2.6, float64(len(after))*smallLine-0.9)
		}
		p.y += h
		p.rule(p.y, draw.Pale, 0.15)
	}
}

// hatched prints a hatched box, which stands for what dries.
func (p *printer) hatched(x, y, w, h float64) {
	p.Pen(draw.Ink, 0.15, nil, 1)
	p.PDF.Rect(x, y, w, h, "D")
	const gap = 0.9
	for d := gap; d < w+h; d += gap {
		x0, y0 := x+math.Min(d, w), y+math.Max(0, d-w)
		x1, y1 := x+math.Max(0, d-h), y+math.Min(d, h)
		p.PDF.Line(x0, y0, x1, y1)
	}
}

// foam prints a sheet's layout and its cut list below it. No label is cut short: it is what is looked for.
func (p *printer) foam(s TravellerSheet, first bool) {
	const (
		rowLine = 4.6
		most    = 78.0 // of a layout's height: two sheets with their lists go on a page
		gap     = 5.0
		box     = 4.5
	)
	w, h := s.Scene.Size()
	k := fit(s.Scene, p.width(), most, 1)
	label, size := 0.0, 0.0
	for _, x := range s.Pieces {
		label = math.Max(label, float64(draw.TextWidth(draw.Bold, smallSize, x.Label)))
		size = math.Max(size, float64(draw.TextWidth(draw.Regular, smallSize, x.Size)))
	}
	columns := max(1, int((p.width()+gap)/(box+label+3+size+gap)))
	rows := (len(s.Pieces) + columns - 1) / columns
	list := 4 + float64(min(rows, 3))*rowLine
	before := 4.0
	if first {
		before = 15.1 // the heading
	}
	// What is left of a page is used where the layout is still legible in it.
	const least = 0.75
	if room := (p.left() - before - list) / float64(h); room < k && room >= least*k {
		k = room
	}
	want := math.Min(float64(h)*k+list, p.h-topMargin-bottom-20)
	if first {
		p.heading("Cut from these sheets", want)
	} else {
		p.y += 4
		p.need(want)
	}
	p.scene(s.Scene, side+(p.width()-float64(w)*k)/2, p.y, k)
	p.y += float64(h)*k + 2
	column := (p.width() - float64(columns-1)*gap) / float64(columns)
	for i := 0; i < len(s.Pieces); i += columns {
		p.need(rowLine)
		for j, x := range s.Pieces[i:min(i+columns, len(s.Pieces))] {
			left := side + float64(j)*(column+gap)
			base := p.y + rowLine*0.72
			p.tick(left, base, 3, false)
			p.text(left+box, base, smallSize, draw.Bold, draw.Start, draw.Ink, x.Label)
			p.text(left+column, base, smallSize, draw.Regular, draw.End, draw.Ink, x.Size)
		}
		p.y += rowLine
	}
}
