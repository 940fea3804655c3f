package pdf

import (
	"fmt"
	"os/exec"
	"strings"
	"testing"

	"benchbell/quote/gaugetest"
)

// What a client wrote belongs to what is agreed: a thousand characters are printed whole, in either column. Source of
// the check: poppler's pdftotext.
func TestLongNotesWhole(t *testing.T) {
	pdftotext := gaugetest.Tool(t, "pdftotext")
	var words []string
	for i := range 130 {
		words = append(words, fmt.Sprintf("note%03d", i))
	}
	notes := strings.Join(words, " ")
	if len(notes) < 1000 {
		t.Fatalf("the notes have %d characters, too few to show anything", len(notes))
	}
	for column, facts := range map[string][]Fact{
		"left":  {{Label: "Notes", Value: notes}, {Label: "Side", Value: "left"}},
		"right": {{Label: "Side", Value: "left"}, {Label: "Notes", Value: notes}},
	} {
		d := ordinary()
		d.Facts = facts
		out, err := exec.Command(pdftotext, "-layout", written(t, d), "-").Output()
		if err != nil {
			t.Fatal(err)
		}
		for _, w := range words {
			if n := strings.Count(string(out), w); n != 1 {
				t.Errorf("%s: %s is printed %d times", column, w, n)
			}
		}
	}
}
