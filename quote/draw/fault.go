package draw

import (
	"fmt"
	"math"

	"benchbell/quote/geom"
)

// Fault draws a faulty drawing with the fault circled, an enlargement beside it, and what is wrong in words below. Lines
// and the place are in the drawing's coordinates, y up, mm. Lines whose coordinates are not numbers are left out; a place
// that is not one is not circled.
func Fault(title string, lines []geom.Path, at geom.Point, what string) Scene {
	const (
		wide   = 190.0 // of the picture
		pane   = 100.0 // of the drawing; its height is at most this
		lens   = 68.0  // of the enlarged part
		gap    = 14.0
		top    = 12.0
		ring   = 3.5 // radius around the place
		size   = 3.2
		zoomed = 12.0 // at least this many times larger than the drawing
	)
	s := Scene{Width: wide, Title: Printable(title)}
	s.Label(geom.Pt(0, 5), 4, Bold, Start, Ink, Short(Bold, 4, wide, title))

	placed := near([]geom.Point{at})
	b := geom.EmptyBox()
	var sound []geom.Path
	for _, l := range lines {
		if len(l) > 1 && near(l) {
			sound = append(sound, l)
			b = b.Union(l.Bounds())
		}
	}
	if placed {
		b = b.Extend(at)
	}
	if b.Empty() {
		b = boxAt(geom.Point{}, 1, 1)
	}
	span := math.Max(math.Max(float64(b.Width()), float64(b.Height())), 1e-3)
	b = b.Grow(geom.MM(span * 0.02))
	k := math.Min(pane/float64(b.Width()), pane/float64(b.Height()))
	w, h := float64(b.Width())*k, float64(b.Height())*k
	high := math.Max(h, lens)
	f := frame{geom.Pt((pane-w)/2-b.Min.X*k, top+(high+h)/2+b.Min.Y*k), k}
	for _, l := range sound {
		s.Polyline(f.path(l), Stroke(Ink, 0.3))
	}
	y := top + high
	if placed {
		c := f.point(at)
		s.Circle(c, ring, Stroke(Ink, 0.7))
		s.Circle(c, ring+1, Stroke(Ink, 0.2))
		// The enlarged part covers a round number of millimetres.
		reach := roundDown(span / zoomed)
		z := lens / 2 / reach
		x0, y0 := pane+gap, top+(high-lens)/2
		mid := geom.Pt(x0+lens/2, y0+lens/2)
		window := geom.Box{Min: geom.Pt(x0, y0), Max: geom.Pt(x0+lens, y0+lens)}
		s.Line(c.Add(geom.Pt(ring, 0)), geom.Pt(x0, y0+lens/2), Stroke(Grey, 0.2, 1.5, 1))
		s.Rect(geom.MM(x0), geom.MM(y0), lens, lens, Style{Fill: White, Stroke: Ink, Width: 0.5})
		g := frame{geom.Pt(mid.X-at.X*z, mid.Y+at.Y*z), z}
		for _, l := range sound {
			for _, part := range clip(g.path(l), window) {
				s.Polyline(part, Stroke(Ink, 0.5))
			}
		}
		s.Circle(mid, ring*2, Stroke(Ink, 0.5, 1.4, 0.9))
		for _, d := range [4]geom.Point{{X: 1}, {X: -1}, {Y: 1}, {Y: -1}} {
			s.Line(mid.Add(d.Mul(ring*2)), mid.Add(d.Mul(ring*3)), Stroke(Ink, 0.5))
		}
		// A scale bar.
		bar := reach / 2 * z
		s.Rect(geom.MM(x0+2), geom.MM(y0+lens-7.5), geom.MM(bar+22), 6, Style{Fill: White, Stroke: None})
		s.Line(geom.Pt(x0+3.5, y0+lens-3), geom.Pt(x0+3.5+bar, y0+lens-3), Stroke(Ink, 0.6))
		s.Label(geom.Pt(x0+5+bar, y0+lens-2.2), 2.8, Regular, Start, Ink, fmt.Sprintf("%g mm", reach/2))
		s.Label(geom.Pt(mid.X, y0+lens+4), 2.8, Regular, Middle, Ink, fmt.Sprintf("at %.1f, %.1f mm", at.X, at.Y))
		y = math.Max(y, y0+lens+5)
	}
	y += 3
	for _, l := range Fit(Regular, size, wide, what, 8) {
		y += size * 1.4
		s.Label(geom.Pt(0, y), size, Regular, Start, Ink, l)
	}
	s.Height = geom.MM(y + 1)
	return s.framed(4)
}

// roundDown is the largest 1, 2 or 5 times a power of ten that does not exceed a length.
func roundDown(l float64) float64 {
	p := math.Pow(10, math.Floor(math.Log10(l)))
	for _, m := range [3]float64{5, 2, 1} {
		if m*p <= l*(1+1e-9) {
			return m * p
		}
	}
	return p
}

// clip is the parts of a path inside a box.
func clip(p geom.Path, b geom.Box) []geom.Path {
	var out []geom.Path
	var part geom.Path
	for i := 1; i < len(p); i++ {
		l, ok := within(Segment{p[i-1], p[i]}, b)
		if !ok {
			continue
		}
		if n := len(part); n == 0 || part[n-1] != l.A {
			if n > 1 {
				out = append(out, part)
			}
			part = geom.Path{l.A}
		}
		part = append(part, l.B)
	}
	if len(part) > 1 {
		out = append(out, part)
	}
	return out
}
