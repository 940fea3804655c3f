package drawing

import (
	"errors"
	"fmt"
	"slices"
	"strings"
)

// maxRules and maxParts bound what one element is matched against, maxMatches all matching together: rules times elements
// times their classes. A sheet of a hundred rules over maxNodes elements takes four million.
const (
	maxRules   = 2000
	maxParts   = 16
	maxMatches = 10_000_000
)

// svgSheet is all style elements of a file together (CSS 2.1, chapters 4 to 6). Selectors must be of single elements: by
// name, class and id. Anything else is skipped and noted.
type svgSheet struct {
	rules   []svgRule
	skipped int
	matched int
}

// svgRule is one selector with its declarations.
type svgRule struct {
	name, id     string // "" matches any
	class        []string
	specificity  int
	declarations []declaration
}

// parse reads one style element.
func (s *svgSheet) parse(n *svgNode, notes *svgNotes) error {
	if kind := n.attr("type"); kind != "" && kind != "text/css" {
		notes.add(fmt.Sprintf("a style sheet of type %.40q is skipped", kind), n.at())
		return nil
	}
	var b strings.Builder
	for _, c := range n.children {
		b.WriteString(c.text)
	}
	text := withoutComments(b.String())
	for {
		text = strings.TrimSpace(text)
		for _, mark := range []string{"<!--", "-->"} {
			text = strings.TrimSpace(strings.TrimPrefix(text, mark))
		}
		if text == "" {
			return nil
		}
		if text[0] == '@' {
			name := text[:max(1, strings.IndexAny(text, " \t\r\n{;(\"'"))]
			if err := s.skip(fmt.Sprintf("the style rule %.40s is skipped", name), n, notes); err != nil {
				return err
			}
			text = afterAtRule(text)
			continue
		}
		open := strings.IndexByte(text, '{')
		if open < 0 {
			notes.add("a style rule without declarations is skipped", n.at())
			return nil
		}
		block, rest := cutBlock(text[open:])
		list, err := parseDeclarations(block)
		if err != nil {
			return err
		}
		if err := s.add(text[:open], list, n, notes); err != nil {
			return err
		}
		text = rest
	}
}

var errTooManyRules = fmt.Errorf("the style sheets have more than %d rules", maxRules)

// skip notes a rule that is ignored.
func (s *svgSheet) skip(what string, n *svgNode, notes *svgNotes) error {
	if s.skipped++; s.skipped > maxRules {
		return errTooManyRules
	}
	notes.add(what, n.at())
	return nil
}

// add adds a rule for each selector of a group.
func (s *svgSheet) add(group string, list []declaration, n *svgNode, notes *svgNotes) error {
	for selector := range strings.SplitSeq(group, ",") {
		rule, ok := parseSelector(strings.TrimSpace(selector))
		if !ok {
			if err := s.skip(fmt.Sprintf("the style selector %.40q is not supported and is skipped", strings.TrimSpace(selector)), n, notes); err != nil {
				return err
			}
			continue
		}
		if len(s.rules) == maxRules {
			return errTooManyRules
		}
		rule.declarations = list
		s.rules = append(s.rules, rule)
	}
	return nil
}

// parseSelector reads one compound selector: "*" or a name, then classes and ids.
func parseSelector(text string) (svgRule, bool) {
	var r svgRule
	if text == "" {
		return r, false
	}
	rest := text
	if name, after, ok := identifier(rest); ok {
		r.name, rest = name, after
		r.specificity = 1
	} else if rest[0] == '*' {
		rest = rest[1:]
	}
	for parts := 0; rest != ""; parts++ {
		name, after, ok := identifier(rest[1:])
		if !ok || parts == maxParts {
			return r, false
		}
		switch {
		case rest[0] == '.':
			r.class = append(r.class, name)
			r.specificity += 1 << 8
		case rest[0] == '#' && (r.id == "" || r.id == name):
			r.id = name
			r.specificity += 1 << 16
		default:
			return r, false
		}
		rest = after
	}
	return r, true
}

// identifier cuts a CSS identifier without escapes from the front.
func identifier(text string) (name, rest string, ok bool) {
	i := 0
	for i < len(text) {
		c := text[i]
		letter := c|0x20 >= 'a' && c|0x20 <= 'z' || c == '_' || c >= 0x80
		if !letter && c != '-' && (!isDigit(c) || i == 0) {
			break
		}
		i++
	}
	return text[:i], text[i:], i > 0 && text[:i] != "-"
}

func (r *svgRule) matches(n *svgNode) bool {
	if (r.name != "" && r.name != n.name) || (r.id != "" && r.id != n.attr("id")) {
		return false
	}
	for _, c := range r.class {
		if !slices.Contains(n.class, c) {
			return false
		}
	}
	return true
}

// sort puts stronger rules last, and later ones among equals.
func (s *svgSheet) sort() {
	slices.SortStableFunc(s.rules, func(a, b svgRule) int { return a.specificity - b.specificity })
}

// declared resolves an element's own style once: attributes, then rules, then the style attribute, then whatever is
// important (CSS 2.1, 6.4).
func (t *svgTree) declared(n *svgNode) *declared {
	if n.style != nil {
		return n.style
	}
	d := &declared{}
	n.style = d
	for _, a := range n.attrs {
		if a.Name.Space != "" {
			continue
		}
		x, ok, err := declare(a.Name.Local, strings.TrimSpace(a.Value))
		if err != nil {
			d.err = err
			return d
		}
		if ok {
			d.apply(x)
		}
	}
	own, err := parseDeclarations(withoutComments(n.attr("style")))
	if err != nil {
		d.err = err
		return d
	}
	if t.sheet.matched += len(t.sheet.rules) * (1 + len(n.class)); t.sheet.matched > maxMatches {
		d.err = errors.New("the style sheets have too many rules for so many elements; save the drawing as plain SVG")
		return d
	}
	for _, important := range []bool{false, true} {
		for i := range t.sheet.rules {
			if r := &t.sheet.rules[i]; r.matches(n) {
				d.applyAll(r.declarations, important)
			}
		}
		d.applyAll(own, important)
	}
	if d.transform != nil && d.origin != nil {
		m := translation(d.origin.X, d.origin.Y).mul(*d.transform).mul(translation(-d.origin.X, -d.origin.Y))
		d.transform = &m
	}
	return d
}

func (d *declared) applyAll(list []declaration, important bool) {
	for _, x := range list {
		if x.important == important {
			d.apply(x)
		}
	}
}

// parseDeclarations reads what is between braces or in a style attribute; if a property occurs twice the last one counts,
// so that the list stays short.
func parseDeclarations(text string) ([]declaration, error) {
	var list []declaration
	for text != "" {
		var one string
		one, text = cutAt(text, ';')
		name, value, ok := strings.Cut(one, ":")
		if !ok {
			continue
		}
		name, value = strings.ToLower(strings.TrimSpace(name)), strings.TrimSpace(value)
		plain, important := cutImportant(value)
		x, ok, err := declare(name, plain)
		if err != nil {
			return nil, err
		}
		if _, length := lengthAxis[name]; (length || name == "d") && plain != "auto" { // SVG 2 allows these in styles, too
			x, ok = declaration{geometry: name}, true
		}
		if !ok {
			continue
		}
		x.important = important
		list = append(slices.DeleteFunc(list, x.replaces), x)
	}
	return list, nil
}

// replaces reports whether x, coming later in the same block, overrides y entirely.
func (x declaration) replaces(y declaration) bool {
	return x.important == y.important && x.property == y.property && (x.transform == nil) == (y.transform == nil) &&
		(x.origin == nil) == (y.origin == nil) && x.clipped == y.clipped && x.geometry == y.geometry
}

func cutImportant(value string) (string, bool) {
	i := strings.LastIndexByte(value, '!')
	if i < 0 || strings.ToLower(strings.TrimSpace(value[i+1:])) != "important" {
		return value, false
	}
	return strings.TrimSpace(value[:i]), true
}

// unquoted returns the index of the first byte outside quotes for which stop is true, or -1.
func unquoted(text string, stop func(c byte) bool) int {
	var quote byte
	for i := 0; i < len(text); i++ {
		switch c := text[i]; {
		case quote != 0:
			if c == quote {
				quote = 0
			}
		case c == '"' || c == '\'':
			quote = c
		case stop(c):
			return i
		}
	}
	return -1
}

// cutAt cuts at a byte outside quotes and parentheses.
func cutAt(text string, at byte) (before, after string) {
	depth := 0
	i := unquoted(text, func(c byte) bool {
		switch c {
		case '(':
			depth++
		case ')':
			depth = max(0, depth-1)
		}
		return c == at && depth == 0
	})
	if i < 0 {
		return text, ""
	}
	return text[:i], text[i+1:]
}

// cutBlock cuts "{…}", with any blocks inside it, from the front and returns its contents.
func cutBlock(text string) (inside, rest string) {
	depth := 0
	i := unquoted(text, func(c byte) bool {
		switch c {
		case '{':
			depth++
		case '}':
			depth--
			return depth == 0
		}
		return false
	})
	if i < 0 {
		return text[1:], ""
	}
	return text[1:i], text[i+1:]
}

// afterAtRule is what follows an @rule: its block, or its semicolon.
func afterAtRule(text string) string {
	end := strings.IndexAny(text, "{;")
	if end < 0 {
		return ""
	}
	if text[end] == ';' {
		return text[end+1:]
	}
	_, rest := cutBlock(text[end:])
	return rest
}

func withoutComments(text string) string {
	if !strings.Contains(text, "/*") {
		return text
	}
	var b strings.Builder
	for {
		before, after, ok := strings.Cut(text, "/*")
		b.WriteString(before)
		if !ok {
			return b.String()
		}
		b.WriteByte(' ')
		if _, text, ok = strings.Cut(after, "*/"); !ok {
			return b.String()
		}
	}
}
