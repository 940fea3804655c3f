package draw

import (
	"slices"

	"benchbell/quote/geom"
)

// kindLooks are the looks of the stages of the trade, the same in every plan: who has learnt one reads the next without its key.
// What is alike in work is alike in tone; all are light enough for black text.
var kindLooks = map[string]pattern{
	"cut":      {tone: 0xd3e1e5},
	"bevel":    {tone: 0xffffff},
	"score":    {tone: 0xffffff, first: Hatch{0, 1.2, 0.22, patternInk}},
	"punch":    {tone: 0xffffff, first: Hatch{90, 1.2, 0.22, patternInk}},
	"form":     {tone: 0xa7c0c8},
	"seal":     {tone: 0xa7c0c8, first: Hatch{0, 1.2, 0.22, patternInk}},
	"glue":     {tone: 0xf0e2bf},
	"layer":    {tone: 0xf0e2bf, first: Hatch{135, 1.5, 0.22, patternInk}},
	"prime":    {tone: 0xdcd3e6},
	"paint":    {tone: 0xe8cfc8},
	"wash":     {tone: 0xe8cfc8, first: Hatch{135, 1.5, 0.22, patternInk}},
	"clear":    {tone: 0xc2c8cc},
	"hardware": {tone: 0xffffff, first: Hatch{0, 1.6, 0.22, patternInk}, cross: true},
	"fit":      {tone: 0xb9d0b2},
	"pack":     {tone: 0xb9d0b2, first: Hatch{90, 1.2, 0.22, patternInk}},
}

// otherLooks are those of other kinds, in order of appearance.
var otherLooks = []pattern{
	{tone: 0xf6efdc, first: Hatch{0, 1.6, 0.7, patternInk}},
	{tone: 0xdfe5e8, first: Hatch{135, 1.6, 0.7, patternInk}},
	{tone: 0xd9e6d4, first: Hatch{90, 1.6, 0.7, patternInk}},
	{tone: 0xe6dff0, first: Hatch{45, 1.7, 0.22, patternInk}, cross: true},
	{tone: 0xe3ecdf, first: Hatch{45, 1.6, 0.7, patternInk}},
	{tone: 0xf1e1dc, first: Hatch{0, 1.6, 0.22, patternInk}, cross: true},
}

// look of a bar: its commission's in a plan of several, else its kind's.
func (c *gantt) look(b Bar) pattern {
	if len(c.who) > 1 {
		return patterns[c.pattern(b.Commission)]
	}
	return c.kindLook(b.Kind)
}

func (c *gantt) kindLook(kind string) pattern {
	if p, ok := kindLooks[kind]; ok {
		return p
	}
	i := 0
	for _, k := range c.kinds {
		if k == kind {
			break
		}
		if _, ok := kindLooks[k]; !ok && k != "" {
			i++
		}
	}
	if kind == "" {
		return pattern{tone: White}
	}
	return otherLooks[i%len(otherLooks)]
}

// pattern distinguishes a commission's bars without colour: one or two sets of lines on a tone.
type pattern struct {
	tone  Color
	first Hatch
	cross bool // the same lines again, crosswise
}

func (p pattern) lines() bool { return p.first.Spacing > 0 }

// fill paints a rectangle with the pattern.
func (p pattern) fill(s *Scene, x, y, w, h float64) {
	st := Fill(p.tone)
	if p.lines() {
		st.Hatch = &p.first
	}
	s.Rect(geom.MM(x), geom.MM(y), geom.MM(w), geom.MM(h), st)
	if p.cross {
		second := p.first
		second.Angle += 90
		s.Rect(geom.MM(x), geom.MM(y), geom.MM(w), geom.MM(h), Style{Fill: None, Stroke: None, Hatch: &second})
	}
}

const patternInk Color = 0x8b969c

// patterns differ in lines alone; the tones only help. None slants like the hatch of cures.
var patterns = []pattern{
	{tone: 0xffffff},
	{tone: 0xd3e1e5, first: Hatch{45, 1.5, 0.22, patternInk}},
	{tone: 0xf0e2bf, first: Hatch{135, 1.5, 0.22, patternInk}},
	{tone: 0xe3ecdf, first: Hatch{0, 1.2, 0.22, patternInk}},
	{tone: 0xf1e1dc, first: Hatch{90, 1.2, 0.22, patternInk}},
	{tone: 0xe6dff0, first: Hatch{45, 1.7, 0.22, patternInk}, cross: true},
	{tone: 0xffffff, first: Hatch{0, 1.6, 0.22, patternInk}, cross: true},
	{tone: 0xa7c0c8},
	{tone: 0xe8cfc8, first: Hatch{45, 1.6, 0.7, patternInk}},
	{tone: 0xdfe5e8, first: Hatch{135, 1.6, 0.7, patternInk}},
	{tone: 0xf6efdc, first: Hatch{0, 1.6, 0.7, patternInk}},
	{tone: 0xd9e6d4, first: Hatch{90, 1.6, 0.7, patternInk}},
}

// pattern of a commission; from the thirteenth on they share one with an earlier commission and differ by letter.
func (c *gantt) pattern(commission string) int {
	return max(0, slices.Index(c.who, commission)) % len(patterns)
}
