package engine

import (
	"math"

	"benchbell/quote"
	"benchbell/quote/foam"
	"benchbell/quote/geom"
	"benchbell/quote/price"
)

// Dry mass left by a litre of any liquid, grams. Common practice, no source.
const gramsPerLitreDry = 550

// massOf is the mass of the finished work in grams: foam, hardware, and what the liquids leave when dry.
func massOf(q *quote.Quote, s quote.Snapshot, bill price.Bill) float64 {
	var g float64
	for _, p := range q.Pieces {
		g += p.Grams
	}
	for _, u := range bill.Hardware {
		for _, h := range s.Studio.Prices.Hardware {
			if h.Key == u.Key {
				if h.PerMetre != 0 {
					g += h.Grams * u.Length.M()
				} else {
					g += h.Grams * float64(u.Count)
				}
			}
		}
	}
	for _, u := range bill.Liquids {
		for _, l := range s.Studio.Prices.Liquids {
			if l.Key == u.Key && l.Spread > 0 {
				g += u.Area.M2() * float64(u.Coats) * float64(max(1, l.Faces)) / l.Spread * gramsPerLitreDry
			}
		}
	}
	return g
}

// A heat-formed piece is taken as bent to a half circle: an arc of width w has the chord 2w/π and the depth w/π (geometry;
// that pieces are bent about that far is common practice, no source).
const (
	formedChord = 2 / math.Pi
	formedDepth = 1 / math.Pi
)

// parcelOf packs each finished thing as the box of its largest piece with its other layers on top, stacks these boxes, and
// adds padding all around. Matching shells of one set nest in each other.
func parcelOf(q *quote.Quote, s quote.Snapshot) quote.Parcel {
	var length, width, height float64
	for _, g := range q.Graded {
		b := box(g)
		length, width = math.Max(length, b[0]), math.Max(width, b[1])
		height += b[2]
	}
	pad := 2 * float64(s.Studio.Bench.Padding)
	d := sorted([3]float64{length + pad, width + pad, height + pad})
	up := func(mm float64) geom.MM { return geom.MM(10 * math.Ceil(mm/10)) } // cartons are chosen to the centimetre
	return quote.Parcel{Length: up(d[0]), Width: up(d[1]), Height: up(d[2]), Grams: q.Grams + s.Studio.Bench.Packing}
}

// box of one finished set, longest side first.
func box(g foam.Graded) [3]float64 {
	var out [3]float64
	layers := map[int]float64{} // layer → its foam
	for _, p := range g.Pieces {
		b := p.Shape.Bounds()
		d := [3]float64{float64(b.Width()), float64(b.Height()), 0}
		if p.Formed {
			d[2] = d[0] * formedDepth
			d[0] *= formedChord
		}
		d = sorted(d)
		for i := range out {
			out[i] = math.Max(out[i], d[i])
		}
		layers[p.Layer] = math.Max(layers[p.Layer], float64(p.Thickness))
	}
	for _, t := range layers { // the order changes a sum only by rounding, far less than a carton's slack
		out[2] += t
	}
	return sorted(out)
}

func sorted(d [3]float64) [3]float64 {
	for i := range d {
		for j := i + 1; j < len(d); j++ {
			if d[j] > d[i] {
				d[i], d[j] = d[j], d[i]
			}
		}
	}
	return d
}
