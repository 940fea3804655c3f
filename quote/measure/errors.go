package measure

import (
	"fmt"
	"strings"
	"unicode"
)

// quoted puts what a person typed in curly quotes: Go's own would put a backslash before each inch sign. Unprintable
// characters are replaced, so that a message stays on one line.
func quoted(s string) string {
	return "“" + strings.Map(func(r rune) rune {
		if unicode.IsPrint(r) {
			return r
		}
		if unicode.IsSpace(r) {
			return ' '
		}
		return unicode.ReplacementChar
	}, s) + "”"
}

// Ambiguous is text with two meanings; Readings gives both, in words to choose from.
type Ambiguous struct {
	Text     string
	Readings []string
}

func (e *Ambiguous) Error() string {
	return fmt.Sprintf("%s could mean %s; write the one you mean", quoted(e.Text), strings.Join(e.Readings, " or "))
}

// MissingUnit is a bare number where no unit was agreed on.
type MissingUnit struct {
	Text string
}

func (e *MissingUnit) Error() string {
	return fmt.Sprintf("%s has no unit; write %s or %s", quoted(e.Text), quoted(e.Text+" cm"), quoted(e.Text+" in"))
}

// NotUnderstood is text that is not a length; Part is what was not understood, empty if it is the whole.
type NotUnderstood struct {
	Text, Part, Why string
}

func (e *NotUnderstood) Error() string {
	if e.Part == "" || e.Part == e.Text {
		return fmt.Sprintf("%s %s", quoted(e.Text), e.Why)
	}
	return fmt.Sprintf("%s in %s %s", quoted(e.Part), quoted(e.Text), e.Why)
}

// OutOfRange is a length that no body measurement can have.
type OutOfRange struct {
	Text, Why string
}

func (e *OutOfRange) Error() string { return fmt.Sprintf("%s %s", quoted(e.Text), e.Why) }
