package drawing

import (
	"bytes"
	"cmp"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"strings"
)

// Namespaces, and the prefixes used for them in files that forget to declare them.
const (
	svgSpace    = "http://www.w3.org/2000/svg"
	xlinkSpace  = "http://www.w3.org/1999/xlink"
	editorSpace = "http://www.inkscape.org/namespaces/inkscape"
)

// maxAttributes and maxClasses are far more than any editor writes on one element.
const (
	maxAttributes = 256
	maxClasses    = 64
)

// svgNode is an element, or character data if it has no name.
type svgNode struct {
	name     string
	text     string
	attrs    []xml.Attr
	children []*svgNode
	line     int
	size     int // bytes in its attributes
	class    []string
	data     map[string]string
	style    *declared // once resolved
	written  *svgWords // once joined
}

// svgTree is a parsed file.
type svgTree struct {
	root  *svgNode
	byID  map[string]*svgNode // the first with an id
	sheet svgSheet
	notes svgNotes
}

// parseSVG reads the elements. Elements of other namespaces are left out with their contents, but counted.
func parseSVG(data []byte) (*svgTree, error) {
	if err := boundTags(data); err != nil {
		return nil, err
	}
	d := xml.NewDecoder(bytes.NewReader(data))
	d.CharsetReader = charsetReader
	tree := &svgTree{byID: map[string]*svgNode{}}
	var open []*svgNode
	nodes, foreign := 0, 0
	for {
		line, _ := d.InputPos()
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, fmt.Errorf("the SVG is not well-formed XML: %w", err)
		}
		switch token := token.(type) {
		case xml.Directive:
			named, err := entities(token, data)
			if err != nil {
				return nil, fmt.Errorf("line %d: %w", line, err)
			}
			if named != nil {
				if d.Entity != nil || tree.root != nil {
					return nil, fmt.Errorf("line %d: %w", line, errDocumentType)
				}
				d.Entity = named
			}
		case xml.ProcInst:
			if token.Target == "xml-stylesheet" {
				tree.notes.add("a style sheet in another file is skipped", fmt.Sprintf("line %d", line))
			}
		case xml.StartElement:
			if nodes++; nodes > maxNodes {
				return nil, fmt.Errorf("line %d: the drawing has more than %d elements; simplify it or split it", line, maxNodes)
			}
			if len(open)+foreign >= maxDepth {
				return nil, fmt.Errorf("line %d: elements are nested more than %d deep; ungroup some", line, maxDepth)
			}
			if foreign > 0 || (token.Name.Space != svgSpace && token.Name.Space != "") {
				if tree.root == nil {
					return nil, errNotSVG(token.Name)
				}
				foreign++
				continue
			}
			n := &svgNode{name: token.Name.Local, attrs: token.Attr, line: line}
			if err := n.prepare(); err != nil {
				return nil, n.wrap(err)
			}
			switch {
			case len(open) > 0:
				parent := open[len(open)-1]
				parent.children = append(parent.children, n)
			case n.name != "svg":
				return nil, errNotSVG(token.Name)
			default:
				tree.root = n
			}
			if id := n.attr("id"); id != "" && tree.byID[id] == nil {
				tree.byID[id] = n
			}
			open = append(open, n)
		case xml.EndElement:
			if foreign > 0 {
				foreign--
				continue
			}
			n := open[len(open)-1]
			open = open[:len(open)-1]
			if n.name == "style" {
				if err := tree.sheet.parse(n, &tree.notes); err != nil {
					return nil, n.wrap(err)
				}
			}
		case xml.CharData:
			if foreign > 0 || len(open) == 0 || !wordy[open[len(open)-1].name] {
				continue
			}
			if nodes++; nodes > maxNodes {
				return nil, fmt.Errorf("line %d: the drawing has more than %d elements; simplify it or split it", line, maxNodes)
			}
			parent := open[len(open)-1]
			parent.children = append(parent.children, &svgNode{text: string(token), line: line})
		}
	}
	if tree.root == nil {
		return nil, errors.New("the file has no svg element; save the drawing as plain SVG")
	}
	tree.sheet.sort()
	return tree, nil
}

// wordy elements are those whose character data is read.
var wordy = map[string]bool{"text": true, "tspan": true, "textPath": true, "title": true, "style": true, "a": true}

func errNotSVG(name xml.Name) error {
	return fmt.Errorf("the file is XML but its outermost element is %.40q, not svg; save the drawing as plain SVG", name.Local)
}

// boundTags refuses a tag with absurdly many attributes before the decoder allocates room for them.
func boundTags(data []byte) error {
	line, quotes := 1, 0
	inTag := false
	var quote byte
	for i := 0; i < len(data); i++ {
		c := data[i]
		switch {
		case c == '\n':
			line++
		case !inTag:
			if c != '<' {
				continue
			}
			rest := data[i:]
			for _, skip := range [][2]string{{"<!--", "-->"}, {"<![CDATA[", "]]>"}, {"<?", "?>"}} {
				if bytes.HasPrefix(rest, []byte(skip[0])) {
					n := bytes.Index(rest, []byte(skip[1]))
					if n < 0 {
						return nil // the decoder says what is wrong
					}
					line += bytes.Count(rest[:n], []byte("\n"))
					i += n
					rest = nil
					break
				}
			}
			inTag, quotes = rest != nil, 0
		case quote != 0:
			if c == quote {
				quote = 0
			}
		case c == '>':
			inTag = false
		case c == '"' || c == '\'':
			quote = c
			if quotes++; quotes > maxAttributes {
				return fmt.Errorf("line %d: an element has more than %d attributes; save the drawing as plain SVG", line, maxAttributes)
			}
		}
	}
	return nil
}

// prepare extracts what is often needed from the attributes.
func (n *svgNode) prepare() error {
	for _, a := range n.attrs {
		n.size += len(a.Value)
		if key, ok := strings.CutPrefix(a.Name.Local, "data-"); ok && a.Name.Space == "" {
			if n.data == nil {
				n.data = map[string]string{}
			}
			n.data[key] = a.Value
		}
	}
	for c := range strings.FieldsSeq(n.attr("class")) {
		if len(n.class) == maxClasses {
			return fmt.Errorf("an element has more than %d classes; save the drawing as plain SVG", maxClasses)
		}
		n.class = append(n.class, c)
	}
	return nil
}

func (n *svgNode) attr(name string) string { return n.in("", "", name) }

// editor is an attribute in the namespace of Debian's vector editor, whose marks for layers and labels other editors use as
// well.
func (n *svgNode) editor(name string) string { return n.in(editorSpace, "inkscape", name) }

// href is what a use refers to: SVG 2's href before SVG 1.1's xlink:href.
func (n *svgNode) href() string {
	if h := n.attr("href"); h != "" {
		return strings.TrimSpace(h)
	}
	return strings.TrimSpace(n.in(xlinkSpace, "xlink", "href"))
}

func (n *svgNode) in(space, prefix, name string) string {
	for i := range n.attrs {
		if a := &n.attrs[i].Name; a.Local == name && (a.Space == space || a.Space == prefix) {
			return n.attrs[i].Value
		}
	}
	return ""
}

// label is the editor's name of an object, or else its title, or else the name that some editors keep in data-name because
// they make ids unique.
func (n *svgNode) label() string {
	if l := n.editor("label"); l != "" {
		return l
	}
	for _, c := range n.children {
		if c.name == "title" {
			value, _ := c.words()
			return value
		}
	}
	return n.data["name"]
}

// eligible reports whether the conditions on an element hold (SVG 2, 5.8): no extensions, and English where languages are
// distinguished, so that a drawing does not depend on the machine.
func (n *svgNode) eligible() bool {
	if n.attr("requiredExtensions") != "" {
		return false
	}
	languages := n.attr("systemLanguage")
	if languages == "" {
		return true
	}
	for _, l := range strings.Split(languages, ",") {
		if l = strings.ToLower(strings.TrimSpace(l)); l == "en" || strings.HasPrefix(l, "en-") {
			return true
		}
	}
	return false
}

// svgWords is the text in an element and the element that positions it.
type svgWords struct {
	value string
	place *svgNode
}

// words joins the text in an element and collapses white space. A part on another line is a separate word; one that is only
// repositioned on the same line is not, because some editors write kerning that way.
func (n *svgNode) words() (string, *svgNode) {
	if n.written == nil {
		g := svgGather{place: n, y: cmp.Or(n.attr("y"), "0")}
		g.from(n)
		n.written = &svgWords{strings.Join(strings.Fields(g.text.String()), " "), g.place}
	}
	return n.written.value, n.written.place
}

// svgGather is the text found so far, the element that positions it, and its line.
type svgGather struct {
	text  strings.Builder
	place *svgNode
	y     string
}

func (g *svgGather) from(n *svgNode) {
	for _, c := range n.children {
		switch c.name {
		case "":
			g.text.WriteString(c.text)
		case "tspan", "textPath", "a":
			x, y := c.attr("x"), c.attr("y")
			if dy := c.attr("dy"); (y != "" && y != g.y) || (x != "" && dy != "" && dy != "0") {
				g.text.WriteByte(' ')
			}
			g.y = cmp.Or(y, g.y)
			if (x != "" || y != "") && g.place.name == "text" && g.place.attr("x") == "" && g.place.attr("y") == "" {
				g.place = c
			}
			g.from(c)
		}
	}
}

func (n *svgNode) at() string { return fmt.Sprintf("line %d", n.line) }

// wrap says which element an error is in.
func (n *svgNode) wrap(err error) error {
	if id := n.attr("id"); id != "" {
		return fmt.Errorf("line %d: %.40s %.60q: %w", n.line, n.name, id, err)
	}
	return fmt.Errorf("line %d: %.40s: %w", n.line, n.name, err)
}

// svgNotes collects what is noted about a drawing, combining repeats.
type svgNotes struct {
	order []string
	first map[string]string
	count map[string]int
}

func (s *svgNotes) add(what, at string) {
	if s.count == nil {
		s.first, s.count = map[string]string{}, map[string]int{}
	}
	if s.count[what] == 0 {
		if len(s.order) == maxNotes {
			return
		}
		s.order = append(s.order, what)
		s.first[what] = at
	}
	s.count[what]++
}

// maxNotes bounds the kinds of notes: a hostile file can cause any number of them.
const maxNotes = 100

func (s *svgNotes) sentences() []string {
	var all []string
	for _, what := range s.order {
		sentence := what
		switch n := s.count[what]; {
		case s.first[what] == "":
		case n == 1:
			sentence += fmt.Sprintf(" (%s)", s.first[what])
		default:
			sentence += fmt.Sprintf(" (%s and %d more)", s.first[what], n-1)
		}
		all = append(all, sentence)
	}
	return all
}
