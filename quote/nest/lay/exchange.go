package lay

import (
	"encoding/json"
	"fmt"

	"benchbell/quote/geom"
	"benchbell/quote/nest"
)

// The exchange forms below are plain JSON in wide use for nesting instances and their layouts: an instance with a
// stock of rectangular sheets, and a layout of placements that mirror (x to -x), then turn counter-clockwise in
// degrees about the item's own origin, then move, which is geom.Placement's order too.

type exchangeShape struct {
	Type string `json:"type"`
	Data any    `json:"data"`
}

type exchangeItem struct {
	ID        string        `json:"id"`
	Demand    int           `json:"demand"`
	Turns     []float64     `json:"allowed_orientations,omitempty"` // absent: any angle
	MayMirror bool          `json:"may_mirror,omitempty"`
	Shape     exchangeShape `json:"shape"`
}

type exchangeSheet struct {
	ID     string  `json:"id"`
	Width  float64 `json:"width"`
	Height float64 `json:"height"`
	Count  int     `json:"count,omitempty"`
}

type exchangeHoled struct {
	Outer [][2]float64   `json:"outer"`
	Inner [][][2]float64 `json:"inner"`
}

// Instance writes the problem in the exchange form. Gap, margin, prices and seed have no place in it.
func Instance(p nest.Problem) ([]byte, error) {
	out := struct {
		Name   string          `json:"name"`
		Sheets []exchangeSheet `json:"sheets"`
		Items  []exchangeItem  `json:"items"`
	}{Name: "commission", Sheets: []exchangeSheet{}, Items: []exchangeItem{}}
	for _, k := range p.Sheets {
		out.Sheets = append(out.Sheets, exchangeSheet{k.ID, float64(k.Width), float64(k.Height), k.Count})
	}
	for _, it := range p.Items {
		e := exchangeItem{ID: it.ID, Demand: it.Demand, MayMirror: it.MayFlip}
		switch it.Turn {
		case geom.TurnQuarter:
			e.Turns = []float64{0, 90, 180, 270}
		case geom.TurnHalf:
			e.Turns = []float64{0, 180}
		case geom.TurnNone:
			e.Turns = []float64{0}
		}
		e.Shape = exchangeShape{"simple_polygon", pairs(it.Shape.Outer)}
		if len(it.Shape.Holes) > 0 {
			h := exchangeHoled{Outer: pairs(it.Shape.Outer)}
			for _, r := range it.Shape.Holes {
				h.Inner = append(h.Inner, pairs(r))
			}
			e.Shape = exchangeShape{"polygon", h}
		}
		out.Items = append(out.Items, e)
	}
	data, err := json.Marshal(out)
	if err != nil {
		return nil, fmt.Errorf("the nesting problem cannot be written as JSON: %w", err)
	}
	return data, nil
}

type exchangePlacement struct {
	Item     string  `json:"item"`
	Rotation float64 `json:"rotation"`
	Mirrored bool    `json:"mirrored,omitempty"`
	X        float64 `json:"x"`
	Y        float64 `json:"y"`
}

type exchangeLayout struct {
	Sheet      string              `json:"sheet"`
	Width      float64             `json:"width"`
	Height     float64             `json:"height"`
	Placements []exchangePlacement `json:"placements"`
}

// Layouts writes a solution of p in the exchange form; p must be the problem it solves.
func Layouts(p nest.Problem, s nest.Solution) ([]byte, error) {
	known := map[string]bool{}
	for _, it := range p.Items {
		known[it.ID] = true
	}
	sheets := []exchangeLayout{}
	for n, l := range s.Layouts {
		e := exchangeLayout{l.Sheet, float64(l.Width), float64(l.Height), []exchangePlacement{}}
		for _, q := range l.Placed {
			if !known[q.Item] {
				return nil, fmt.Errorf("layout %d holds item %q, which the problem does not have", n+1, q.Item)
			}
			e.Placements = append(e.Placements, exchangePlacement{q.Item, q.At.Turn, q.At.Mirrored, q.At.Move.X, q.At.Move.Y})
		}
		sheets = append(sheets, e)
	}
	data, err := json.Marshal(struct {
		Sheets []exchangeLayout `json:"sheets"`
	}{sheets})
	if err != nil {
		return nil, fmt.Errorf("the layout cannot be written as JSON: %w", err)
	}
	return data, nil
}

func pairs(r geom.Ring) [][2]float64 {
	out := make([][2]float64, len(r))
	for i, q := range r {
		out[i] = [2]float64{q.X, q.Y}
	}
	return out
}
