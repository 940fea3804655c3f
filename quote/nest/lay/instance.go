package lay

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"benchbell/quote/geom"
	"benchbell/quote/nest"
)

// Exchanged is a problem read from one of the exchange forms, with what is needed to answer in the same form: the
// items' ids as they were written, and the unit of length, which need not be the millimetre.
type Exchanged struct {
	Name    string
	Problem nest.Problem
	ids     map[string]json.RawMessage
	scale   float64 // millimetres of the problem for one unit of the form
}

// Lengths of a sheet or strip outside these are scaled for the search, by a power of two, which costs no digit.
const (
	scaleBelow = 64
	scaleAbove = 16384
	scaleTo    = 1024
)

// binID is the sheet that layouts of the bin text name.
const binID = "bin"

// Read takes a nesting problem as this package's own JSON, as strip JSON, as the same with a stock of sheets, or as bin
// text (number of pieces, width and height of a bin, then a line of point count and points for each piece, which may be
// turned by quarters). gap, in the form's unit, is added where it is no problem of ours; there it is ignored unless
// over 0.
//
// Errors say what of the form was not understood, or what is wrong with the problem's figures.
func Read(name string, data []byte, gap float64) (Exchanged, error) {
	if len(data) > maxBytes {
		return Exchanged{}, fmt.Errorf("the nesting problem has %d bytes, at most %d are read", len(data), maxBytes)
	}
	var e Exchanged
	var err error
	text := bytes.TrimSpace(data)
	switch {
	case len(text) > 0 && text[0] >= '0' && text[0] <= '9':
		e, err = readBins(text)
	case foreign(text):
		e, err = readInstance(text)
	default:
		e.scale = 1
		e.Problem, err = decode(data)
		if gap > 0 {
			e.Problem.Gap = geom.MM(gap)
		}
	}
	if err != nil {
		return Exchanged{}, err
	}
	if e.Name == "" {
		e.Name = name
	}
	if e.ids != nil {
		e.Problem.Gap = geom.MM(gap)
		e.rescale()
	}
	if err := validate(e.Problem); err != nil {
		return Exchanged{}, err
	}
	return e, nil
}

// foreign tells the exchange form by its shapes, which carry a type.
func foreign(data []byte) bool {
	var probe struct {
		Items []struct {
			Shape struct {
				Type string `json:"type"`
			} `json:"shape"`
		} `json:"items"`
	}
	return json.Unmarshal(data, &probe) == nil && len(probe.Items) > 0 && probe.Items[0].Shape.Type != ""
}

type readSheet struct {
	ID      json.RawMessage `json:"id"`
	Width   float64         `json:"width"`
	Height  float64         `json:"height"`
	Count   int             `json:"count"`
	Price   int64           `json:"price"`
	Outline [][2]float64    `json:"outline"`
	Defects [][][2]float64  `json:"defects"`
}

type readItem struct {
	ID     json.RawMessage `json:"id"`
	Demand *int            `json:"demand"`
	Turns  *[]float64      `json:"allowed_orientations"`
	Mirror bool            `json:"may_mirror"`
	Shape  struct {
		Type string          `json:"type"`
		Data json.RawMessage `json:"data"`
	} `json:"shape"`
}

func readInstance(data []byte) (Exchanged, error) {
	var in struct {
		Name   string      `json:"name"`
		Height float64     `json:"strip_height"`
		Sheets []readSheet `json:"sheets"`
		Items  []readItem  `json:"items"`
	}
	dec := json.NewDecoder(bytes.NewReader(data))
	if err := dec.Decode(&in); err != nil {
		return Exchanged{}, fmt.Errorf("the instance is not the JSON expected: %w", err)
	}
	if _, err := dec.Token(); !errors.Is(err, io.EOF) {
		return Exchanged{}, errors.New("the instance is followed by more data, give one JSON object only")
	}
	e := Exchanged{Name: in.Name, ids: map[string]json.RawMessage{}}
	e.Problem.Strip = geom.MM(in.Height)
	priced := false
	for _, s := range in.Sheets {
		priced = priced || s.Price != 0
	}
	for i, s := range in.Sheets {
		k := nest.Sheet{ID: plain(s.ID, i), Width: geom.MM(s.Width), Height: geom.MM(s.Height), Count: s.Count, Price: s.Price}
		if !priced {
			k.Price = int64(math.Min(1e12, math.Ceil(s.Width*s.Height))) // area for price where none is told
		}
		k.Outline = ring(s.Outline)
		for _, d := range s.Defects {
			k.Defects = append(k.Defects, ring(d))
		}
		e.ids["sheet "+k.ID] = orIndex(s.ID, i)
		e.Problem.Sheets = append(e.Problem.Sheets, k)
	}
	for i, it := range in.Items {
		item := nest.Item{ID: plain(it.ID, i), Demand: 1, Turn: geom.TurnAny, MayFlip: it.Mirror}
		if it.Demand != nil {
			item.Demand = *it.Demand
		}
		if item.Demand == 0 {
			continue
		}
		if it.Turns != nil {
			item.Turn, item.Turns = geom.TurnNone, *it.Turns
		}
		shape, err := readShape(it)
		if err != nil {
			return Exchanged{}, fmt.Errorf("the shape of item %q: %w", item.ID, err)
		}
		item.Shape = shape
		e.ids["item "+item.ID] = orIndex(it.ID, i)
		e.Problem.Items = append(e.Problem.Items, item)
	}
	return e, nil
}

// plain is an id as a name: what it is in JSON, without the quotes of a string.
func plain(id json.RawMessage, i int) string {
	var s string
	if json.Unmarshal(id, &s) == nil {
		return s
	}
	return string(orIndex(id, i))
}

func orIndex(id json.RawMessage, i int) json.RawMessage {
	if len(id) == 0 || string(id) == "null" {
		return json.RawMessage(strconv.Itoa(i))
	}
	return id
}

func readShape(it readItem) (geom.Shape, error) {
	switch it.Shape.Type {
	case "simple_polygon":
		var r [][2]float64
		if err := json.Unmarshal(it.Shape.Data, &r); err != nil {
			return geom.Shape{}, fmt.Errorf("its data are no list of points: %w", err)
		}
		return geom.Shape{Outer: ring(r)}, nil
	case "polygon":
		var h exchangeHoled
		if err := json.Unmarshal(it.Shape.Data, &h); err != nil {
			return geom.Shape{}, fmt.Errorf("its data have no outer and inner rings: %w", err)
		}
		s := geom.Shape{Outer: ring(h.Outer)}
		for _, r := range h.Inner {
			s.Holes = append(s.Holes, ring(r).CCW().Reversed())
		}
		return s, nil
	case "rectangle":
		var r struct{ Width, Height float64 }
		if err := json.Unmarshal(it.Shape.Data, &r); err != nil {
			return geom.Shape{}, fmt.Errorf("its data have no width and height: %w", err)
		}
		return geom.Shape{Outer: geom.Ring{{}, {X: r.Width}, {X: r.Width, Y: r.Height}, {Y: r.Height}}}, nil
	}
	return geom.Shape{}, fmt.Errorf("type %q is not simple_polygon, polygon or rectangle", it.Shape.Type)
}

func ring(r [][2]float64) geom.Ring {
	if len(r) == 0 {
		return nil
	}
	out := make(geom.Ring, len(r))
	for i, p := range r {
		out[i] = geom.Pt(p[0], p[1])
	}
	return distinct(out)
}

// readBins reads bin text.
func readBins(data []byte) (Exchanged, error) {
	var nums []float64
	for _, f := range strings.Fields(string(data)) {
		v, err := strconv.ParseFloat(f, 64)
		if err != nil {
			return Exchanged{}, fmt.Errorf("%.20q in the bin text is no number", f)
		}
		nums = append(nums, v)
	}
	if len(nums) < 3 {
		return Exchanged{}, errors.New("the bin text ends before the bins' width and height, it must begin with the number of pieces and both")
	}
	n := int(nums[0])
	e := Exchanged{ids: map[string]json.RawMessage{"sheet " + binID: json.RawMessage(strconv.Quote(binID))}}
	e.Problem.Sheets = []nest.Sheet{{ID: binID, Width: geom.MM(nums[1]), Height: geom.MM(nums[2]), Price: 1}}
	nums = nums[3:]
	for i := range n {
		if i >= maxItems || len(nums) == 0 || nums[0] < 3 || nums[0] > maxRingPoints || len(nums) < 1+2*int(nums[0]) {
			return Exchanged{}, fmt.Errorf("piece %d of the bin text is not a number of points from 3 to %d and as many pairs, of at most %d pieces", i, maxRingPoints, maxItems)
		}
		k := int(nums[0])
		var r geom.Ring
		for j := range k {
			r = append(r, geom.Pt(nums[1+2*j], nums[2+2*j]))
		}
		nums = nums[1+2*k:]
		id := strconv.Itoa(i)
		e.ids["item "+id] = json.RawMessage(id)
		e.Problem.Items = append(e.Problem.Items, nest.Item{ID: id, Shape: geom.Shape{Outer: distinct(r)}, Demand: 1, Turn: geom.TurnQuarter})
	}
	return e, nil
}

// rescale brings lengths to where the problem's limits and tolerances are meant for.
func (e *Exchanged) rescale() {
	e.scale = 1
	p := &e.Problem
	size := float64(p.Strip)
	for _, k := range p.Sheets {
		size = math.Max(size, math.Max(float64(k.Width), float64(k.Height)))
	}
	if !(size > 0) || math.IsInf(size, 0) || (size >= scaleBelow && size <= scaleAbove) {
		return
	}
	e.scale = math.Exp2(math.Round(math.Log2(scaleTo / size)))
	s := geom.MM(e.scale)
	all := func(r geom.Ring) {
		for i := range r {
			r[i] = r[i].Mul(e.scale)
		}
	}
	p.Strip *= s
	p.Gap *= s
	for i := range p.Sheets {
		k := &p.Sheets[i]
		k.Width *= s
		k.Height *= s
		all(k.Outline)
		for _, d := range k.Defects {
			all(d)
		}
	}
	for i := range p.Items {
		all(p.Items[i].Shape.Outer)
		for _, h := range p.Items[i].Shape.Holes {
			all(h)
		}
	}
}

// Width is the length of all sheets of a solution together, or the strip's, in the form's unit.
func (e Exchanged) Width(s nest.Solution) float64 {
	var w float64
	for _, l := range s.Layouts {
		w += float64(l.Width) / e.scale
	}
	return w
}

// Layouts writes a solution in the exchange form.
func (e Exchanged) Layouts(s nest.Solution) ([]byte, error) {
	type placement struct {
		Item     json.RawMessage `json:"item"`
		Rotation float64         `json:"rotation"`
		Mirrored bool            `json:"mirrored,omitempty"`
		X        float64         `json:"x"`
		Y        float64         `json:"y"`
	}
	type sheet struct {
		Sheet      json.RawMessage `json:"sheet"`
		Width      float64         `json:"width"`
		Height     float64         `json:"height"`
		Placements []placement     `json:"placements"`
	}
	if e.ids == nil {
		return layouts(e.Problem, s)
	}
	out := struct {
		Sheets []sheet `json:"sheets"`
	}{[]sheet{}}
	for _, l := range s.Layouts {
		id := e.ids["sheet "+l.Sheet]
		if id == nil {
			id = json.RawMessage(strconv.Quote(l.Sheet))
		}
		k := sheet{Sheet: id, Width: float64(l.Width) / e.scale, Height: float64(l.Height) / e.scale, Placements: []placement{}}
		for _, q := range l.Placed {
			k.Placements = append(k.Placements, placement{Item: e.ids["item "+q.Item], Rotation: q.At.Turn, Mirrored: q.At.Mirrored, X: q.At.Move.X / e.scale, Y: q.At.Move.Y / e.scale})
		}
		out.Sheets = append(out.Sheets, k)
	}
	data, err := json.Marshal(out)
	if err != nil {
		return nil, fmt.Errorf("the layout cannot be written as JSON: %w", err)
	}
	return data, nil
}
