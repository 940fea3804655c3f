package pattern

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"

	"benchbell/quote/drawing"
	"benchbell/quote/geom"
)

// sortPieces finds the pieces: groups that hold one outermost closed line, and outermost closed lines in no such group.
func sortPieces(items []*item, dxf bool, ids []string) ([]*pieceSheet, error) {
	if err := noDuplicates(items); err != nil {
		return nil, err
	}
	s := sorting{dxf: dxf, ids: ids, taken: map[*item]bool{}}
	if err := s.groups(items); err != nil {
		return nil, err
	}
	if err := s.loose(items); err != nil {
		return nil, err
	}
	if len(s.sheets) == 0 {
		if it := open(items, true); it != nil {
			return nil, it.openFault()
		}
		return nil, fmt.Errorf("the drawing has no closed line, so there is nothing to cut: draw each piece as a closed outline")
	}
	if len(s.sheets) > maxPieces {
		return nil, fmt.Errorf("the drawing has more than %d separate outlines: split it, or put lines that are not cut on a layer called guide", maxPieces)
	}
	return s.sheets, nil
}

// sorting is a drawing while its pieces are found.
type sorting struct {
	dxf    bool
	ids    []string // of the pieces that the spec sheet names
	sheets []*pieceSheet
	taken  map[*item]bool // lines that belong to a piece
}

// groups takes the groups that are pieces, outermost first.
func (s *sorting) groups(items []*item) error {
	var keys []string
	in := map[string][]*item{}
	for _, it := range items {
		for _, k := range it.keys {
			if in[k] == nil {
				keys = append(keys, k)
			}
			in[k] = append(in[k], it)
		}
	}
	sort.SliceStable(keys, func(i, j int) bool { return len(keys[i]) < len(keys[j]) }) // a group's key is a prefix of the keys of its subgroups
	for _, k := range keys {
		if slices.ContainsFunc(in[k], func(it *item) bool { return s.taken[it] }) {
			continue // already inside a piece
		}
		if err := s.group(k, in[k]); err != nil {
			return err
		}
	}
	return nil
}

// group takes a group as a piece if it is one: it holds one outermost closed line and is no mere layer.
func (s *sorting) group(key string, lines []*item) error {
	depth := max(0, slices.Index(lines[0].keys, key))
	name := lines[0].names[depth]
	layer := lines[0].layerAt(key)
	tops := outermost(lines)
	wanted := index(s.ids, slug(name)) >= 0 && name != ""
	switch {
	case len(tops) == 0:
		if it := open(lines, name != ""); it != nil {
			return inPiece(slug(name), it.openFault())
		}
		if wanted {
			return inPiece(slug(name), fault(lines[0].box.Centre(), nil, "it has no outline: draw one closed line"))
		}
		return nil
	case len(tops) > 1:
		// A group made by a person that has two outlines could be one piece or two.
		var own []*item
		for _, it := range tops {
			if it.keys[len(it.keys)-1] == key {
				own = append(own, it)
			}
		}
		if len(own) > 1 && (wanted || name != "" && !layer && !s.dxf) {
			return inPiece(slug(name), fault(own[1].box.Centre(), []geom.Path{own[0].path(), own[1].path()}, "it has a second outline at %s: give each piece its own group, and cut-outs the class hole%s", place(own[1].Points[0]), lettering(name)))
		}
		return nil
	case layer && !wanted && name == "":
		return nil
	}
	for _, it := range lines {
		s.taken[it] = true
	}
	s.sheets = append(s.sheets, &pieceSheet{name: name, title: plain(lines[0].title[depth]), outline: tops[0], items: slices.Clone(lines)})
	return nil
}

// loose takes each outermost closed line that is in no piece yet as a piece of its own.
func (s *sorting) loose(items []*item) error {
	var rest []*item
	for _, it := range items {
		if !s.taken[it] {
			rest = append(rest, it)
		}
	}
	for _, it := range outermost(rest) {
		if !it.given && inside(it, s.sheets) {
			continue // a cut-out drawn outside its piece's group
		}
		x := &pieceSheet{outline: it, items: []*item{it}}
		if own := ownName(drawing.Group{ID: it.Label, Label: it.ID}); own != "" && !s.dxf && namesRole(own) == "" {
			x.name, x.title = own, plain(own)
		}
		for _, o := range s.sheets {
			if at, ok := overlap(x, o); ok {
				return fault(at, []geom.Path{o.outline.path(), it.path()}, "two outlines overlap at %s: move them apart, or give each piece its own group", place(at))
			}
		}
		s.sheets = append(s.sheets, x)
	}
	return nil
}

// lettering is a hint for a group that an editor named when converting text to paths.
func lettering(name string) string {
	if !strings.HasPrefix(strings.ToLower(name), "text") {
		return ""
	}
	return "; if this is text converted to paths, make it text again, delete it, or put it on a layer called guide"
}

// layerAt reports whether the group with this key is a layer: the editor marks it as one, or the file has nothing but
// layers.
func (it *item) layerAt(key string) bool {
	const mark = " true"
	return len(key) > len(mark) && (key[len(key)-len(mark):] == mark || key[:6] == "layer ")
}

// outermost lists the lines that may bound a piece and lie in no other such line. If some say that they are outlines, only
// those count.
func outermost(items []*item) []*item {
	var all, said []*item
	for _, it := range items {
		if it.bounding() {
			all = append(all, it)
			if it.role == roleOutline {
				said = append(said, it)
			}
		}
	}
	if len(said) > 0 {
		all = said
	}
	sort.SliceStable(all, func(i, j int) bool { return all[i].area > all[j].area })
	var tops []*item
	for _, it := range all {
		top := true
		for _, o := range tops {
			if o.holds(it) && (!it.given || it.At == o.At) { // the inner parts of a compound outline are its holes
				top = false
				break
			}
		}
		if top {
			if tops = append(tops, it); len(tops) > maxPieces {
				break // it will be refused whatever follows
			}
		}
	}
	sort.SliceStable(tops, func(i, j int) bool { return tops[i].order < tops[j].order })
	return tops
}

// holds reports whether the closed line o encloses it.
func (it *item) holds(o *item) bool {
	b := it.box
	if it == o || it.ring == nil || !(b.Contains(o.box.Min) && b.Contains(o.box.Max)) {
		return false
	}
	for _, q := range o.Points {
		if !it.fence().contains(q) {
			return false
		}
	}
	return true
}

func inside(it *item, sheets []*pieceSheet) bool {
	for _, s := range sheets {
		if s.outline.holds(it) {
			return true
		}
	}
	return false
}

// overlapSteps is how many points of an outline are tested for lying in another.
const overlapSteps = 256

// overlap finds a point of one outline well inside the other, and from there the nearest place where the two cross.
// Outlines that share an edge do not overlap.
func overlap(a, b *pieceSheet) (geom.Point, bool) {
	if !a.outline.box.Overlaps(b.outline.box) {
		return geom.Point{}, false
	}
	for _, pair := range [2][2]*item{{a.outline, b.outline}, {b.outline, a.outline}} {
		f, line := pair[0].fence(), pair[1].path()
		l := line.Length()
		for i := range overlapSteps {
			if q, _ := line.At(l * geom.MM(i) / overlapSteps); f.contains(q) && !f.near(q, q, touching) {
				return f.meeting(pair[1].ring, q), true
			}
		}
	}
	return geom.Point{}, false
}

// sameWithin in mm: two outlines nearer than this everywhere are one drawn twice.
const sameWithin = 0.05

// noDuplicates refuses an outline that is drawn twice: it would be cut twice, or be taken for a hole in itself.
func noDuplicates(items []*item) error {
	var rings []*item
	for _, it := range items {
		if it.bounding() {
			rings = append(rings, it)
		}
	}
	sort.SliceStable(rings, func(i, j int) bool { return rings[i].box.Min.X < rings[j].box.Min.X })
	for i, a := range rings {
		for _, b := range rings[i+1:] {
			if b.box.Min.X > a.box.Min.X+sameWithin {
				break
			}
			if a.box.Min.Dist(b.box.Min) > sameWithin || a.box.Max.Dist(b.box.Max) > sameWithin || math.Abs(a.area-b.area) > sameWithin*float64(a.ring.Perimeter()) {
				continue
			}
			if same := sameLine(a, b); same {
				return fault(a.box.Centre(), []geom.Path{a.path(), b.path()}, "the line around %s is drawn twice, at %s and %s: delete one", place(a.box.Centre()), a.At, b.At)
			}
		}
	}
	return nil
}

func sameLine(a, b *item) bool {
	for _, q := range b.Points {
		if !a.fence().near(q, q, sameWithin) {
			return false
		}
	}
	return true
}

// openAtMost: a line whose ends are further apart than this share of its length was never meant to be closed.
const openAtMost = 0.1

// open finds a line that was meant as an outline and is not closed: one that says so or, if a piece is expected, the
// longest that nearly returns to its start.
func open(items []*item, due bool) *item {
	var best *item
	for _, it := range items {
		if it.ring != nil || len(it.Points) < 3 {
			continue
		}
		if it.role == roleOutline {
			return it
		}
		if due && it.role == "" && it.gap() < openAtMost*float64(it.Points.Length()) && (best == nil || it.Points.Length() > best.Points.Length()) {
			best = it
		}
	}
	return best
}

func (it *item) gap() float64 { return it.Points[0].Dist(it.Points[len(it.Points)-1]) }

func (it *item) openFault() error {
	a, b := it.Points[0], it.Points[len(it.Points)-1]
	return fault(a.Lerp(b, 0.5), []geom.Path{it.path()}, "the outline is open between %s, a gap of %.2f mm: close it, or give the set a larger gap", places(a, b), it.gap())
}

// spread gives every line a role by the default rule if the drawing does not say one, and assigns lines outside every
// piece's group to the piece they lie in. It returns how many lie in none.
func spread(items []*item, sheets []*pieceSheet) (loose int, err error) {
	of := map[*item]*pieceSheet{}
	for _, s := range sheets {
		for _, it := range s.items {
			of[it] = s
		}
	}
	for _, it := range items {
		s := of[it]
		if s == nil {
			if s = about(it, sheets); s == nil {
				if it.role == roleOutline {
					return 0, it.openFault()
				}
				if it.given && len(it.Class) > 0 && classRole(it.Class) != "" {
					return 0, fault(it.box.Centre(), []geom.Path{it.path()}, "the line of class %q at %s belongs to no piece: put it inside an outline, or into a group with the piece's id", it.role, place(it.box.Centre()))
				}
				if it := open([]*item{it}, true); it != nil {
					return 0, it.openFault()
				}
				loose++
				continue
			}
			s.items = append(s.items, it)
		}
	}
	for _, s := range sheets {
		if err := s.roles(); err != nil {
			return 0, inPiece(slug(s.name), err)
		}
	}
	return loose, nil
}

// touching in mm: a notch or a score that starts this close to an outline belongs to it.
const touching = 0.5

// about is the piece a line lies in: the one whose outline contains the most of its points.
func about(it *item, sheets []*pieceSheet) *pieceSheet {
	var best *pieceSheet
	most := 0
	for _, s := range sheets {
		if !s.outline.box.Grow(touching).Overlaps(it.box) {
			continue
		}
		n := 0
		for _, q := range it.Points {
			if f := s.outline.fence(); f.contains(q) || f.near(q, q, touching) {
				n++
			}
		}
		if n > most {
			best, most = s, n
		}
	}
	return best
}

// roles is the default rule for lines whose role the drawing does not say: closed lines in the outline are holes, small
// circles drills; open lines are scores, dashed ones bends; closed dashed lines show a layer above. A closed line in a hole
// is refused: it could be an island or a second cut.
func (s *pieceSheet) roles() error {
	if n := len(s.items); n > maxElements {
		return fault(s.outline.box.Centre(), []geom.Path{s.outline.path()}, "it has %d lines and the limit is %d: put what is not cut on a layer called guide", n, maxElements)
	}
	said := s.outline.role == roleOutline
	var holes []*item
	for _, it := range s.items {
		switch {
		case it == s.outline:
			it.role = roleOutline
		case it.role == roleOutline && it.ring == nil:
			return it.openFault()
		case it.role == roleOutline && it.At == s.outline.At && s.outline.holds(it):
			it.role = roleHole
			holes = append(holes, it)
		case it.role == roleOutline:
			return fault(it.box.Centre(), []geom.Path{s.outline.path(), it.path()}, "it has a second outline at %s; a piece has only one (cut-outs are of class hole)%s", place(it.Points[0]), lettering(s.name))
		case it.given:
		case said && len(it.Class) > 0:
			return fault(it.box.Centre(), []geom.Path{it.path()}, "a line has class %q; its class must be one of %s", clip(it.Class[0]), roleList)
		case it.ring != nil && it.Dashed:
			it.role = roleAlign
		case it.ring != nil:
			it.role = roleHole
			if it.Circle != nil && 2*it.Circle.Radius <= drillLargest {
				it.role = roleDrill
			}
			holes = append(holes, it)
		case it.Dashed:
			it.role = roleBend
		default:
			if it := open([]*item{it}, !s.outline.holds(it)); it != nil {
				return it.openFault()
			}
			it.role = roleScore
		}
	}
	for _, a := range holes {
		for _, b := range holes {
			if a.holds(b) {
				return fault(b.box.Centre(), []geom.Path{s.outline.path(), a.path(), b.path()}, "a closed line lies in another one inside the outline, at %s: say what they are, by class or by a layer named after the role; a frame around the drawing belongs on a layer called guide", place(b.box.Centre()))
			}
		}
	}
	return nil
}

const roleList = "outline, hole, slot, drill, row, score, notch, bend, seat, align, point, guide"

// inOrder sorts the pieces in reading order: rows from the top, each from the left. A piece belongs to a row if its middle
// lies above the bottom of the row's first piece.
func inOrder(sheets []*pieceSheet) {
	sort.SliceStable(sheets, func(i, j int) bool { return sheets[i].outline.box.Max.Y > sheets[j].outline.box.Max.Y })
	for i := 0; i < len(sheets); {
		foot := sheets[i].outline.box.Min.Y
		j := i + 1
		for j < len(sheets) && sheets[j].outline.box.Centre().Y > foot {
			j++
		}
		line := sheets[i:j]
		sort.SliceStable(line, func(a, b int) bool { return line[a].outline.box.Min.X < line[b].outline.box.Min.X })
		i = j
	}
}

// name gives each piece its id: from its group, else from a text inside its outline, else a letter.
func (r *reading) name(sheets []*pieceSheet, texts []drawing.Text) {
	used := map[string]bool{}
	for _, s := range sheets {
		if id := slug(s.name); id != "" {
			used[id] = true
		}
	}
	taken := map[string]bool{}
	letter := 0
	for _, s := range sheets {
		id, from := slug(s.name), ""
		for _, t := range texts {
			if id != "" {
				break
			}
			if k := slug(t.Value); k != "" && s.outline.fence().contains(t.Place) {
				id, s.title, from = k, plain(t.Value), fmt.Sprintf("takes its name from the text %q", clip(plain(t.Value)))
			}
		}
		for id == "" || id != "" && s.name == "" && from == "" && used[id] {
			id, from = letters(letter), "has no name in the drawing"
			letter++
		}
		base := id
		for n := 2; taken[id]; n++ {
			id = fmt.Sprintf("%s-%d", base[:min(len(base), maxID-4)], n)
			from = fmt.Sprintf("has the same name as another, %s", base)
		}
		taken[id] = true
		if from != "" {
			r.notes = append(r.notes, fmt.Sprintf("the piece at %s %s; its id is %s", place(s.outline.box.Centre()), from, id))
		}
		r.order = append(r.order, id)
	}
}

// letters counts A … Z, AA, AB …
func letters(n int) string {
	if n < 26 {
		return string(rune('A' + n))
	}
	return letters(n/26-1) + string(rune('A'+n%26))
}
