package figure

import (
	"testing"

	"benchbell/quote/draw"
	"benchbell/quote/measure"
)

// Every measurement there is has a place on the figure, so that no form is without its picture.
func TestEveryMeasurementHasAPlace(t *testing.T) {
	for _, d := range measure.All() {
		if _, ok := newModel(nil).places()[d.Key]; !ok {
			t.Errorf("%s has no place on the figure", d.Key)
		}
	}
	for k := range newModel(nil).places() {
		if _, ok := measure.Lookup(k); !ok {
			t.Errorf("the figure shows %s, which is no measurement", k)
		}
	}
}

// The picture grows with its text and holds every number; unknown keys are listed all the same.
func TestHowTo(t *testing.T) {
	var es []Entry
	for _, d := range measure.All() {
		es = append(es, Entry{d.Key, d.Label, d.How})
	}
	s := HowTo(es)
	for _, f := range s.Figures {
		if f.Text != nil && (f.Text.At.X < 0 || f.Text.At.Y > float64(s.Height) || f.Text.At.X+float64(draw.TextWidth(f.Text.Font, f.Text.Size, f.Text.Value)) > float64(s.Width)+1) && f.Text.Anchor == draw.Start {
			t.Errorf("%q is outside the picture", f.Text.Value)
		}
	}
	if len(HowTo([]Entry{{"tail-length", "Tail length", "along the tail"}}).Figures) == 0 {
		t.Error("an unknown key is not listed")
	}
	golden(t, "howto-all", s)
	golden(t, "howto-some", HowTo(es[:4]))
}
