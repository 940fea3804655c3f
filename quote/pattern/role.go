package pattern

import (
	"slices"
	"strings"
	"unicode"

	"benchbell/quote/drawing"
	"benchbell/quote/foam"
)

// Roles: what a line means at the bench.
const (
	roleOutline = "outline" // cut and graded; one closed line per piece
	roleHole    = "hole"    // cut out, graded with the piece
	roleSlot    = "slot"    // cut out and never scaled (webbing slots, buckle windows)
	roleDrill   = "drill"   // a circle that moves but keeps its diameter
	roleRow     = "row"     // line with equal holes along it, spaced after grading
	roleScore   = "score"   // cut part-way
	roleNotch   = "notch"   // drawn, where joined edges must meet
	roleBend    = "bend"    // drawn, axis of a bend
	roleSeat    = "seat"    // drawn, place of hardware, never scaled
	roleAlign   = "align"   // drawn, outline of a layer above
	rolePoint   = "point"   // circle on the outline that names an end of an edge
	roleGuide   = "guide"   // for the designer only; skipped
)

var roles = []string{roleOutline, roleHole, roleSlot, roleDrill, roleRow, roleScore, roleNotch, roleBend, roleSeat, roleAlign, rolePoint, roleGuide}

// roleOf is the role that the drawing itself gives a line: by class, else by the object's name, else by the innermost group
// or layer named after a role. Empty: the drawing does not say. A group that is a piece in the spec sheet is not a role,
// whatever its name; ids are those pieces.
func roleOf(l *drawing.Line, ids []string) string {
	if r := classRole(l.Class); r != "" {
		return r
	}
	for _, name := range []string{l.Label, l.ID} {
		if r := namesRole(name); r != "" {
			return r
		}
	}
	for _, g := range slices.Backward(l.Groups) {
		if named(g, ids) {
			return ""
		}
		if r := groupRole(g); r != "" {
			return r
		}
	}
	return namesRole(l.Layer)
}

// named reports whether the group has the name of a piece in the spec sheet.
func named(g drawing.Group, ids []string) bool {
	return index(ids, slug(g.ID)) >= 0 || index(ids, slug(g.Label)) >= 0
}

func classRole(classes []string) string {
	for _, c := range classes {
		if index(roles, c) >= 0 {
			return c
		}
		if bend, _ := bendForm(c); bend {
			return roleBend
		}
	}
	return ""
}

func groupRole(g drawing.Group) string {
	for _, r := range []string{classRole(g.Class), namesRole(g.Label), namesRole(g.ID)} {
		if r != "" {
			return r
		}
	}
	return ""
}

// namesRole reads "Score", "scores", "score lines", "SCORE-2", "bend-toward" as a role; "" if the name is not one.
func namesRole(name string) string {
	n := bareName(name)
	for _, r := range roles {
		if n == r || n == r+"s" || n == r+"es" {
			return r
		}
	}
	if bend, _ := bendForm(n); bend {
		return roleBend
	}
	return ""
}

// formOf says to which side a bend line is formed: from its data-form, else its class, its own name, or the innermost group
// or layer called bend-toward or bend-away. Without any of these it goes away from the drawn face.
func formOf(l *drawing.Line) foam.Form {
	if f, ok := l.Data["form"]; ok {
		return foam.Form(strings.ToLower(strings.TrimSpace(f)))
	}
	names := append(slices.Clone(l.Class), l.Label, l.ID)
	for _, g := range slices.Backward(l.Groups) {
		names = append(append(names, g.Class...), g.Label, g.ID)
	}
	for _, name := range append(names, l.Layer) {
		if bend, form := bendForm(bareName(name)); bend {
			return form
		}
	}
	return foam.Away
}

// bendForm reads the bare name "bend-toward" or "bend away" as a bend and its form.
func bendForm(bare string) (bool, foam.Form) {
	for _, f := range []foam.Form{foam.Away, foam.Toward} {
		if head, ok := strings.CutSuffix(bare, string(f)); ok && strings.TrimRight(head, "-_ ") == roleBend {
			return true, f
		}
	}
	return false, ""
}

// bareName is a name in lower case without a number or the word line or mark at its end.
func bareName(name string) string {
	n := strings.ToLower(strings.TrimSpace(name))
	n = strings.TrimRight(n, "0123456789-_. ")
	for _, tail := range []string{"lines", "line", "marks", "mark"} {
		n = strings.TrimRight(strings.TrimSuffix(n, tail), "-_ ")
	}
	return n
}

// validID reports whether s can name a piece, an edge or a point: letters, digits and hyphens.
func validID(s string) bool {
	if s == "" || len(s) > maxID {
		return false
	}
	for _, c := range s {
		if !idRune(c) {
			return false
		}
	}
	return true
}

const maxID = 40

func idRune(c rune) bool {
	return c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9' || c == '-'
}

// plainLetters replaces the most common accented letters, so that a name keeps its sound as an id.
var plainLetters = strings.NewReplacer("ä", "ae", "ö", "oe", "ü", "ue", "Ä", "Ae", "Ö", "Oe", "Ü", "Ue", "ß", "ss",
	"á", "a", "à", "a", "â", "a", "å", "a", "ã", "a", "é", "e", "è", "e", "ê", "e", "ë", "e", "í", "i", "î", "i", "ó", "o",
	"ô", "o", "õ", "o", "ø", "o", "ú", "u", "û", "u", "ñ", "n", "ç", "c", "æ", "ae", "œ", "oe", "'", "", "’", "")

// slug makes an id from any name; "" if nothing of it is left.
func slug(name string) string {
	var b strings.Builder
	for _, c := range plainLetters.Replace(name) {
		switch {
		case b.Len() >= maxID:
		case idRune(c):
			b.WriteRune(c)
		case b.Len() > 0 && !strings.HasSuffix(b.String(), "-"):
			b.WriteByte('-')
		}
	}
	return strings.Trim(b.String(), "-")
}

// ownName is the name a person gave a group: its id, unless an editor made it up, else its label, unless the editor made
// that up too.
func ownName(g drawing.Group) string {
	for _, n := range []string{g.ID, g.Label} {
		if n != "" && !madeUp(n) {
			return n
		}
	}
	return ""
}

// madeUp recognises names that editors make up: "g123", "layer1", "Layer 1", "group-2", "0", "default".
func madeUp(name string) bool {
	n := strings.ToLower(strings.TrimRightFunc(name, func(c rune) bool {
		return unicode.IsDigit(c) || c == '-' || c == '_' || c == ' ' || c == '.'
	}))
	switch n {
	case "", "layer", "group", "svg", "default", "defpoints", "block", "xmlid":
		return true
	case "g", "path", "use", "rect", "circle", "ellipse", "polygon", "polyline", "line":
		return len(n) < len(name)
	}
	return false
}

// clip shortens what an error quotes.
func clip(s string) string {
	if len(s) > 40 {
		return strings.ToValidUTF8(s[:40], "") + "…"
	}
	return s
}

// plain is a name as one line of printable text, at most 60 characters.
func plain(s string) string {
	s = strings.Map(func(c rune) rune {
		if unicode.IsPrint(c) && c != unicode.ReplacementChar {
			return c
		}
		return ' '
	}, strings.ToValidUTF8(s, " "))
	r := []rune(strings.Join(strings.Fields(s), " "))
	if len(r) > 60 {
		r = r[:60]
	}
	return strings.TrimSpace(string(r))
}
