package draw

import (
	"fmt"
	"math"
	"time"

	"benchbell/quote/geom"
)

// The samples are invented.

func leaf(w, h float64) geom.Shape {
	var r geom.Ring
	for i := range 40 {
		a := 2 * math.Pi * float64(i) / 40
		r = append(r, geom.Pt(w/2+w/2*math.Cos(a), h/2+h/2*math.Sin(a)*(0.8+0.2*math.Cos(2*a))))
	}
	return geom.Shape{Outer: r}
}

func drilled(s geom.Shape) geom.Shape {
	c, _ := Roomiest(s)
	s.Holes = []geom.Ring{circle(c.Add(geom.Pt(30, 8)), 4).Reversed(), circle(c.Add(geom.Pt(-30, 8)), 4).Reversed()}
	return s
}

func sampleSheet() SheetPicture {
	l := SheetPicture{Title: "sheet 2 of 3 · EVA foam 5 mm · 1000 × 500 mm · 71 % used", Commission: "C0007", Width: 1000, Height: 500}
	x, y, row := 10.0, 10.0, 0.0
	for i, wh := range [][2]float64{{240, 170}, {240, 170}, {120, 220}, {60, 230}, {180, 90}, {180, 90}, {30, 120}, {220, 200}, {24, 200}, {140, 140}, {12, 12}, {150, 60}} {
		if x+wh[0] > 990 {
			x, y, row = 10, y+row+10, 0
		}
		p := LaidPiece{Label: fmt.Sprintf("1L-%c1", 'A'+i), Mirrored: i%2 == 1}
		move := geom.Placement{Mirrored: i%2 == 1, Move: geom.Pt(x, y)}
		if move.Mirrored {
			move.Move.X += wh[0]
		}
		sh := leaf(wh[0], wh[1])
		if i%4 == 0 && wh[0] > 100 {
			sh = drilled(sh)
		}
		p.Shape = move.Shape(sh)
		if wh[0] > 100 {
			p.Scores = []geom.Path{move.Path(geom.Path{{X: wh[0] * 0.1, Y: wh[1] * 0.35}, {X: wh[0] * 0.5, Y: wh[1] * 0.25}, {X: wh[0] * 0.9, Y: wh[1] * 0.35}})}
			p.Marks = []geom.Path{move.Path(geom.Path{{X: wh[0] * 0.5, Y: wh[1] * 0.72}, {X: wh[0] * 0.5, Y: wh[1] * 0.88}})}
		}
		l.Pieces = append(l.Pieces, p)
		x += wh[0] + 10
		row = max(row, wh[1])
	}
	return l
}

// sampleOffcut is an offcut with a defect, shared by two commissions; part of it is kept.
func sampleOffcut() SheetPicture {
	l := SheetPicture{Title: "offcut 3 · EVA foam 8 mm · 610 × 430 mm · 48 % used", Commission: "C0007", Width: 610, Height: 430,
		Edge:    geom.Ring{{X: 0, Y: 0}, {X: 610, Y: 0}, {X: 610, Y: 260}, {X: 420, Y: 300}, {X: 400, Y: 430}, {X: 0, Y: 430}},
		Defects: []geom.Ring{circle(geom.Pt(330, 180), 22)},
		Offcut:  geom.Ring{{X: 10, Y: 290}, {X: 390, Y: 290}, {X: 390, Y: 420}, {X: 10, Y: 420}}}
	for i, p := range []struct{ x, y, w, h float64 }{{10, 10, 290, 130}, {10, 150, 190, 120}, {210, 150, 80, 120}, {370, 150, 220, 105}, {310, 10, 130, 110}, {450, 10, 22, 22}, {480, 10, 110, 40}, {450, 60, 140, 70}, {450, 40, 12, 12}} {
		q := LaidPiece{Label: fmt.Sprintf("1R-%c1", 'A'+i), Shape: geom.Placement{Move: geom.Pt(p.x, p.y)}.Shape(leaf(p.w, p.h)), Mirrored: i%3 == 1}
		if i%2 == 1 {
			q.Owner = "C0012"
		}
		l.Pieces = append(l.Pieces, q)
	}
	return l
}

// sampleSpecks is a sheet of 2 mm foam: bands, and studs, eyelet covers and corners no larger than a thumbnail.
func sampleSpecks() SheetPicture {
	l := SheetPicture{Title: "sheet 3 of 3 · EVA foam 2 mm · 1500 × 1000 mm · 31 % used", Commission: "C0007", Width: 1500, Height: 1000}
	for i := range 7 {
		l.Pieces = append(l.Pieces, LaidPiece{Label: fmt.Sprintf("1L-H%d", i+1), Mirrored: i%2 == 1, Shape: geom.Placement{Move: geom.Pt(10, 10+float64(i)*70)}.Shape(leaf(700-float64(i)*40, 60))})
	}
	for i := range 40 {
		size := 8 + float64(i%5)*6
		l.Pieces = append(l.Pieces, LaidPiece{Label: fmt.Sprintf("1L-K%d", i+1), Mirrored: i%4 == 3, Shape: geom.Placement{Move: geom.Pt(740+float64(i%10)*40, 10+float64(i/10)*38)}.Shape(leaf(size, size*0.8))})
	}
	for i := range 60 { // as close as a nesting lays them
		l.Pieces = append(l.Pieces, LaidPiece{Label: fmt.Sprintf("2R-M%d", i+1), Shape: geom.Placement{Move: geom.Pt(1180+float64(i%12)*25, 10+float64(i/12)*25)}.Shape(leaf(20, 20-float64(i%3)*4))})
	}
	l.Offcut = geom.Ring{{X: 10, Y: 520}, {X: 1490, Y: 520}, {X: 1490, Y: 990}, {X: 10, Y: 990}}
	return l
}

// sampleChecked is a cuff of two halves with a raised plate and a strap.
func sampleChecked() CheckedSet {
	half := func(name string, mirrored bool) CheckedPiece {
		m := geom.Placement{Mirrored: mirrored}
		r := geom.Ring{{X: 0, Y: 0}, {X: 130, Y: 0}, {X: 150, Y: 110}, {X: 160, Y: 220}, {X: -10, Y: 220}, {X: -4, Y: 110}}
		return CheckedPiece{Name: name, Note: "1 ×, 10 mm, next to the body",
			Shape:  m.Shape(drilled(geom.Shape{Outer: r})),
			Scores: []geom.Path{m.Path(geom.Path{{X: 10, Y: 30}, {X: 60, Y: 45}, {X: 120, Y: 30}})},
			Seams: []SeamLine{{1, m.Path(geom.Path{{X: 130, Y: 0}, {X: 150, Y: 110}, {X: 160, Y: 220}})},
				{2, m.Path(geom.Path{{X: 0, Y: 0}, {X: -4, Y: 110}, {X: -10, Y: 220}})}},
			Sections: []SectionLine{{m.Path(geom.Path{{X: -1, Y: 20}, {X: 134, Y: 20}}), "wrist girth, half"}, {m.Path(geom.Path{{X: -9, Y: 200}, {X: 158, Y: 200}}), "forearm girth, half"},
				{m.Path(geom.Path{{X: 20, Y: 0}, {X: 20, Y: 220}}), "elbow to wrist"}},
			Marks: []MarkLine{{m.Path(geom.Path{{X: 150, Y: 110}, {X: 143, Y: 110}}), "1", true}, {m.Path(geom.Path{{X: -4, Y: 110}, {X: 3, Y: 110}}), "2", true},
				{m.Path(geom.Path{{X: 95, Y: 150}, {X: 125, Y: 150}, {X: 125, Y: 172}, {X: 95, Y: 172}, {X: 95, Y: 150}}), "buckle 25", false}},
		}
	}
	return CheckedSet{Title: "Forearm cuff: read and checked",
		Pieces: []CheckedPiece{half("A · Outer half", false), half("B · Inner half", true),
			{Name: "C · Raised plate", Note: "1 ×, 5 mm", Shape: leaf(90, 130), Marks: []MarkLine{{geom.Path{{X: 45, Y: 10}, {X: 45, Y: 120}}, "bend", false}}},
			{Name: "D · Strap", Note: "2 ×, 2 mm", Shape: leaf(200, 25)}, {Name: "E · Stud", Note: "8 ×, 2 mm", Shape: leaf(12, 12)}},
		Seams: []string{"outer: A right to B right, 221.3 and 221.3 mm", "inner: A left to B left, 220.2 and 221.0 mm; the difference of 0.8 mm was shared"},
	}
}

// sampleFault is a drawing whose outline crosses itself.
func sampleFault() []geom.Path {
	return []geom.Path{
		{{X: 0, Y: 0}, {X: 200, Y: 0}, {X: 210, Y: 160}, {X: 150, Y: 165}, {X: 118, Y: 97}, {X: 122, Y: 103}, {X: 90, Y: 165}, {X: 121, Y: 99}, {X: 119, Y: 101}, {X: 20, Y: 165}, {X: 0, Y: 0}},
		geom.Path(leaf(60, 40).Outer),
	}
}

// zone is fixed so that the samples do not depend on the machine's zone files.
var zone = time.FixedZone("shop", 3600)

// samplePlan has n operations one after the other over the shop's hours, cures between them.
func samplePlan(n int, hours float64) PlanPicture {
	day := func(d int, h float64) time.Time {
		return time.Date(2026, 11, 30+d, 0, 0, 0, 0, zone).Add(time.Duration(h * float64(time.Hour)))
	}
	g := PlanPicture{Title: "Plan of C0007, revision 2", Zone: zone, From: day(0, 9), Now: day(0, 9),
		Legend: []string{"From the deposit on; drying times at 18 °C and 55 % relative humidity. The data sheet holds where it differs."}}
	lanes := []Lane{{Title: "Maker 1"}, {Title: "Maker 2"}, {Title: "Spray booth"}}
	titles := []string{"Cut 8 mm", "Bevel and sand", "Heat-form", "Glue seams", "Raised plates", "Heat-seal", "Prime, coat 1", "Prime, coat 2", "Base colour", "Clear coat"}
	kinds := []string{"cut", "form", "form", "glue", "glue", "seal", "paint", "paint", "paint", "paint"}
	d, h := 0, 9.0
	for i := range n {
		b := Bar{Number: i + 1, Title: titles[i%10], Kind: kinds[i%10]}
		rest := hours * (0.5 + float64(i%3)/2)
		for rest > 1e-9 {
			if h >= 17 {
				d, h = d+1, 9
				for day(d, 0).Weekday() == 0 || day(d, 0).Weekday() == 6 {
					d++
				}
			}
			part := math.Min(rest, 17-h)
			b.Spans = append(b.Spans, Span{day(d, h), day(d, h+part)})
			h, rest = h+part, rest-part
		}
		lanes[i%2].Bars = append(lanes[i%2].Bars, b)
		if kinds[i%10] == "paint" {
			lanes[2].Bars = append(lanes[2].Bars, b)
		}
		if i%5 == 3 || kinds[i%10] == "paint" {
			end := b.Spans[len(b.Spans)-1].To
			c := CureBar{Title: fmt.Sprintf("%d %s", i+1, b.Title), Lane: "Drying: shoulders", From: end, Ready: end.Add(14 * time.Hour)}
			if kinds[i%10] == "paint" {
				c.Latest = end.Add(40 * time.Hour)
			}
			g.Cures = append(g.Cures, c)
		}
	}
	for i := range d + 4 {
		if w := day(i, 0).Weekday(); w != 0 && w != 6 {
			g.Open = append(g.Open, Span{day(i, 9), day(i, 17)})
		}
	}
	g.Lanes, g.To = lanes, day(d+2, 17)
	g.Promise = day(d+2, 17)
	return g
}

func sampleGroups() []PieceGroup {
	var out []PieceGroup
	for i, t := range []string{"Shoulder, pair", "Forearm guard, left"} {
		g := PieceGroup{Title: t}
		for j, wh := range [][2]float64{{240, 170}, {200, 120}, {90, 210}, {40, 220}, {25, 60}} {
			if i == 1 && j == 0 {
				continue
			}
			g.Pieces = append(g.Pieces, NamedPiece{Name: []string{"Cap", "Upper lame", "Side", "Strap", "Tab"}[j], Shape: leaf(wh[0], wh[1]), Count: j%3 + 1})
		}
		out = append(out, g)
	}
	return out
}
