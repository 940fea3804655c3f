package pattern

import (
	"fmt"
	"math"

	"benchbell/quote/foam"
	"benchbell/quote/geom"
)

func (s *Set) checkHardware() error {
	for i, h := range s.hardware {
		if !validID(h.Kind) {
			return fmt.Errorf("hardware %d: kind %q may contain only letters, digits and hyphens", i+1, clip(h.Kind))
		}
		if h.Count < 0 || h.Count > 1000 || !(h.Length >= 0 && h.Length <= 10000) || !(h.Share >= 0 && h.Share <= 4) {
			return fmt.Errorf("hardware %q: count must be from 0 to 1000, length from 0 to 10000 mm, share from 0 to 4", h.Kind)
		}
		if h.Count == 0 && h.Length == 0 && h.Share == 0 && len(h.Rows) == 0 {
			return fmt.Errorf("hardware %q needs count, length or rows", h.Kind)
		}
		if (h.Follow == "") != (h.Share == 0) {
			return fmt.Errorf("hardware %q: give follow and share together", h.Kind)
		}
		if len(h.Rows) > 0 && (h.Length > 0 || h.Share > 0) {
			return fmt.Errorf("hardware %q: rows are counted; leave out length and share", h.Kind)
		}
		for _, id := range h.Rows {
			if p := s.find(id); p == nil || len(p.rows) == 0 {
				return fmt.Errorf("hardware %q: rows lists %q, which is not a piece with a row of holes", h.Kind, clip(id))
			}
		}
		if _, ok := s.Base[h.Follow]; h.Follow != "" && !ok {
			return fmt.Errorf("hardware %q: follow is %q, which is not among the set's measures", h.Kind, clip(h.Follow))
		}
	}
	return nil
}

// hardwareFor counts and measures what to buy; rowHoles is the number of holes in rows by piece, over all copies.
func (s *Set) hardwareFor(f Fit, rowHoles map[string]int) []foam.Hardware {
	var out []foam.Hardware
	for _, h := range s.hardware {
		if h.Length == 0 && h.Share == 0 {
			n := h.Count
			for _, id := range h.Rows {
				n += rowHoles[id]
			}
			out = append(out, foam.Hardware{Kind: h.Kind, Count: n})
			continue
		}
		l := h.Length
		if h.Follow != "" {
			m := float64(f.Body[h.Follow])
			if isGirth(h.Follow) {
				m += 2 * math.Pi * float64(f.Clothing)
			}
			l += h.Share * m
		}
		out = append(out, foam.Hardware{Kind: h.Kind, Length: geom.MM(l * float64(max(1, h.Count)))})
	}
	return out
}
