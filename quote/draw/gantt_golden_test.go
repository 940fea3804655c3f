package draw

import (
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"benchbell/quote/gaugetest"
)

// plans are scenes of Gantts, by name.
var plans = sync.OnceValue(func() map[string][]Scene {
	out := map[string][]Scene{}
	for _, n := range []int{1, 3, 12} {
		out[fmt.Sprintf("shop-%d", n)] = Gantts(shopPlan(n))
		out[fmt.Sprintf("shop-%d-upright", n)] = Gantts(upright(shopPlan(n)))
		out[fmt.Sprintf("shop-%d-phone", n)] = Gantts(phone(shopPlan(n)))
	}
	return out
})

func TestGoldenPlans(t *testing.T) {
	for name, scenes := range plans() {
		for i, s := range scenes {
			if *pictures != "" {
				scale := 5.0
				if s.Width < narrow {
					scale = 390 / float64(s.Width) * 2 // a phone of two dots a pixel
				}
				data, err := s.PNG(scale)
				if err != nil {
					t.Fatal(err)
				}
				if err := os.WriteFile(filepath.Join(*pictures, fmt.Sprintf("%s-%d.png", name, i+1)), data, 0o644); err != nil {
					t.Fatal(err)
				}
			}
			if i > 0 { // the first scene of each is enough to see a change
				continue
			}
			gaugetest.Golden(t, filepath.Join("testdata", name+".svg"), s.SVG())
		}
	}
}
