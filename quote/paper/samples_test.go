package paper

import (
	"fmt"
	"math"
	"time"

	"benchbell/quote/geom"
)

// The samples are invented.

func oval(w, h float64) geom.Ring {
	var r geom.Ring
	for i := range 72 {
		sin, cos := geom.SinCosDeg(float64(i) * 5)
		r = append(r, geom.Pt(w/2*cos, h/2*sin*(0.85+0.15*math.Cos(2*math.Pi*float64(i)/36))))
	}
	return r
}

func box(w, h float64) geom.Ring {
	return geom.Ring{{X: 0, Y: 0}, {X: w, Y: 0}, {X: w, Y: h}, {X: 0, Y: h}}
}

func on(key string, pieces ...Piece) Pattern {
	size, err := Lookup(key)
	if err != nil {
		panic(err)
	}
	return Pattern{Title: "Test armour, pair", Studio: "Studio Kupferwinkel", Commission: "C0007 r2", Paper: size,
		Overlap: defaultOverlap, Margin: defaultMargin, Pieces: pieces,
		Cautions: []string{"Cut away from the hand, with a fresh blade, on a mat."},
		Date:     time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)}
}

// plate is a piece with everything that a piece can have.
func chest(w, h float64) Piece {
	return Piece{Label: "1-A1", Title: "Chest", Count: 1, Thickness: 10, Shape: geom.Shape{Outer: oval(w, h), Holes: []geom.Ring{oval(30, 14).Reversed()}}, Turn: "texture along the arrow",
		Lines: []Line{
			{Bend, geom.Path{{X: 0, Y: -h * 0.3}, {X: 0, Y: -12}}, "about the chest"},
			{BendToward, geom.Path{{X: -w * 0.12, Y: h * 0.3}, {X: w * 0.12, Y: h * 0.3}}, ""},
			{Score, geom.Path{{X: -w * 0.3, Y: -h * 0.1}, {X: -w * 0.1, Y: -h * 0.15}, {X: w * 0.3, Y: -h * 0.1}}, ""},
			{Notch, geom.Path{{X: w / 2, Y: 0}, {X: w/2 - 6, Y: 0}}, "7"},
			{Seat, geom.Path{{X: w * 0.2, Y: 0}, {X: w*0.2 + 30, Y: 0}, {X: w*0.2 + 30, Y: 20}, {X: w * 0.2, Y: 20}, {X: w * 0.2, Y: 0}}, "buckle 25"},
			{Align, geom.Path{{X: -w * 0.2, Y: h * 0.2}, {X: w * 0.2, Y: h * 0.2}}, "lame 1"},
		},
		Drills: []Drill{{geom.Pt(-w*0.3, h*0.1), 5, "5 mm"}, {geom.Pt(w*0.3, h*0.15), 4.7625, "3/16 in"}},
	}
}

// ordinary is a pattern as a studio prints it: a large plate, lames in pairs, a strap and a stud.
func ordinary(key string) Pattern {
	p := on(key, chest(360, 300))
	for i := range 6 {
		p.Pieces = append(p.Pieces, Piece{Label: fmt.Sprintf("1L-B%d", i+1), Title: "Lame", Count: 2, Mirrored: i%2 == 1, Thickness: 5, Shape: geom.Shape{Outer: oval(150+10*float64(i), 60)},
			Drills: []Drill{{geom.Pt(-50, 0), 4, "4 mm"}, {geom.Pt(50, 0), 4, "4 mm"}}, Turn: "half turns"})
	}
	p.Pieces = append(p.Pieces,
		Piece{Label: "1L-C1", Title: "Strap", Count: 2, Thickness: 2, Shape: geom.Shape{Outer: box(260, 12)}},
		Piece{Label: "1L-D1", Title: "Stud", Count: 8, Thickness: 2, Shape: geom.Shape{Outer: oval(9, 9)}})
	return p
}

// sixty are as many pieces as a full suit has.
func sixty(key string) Pattern {
	p := on(key)
	for i := range 60 {
		w, h := 30+float64(i*37%190), 20+float64(i*53%110)
		if i%15 == 0 {
			w, h = 320, 280
		}
		q := chest(w, h)
		q.Label = fmt.Sprintf("1L-%c%d", 'A'+i/6, i%6+1)
		if i%3 > 0 || w < 100 || h < 80 {
			q.Lines, q.Shape.Holes = nil, nil
		}
		p.Pieces = append(p.Pieces, q)
	}
	return p
}
