package measure

import (
	"fmt"
	"strings"
)

// Ambiguous is text that means two things; Readings says both, in words to choose from.
type Ambiguous struct {
	Text     string
	Readings []string
}

func (e *Ambiguous) Error() string {
	return fmt.Sprintf("%q could mean %s, write the one you mean", e.Text, strings.Join(e.Readings, " or "))
}

// MissingUnit is a bare number where no unit is agreed.
type MissingUnit struct {
	Text string
}

func (e *MissingUnit) Error() string {
	return fmt.Sprintf("%q has no unit, write %q or %q", e.Text, e.Text+" cm", e.Text+" in")
}

// NotUnderstood is text that is no length; Part is what was not understood, empty where it is the whole.
type NotUnderstood struct {
	Text, Part, Why string
}

func (e *NotUnderstood) Error() string {
	if e.Part == "" || e.Part == e.Text {
		return fmt.Sprintf("%q %s", e.Text, e.Why)
	}
	return fmt.Sprintf("%q in %q %s", e.Part, e.Text, e.Why)
}

// OutOfRange is a length that no body measurement has.
type OutOfRange struct {
	Text, Why string
}

func (e *OutOfRange) Error() string { return fmt.Sprintf("%q %s", e.Text, e.Why) }
