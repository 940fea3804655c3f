package search

// Result is a layout: where each piece lies, in the order of the pieces given.
type Result struct {
	Length      float64 // of the strip, or of the used part of the last field
	Spots       []Spot
	Evaluations int
}

// Strip packs pieces, given by number of their kind, on a strip of a height, in as short a length as it finds. found is
// called with each better layout; it may be nil. grow is what the kinds were grown by.
func Strip(kinds []*Kind, pieces []int, height, grow float64, workers int, seed uint64, spent Budget, found func(Result)) Result {
	ks := make([]*Kind, len(pieces))
	var area, far float64
	for i, p := range pieces {
		ks[i] = kinds[p]
		area += ks[i].area
		far += ks[i].diam
	}
	s := newSearcher(ks, []*Field{{Width: far, Height: height}}, workers, seed, spent)
	s.first()
	h := s.shorten(0, area/(height+2*grow)-2*grow, func() {
		if found != nil {
			found(Result{s.length(0), s.cur.spots(), s.evaluations()})
		}
	})
	return Result{h.len, h.best.spots(), s.evaluations()}
}
