package drawing

import (
	"fmt"
	"math"
	"testing"

	"benchbell/quote/geom"
)

// benchSheet is a sheet of sixty pieces of 120 points with four holes, a slot and two scores each.
func benchSheet() CutSheet {
	s := CutSheet{Title: "bench", Width: 4000, Height: 4000, Kerf: 1}
	for i := range 60 {
		c := geom.Pt(200+400*float64(i%8), 200+400*float64(i/8))
		piece := fmt.Sprintf("Piece %d", i+1)
		var ring geom.Path
		for k := range 120 {
			a := 2 * math.Pi * float64(k) / 120
			sin, cos := math.Sincos(a)
			ring = append(ring, c.Add(geom.Pt(cos, sin).Mul(150+20*math.Sin(5*a))))
		}
		s.Lines = append(s.Lines, CutLine{Layer: Through, Closed: true, Points: ring, Piece: piece})
		for k := range 4 {
			s.Lines = append(s.Lines, CutLine{Layer: Inside, Closed: true, Circle: &Circle{c.Add(geom.Pt(20*float64(k), 10)), 2.5}, Piece: piece})
		}
		slot := geom.Path{c.Add(geom.Pt(-40, -40)), c.Add(geom.Pt(0, -40)), c.Add(geom.Pt(0, -34)), c.Add(geom.Pt(-40, -34))}
		s.Lines = append(s.Lines, CutLine{Layer: Inside, Closed: true, Points: slot, Piece: piece})
		for k := range 2 {
			s.Lines = append(s.Lines, CutLine{Layer: PartWay, Points: geom.Path{c.Add(geom.Pt(-60, 40+9*float64(k))), c.Add(geom.Pt(60, 40))}, Piece: piece})
		}
		s.Words = append(s.Words, CutWords{At: c, Size: 8, Value: piece})
	}
	return s
}

func BenchmarkReadDXF(b *testing.B) {
	data, err := WriteDXF(benchSheet())
	if err != nil {
		b.Fatal(err)
	}
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Read(data); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkWriteDXF(b *testing.B) {
	s := benchSheet()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := WriteDXF(s); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkWriteCutSVG(b *testing.B) {
	s := benchSheet()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := WriteSVG(s); err != nil {
			b.Fatal(err)
		}
	}
}

// An outline of a thousand loose segments, as R12 exporters leave it.
func BenchmarkJoin(b *testing.B) {
	var lines []Line
	for i := range 1000 {
		p := func(k int) geom.Point {
			sin, cos := math.Sincos(2 * math.Pi * float64(k%1000) / 1000)
			return geom.Pt(400*cos, 300*sin)
		}
		lines = append(lines, Line{Points: geom.Path{p(i), p(i + 1)}, Layer: "0"})
	}
	b.ReportAllocs()
	for b.Loop() {
		if got, _ := Join(lines, meetGap); len(got) != 1 {
			b.Fatal("not joined")
		}
	}
}
