package draw

import (
	"cmp"
	"slices"

	"benchbell/quote/geom"
)

// key explains, from y down, what the strips show: signs, commissions or tones, numbers, and the caller's lines. It returns
// the height reached.
func (c *gantt) key(y float64) float64 {
	x := 0.0
	sign := func(text string, draw func(x, y float64)) {
		const width = 6
		w := width + 1.5 + float64(TextWidth(Regular, 2.4, text)) + 5
		if x > 0 && x+w-5 > c.right {
			x, y = 0, y+4.4
		}
		draw(x, y)
		c.Label(geom.Pt(x+width+1.5, y), 2.4, Regular, Start, Ink, text)
		x += w
	}
	box := func(st Style) func(x, y float64) {
		return func(x, y float64) { c.Rect(geom.MM(x), geom.MM(y-2.2), 6, 2.8, st) }
	}
	for _, k := range c.kinds {
		if k != "" && len(c.who) < 2 && slices.ContainsFunc(c.shown.bars, func(b Bar) bool { return b.Kind == k }) {
			sign(k, func(x, y float64) {
				c.kindLook(k).fill(&c.Scene, x, y-2.2, 6, 2.8)
				box(Stroke(Ink, plainEdge))(x, y)
			})
		}
	}
	if len(c.shown.flagged) > 0 && len(c.who) > 1 {
		sign("promised", func(x, y float64) {
			c.Line(geom.Pt(x+1, y-2.4), geom.Pt(x+1, y+0.6), promiseLine)
			c.Label(geom.Pt(x+2, y-0.2), 2.4, Bold, Start, Accent, c.letter(c.shown.flagged[0]))
		})
	}
	if c.shown.critical {
		sign("a delay moves the end", func(x, y float64) { c.edge(x, y-2.2, 6, 2.8, true, 0) })
	}
	if c.shown.frozen {
		sign("done, running or fixed", func(x, y float64) {
			box(Style{Fill: White, Stroke: Ink, Width: plainEdge})(x, y)
			c.Rect(geom.MM(x), geom.MM(y+0.6-frozenBand), 6, frozenBand, Fill(Ink))
		})
	}
	if c.shown.cures {
		sign("drying or setting", box(cureStyle))
	}
	if c.shown.windows {
		sign("recoat window", func(x, y float64) {
			c.Line(geom.Pt(x, y-0.8), geom.Pt(x+6, y-0.8), windowLine)
			c.bracket(x+0.3, y-2.1, 1)
			c.bracket(x+5.7, y-2.1, -1)
		})
	}
	if c.shown.continued {
		sign("continues in another strip", func(x, y float64) {
			c.Line(geom.Pt(x, y-0.8), geom.Pt(x+5, y-0.8), Stroke(Ink, 0.3))
			c.Polygon(geom.Ring{geom.Pt(x+6, y-0.8), geom.Pt(x+4.4, y-1.7), geom.Pt(x+4.4, y+0.1)}, Fill(Ink))
		})
	}
	if len(c.plan.Open) > 0 {
		sign("shop closed (drawn narrower)", box(Style{Fill: closedFill, Stroke: Pale, Width: 0.15}))
	}
	if x > 0 {
		y += 5.5
	}
	switch {
	case len(c.who) > 1:
		y = c.workOf(y)
	case !c.whole:
		y = c.list(y, c.entries(""))
	}
	legend := c.plan.Legend
	if c.shown.unnumbered {
		legend = append([]string{"Bars too close together stand without their numbers."}, legend...)
	}
	for _, l := range legend {
		for _, t := range Fit(Regular, 2.5, c.Width-2, l, 3) {
			c.Label(geom.Pt(0, y), 2.5, Regular, Start, Grey, t)
			y += 3.8
		}
	}
	return y - 1.5
}

// entry is a line of the list of operations: a commission with its pattern, or an operation with its number and title.
type entry struct {
	commission   string // of a heading
	order        int
	number, text string
}

// entries are the operations shown, by number, of one commission, or of all if it is empty.
func (c *gantt) entries(commission string) []entry {
	var out []entry
	for _, b := range c.shown.bars {
		e := entry{order: b.Number, number: c.number(b), text: b.Title}
		if (commission == "" || b.Commission == commission) && b.Title != "" && !slices.Contains(out, e) {
			out = append(out, e)
		}
	}
	slices.SortFunc(out, func(a, b entry) int {
		return cmp.Or(cmp.Compare(a.order, b.order), cmp.Compare(a.number, b.number), cmp.Compare(a.text, b.text))
	})
	return out
}

// workOf lists the operations by commission; commissions with only a flag or a cure here are named too.
func (c *gantt) workOf(y float64) float64 {
	var all []entry
	for _, name := range c.who {
		list := c.entries(name)
		text := name
		for _, p := range c.plan.Promises {
			if p.Commission == name && !p.At.IsZero() {
				text += ", promised " + p.At.In(c.zone).Format("Mon 2 Jan")
			}
		}
		if len(list) > 0 || slices.Contains(c.shown.flagged, name) || slices.Contains(c.shown.cured, name) {
			all = append(append(all, entry{commission: name, text: text}), list...)
		}
	}
	return c.list(y, all)
}

// list sets entries in columns read downwards. A heading does not end a column.
func (c *gantt) list(y float64, all []entry) float64 {
	if len(all) == 0 {
		return y
	}
	const (
		size   = 2.3
		line   = 3.6
		swatch = 6.0
	)
	number, widest := geom.MM(4), geom.MM(20)
	for _, e := range all {
		number = max(number, TextWidth(Bold, size, e.number)+1.5)
		if e.commission == "" {
			widest = max(widest, TextWidth(Regular, size, e.text))
		} else {
			widest = max(widest, swatch+TextWidth(Bold, size, e.text)-number)
		}
	}
	columns := min(max(int(c.Width/(number+widest+4)), max(1, int(c.Width/85))), 6, len(all))
	per := (len(all) + columns - 1) / columns
	w := float64(c.Width) / float64(columns)
	set := inColumns(all, per)
	for len(set) > columns {
		per++
		set = inColumns(all, per)
	}
	for i, column := range set {
		for j, e := range column {
			x, ly := float64(i)*w, y+float64(j)*line
			if e.commission == "" {
				c.Label(geom.Pt(x+float64(number)-1.5, ly), size, Bold, End, Ink, e.number)
				c.Label(geom.Pt(x+float64(number), ly), size, Regular, Start, Ink, Short(Regular, size, geom.MM(w-2)-number, e.text))
				continue
			}
			patterns[c.pattern(e.commission)].fill(&c.Scene, x, ly-2.2, swatch, 2.8)
			c.Rect(geom.MM(x), geom.MM(ly-2.2), swatch, 2.8, Stroke(Ink, plainEdge))
			c.Rect(geom.MM(x+1.4), geom.MM(ly-2), swatch-2.8, 2.4, Fill(White))
			c.Label(geom.Pt(x+swatch/2, ly), size, Bold, Middle, Ink, c.letter(e.commission))
			c.Label(geom.Pt(x+swatch+1.2, ly), size, Bold, Start, Ink, Short(Bold, size, geom.MM(w-swatch-3), e.text))
		}
	}
	return y + float64(per)*line + 2
}

// inColumns breaks a list into columns of at most per lines; a heading never ends a column.
func inColumns(all []entry, per int) [][]entry {
	var out [][]entry
	var column []entry
	for _, e := range all {
		full := len(column) == per || e.commission != "" && per > 1 && len(column) == per-1
		if full {
			out = append(out, column)
			column = nil
		}
		column = append(column, e)
	}
	return append(out, column)
}
