package browsertest

import (
	"encoding/xml"
	"fmt"
	"io"
	"strings"
)

// node is an element of a page, or with an empty name a piece of text.
type node struct {
	name     string
	attr     map[string]string
	text     string
	children []*node
}

// parse reads a page. The desk's pages close every element, so an XML reader that is lenient about attributes and
// entities reads them as a browser does.
func parse(r io.Reader) (*node, error) {
	dec := xml.NewDecoder(r)
	dec.Strict = false
	dec.Entity = xml.HTMLEntity
	root := &node{}
	open := []*node{root}
	for {
		tok, err := dec.Token()
		if err == io.EOF {
			if len(open) != 1 {
				return nil, fmt.Errorf("the page leaves <%s> open", open[len(open)-1].name)
			}
			return root, nil
		}
		if err != nil {
			return nil, fmt.Errorf("the page can't be read: %w", err)
		}
		top := open[len(open)-1]
		switch tok := tok.(type) {
		case xml.StartElement:
			n := &node{name: tok.Name.Local, attr: map[string]string{}}
			for _, a := range tok.Attr {
				n.attr[a.Name.Local] = a.Value
			}
			top.children = append(top.children, n)
			open = append(open, n)
		case xml.EndElement:
			if top.name != tok.Name.Local {
				return nil, fmt.Errorf("the page closes <%s> with </%s>", top.name, tok.Name.Local)
			}
			open = open[:len(open)-1]
		case xml.CharData:
			top.children = append(top.children, &node{text: string(tok)})
		}
	}
}

// all are the elements below n, in order, that pass.
func (n *node) all(pass func(*node) bool) []*node {
	var out []*node
	for _, c := range n.children {
		if c.name != "" && pass(c) {
			out = append(out, c)
		}
		out = append(out, c.all(pass)...)
	}
	return out
}

// first is the first element below n that passes, or nil.
func (n *node) first(pass func(*node) bool) *node {
	if n == nil {
		return nil
	}
	for _, c := range n.children {
		if c.name != "" && pass(c) {
			return c
		}
		if f := c.first(pass); f != nil {
			return f
		}
	}
	return nil
}

func byID(id string) func(*node) bool { return func(n *node) bool { return n.attr["id"] == id } }

func byName(name string) func(*node) bool { return func(n *node) bool { return n.name == name } }

func byClass(name, class string) func(*node) bool {
	return func(n *node) bool {
		if name != "" && n.name != name {
			return false
		}
		for _, c := range strings.Fields(n.attr["class"]) {
			if c == class {
				return true
			}
		}
		return false
	}
}

// words is the text below n, with the asterisks of emphasis put back.
func (n *node) words() string {
	if n == nil {
		return ""
	}
	if n.name == "" && n.children == nil {
		return n.text
	}
	var b strings.Builder
	for _, c := range n.children {
		if c.name == "strong" {
			b.WriteString("*" + c.words() + "*")
			continue
		}
		b.WriteString(c.words())
	}
	return b.String()
}
