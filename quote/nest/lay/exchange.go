package lay

import (
	"encoding/json"
	"fmt"

	"benchbell/quote/nest"
)

// The exchange forms below are plain JSON in wide use for nesting instances and their layouts: an instance with a
// stock of rectangular sheets, and a layout of placements that mirror (x to -x), then turn counter-clockwise in
// degrees about the item's own origin, then move, which is geom.Placement's order too.

type exchangeHoled struct {
	Outer [][2]float64   `json:"outer"`
	Inner [][][2]float64 `json:"inner"`
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

// layouts writes a solution of p in the exchange form; p must be the problem it solves.
func layouts(p nest.Problem, s nest.Solution) ([]byte, error) {
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
