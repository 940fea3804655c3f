package chat

import (
	"fmt"
	"math"
	"strings"
	"unicode/utf8"
)

// Limits are what one transport can carry. Zero is no limit. Lengths are in characters (Unicode code points) unless said
// otherwise.
//
// A post or an answer beyond a count, or with an action or a file beyond its size, is refused by the transport. Words that
// are too long are shown cut at a word's end instead. Whoever composes a message keeps to both, with the helpers below.
type Limits struct {
	// Of one message.
	Text    int              // its text, as Length counts
	Length  func(string) int // how the transport counts a text, where it counts otherwise than in characters; else nil
	Files   int
	Buttons int
	Menus   int
	Rows    int // of menus and buttons together: a menu takes one row, and so do up to InRow buttons
	InRow   int
	Options int // of one menu
	Fields  int // of one form

	// Of words around it.
	Title int // a form's title, a field's label
	Label int // a button's label
	Line  int // a menu's label; an option's value, label or note; a field's hint
	Value int // a field's value, filled in before or typed

	Action int // bytes of an action and of a field's key
	File   int // bytes of one file in a message
	Upload int // bytes of one file that a person sends
}

// Cautious are limits for a message to a transport that isn't there now, such as one switched off since: what every
// service of the kind shows.
var Cautious = Limits{
	Text: 1800, Files: 10, Buttons: 5, Menus: 4, Rows: 5, InRow: 5, Options: 25, Fields: 5,
	Title: 45, Label: 45, Line: 100, Value: 2000, Action: 100, File: 8 << 20, Upload: 8 << 20,
}

// Scheme is the part of a person's or a thread's ID that names its transport.
func Scheme[ID ~string](id ID) string {
	s, _, _ := strings.Cut(string(id), ":")
	return s
}

// LimitsOf are the limits of the transport of that scheme; Cautious where it isn't among them.
func LimitsOf(transports []Transport, scheme string) Limits {
	for _, t := range transports {
		if t.Scheme() == scheme {
			return t.Limits()
		}
	}
	return Cautious
}

// Within is n, or the limit where there is one and n is beyond it.
func Within(limit, n int) int {
	if limit > 0 && n > limit {
		return limit
	}
	return n
}

// Size is a text's length as the transport counts it.
func (l Limits) Size(text string) int {
	if l.Length != nil {
		return l.Length(text)
	}
	return utf8.RuneCountInString(text)
}

// Room is how many buttons a message holds beside that many menus; math.MaxInt where it holds any number.
func (l Limits) Room(menus int) int {
	room := math.MaxInt
	if l.Rows > 0 {
		rows := max(l.Rows-menus, 0)
		if room = rows * l.InRow; l.InRow == 0 && rows > 0 {
			room = math.MaxInt
		}
	}
	if l.Buttons > 0 {
		room = min(room, l.Buttons)
	}
	return room
}

// Pages cuts a menu into as many as its options need, each a menu of its own: its action ends in "/1", "/2" and so on, and
// its label says from which option to which it goes. A menu of several choices can be left empty on each page, since what is
// wanted may be on another: whoever takes a pick from a page keeps what was chosen on the others. A menu with room for all its
// options comes back as it is.
func (l Limits) Pages(m Menu) []Menu {
	n := len(m.Options)
	if l.Options == 0 || n <= l.Options {
		return []Menu{m}
	}
	pages := (n + l.Options - 1) / l.Options
	per := (n + pages - 1) / pages
	var out []Menu
	for from := 0; from < n; from += per {
		p := m
		p.Options = m.Options[from:min(from+per, n)]
		p.Action = fmt.Sprintf("%s/%d", m.Action, len(out)+1)
		p.Label = fmt.Sprintf("%s: %s to %s", m.Label, p.Options[0].Label, p.Options[len(p.Options)-1].Label)
		if l.Line > 0 && utf8.RuneCountInString(p.Label) > l.Line {
			p.Label = fmt.Sprintf("%s, %d of %d", m.Label, len(out)+1, pages)
		}
		if m.Max > 1 {
			p.Min, p.Max = 0, min(m.Max, len(p.Options))
		}
		out = append(out, p)
	}
	return out
}

// CheckPost says which limit the post is beyond; nil: none.
func (l Limits) CheckPost(p Post) error {
	return l.check(p.Text, p.Files, p.Buttons, p.Menus)
}

// CheckReply says which limit the answer is beyond, its form included; nil: none.
func (l Limits) CheckReply(r Reply) error {
	if err := l.check(r.Text, r.Files, r.Buttons, r.Menus); err != nil {
		return err
	}
	if r.Form == nil {
		return nil
	}
	return l.CheckForm(*r.Form)
}

// CheckForm says which limit the form is beyond; nil: none.
func (l Limits) CheckForm(f Form) error {
	var c checker
	c.most("fields", len(f.Fields), l.Fields)
	c.most("files", len(f.Files), l.Files)
	c.bytes("the form's action", f.Action, l.Action)
	c.chars("the form's title", f.Title, l.Title)
	for _, x := range f.Fields {
		c.bytes("a field's key", x.Key, l.Action)
		c.chars("a field's label", x.Label, l.Title)
		c.chars("a field's hint", x.Hint, l.Line)
		c.chars("a field's value", x.Value, l.Value)
	}
	for _, x := range f.Files {
		c.size("the file "+x.Name, len(x.Data), l.File, "bytes")
	}
	return c.err
}

func (l Limits) check(text string, files []File, buttons []Button, menus []Menu) error {
	var c checker
	c.size("the text", l.Size(text), l.Text, "characters")
	c.most("files", len(files), l.Files)
	c.most("menus", len(menus), l.Menus)
	if l.Rows > 0 {
		c.most("menus", len(menus), l.Rows)
	}
	if room := l.Room(len(menus)); len(buttons) > room {
		c.fail("%d buttons, more than the %d there is room for", len(buttons), room)
	}
	for _, b := range buttons {
		c.bytes("a button's action", b.Action, l.Action)
		c.chars("a button's label", b.Label, l.Label)
	}
	for _, m := range menus {
		c.bytes("a menu's action", m.Action, l.Action)
		c.chars("a menu's label", m.Label, l.Line)
		c.most("options", len(m.Options), l.Options)
		if n := len(m.Chosen()); n > max(m.Max, 1) {
			c.fail("%d options of the menu %q are chosen, of at most %d", n, m.Action, max(m.Max, 1))
		}
		for _, o := range m.Options {
			c.chars("an option's value", o.Value, l.Line)
			c.chars("an option's label", o.Label, l.Line)
			c.chars("an option's note", o.Note, l.Line)
		}
	}
	for _, f := range files {
		c.size("the file "+f.Name, len(f.Data), l.File, "bytes")
	}
	return c.err
}

// checker keeps the first limit that something was beyond.
type checker struct{ err error }

func (c *checker) fail(format string, args ...any) {
	if c.err == nil {
		c.err = fmt.Errorf(format, args...)
	}
}

func (c *checker) most(what string, n, limit int) {
	if limit > 0 && n > limit {
		c.fail("%d %s, more than %d", n, what, limit)
	}
}

func (c *checker) size(what string, n, limit int, unit string) {
	if limit > 0 && n > limit {
		c.fail("%s has %d %s, more than %d", what, n, unit, limit)
	}
}

func (c *checker) chars(what, s string, limit int) {
	c.size(fmt.Sprintf("%s %q", what, s), utf8.RuneCountInString(s), limit, "characters")
}

func (c *checker) bytes(what, s string, limit int) {
	c.size(fmt.Sprintf("%s %q", what, s), len(s), limit, "bytes")
}
