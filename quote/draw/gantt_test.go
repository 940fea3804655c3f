package draw

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"benchbell/quote/geom"
)

// words are the texts of a scene.
func words(s Scene) map[string]int {
	out := map[string]int{}
	for _, f := range s.Figures {
		if f.Text != nil {
			out[f.Text.Value]++
		}
	}
	return out
}

func TestEveryOperationIsNamed(t *testing.T) {
	for _, n := range []int{1, 12, 60} {
		p := samplePlan(n, 2)
		s := Gantt(p)
		w := words(s)
		for _, l := range p.Lanes {
			for _, b := range l.Bars {
				number := fmt.Sprint(b.Number)
				found := w[number] > 0
				for v := range w {
					found = found || strings.HasPrefix(v, number+" ")
				}
				if !found {
					t.Errorf("of %d operations number %s is not on the picture", n, number)
				}
			}
		}
		if w["now"] != 1 || w["promised "+p.Promise.Format("Mon 2 Jan")] != 1 {
			t.Errorf("now or the promise is missing with %d operations", n)
		}
	}
}

// Time runs from left to right whatever the shop's hours, and the axis ends where it should.
func TestAxisRunsForward(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		begin := time.Date(2026, 11, 30, 0, 0, 0, 0, zone)
		hour := func(name string) time.Time {
			return begin.Add(time.Duration(rapid.IntRange(-100, 900).Draw(t, name)) * time.Hour)
		}
		whole := Span{begin, begin.Add(time.Duration(rapid.IntRange(24, 800).Draw(t, "hours")) * time.Hour)}
		var open []Span
		for range rapid.IntRange(0, 6).Draw(t, "n") {
			open = append(open, Span{hour("from"), hour("to")})
		}
		a := newAxis(whole, open, 10, 210)
		if x0, x1 := a.x(whole.From), a.x(whole.To); x0 != 10 || x1 < 210-1e-9 || x1 > 210+1e-9 {
			t.Fatalf("the axis runs from %v to %v", x0, x1)
		}
		p, q := hour("p"), hour("q")
		if p.After(q) {
			p, q = q, p
		}
		if a.x(p) > a.x(q)+1e-9 {
			t.Fatalf("%v lies right of %v", p, q)
		}
	})
}

// Closed hours take up no more than their share of the width.
func TestClosedTimeIsNarrow(t *testing.T) {
	p := samplePlan(60, 2)
	a := newAxis(extent(p), p.Open, 0, 100)
	open := 0.0
	for _, o := range a.open {
		open += a.x(o.To) - a.x(o.From)
	}
	if open < 100*(1-closedShare)-1e-6 {
		t.Errorf("open hours take %.1f %% of the width", open)
	}
}

// Days begin at the zone's midnights, even when the clocks change: Central Europe has 25 hours on 25 October 2026
// (Directive 2000/84/EC: the last Sunday of October at 01:00 UTC).
func TestDaysFollowTheZone(t *testing.T) {
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Skipf("did not run: no zone files: %v", err)
	}
	days := midnights(time.Date(2026, 10, 24, 15, 0, 0, 0, berlin), time.Date(2026, 10, 27, 9, 0, 0, 0, berlin), berlin)
	if len(days) != 4 {
		t.Fatalf("%d days", len(days))
	}
	for i, d := range days {
		if h, m, _ := d.In(berlin).Clock(); h != 0 || m != 0 || d.In(berlin).Day() != 24+i {
			t.Errorf("day %d begins at %v", i, d)
		}
	}
	if got := days[2].Sub(days[1]); got != 25*time.Hour {
		t.Errorf("25 October has %v", got)
	}
}

// Bars of one lane that overlap in time get rows of their own.
func TestOverlappingBarsGetRows(t *testing.T) {
	at := func(h int) time.Time { return time.Date(2026, 11, 30, h, 0, 0, 0, zone) }
	g := PlanPicture{Zone: zone, From: at(8), To: at(40), Lanes: []Lane{{"Rack", []Bar{
		{Number: 1, Title: "a", Spans: []Span{{at(9), at(12)}}, Kind: "cut"}, {Number: 2, Title: "b", Spans: []Span{{at(10), at(13)}}, Kind: "cut"}, {Number: 3, Title: "c", Spans: []Span{{at(12), at(14)}}, Kind: "cut"}}}}}
	var tops []float64
	for _, f := range Gantt(g).Figures {
		if f.Shape != nil && f.Style.Fill == kindLooks["cut"].tone && f.Shape.Bounds().Height() > 4 {
			tops = append(tops, f.Shape.Bounds().Min.Y)
		}
	}
	if len(tops) != 3 || tops[0] == tops[1] || tops[0] != tops[2] {
		t.Errorf("the bars lie at %v, want the first and third in one row", tops)
	}
}

// A cure goes beneath the lane it names; cures of an unknown lane are not lost.
func TestEveryCureIsDrawn(t *testing.T) {
	p := samplePlan(20, 3)
	p.Cures = append(p.Cures, CureBar{Title: "cement, tacky", Lane: "Maker 1", From: p.From, Ready: p.From.Add(20 * time.Minute)})
	s := Gantt(p)
	n := 0
	for _, f := range s.Figures {
		if h := f.Style.Hatch; h != nil && *h == *cureStyle.Hatch {
			n++
		}
	}
	if want := len(p.Cures) + 1; n != want { // one is the key's
		t.Errorf("%d hatched bars of %d", n, want)
	}
	if words(s)["Drying: shoulders"] != 1 {
		t.Error("the lane of cures has no title")
	}
}

// Nothing lies outside the picture.
func TestPicturesKeepWithinThemselves(t *testing.T) {
	for name, s := range samples() {
		w, h := s.Size()
		for _, f := range s.Figures {
			b := geom.EmptyBox()
			switch {
			case f.Text != nil:
				if f.Text.Turn != 0 {
					continue
				}
				x := f.Text.At.X
				l := float64(TextWidth(f.Text.Font, f.Text.Size, f.Text.Value))
				switch f.Text.Anchor {
				case Middle:
					x -= l / 2
				case End:
					x -= l
				}
				b = b.Extend(geom.Pt(x, f.Text.At.Y)).Extend(geom.Pt(x+l, f.Text.At.Y))
			case f.Shape != nil:
				b = f.Shape.Bounds()
			default:
				b = f.Path.Bounds()
			}
			const slack = 0.5 // half a stroke, the side bearings of letters
			if b.Min.X < -slack || b.Min.Y < -slack || b.Max.X > float64(w)+slack || b.Max.Y > float64(h)+slack {
				t.Errorf("%s: a figure lies at %v of %v × %v (%v)", name, b, w, h, f.Text)
			}
		}
	}
}

func FuzzPrintable(f *testing.F) {
	for _, s := range []string{"", "plain", "Zoe\u0308", "\U0001F9D1\u200d\U0001F680", "\xff\xfe", "漢字"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		p := Printable(s)
		if Printable(p) != p {
			t.Errorf("%q does not stay", p)
		}
		for _, r := range p {
			if !faces()[Regular].has(r) {
				t.Errorf("%q is not in the font", r)
			}
		}
	})
}

// A kind looks the same in every plan, and in one key no look stands twice.
func TestKindsKeepTheirLooks(t *testing.T) {
	at := func(h int) time.Time { return time.Date(2026, 11, 30, h, 0, 0, 0, zone) }
	kinds := []string{"cut", "bevel", "score", "form", "glue", "layer", "punch", "seal", "prime", "paint", "wash", "clear", "hardware", "fit", "pack", "lacing", "engraving"}
	looks := func(kinds ...string) map[string]pattern {
		g := PlanPicture{Zone: zone, From: at(8), To: at(40)}
		for i, k := range kinds {
			g.Lanes = append(g.Lanes, Lane{k, []Bar{{Number: i + 1, Title: k, Kind: k, Spans: []Span{{at(9), at(12)}}}}})
		}
		c, out := newGantt(g), map[string]pattern{}
		for _, k := range kinds {
			out[k] = c.kindLook(k)
		}
		if w := words(Gantt(g)); w[kinds[0]] == 0 {
			t.Errorf("the key does not name %s", kinds[0])
		}
		return out
	}
	all := looks(kinds...)
	for _, a := range kinds {
		for _, b := range kinds {
			if a != b && all[a] == all[b] {
				t.Errorf("%s and %s look alike", a, b)
			}
		}
		if p := all[a]; p.lines() && p.first.Angle == cureStyle.Hatch.Angle {
			t.Errorf("%s looks like a cure", a)
		}
	}
	for k, p := range looks("clear", "wash", "cut") {
		if p != all[k] {
			t.Errorf("%s has another look in another plan", k)
		}
	}
}

// Numbers stand at their bars; where there is no room, they are left out and the picture says so.
func TestNumbersStandAtTheirBars(t *testing.T) {
	begin := time.Date(2026, 11, 30, 8, 0, 0, 0, zone)
	g := PlanPicture{Zone: zone, From: begin, To: begin.AddDate(0, 0, 20)}
	var bars []Bar
	where := map[string]time.Time{}
	for i := range 100 { // four minutes each: all within the first day
		from := begin.Add(time.Duration(i) * 5 * time.Minute)
		bars = append(bars, Bar{Number: i + 1, Title: fmt.Sprint("work ", i+1), Spans: []Span{{from, from.Add(4 * time.Minute)}}})
		where[fmt.Sprint(i+1)] = from
	}
	g.Lanes = []Lane{{"Maker", bars}}
	s, c := Gantt(g), newGantt(g)
	c.axis = newAxis(extent(g), nil, c.left, c.right)
	n := 0
	for _, f := range s.Figures {
		if f.Text == nil || f.Text.Font != Bold || f.Text.Size != barTextFine || where[f.Text.Value].IsZero() {
			continue
		}
		n++
		w := float64(TextWidth(Bold, barTextFine, f.Text.Value))
		if far := f.Text.At.X + w/2 - c.x(where[f.Text.Value]); far > (astray+0.6)*w {
			t.Errorf("number %s stands %.1f mm from its bar", f.Text.Value, far)
		}
	}
	if n < 3 || n == len(bars) {
		t.Errorf("%d of %d numbers stand there", n, len(bars))
	}
	if words(s)["Bars too close together stand without their numbers."] != 1 {
		t.Error("the picture does not say that numbers are left out")
	}
}

// A day on which the shop is closed and something cures is shaded and has its hours.
func TestClosedDayIsShaded(t *testing.T) {
	day := func(d, h int) time.Time { return time.Date(2026, 12, d, h, 0, 0, 0, zone) }
	g := PlanPicture{Zone: zone, Width: 90, From: day(4, 0), Open: []Span{{day(4, 9), day(4, 17)}},
		Cures: []CureBar{{Title: "varnish", Lane: "Curing", From: day(5, 0), Ready: day(5, 15)}}}
	c := newGantt(g)
	c.strip(strip{Span{day(5, 0), day(6, 0)}, c.lanes()}, 0)
	shaded := false
	for _, f := range c.Figures {
		shaded = shaded || f.Shape != nil && f.Style.Fill == closedFill && math.Abs(float64(f.Shape.Bounds().Width())-(c.right-c.left)) < 1e-6
	}
	if !shaded {
		t.Error("the day is not shaded")
	}
	if w := words(c.Scene); w["6"] != 1 || w["12"] != 1 {
		t.Errorf("the day has no hours: %v", w)
	}
}
