package figure

import (
	"testing"

	"benchbell/quote/draw"
	"benchbell/quote/measure"
)

// Every measurement has a picture of its own that shows a tape or a line and words, and is larger than words alone.
func TestEveryMeasurementHasACloseUp(t *testing.T) {
	for _, d := range measure.All() {
		if _, ok := closeUps[d.Key]; !ok {
			t.Errorf("%s has no picture", d.Key)
			continue
		}
		s := HowToOne(Entry{d.Key, d.Label, d.How})
		words := 0
		for _, f := range s.Figures {
			if f.Text == nil {
				continue
			}
			w := float64(draw.TextWidth(f.Text.Font, f.Text.Size, f.Text.Value))
			left := f.Text.At.X
			if f.Text.Anchor == draw.Middle {
				left -= w / 2
			}
			if left < 0 || left+w > float64(s.Width) || f.Text.At.Y > float64(s.Height) {
				t.Errorf("%s: %q is outside the picture", d.Key, f.Text.Value)
			}
			if f.Text.Font == draw.Bold && f.Text.Size == noteSize {
				words++
			}
		}
		if words < 1 {
			t.Errorf("%s: no word in the picture", d.Key)
		}
		golden(t, "one-"+d.Key, s)
	}
	for k := range closeUps {
		if _, ok := measure.Lookup(k); !ok {
			t.Errorf("there is a picture of %s, which is no measurement", k)
		}
	}
	words := HowToOne(Entry{"tail-length", "Tail length", "Along the tail."})
	if len(words.Figures) == 0 || words.Height > window {
		t.Error("an unknown key has not its words alone")
	}
}
