package drawing

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"benchbell/quote/geom"
)

// assumedPixels is noted whenever no real unit determines the drawing's size.
const assumedPixels = "the drawing's size is not in a real unit, so a unit counts as a CSS pixel, 96 to the inch; " +
	"if it comes out too small by 4/3 or 16/15, the editor uses 72 or 90 to the inch: set the document's size in mm there"

// page is the outermost viewport: user units to millimetres, y up from the page's lower edge (SVG 2, 8.2). A width or
// height that is missing or a percentage follows from the other by the view box; if neither is given in a real unit, a unit
// is a CSS pixel and that is noted.
func (r *svgReader) page(n *svgNode) (svgContext, error) {
	width, height := 0.0, 0.0 // millimetres
	real := false
	for _, side := range []struct {
		name string
		to   *float64
	}{{"width", &width}, {"height", &height}} {
		text := strings.TrimSpace(n.attr(side.name))
		if text == "" || text == "auto" {
			continue
		}
		v, unit, err := dimension(text)
		switch {
		case err != nil:
			return svgContext{}, fmt.Errorf("%s: %w", side.name, err)
		case unit == "%":
			continue
		case v <= 0:
			return svgContext{}, fmt.Errorf("%s is %g; set the document's size to more than zero", side.name, v)
		}
		real = real || (unit != "" && unit != "px")
		*side.to = v * unitLengths[unit]
	}
	box, err := n.viewBox()
	if err != nil {
		return svgContext{}, err
	}
	if !real {
		r.notes.add(assumedPixels, "")
	}
	ctx := svgContext{m: scaling(pixel, pixel), width: width / pixel, height: height / pixel}
	if box != nil {
		switch {
		case width == 0 && height == 0:
			width, height = box.width*pixel, box.height*pixel
		case width == 0:
			width = height * box.width / box.height
		case height == 0:
			height = width * box.height / box.width
		}
		if ctx.m, err = box.fit(width, height, n.attr("preserveAspectRatio")); err != nil {
			return svgContext{}, err
		}
		ctx.width, ctx.height = box.width, box.height
	} else if real {
		r.notes.add("the drawing has no viewBox, so numbers without a unit are CSS pixels, 96 to the inch", "")
	}
	if err := withinExtent(geom.Pt(width, height)); err != nil {
		return svgContext{}, fmt.Errorf("the page is too large: %w", err)
	}
	ctx.m = affine{a: 1, d: -1, f: height}.mul(ctx.m)
	return ctx, nil
}

// nested draws the children of an inner svg or of a symbol, whose size its use may give (SVG 2, 5.5, 5.6 and 8.2). What
// extends beyond the viewport is not clipped.
func (r *svgReader) nested(n, sized *svgNode, ctx svgContext) error {
	var size [2]float64
	for i, side := range []struct {
		name  string
		of    axis
		whole float64
	}{{"width", along, ctx.width}, {"height", across, ctx.height}} {
		v, there, err := sized.measure(side.name, ctx, side.of)
		if err != nil {
			return sized.wrap(err)
		}
		if !there {
			if v, there, err = n.measure(side.name, ctx, side.of); err != nil {
				return n.wrap(err)
			}
		}
		if !there {
			v = side.whole
		}
		if size[i] = v; v < 0 {
			return n.wrap(fmt.Errorf("%s is %g; it must be zero or more", side.name, v))
		}
	}
	x, y, err := n.lengths2("x", "y", ctx)
	if err != nil {
		return n.wrap(err)
	}
	box, err := n.viewBox()
	if err != nil {
		return n.wrap(err)
	}
	ctx = ctx.inside(n, true)
	ctx.m = ctx.m.mul(translation(x, y))
	ctx.width, ctx.height = size[0], size[1]
	if box != nil {
		if size[0] == 0 || size[1] == 0 {
			r.notes.add(fmt.Sprintf("%s of zero width or height is skipped with its contents", n.name), n.at())
			return nil
		}
		m, err := box.fit(size[0], size[1], n.attr("preserveAspectRatio"))
		if err != nil {
			return n.wrap(err)
		}
		ctx.m = ctx.m.mul(m)
		ctx.width, ctx.height = box.width, box.height
	}
	return r.children(n, ctx)
}

type viewBox struct{ x, y, width, height float64 }

func (n *svgNode) viewBox() (*viewBox, error) {
	text := strings.TrimSpace(n.attr("viewBox"))
	if text == "" || text == "none" {
		return nil, nil
	}
	v, err := numbers(text, 4)
	if err != nil {
		return nil, fmt.Errorf("viewBox: %w", err)
	}
	if len(v) != 4 || v[2] <= 0 || v[3] <= 0 {
		return nil, fmt.Errorf("viewBox is %.40q; it must be x, y, width and height, the last two above zero", text)
	}
	return &viewBox{v[0], v[1], v[2], v[3]}, nil
}

// fit maps the box to a viewport (SVG 2, 8.6 and 8.7).
func (b *viewBox) fit(width, height float64, preserve string) (affine, error) {
	sx, sy := width/b.width, height/b.height
	words := strings.Fields(preserve)
	if len(words) > 0 && words[0] == "defer" {
		words = words[1:]
	}
	align, slice := "xMidYMid", false
	if len(words) > 0 {
		align = words[0]
	}
	if len(words) > 1 {
		slice = words[1] == "slice"
	}
	if len(words) > 2 || (len(words) == 2 && !slice && words[1] != "meet") {
		return identity, fmt.Errorf("preserveAspectRatio is %.40q; use a value such as \"xMidYMid meet\"", preserve)
	}
	x, y := 0.0, 0.0
	if align != "none" {
		s := min(sx, sy)
		if slice {
			s = max(sx, sy)
		}
		sx, sy = s, s
		fx, okX := alignments[prefix(align, 4)]
		fy, okY := alignments[strings.Replace(strings.TrimPrefix(align, prefix(align, 4)), "Y", "x", 1)]
		if !okX || !okY {
			return identity, fmt.Errorf("preserveAspectRatio is %.40q; use a value such as \"xMidYMid meet\"", preserve)
		}
		x, y = fx*(width-b.width*s), fy*(height-b.height*s)
	}
	m := translation(x, y).mul(scaling(sx, sy)).mul(translation(-b.x, -b.y))
	if !m.finite() || math.Abs(sx) > maxUserUnits || math.Abs(sy) > maxUserUnits {
		return identity, errors.New("viewBox and size differ too much; set the document's size again")
	}
	return m, nil
}

// alignments are the share of the free space placed before the box.
var alignments = map[string]float64{"xMin": 0, "xMid": 0.5, "xMax": 1}

func prefix(s string, n int) string { return s[:min(n, len(s))] }
