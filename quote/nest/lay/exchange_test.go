package lay

import (
	"encoding/json"
	"fmt"

	"benchbell/quote/geom"
	"benchbell/quote/nest"
)

// What a problem looks like in the exchange form, which an outside checker reads.

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

// instanceOf writes the problem in the exchange form. Gap, margin, prices and seed have no place in it.
func instanceOf(p nest.Problem) ([]byte, error) {
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

func pairs(r geom.Ring) [][2]float64 {
	out := make([][2]float64, len(r))
	for i, q := range r {
		out[i] = [2]float64{q.X, q.Y}
	}
	return out
}
