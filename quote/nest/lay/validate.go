package lay

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"

	"benchbell/quote/geom"
	"benchbell/quote/nest"
)

// Limits of a problem. They keep one request from holding a core for minutes; a large commission has some sixty
// pieces of some two hundred points, far below all of them.
const (
	maxBytes       = 8 << 20       // of a problem's JSON
	maxItems       = 1000          // kinds of piece
	maxCopies      = 1000          // pieces in all
	maxRingPoints  = 2000          // in one ring
	maxPoints      = 40_000        // in all rings of a problem
	maxSheets      = 64            // kinds of sheet
	maxWorkers     = 64            // searchers side by side
	maxTurns       = 360           // angles listed for one item
	maxEvaluations = 1_000_000_000 // of one Solve

	maxCoordinate geom.MM = 1e6 // beyond it doubles no longer carry a thousandth of a micron through a rotation with room to spare
	maxSheetSide  geom.MM = 1e5 // a hundred metres of roll
	minArea               = 1e-3
)

// decode reads a problem from JSON and validates it. Unknown fields and anything after the problem are refused.
func decode(data []byte) (nest.Problem, error) {
	if len(data) > maxBytes {
		return nest.Problem{}, fmt.Errorf("the nesting problem has %d bytes, at most %d are read", len(data), maxBytes)
	}
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.DisallowUnknownFields()
	var p nest.Problem
	if err := dec.Decode(&p); err != nil {
		return nest.Problem{}, fmt.Errorf("the nesting problem is not the JSON expected: %w", err)
	}
	if _, err := dec.Token(); !errors.Is(err, io.EOF) {
		return nest.Problem{}, errors.New("the nesting problem is followed by more data, give one JSON object only")
	}
	if err := validate(p); err != nil {
		return nest.Problem{}, err
	}
	return p, nil
}

// validate says what is wrong with a problem's figures; it does not say whether the pieces fit.
func validate(p nest.Problem) error {
	if len(p.Items) == 0 {
		return errors.New("the nesting problem has no items, give at least one")
	}
	if len(p.Items) > maxItems {
		return fmt.Errorf("the nesting problem has %d items, at most %d are taken", len(p.Items), maxItems)
	}
	if p.Strip != 0 && !within(p.Strip, 1, maxSheetSide) {
		return fmt.Errorf("the strip is %v high, it must be from 1 mm to %v", p.Strip, maxSheetSide)
	}
	if (len(p.Sheets) == 0) == (p.Strip == 0) {
		return errors.New("the nesting problem needs sheets or a strip, give at least one kind in stock or the strip's height, not both")
	}
	if len(p.Sheets) > maxSheets {
		return fmt.Errorf("the nesting problem has %d kinds of sheet, at most %d are taken", len(p.Sheets), maxSheets)
	}
	if !within(p.Gap, 0, maxSheetSide) {
		return fmt.Errorf("gap %v is not from 0 to %v", p.Gap, maxSheetSide)
	}
	if !within(p.Margin, 0, maxSheetSide) {
		return fmt.Errorf("margin %v is not from 0 to %v", p.Margin, maxSheetSide)
	}
	if !within(p.Kerf, 0, maxSheetSide) {
		return fmt.Errorf("kerf %v is not from 0 to %v", p.Kerf, maxSheetSide)
	}
	if p.Workers < 0 || p.Workers > maxWorkers {
		return fmt.Errorf("%d workers are not from 0 to %d", p.Workers, maxWorkers)
	}
	if p.Evaluations < 0 || p.Evaluations > maxEvaluations {
		return fmt.Errorf("the budget of %d evaluations is not from 0 to %d", p.Evaluations, maxEvaluations)
	}
	if err := validateSheets(p); err != nil {
		return err
	}
	return validateItems(p)
}

func validateSheets(p nest.Problem) error {
	seen := map[string]bool{}
	for i, s := range p.Sheets {
		switch {
		case s.ID == "":
			return fmt.Errorf("sheet %d has no id, give it one", i+1)
		case seen[s.ID]:
			return fmt.Errorf("sheet %q is given twice, ids must differ", s.ID)
		case !within(s.Width, 1, maxSheetSide) || !within(s.Height, 1, maxSheetSide):
			return fmt.Errorf("sheet %q is %v by %v, each side must be from 1 mm to %v", s.ID, s.Width, s.Height, maxSheetSide)
		case s.Count < 0 || s.Count > 1e6:
			return fmt.Errorf("sheet %q has a count of %d, give 0 for as many as needed or up to 1000000", s.ID, s.Count)
		case s.Price < 0 || s.Price > 1e12:
			return fmt.Errorf("sheet %q has a price of %d, give it in minor units from 0 to 1000000000000", s.ID, s.Price)
		}
		seen[s.ID] = true
		if err := validateOutline(s); err != nil {
			return err
		}
	}
	return nil
}

func validateOutline(s nest.Sheet) error {
	if len(s.Outline) > 0 {
		if err := validateRing(s.Outline); err != nil {
			return fmt.Errorf("the outline of sheet %q: %w", s.ID, err)
		}
		b := s.Outline.Bounds()
		if math.Abs(b.Min.X) > onEdge || math.Abs(b.Min.Y) > onEdge || math.Abs(b.Max.X-float64(s.Width)) > onEdge || math.Abs(b.Max.Y-float64(s.Height)) > onEdge {
			return fmt.Errorf("the outline of sheet %q spans %g, %g to %g, %g, it must span 0, 0 to its size of %v by %v",
				s.ID, b.Min.X, b.Min.Y, b.Max.X, b.Max.Y, s.Width, s.Height)
		}
	}
	if len(s.Defects) > maxItems {
		return fmt.Errorf("sheet %q has %d defects, at most %d are taken", s.ID, len(s.Defects), maxItems)
	}
	for i, d := range s.Defects {
		if err := validateRing(d); err != nil {
			return fmt.Errorf("defect %d of sheet %q: %w", i+1, s.ID, err)
		}
	}
	return nil
}

func validateItems(p nest.Problem) error {
	seen := map[string]bool{}
	copies, points := 0, 0
	for i, it := range p.Items {
		switch {
		case it.ID == "":
			return fmt.Errorf("item %d has no id, give it one", i+1)
		case seen[it.ID]:
			return fmt.Errorf("item %q is given twice, ids must differ; ask for copies with demand", it.ID)
		case it.Demand < 1 || it.Demand > maxCopies:
			return fmt.Errorf("item %q has a demand of %d, it must be from 1 to %d", it.ID, it.Demand, maxCopies)
		}
		seen[it.ID] = true
		switch it.Turn {
		case geom.TurnAny, geom.TurnQuarter, geom.TurnHalf, geom.TurnNone:
		default:
			return fmt.Errorf("item %q has turn %q, use any, quarter, half or none", it.ID, it.Turn)
		}
		if len(it.Turns) > maxTurns {
			return fmt.Errorf("item %q lists %d turns, at most %d are taken; use turn any", it.ID, len(it.Turns), maxTurns)
		}
		for _, a := range it.Turns {
			if !within(geom.MM(a), -360, 360) {
				return fmt.Errorf("item %q lists a turn of %g degrees, give -360 to 360", it.ID, a)
			}
		}
		if copies += it.Demand; copies > maxCopies {
			return fmt.Errorf("more than %d pieces are asked for in all, split the problem", maxCopies)
		}
		if err := validateRing(it.Shape.Outer); err != nil {
			return fmt.Errorf("the outline of item %q: %w", it.ID, err)
		}
		points += len(it.Shape.Outer)
		for j, h := range it.Shape.Holes {
			if points += len(h); points > maxPoints {
				break
			}
			if err := validateRing(h); err != nil {
				return fmt.Errorf("hole %d of item %q: %w", j+1, it.ID, err)
			}
		}
		if points > maxPoints {
			return fmt.Errorf("the outlines have more than %d points in all, simplify or split them", maxPoints)
		}
	}
	return nil
}

func validateRing(r geom.Ring) error {
	if len(r) > maxRingPoints {
		return fmt.Errorf("it has %d points, at most %d are taken", len(r), maxRingPoints)
	}
	for i, q := range r {
		if !within(geom.MM(q.X), -maxCoordinate, maxCoordinate) || !within(geom.MM(q.Y), -maxCoordinate, maxCoordinate) {
			return fmt.Errorf("point %d at %g, %g is farther than %v from the origin", i+1, q.X, q.Y, maxCoordinate)
		}
	}
	c := distinct(r)
	if len(c) < 3 {
		return fmt.Errorf("it has %d distinct points, a ring needs three", len(c))
	}
	if a := c.Area(); !(a >= minArea) {
		return fmt.Errorf("its area is %g mm², it must enclose at least %g mm²", float64(a), float64(minArea))
	}
	if _, _, at, ok := c.SelfCrossing(); !ok {
		return fmt.Errorf("it crosses or touches itself near %.3f, %.3f, draw it as one simple ring", at.X, at.Y)
	}
	return nil
}

// distinct is the ring without points that repeat the one before them.
func distinct(r geom.Ring) geom.Ring {
	out := make(geom.Ring, 0, len(r))
	for _, q := range r {
		if len(out) == 0 || out[len(out)-1] != q {
			out = append(out, q)
		}
	}
	for len(out) > 1 && out[0] == out[len(out)-1] {
		out = out[:len(out)-1]
	}
	return out
}

func within(v, lo, hi geom.MM) bool {
	return !math.IsNaN(float64(v)) && v >= lo && v <= hi
}
