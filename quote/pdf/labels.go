package pdf

import (
	"bytes"
	"fmt"
	"math"
	"time"

	"benchbell/quote/draw"
	"benchbell/quote/geom"
	"benchbell/quote/press"
)

// Labels are what is stuck on pieces, boxes and offcuts, on sheets with a plain grid of labels of one size.
type Labels struct {
	Paper         Paper
	Created       time.Time
	Title         string
	Width, Height geom.MM // of one label
	Skip          int     // of the first sheet that are used up
	Labels        []Label
}

// Label is one of them.
type Label struct {
	Name    string // largest: 2L-stud/3, C0007, R0003; never cut short
	Lines   []string
	Outline geom.Shape // y up; none where there is none
	Code    string     // an address, as a QR code; empty: none
}

// The least label on which a phone still reads the code, and a person the name.
const (
	leastLabelWidth  geom.MM = 45
	leastLabelHeight geom.MM = 25
)

// labelEdge is how far from a label's edge nothing is printed: sheets are not put into printers to the millimetre.
const labelEdge = 3.0

// size of the paper, upright.
func (p Paper) size() (w, h float64) {
	if p == Letter {
		return 215.9, 279.4
	}
	return 210, 297
}

// PrintLabels prints sheets of labels. A size that the paper or the eye does not hold is refused, and a name that is longer than a label.
func PrintLabels(l Labels) ([]byte, error) {
	w, h := l.Paper.size()
	if l.Width < leastLabelWidth || l.Height < leastLabelHeight || float64(l.Width) > w || float64(l.Height) > h {
		return nil, fmt.Errorf("a label of %g × %g mm cannot be printed; it is at least %g × %g mm, and fits on %s paper", float64(l.Width), float64(l.Height),
			float64(leastLabelWidth), float64(leastLabelHeight), l.Paper)
	}
	columns, rows := int(w/float64(l.Width)+1e-9), int(h/float64(l.Height)+1e-9)
	left, top := (w-float64(columns)*float64(l.Width))/2, (h-float64(rows)*float64(l.Height))/2
	if l.Skip < 0 || l.Skip >= columns*rows {
		return nil, fmt.Errorf("%d used labels do not do; a sheet has %d", l.Skip, columns*rows)
	}
	p := press.New(geom.MM(w), geom.MM(h), press.Title{Title: l.Title, Created: l.Created})
	for i, x := range l.Labels {
		n := i + l.Skip
		if i == 0 || n%(columns*rows) == 0 {
			p.PDF.AddPage()
		}
		at := n % (columns * rows)
		if err := x.print(p, left+float64(at%columns)*float64(l.Width), top+float64(at/columns)*float64(l.Height), float64(l.Width), float64(l.Height)); err != nil {
			return nil, err
		}
	}
	if len(l.Labels) == 0 {
		return nil, fmt.Errorf("there is nothing to label")
	}
	var buf bytes.Buffer
	if err := p.PDF.Output(&buf); err != nil {
		return nil, fmt.Errorf("%s could not be printed: %w", l.Title, err)
	}
	return buf.Bytes(), nil
}

// print prints a label: its code on the right, its name and what it is on the left, the outline below them.
func (x Label) print(p press.Press, left, top, w, h float64) error {
	scale := math.Min(h/37, w/70) // of text: 70 × 37 mm is the label that it was drawn for
	inner := h - 2*labelEdge
	right := left + w - labelEdge
	if x.Code != "" {
		size := math.Min(inner, 0.38*w)
		if err := p.Code(right-size, top+(h-size)/2, size, x.Code); err != nil {
			return err
		}
		right -= size + 1
	}
	wide := right - left - labelEdge
	name := 5.4 * scale
	if text := float64(draw.TextWidth(draw.Bold, geom.MM(name), x.Name)); text > wide {
		name *= wide / text
	}
	if name < 2.4 {
		return fmt.Errorf("%q is too long for a label of %g × %g mm; take a wider one", x.Name, w, h)
	}
	y := top + labelEdge + name*0.85
	p.Text(left+labelEdge, y, name, draw.Bold, draw.Start, draw.Ink, x.Name)
	small, line := math.Max(2.9*scale, 2.3), math.Max(3.9*scale, 3.1)
	y += 0.8 * scale
	for _, t := range x.Lines {
		y += line
		p.Text(left+labelEdge, y-line*0.2, small, draw.Regular, draw.Start, draw.Ink, clip(draw.Regular, small, wide, t))
	}
	y += 1.2 * scale
	x.outline(p, left+labelEdge, y, wide, top+h-labelEdge-y)
	return nil
}

// outline prints the piece's own outline as large as it goes.
func (x Label) outline(p press.Press, left, top, w, h float64) {
	if len(x.Outline.Outer) < 3 || w <= 4 || h <= 4 {
		return
	}
	b := x.Outline.Outer.Bounds()
	k := math.Min(w/float64(b.Width()), h/float64(b.Height()))
	p.Pen(draw.Ink, 0.3, nil, 1)
	for _, r := range append([]geom.Ring{x.Outline.Outer}, x.Outline.Holes...) {
		if len(r) < 3 {
			continue
		}
		for i, q := range r {
			px, py := left+(q.X-b.Min.X)*k, top+(b.Max.Y-q.Y)*k
			if i == 0 {
				p.PDF.MoveTo(px, py)
			} else {
				p.PDF.LineTo(px, py)
			}
		}
		p.PDF.ClosePath()
		p.PDF.DrawPath("D")
	}
}
