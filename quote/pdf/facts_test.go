package pdf

import (
	"strings"
	"testing"

	"benchbell/quote/draw"
)

// What a client wrote is part of what is agreed: a thousand characters are printed in full.
func TestLongNotesWhole(t *testing.T) {
	notes := strings.Repeat("a dozen words of notes ", 43) + "to the last word"
	lines := draw.Fit(draw.Regular, bodySize, 51, notes, factLines)
	if len(notes) < 1000 || !strings.HasSuffix(lines[len(lines)-1], "last word") {
		t.Errorf("%d characters end with %q", len(notes), lines[len(lines)-1])
	}
}
