package floor

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// The pictures of the shop plan say how much of it they show.
func TestPicturesSayHowManyDays(t *testing.T) {
	p := planned(t, opened(t, 4), shopNow)
	end := time.Time{}
	for _, x := range p.Plan.Operations {
		end = latest(end, x.End)
	}
	if end.Before(shopNow.AddDate(0, 0, shownDays)) {
		t.Fatalf("the plan ends %v, and all of it is drawn", end)
	}
	if said := p.sh.picture(p.Plan, shownDays).Legend[1]; !strings.HasPrefix(said, "The next 7 of the plan's ") {
		t.Errorf("the key says %q", said)
	}
	if said := p.sh.picture(p.Plan, 300).Legend[1]; said != "All of the plan is drawn." {
		t.Errorf("with all drawn the key says %q", said)
	}
	pics, err := p.Draw()
	if err != nil || len(pics) == 0 || len(pics) > shownPictures {
		t.Fatalf("%d pictures, %v", len(pics), err)
	}
	if dir := os.Getenv("BENCHBELL_SHOTS"); dir != "" {
		for _, x := range pics {
			if err := os.WriteFile(filepath.Join(dir, x.Name), x.Data, 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
}
