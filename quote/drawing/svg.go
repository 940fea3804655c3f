package drawing

import (
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"benchbell/quote/geom"
)

// readSVG reads SVG 1.1 and what SVG 2 changed in it (W3C Recommendation SVG 1.1 Second Edition, 2011; W3C Candidate
// Recommendation SVG 2, 2018), as far as lines are concerned: geometry, transforms, viewports, and the styles that
// distinguish lines. Nothing is painted: clips, masks, markers, patterns, filters and stroke widths are ignored.
func readSVG(data []byte) (*Drawing, error) {
	tree, err := parseSVG(data)
	if err != nil {
		return nil, err
	}
	r := &svgReader{tree: tree, points: maxPoints, work: maxWork, active: map[*svgNode]bool{}}
	r.notes = tree.notes
	if err := r.root(); err != nil {
		return nil, err
	}
	r.drawing.Notes = r.notes.sentences()
	return &r.drawing, nil
}

// maxWork bounds the bytes of attributes read while drawing, since a use reads them again: four whole files.
const maxWork = 4 * maxBytes

// svgReader walks the tree and collects its lines. Its counters count down over the whole drawing, so that nested uses
// cannot multiply past them.
type svgReader struct {
	tree    *svgTree
	drawing Drawing
	notes   svgNotes
	visited int
	points  int // points that may still be made
	work    int
	active  map[*svgNode]bool // elements being drawn now, to find cycles
	uses    []*svgNode        // the chain of uses that led here
}

// svgContext is what an element inherits.
type svgContext struct {
	m             affine // user units to millimetres, y up
	width, height float64
	style         svgStyle
	groups        *groupChain
	layer         string
	editorLayer   bool // layer is one that the editor marks
	depth         int
	data          map[string]string // of a use that draws a shape directly
}

func (r *svgReader) root() error {
	root := r.tree.root
	ctx, err := r.page(root)
	if err != nil {
		return root.wrap(err)
	}
	d := r.tree.declared(root)
	if d.err != nil {
		return root.wrap(d.err)
	}
	if d.transform != nil {
		return root.wrap(errors.New("a transform of the whole page is not supported; put it on a group"))
	}
	ctx.style = ctx.style.with(d)
	r.active[root] = true
	return r.children(root, ctx)
}

func (r *svgReader) children(n *svgNode, ctx svgContext) error {
	for _, c := range n.children {
		if err := r.draw(c, ctx); err != nil {
			return err
		}
	}
	return nil
}

// draw draws an element and its contents.
func (r *svgReader) draw(n *svgNode, ctx svgContext) error {
	if n.name == "" {
		return nil
	}
	ctx.depth++
	if r.visited++; r.visited > maxNodes {
		return n.wrap(fmt.Errorf("counting every use, the drawing has more than %d elements; unlink clones or simplify it", maxNodes))
	}
	if ctx.depth > maxDepth {
		return n.wrap(fmt.Errorf("groups and uses are nested more than %d deep; ungroup some", maxDepth))
	}
	if r.work -= n.size; r.work < 0 {
		return n.wrap(errors.New("uses repeat too much path data; unlink clones or simplify the drawing"))
	}
	if notDrawn[n.name] {
		return nil
	}
	if !n.eligible() {
		r.notes.add("content that requires an extension or a language other than English is skipped", n.at())
		return nil
	}
	d := r.tree.declared(n)
	if d.err != nil {
		return n.wrap(d.err)
	}
	ctx.style = ctx.style.with(d)
	if d.transform != nil {
		ctx.m = ctx.m.mul(*d.transform)
	}
	if d.clipped {
		r.notes.add("clips and masks are ignored; the lines under them are read in full", n.at())
	}
	switch n.name {
	case "g", "a":
		return r.children(n, ctx.inside(n, len(r.uses) > 0))
	case "switch":
		for _, c := range n.children {
			r.work -= c.size
			if c.name != "" && c.eligible() {
				return r.draw(c, ctx)
			}
		}
		return nil
	case "svg":
		return r.nested(n, n, ctx)
	case "use":
		return r.use(n, ctx)
	case "text":
		return r.text(n, ctx)
	case "image", "foreignObject":
		r.notes.add(fmt.Sprintf("%s is skipped because only lines are read", n.name), n.at())
		return nil
	}
	if shape, ok := svgShapes[n.name]; ok {
		return r.shape(n, ctx, shape)
	}
	r.notes.add(fmt.Sprintf("the unknown element %.40q is skipped", n.name), n.at())
	return nil
}

// notDrawn are elements that SVG draws only by reference, or not at all.
var notDrawn = map[string]bool{
	"defs": true, "symbol": true, "clipPath": true, "mask": true, "marker": true, "pattern": true, "linearGradient": true,
	"radialGradient": true, "meshgradient": true, "solidcolor": true, "hatch": true, "filter": true, "style": true,
	"title": true, "desc": true, "metadata": true, "script": true, "view": true, "cursor": true, "font": true,
	"font-face": true, "color-profile": true, "animate": true, "animateTransform": true, "animateMotion": true,
	"animateColor": true, "set": true,
}

// groupChain is the enclosing groups, innermost first. It becomes a list only when a line needs it: otherwise uses of uses
// that draw nothing would copy it over and over.
type groupChain struct {
	outer *groupChain
	group Group
	depth int
	all   []Group
}

// list is the groups, outermost first; lines of one group share it.
func (c *groupChain) list() []Group {
	if c == nil {
		return nil
	}
	if c.all == nil {
		c.all = make([]Group, c.depth)
		for g := c; g != nil; g = g.outer {
			c.all[g.depth-1] = g.group
		}
	}
	return c.all
}

// inside is the context of a group's children.
func (ctx svgContext) inside(n *svgNode, used bool) svgContext {
	g := Group{ID: n.attr("id"), Label: n.label(), Layer: n.editor("groupmode") == "layer", Class: n.class}
	name := g.Label
	if name == "" {
		name = unescapedID(g.ID)
	}
	switch {
	case g.Layer && !ctx.editorLayer:
		ctx.layer, ctx.editorLayer = name, true
	case n.name == "g" && ctx.layer == "" && !ctx.editorLayer && !used:
		ctx.layer = name
	}
	outer := ctx.groups
	ctx.groups = &groupChain{outer: outer, group: g, depth: 1}
	if outer != nil {
		ctx.groups.depth += outer.depth
	}
	ctx.data = nil
	return ctx
}

// unescapedID undoes "_x5F_" and the like, by which editors write characters in a layer's name that an id must not contain.
func unescapedID(id string) string {
	return escapedCharacter.ReplaceAllStringFunc(id, func(s string) string {
		code, err := strconv.ParseUint(s[2:len(s)-1], 16, 32)
		if err != nil || !unicode.IsPrint(rune(code)) {
			return s
		}
		return string(rune(code))
	})
}

var escapedCharacter = regexp.MustCompile(`_x[0-9A-Fa-f]{2,4}_`)

// use draws the element it refers to, moved by x and y (SVG 2, 5.6).
func (r *svgReader) use(n *svgNode, ctx svgContext) error {
	href := n.href()
	id, local := strings.CutPrefix(href, "#")
	target := r.tree.byID[id]
	switch {
	case !local:
		r.notes.add("a use of another file or of nothing is skipped", n.at())
		return nil
	case target == nil:
		r.notes.add("a use of an id that is not in the file is skipped", n.at())
		return nil
	case r.active[target]:
		return n.wrap(fmt.Errorf("these uses include themselves: %s; unlink one of them", r.chain(n)))
	}
	x, y, err := n.lengths2("x", "y", ctx)
	if err != nil {
		return n.wrap(err)
	}
	ctx.m = ctx.m.mul(translation(x, y))
	data := merged(n.data, ctx.data)
	ctx = ctx.inside(n, true)
	ctx.data = data
	r.active[n] = true
	r.uses = append(r.uses, n)
	defer func() {
		r.uses = r.uses[:len(r.uses)-1]
		delete(r.active, n)
	}()
	if target.name != "symbol" && target.name != "svg" {
		r.active[target] = true
		defer delete(r.active, target)
		return r.draw(target, ctx)
	}
	ctx.depth++
	r.visited++
	r.work -= target.size
	d := r.tree.declared(target)
	if d.err != nil {
		return target.wrap(d.err)
	}
	ctx.style = ctx.style.with(d)
	if d.transform != nil {
		ctx.m = ctx.m.mul(*d.transform)
	}
	r.active[target] = true
	defer delete(r.active, target)
	return r.nested(target, n, ctx)
}

// chain names the uses that lead back to their start.
func (r *svgReader) chain(last *svgNode) string {
	var b strings.Builder
	for _, u := range append(r.uses[:len(r.uses):len(r.uses)], last) {
		fmt.Fprintf(&b, "%.40s (line %d) → ", u.href(), u.line)
	}
	return strings.TrimSuffix(b.String(), " → ")
}

// shape traces a shape and adds its lines.
func (r *svgReader) shape(n *svgNode, ctx svgContext, shape func(*svgNode, svgContext, *pathTrace) error) error {
	if d := r.tree.declared(n); d.geometry != "" {
		return n.wrap(fmt.Errorf("its %s is set in a style, which is not supported; make it an attribute or convert the object to a path", d.geometry))
	}
	t := &pathTrace{m: ctx.m, left: r.points}
	err := shape(n, ctx, t)
	r.points = t.left
	if err != nil {
		return n.wrap(err)
	}
	if t.done() == 0 {
		r.notes.add(fmt.Sprintf("%s of zero size is skipped", n.name), n.at())
	} else if t.empty > 0 {
		r.notes.add("part of a path with zero length is skipped", n.at())
	}
	if t.flat > 0 {
		r.notes.add("a closed line of two points is read as an open line", n.at())
	}
	line := Line{
		Layer: ctx.layer, Groups: ctx.groups.list(), ID: n.attr("id"), Label: n.label(), Class: n.class, Data: merged(n.data, ctx.data),
		Stroke: ctx.style.colour(ctx.style.stroke), Fill: ctx.style.colour(ctx.style.fill),
		Dashed: ctx.style.dashed, Hidden: ctx.style.hidden(), At: r.at(n),
	}
	r.drawing.Lines = slices.Grow(r.drawing.Lines, len(t.subpaths))
	for _, s := range t.subpaths {
		line.Points, line.Closed, line.Circle = s.points, s.closed, s.circle
		if c := roundOf(&line); c != nil {
			line.Circle = c
		}
		r.drawing.Lines = append(r.drawing.Lines, line)
	}
	return nil
}

// at says where an element is in the file, and where it is used if that is elsewhere.
func (r *svgReader) at(n *svgNode) string {
	if len(r.uses) == 0 {
		return n.at()
	}
	return fmt.Sprintf("line %d, used in line %d", n.line, r.uses[0].line)
}

// merged is a shape's data together with what its use adds.
func merged(own, use map[string]string) map[string]string {
	if len(use) == 0 {
		return own
	}
	all := make(map[string]string, len(own)+len(use))
	for k, v := range use {
		all[k] = v
	}
	for k, v := range own {
		all[k] = v
	}
	return all
}

// text adds a label. Hidden text is not a label.
func (r *svgReader) text(n *svgNode, ctx svgContext) error {
	value, place := n.words()
	if value == "" {
		return nil
	}
	if ctx.style.hidden() {
		r.notes.add("a hidden text is skipped", n.at())
		return nil
	}
	if len(value) > maxLabel {
		r.notes.add("a text too long for a label is shortened", n.at())
		value = strings.ToValidUTF8(value[:maxLabel], "")
	}
	r.work -= place.size
	x, y, err := place.lengths2("x", "y", ctx)
	if err != nil {
		return n.wrap(err)
	}
	at := ctx.m.apply(geom.Pt(x, y))
	if err := withinExtent(at); err != nil {
		return n.wrap(err)
	}
	if r.points--; r.points < 0 {
		return n.wrap(errTooManyPoints)
	}
	r.drawing.Texts = append(r.drawing.Texts, Text{Value: value, Place: at, Layer: ctx.layer, Groups: ctx.groups.list(), At: r.at(n)})
	return nil
}
