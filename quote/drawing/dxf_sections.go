package drawing

import (
	"fmt"
	"strconv"
	"strings"

	"benchbell/quote/geom"
)

// dxfFile is what is kept of a file's sections.
type dxfFile struct {
	header     map[string][]dxfPair
	layers     map[string]dxfLayer // by name in upper case: names are not case-sensitive
	continuous map[string]bool     // linetypes by name in upper case: true if the table gives them no dashes
	blocks     map[string]dxfBlock // likewise
	entities   []dxfEntity
	notes      []string
	parsed     int // entities, vertices and table entries so far
}

type dxfLayer struct {
	name        string
	colour      string
	linetype    string
	off, frozen bool
}

type dxfBlock struct {
	name     string
	base     geom.Point
	entities []dxfEntity
}

// parseDXF sorts a file's groups into sections.
func parseDXF(data []byte) (*dxfFile, error) {
	pairs, err := scanDXF(data)
	if err != nil {
		return nil, err
	}
	d := &dxfFile{header: map[string][]dxfPair{}, layers: map[string]dxfLayer{}, continuous: map[string]bool{}, blocks: map[string]dxfBlock{}}
	found := false
	for len(pairs) > 0 && pairs[0] != (dxfPair{0, "EOF"}) {
		if !pairs[0].is("SECTION") || len(pairs) < 2 || pairs[1].code != 2 {
			return nil, fmt.Errorf("there is a group %d %q between the sections; the file is damaged", pairs[0].code, clip(pairs[0].value))
		}
		name, rest := strings.TrimSpace(pairs[1].value), pairs[2:]
		n := 0
		for n < len(rest) && !rest[n].is("ENDSEC") && !rest[n].is("EOF") {
			n++
		}
		section := rest[:n]
		pairs = rest[n:]
		if len(pairs) > 0 && pairs[0].is("ENDSEC") {
			pairs = pairs[1:]
		} else {
			d.notes = append(d.notes, fmt.Sprintf("section %s does not end; the file may have been cut short", clip(name)))
		}
		switch name {
		case "HEADER":
			d.readHeader(section)
		case "TABLES":
			if err := d.readTables(section); err != nil {
				return nil, err
			}
		case "BLOCKS":
			if err := d.readBlocks(section); err != nil {
				return nil, err
			}
		case "ENTITIES":
			found = true
			es, err := d.entitiesOf(section, "")
			if err != nil {
				return nil, err
			}
			d.entities = append(d.entities, es...)
		}
	}
	if !found {
		return nil, fmt.Errorf("the file has no ENTITIES section; save the drawing again as ASCII DXF R12 or 2000")
	}
	return d, nil
}

// is reports whether the group begins an element of that name.
func (p dxfPair) is(name string) bool { return p.code == 0 && strings.TrimSpace(p.value) == name }

func (d *dxfFile) readHeader(section []dxfPair) {
	for i := 0; i < len(section); {
		if section[i].code != 9 {
			i++
			continue
		}
		name := strings.TrimSpace(section[i].value)
		i++
		from := i
		for i < len(section) && section[i].code != 9 {
			i++
		}
		d.header[name] = section[from:i]
	}
}

// headerInt is a header variable of group 70.
func (d *dxfFile) headerInt(name string) (int, bool) {
	for _, p := range d.header[name] {
		if v, err := strconv.Atoi(strings.TrimSpace(p.value)); p.code == 70 && err == nil {
			return v, true
		}
	}
	return 0, false
}

// insertUnits are millimetres by $INSUNITS, without units that no pattern is drawn in (miles, light years).
var insertUnits = map[int]float64{
	1: float64(geom.Inch), 2: float64(geom.Foot), 4: 1, 5: 10, 6: 1000,
	8: float64(geom.Inch) / 1e6, 9: float64(geom.Inch) / 1e3, 10: 3 * float64(geom.Foot), 13: 0.001, 14: 100,
}

// unit is millimetres per drawing unit.
func (d *dxfFile) unit() (float64, error) {
	code, _ := d.headerInt("$INSUNITS")
	if code != 0 {
		u, ok := insertUnits[code]
		if !ok {
			return 0, fmt.Errorf("the drawing's units ($INSUNITS %d) are not supported; set them to millimetres or inches", code)
		}
		return u, nil
	}
	if m, ok := d.headerInt("$MEASUREMENT"); ok && m == 0 {
		d.notes = append(d.notes, "the file gives no unit; inches are assumed because its measurement system is imperial")
		return float64(geom.Inch), nil
	}
	d.notes = append(d.notes, "the file gives no unit; millimetres are assumed")
	return 1, nil
}

func (d *dxfFile) readTables(section []dxfPair) error {
	es, err := d.entitiesOf(section, "")
	if err != nil {
		return err
	}
	for i := range es {
		f := fields{entity: &es[i]}
		name := f.text(2)
		switch es[i].kind {
		case "LAYER":
			flags, colour := f.integer(70, 0), f.integer(62, 7)
			d.layers[strings.ToUpper(name)] = dxfLayer{
				name: name, colour: indexColour(colour), linetype: f.text(6), off: colour < 0, frozen: flags&1 != 0,
			}
		case "LTYPE":
			d.continuous[strings.ToUpper(name)] = f.integer(73, 0) == 0
		}
		if f.err != nil {
			return fmt.Errorf("%s %s of the tables: %w", es[i].kind, clip(name), f.err)
		}
	}
	return nil
}

// isDashed reports whether a linetype has gaps: any that the file defines with dashes, or does not define.
func (d *dxfFile) isDashed(linetype string) bool {
	linetype = strings.ToUpper(linetype)
	if linetype == "" || linetype == "CONTINUOUS" || linetype == "BYLAYER" || linetype == "BYBLOCK" {
		return false
	}
	return !d.continuous[linetype]
}

func (d *dxfFile) readBlocks(section []dxfPair) error {
	for i := 0; i < len(section); {
		if !section[i].is("BLOCK") {
			i++
			continue
		}
		from := i
		for i++; i < len(section) && !section[i].is("ENDBLK") && !section[i].is("BLOCK"); i++ {
		}
		head := from + 1
		for head < i && section[head].code != 0 {
			head++
		}
		f := fields{entity: &dxfEntity{kind: "BLOCK", pairs: section[from+1 : head]}}
		b := dxfBlock{name: f.text(2), base: geom.Pt(f.number(10, 0), f.number(20, 0))}
		if f.err != nil {
			return fmt.Errorf("block %s: %w", clip(b.name), f.err)
		}
		var err error
		if b.entities, err = d.entitiesOf(section[head:i], b.name); err != nil {
			return err
		}
		d.blocks[strings.ToUpper(b.name)] = b
	}
	return nil
}

// entitiesOf groups pairs into entities; vertices and attributes go to the polyline or insertion they follow.
func (d *dxfFile) entitiesOf(pairs []dxfPair, block string) ([]dxfEntity, error) {
	var out []dxfEntity
	open := false // children may follow
	for i := 0; i < len(pairs); {
		if pairs[i].code != 0 {
			i++
			continue
		}
		e := dxfEntity{kind: strings.TrimSpace(pairs[i].value), block: block}
		if d.parsed++; d.parsed > maxPoints {
			return nil, fmt.Errorf("the file has more than %d entities and vertices, including those of its blocks; leave out what is not to be cut", maxPoints)
		}
		i++
		from := i
		for i < len(pairs) && pairs[i].code != 0 {
			i++
		}
		e.pairs = pairs[from:i]
		switch e.kind {
		case "SEQEND":
			open = false
			continue
		case "VERTEX", "ATTRIB":
			if open {
				parent := &out[len(out)-1]
				e.index = parent.index
				parent.children = append(parent.children, e)
				continue
			}
			if e.kind == "VERTEX" {
				return nil, fmt.Errorf("entity %d (VERTEX) follows no polyline; the file is damaged", len(out)+1)
			}
		}
		e.index = len(out) + 1
		open = e.kind == "POLYLINE" || e.kind == "INSERT"
		out = append(out, e)
	}
	return out, nil
}
