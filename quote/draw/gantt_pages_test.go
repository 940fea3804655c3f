package draw

import (
	"bytes"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"benchbell/quote/geom"
)

// textBox is about what a line of text covers: from its baseline to the height of its capitals.
func textBox(t *Text) geom.Box {
	x, w := t.At.X, float64(TextWidth(t.Font, t.Size, t.Value))
	switch t.Anchor {
	case Middle:
		x -= w / 2
	case End:
		x -= w
	}
	return geom.EmptyBox().Extend(geom.Pt(x, t.At.Y)).Extend(geom.Pt(x+w, t.At.Y-0.7*float64(t.Size)))
}

// On paper no text of a plan is smaller than 2 mm, nothing lies outside of the picture or higher than asked, and no two
// texts lie on each other.
func TestPlansAreLegible(t *testing.T) {
	limits := map[string]float64{"": ganttHigh, "-upright": 220, "-phone": 300}
	for name, scenes := range plans() {
		_, kind, _ := strings.Cut(strings.TrimPrefix(name, "shop-"), "-")
		if kind != "" {
			kind = "-" + kind
		}
		for i, s := range scenes {
			if float64(s.Height) > limits[kind] {
				t.Errorf("%s: scene %d is %.0f mm high, at most %.0f mm are asked for", name, i+1, s.Height, limits[kind])
			}
			var boxes []geom.Box
			var texts []string
			for _, f := range s.Figures {
				if f.Text == nil {
					continue
				}
				if f.Text.Size < leastText {
					t.Errorf("%s: %q is %.1f mm small", name, f.Text.Value, f.Text.Size)
				}
				b := textBox(f.Text)
				const slack = 0.5 // side bearings of letters
				if b.Min.X < -slack || b.Min.Y < -slack || b.Max.X > float64(s.Width)+slack || b.Max.Y > float64(s.Height)+slack {
					t.Errorf("%s, scene %d: %q lies at %v of %v × %v", name, i+1, f.Text.Value, b, s.Width, s.Height)
				}
				for k, o := range boxes {
					if math.Min(b.Max.X, o.Max.X)-math.Max(b.Min.X, o.Min.X) > 0.1 && math.Min(b.Max.Y, o.Max.Y)-math.Max(b.Min.Y, o.Min.Y) > 0.1 {
						t.Errorf("%s, scene %d: %q lies on %q", name, i+1, f.Text.Value, texts[k])
					}
				}
				boxes, texts = append(boxes, b), append(texts, f.Text.Value)
			}
		}
	}
}

// marks of a plan's scenes, those of their keys counted, too.
type marks struct {
	words                         map[string]int
	hatched, brackets, now, bands int
}

func marksOf(scenes []Scene) marks {
	m := marks{words: map[string]int{}}
	for _, s := range scenes {
		for _, f := range s.Figures {
			switch {
			case f.Text != nil:
				m.words[f.Text.Value]++
			case f.Shape != nil && f.Style.Hatch == cureStyle.Hatch:
				m.hatched++
			case f.Shape != nil && f.Style.Fill == Ink && math.Abs(float64(f.Shape.Bounds().Height())-frozenBand) < 1e-9:
				m.bands++
			case len(f.Path) == 4 && f.Style.Width == windowMark.Width:
				m.brackets++
			}
		}
		m.now += words(s)["now"]
	}
	return m
}

func key(scenes []Scene, text string) (n int) {
	for _, s := range scenes {
		n += words(s)[text]
	}
	return n
}

// Cut into scenes, a plan loses nothing: every operation is numbered in each of its lanes and named, every cure and
// each opening and closing of its windows is there, now is marked once and every promise.
func TestScenesHoldTheWholePlan(t *testing.T) {
	for _, n := range []int{1, 3, 12} {
		for form, g := range map[string]PlanPicture{"across": shopPlan(n), "upright": upright(shopPlan(n)), "phone": phone(shopPlan(n))} {
			scenes := Gantts(g)
			c := newGantt(g)
			m := marksOf(scenes)
			starts := func(prefix string) (n int) {
				for w, k := range m.words {
					if w == prefix || strings.HasPrefix(w, prefix+" ") {
						n += k
					}
				}
				return n
			}
			lanes, frozen := map[string]int{}, 0
			for _, l := range g.Lanes {
				for _, b := range l.Bars {
					lanes[c.number(b)+"\x00"+b.Title]++
					if b.Frozen {
						frozen += len(b.Spans)
					}
				}
			}
			for id, k := range lanes {
				number, title, _ := strings.Cut(id, "\x00")
				if starts(number) < k {
					t.Errorf("%d commissions, %s: number %s stands %d times, its operation is in %d lanes", n, form, number, starts(number), k)
				}
				if m.words[title] == 0 && starts(number+"  "+title) == 0 {
					t.Errorf("%d commissions, %s: %s %q is named nowhere", n, form, number, title)
				}
			}
			brackets := 0
			for _, q := range g.Cures {
				for _, w := range q.allowed() {
					brackets++
					if !w.To.IsZero() {
						brackets++
					}
				}
			}
			if want := brackets + 2*key(scenes, "recoat window"); m.brackets != want {
				t.Errorf("%d commissions, %s: %d marks of windows, want %d", n, form, m.brackets, want)
			}
			if want := len(g.Cures) + key(scenes, "drying or setting"); m.hatched < want {
				t.Errorf("%d commissions, %s: %d cures are hatched of %d", n, form, m.hatched, want)
			}
			if want := frozen + key(scenes, "done, running or fixed"); m.bands != want {
				t.Errorf("%d commissions, %s: %d marks of frozen work, want %d", n, form, m.bands, want)
			}
			if m.now != 1 {
				t.Errorf("%d commissions, %s: now is marked %d times", n, form, m.now)
			}
			flagged := map[string]bool{}
			for _, s := range scenes {
				for _, f := range s.Figures {
					if f.Text != nil && f.Text.Color == Accent {
						for _, l := range strings.Split(f.Text.Value, ", ") {
							flagged[l] = true
						}
					}
				}
			}
			for _, p := range g.Promises {
				name := c.letter(p.Commission)
				if name == "" {
					name = "promised " + p.At.Format("Mon 2 Jan")
				}
				if !flagged[name] {
					t.Errorf("%d commissions, %s: the promise of %s has no flag", n, form, p.Commission)
				}
			}
		}
	}
}

// A letter that stands on a scene, on a bar, a cure or a flag, is explained on it: in its key the commission's name
// stands beside it.
func TestLettersAreExplained(t *testing.T) {
	lettered := regexp.MustCompile(`^([A-Z]{1,2})(\d+(  .*)?| after .*|)$`)
	for _, n := range []int{1, 3, 12, 30} {
		for form, g := range map[string]PlanPicture{"sheet": shopPlan(n), "phone": phone(shopPlan(n)), "upright": upright(shopPlan(n))} {
			name := map[string]string{} // of a letter, in the order of the promises
			for i, p := range g.Promises {
				name[strings.Repeat("A", i/26)+string(rune('A'+i%26))] = p.Commission // up to AZ
			}
			used := 0
			for i, s := range Gantts(g) {
				for v := range words(s) {
					m := lettered.FindStringSubmatch(v)
					if m == nil || n == 1 {
						continue
					}
					used++
					if !keyed(s, m[1], name[m[1]]) {
						t.Errorf("%d commissions, %s, scene %d: nothing says that %s in %q is %q", n, form, i+1, m[1], v, name[m[1]])
					}
				}
			}
			if n > 1 && used < n {
				t.Errorf("%d commissions, %s: only %d letters stand on it, so nothing is shown", n, form, used)
			}
		}
	}
}

// keyed says whether a scene has a name, cut short or not, beside a letter.
func keyed(s Scene, letter, name string) bool {
	for _, a := range s.Figures {
		if a.Text == nil || a.Text.Value != letter {
			continue
		}
		for _, b := range s.Figures {
			if b.Text == nil || b.Text.At.Y != a.Text.At.Y || b.Text.At.X <= a.Text.At.X || b.Text.At.X > a.Text.At.X+8 {
				continue
			}
			start, _, _ := strings.Cut(b.Text.Value, "…")
			if start = strings.TrimSpace(start); name != "" && len(start) > 4 && (strings.HasPrefix(start, name) || strings.HasPrefix(name, start)) {
				return true
			}
		}
	}
	return false
}

// Twelve commissions are told apart without colour: their lines differ, or, where both have none, their grey does.
func TestPatternsDifferInGrey(t *testing.T) {
	grey := func(c Color) float64 { // Rec. 709 luma
		r, g, b := c.RGB()
		return (0.2126*float64(r) + 0.7152*float64(g) + 0.0722*float64(b)) / 255
	}
	if len(patterns) < 12 {
		t.Errorf("there are %d patterns for 12 commissions", len(patterns))
	}
	for i, a := range patterns {
		if grey(a.tone) < 0.6 {
			t.Errorf("pattern %d is too dark for letters", i)
		}
		for j, b := range patterns[:i] {
			same := a.first == b.first && a.cross == b.cross
			if same && (a.lines() || math.Abs(grey(a.tone)-grey(b.tone)) < 0.15) {
				t.Errorf("patterns %d and %d look alike in grey", j, i)
			}
		}
		if a.lines() && math.Mod(a.first.Angle, 90) == math.Mod(cureStyle.Hatch.Angle, 90) {
			t.Errorf("pattern %d leans like the hatch of cures", i)
		}
	}
}

func TestCriticalBarsAreThicker(t *testing.T) {
	at := func(h int) time.Time { return time.Date(2026, 11, 30, h, 0, 0, 0, zone) }
	edge := func(critical bool) (width geom.MM, box geom.Box) {
		g := PlanPicture{Zone: zone, From: at(8), To: at(18), Lanes: []Lane{{"Maker", []Bar{{Number: 1, Spans: []Span{{at(9), at(12)}}, Critical: critical}}}}}
		for _, f := range Gantt(g).Figures {
			if f.Shape != nil && f.Style.Stroke == Ink && math.Abs(float64(f.Shape.Bounds().Height())-barHigh) < criticalEdge+1e-9 {
				return f.Style.Width, f.Shape.Bounds()
			}
		}
		return 0, geom.EmptyBox()
	}
	thin, outer := edge(false)
	thick, inner := edge(true)
	if thick < 2*thin || thin == 0 {
		t.Errorf("the outline of a critical bar is %v mm, of another %v mm", thick, thin)
	}
	if out := inner.Min.X - float64(thick)/2; out < outer.Min.X-1e-9 {
		t.Errorf("the critical outline leans over its neighbour: it reaches %v, the bar %v", out, outer.Min.X)
	}
}

func TestLettersOfCommissions(t *testing.T) {
	c := &gantt{}
	for i := range 800 {
		c.who = append(c.who, fmt.Sprint(i))
	}
	for i, want := range map[int]string{0: "A", 25: "Z", 26: "AA", 51: "AZ", 52: "BA", 701: "ZZ", 702: "AAA"} {
		if got := c.letter(fmt.Sprint(i)); got != want {
			t.Errorf("commission %d has the letter %s, want %s", i, got, want)
		}
	}
}

// Any plan comes out in scenes, twice the same, within the bound on their number.
func TestAnyPlanIsDrawn(t *testing.T) {
	moment := rapid.Custom(func(t *rapid.T) time.Time {
		return rapid.SampledFrom([]time.Time{{}, time.Date(2026, 11, 30, 9, 0, 0, 0, zone), time.Date(2026, 12, 24, 0, 0, 0, 0, zone), time.Date(9999, 1, 1, 0, 0, 0, 0, time.UTC)}).Draw(t, "t").
			Add(time.Duration(rapid.IntRange(-5000, 50000).Draw(t, "minutes")) * time.Minute)
	})
	span := rapid.Custom(func(t *rapid.T) Span { return Span{moment.Draw(t, "from"), moment.Draw(t, "to")} })
	name := rapid.OneOf(rapid.SampledFrom([]string{"", "C0007", "C0008", "C0009"}), rapid.String())
	size := rapid.OneOf(rapid.Float64Range(0, 400), rapid.Float64())
	rapid.Check(t, func(t *rapid.T) {
		bar := rapid.Custom(func(t *rapid.T) Bar {
			return Bar{Number: rapid.IntRange(-1, 200).Draw(t, "number"), Title: name.Draw(t, "title"), Kind: name.Draw(t, "kind"), Commission: name.Draw(t, "commission"),
				Spans: rapid.SliceOfN(span, 0, 3).Draw(t, "spans"), Critical: rapid.Bool().Draw(t, "critical"), Frozen: rapid.Bool().Draw(t, "frozen")}
		})
		cure := rapid.Custom(func(t *rapid.T) CureBar {
			return CureBar{Title: name.Draw(t, "title"), Lane: name.Draw(t, "lane"), From: moment.Draw(t, "from"), Ready: moment.Draw(t, "ready"), Latest: moment.Draw(t, "latest"),
				Commission: name.Draw(t, "commission"), Critical: rapid.Bool().Draw(t, "critical"), Windows: rapid.SliceOfN(span, 0, 3).Draw(t, "windows")}
		})
		g := PlanPicture{Title: name.Draw(t, "title"), From: moment.Draw(t, "from"), To: moment.Draw(t, "to"), Now: moment.Draw(t, "now"), Promise: moment.Draw(t, "promise"),
			Open: rapid.SliceOfN(span, 0, 5).Draw(t, "open"), Cures: rapid.SliceOfN(cure, 0, 4).Draw(t, "cures"),
			Width: geom.MM(size.Draw(t, "width")), Height: geom.MM(size.Draw(t, "height"))}
		for i := range rapid.IntRange(0, 3).Draw(t, "lanes") {
			g.Lanes = append(g.Lanes, Lane{fmt.Sprint("lane ", i), rapid.SliceOfN(bar, 0, 6).Draw(t, "bars")})
		}
		for range rapid.IntRange(0, 3).Draw(t, "promises") {
			g.Promises = append(g.Promises, PromiseMark{name.Draw(t, "of"), moment.Draw(t, "at")})
		}
		scenes, again := Gantts(g), Gantts(g)
		if len(scenes) == 0 || len(scenes) > mostStrips*(len(g.Lanes)+len(g.Cures)+1) {
			t.Fatalf("%d scenes", len(scenes))
		}
		for i, s := range scenes {
			if i > 2 {
				break // they are alike, and many
			}
			out := s.SVG()
			if bytes.Contains(out, []byte(`"NaN`)) || bytes.Contains(out, []byte(" NaN")) || bytes.Contains(out, []byte("Inf ")) {
				t.Fatal("the SVG has a coordinate that is no number")
			}
			if !bytes.Equal(out, again[i].SVG()) {
				t.Fatal("the same plan gives two pictures")
			}
		}
	})
}

// A cure whose next coat may go on at once or after two days shows both windows, and a line through the time between.
func TestSeveralWindowsAreMarked(t *testing.T) {
	at := func(h int) time.Time {
		return time.Date(2026, 11, 30, 0, 0, 0, 0, zone).Add(time.Duration(h) * time.Hour)
	}
	g := PlanPicture{Zone: zone, From: at(0), To: at(96), Cures: []CureBar{{Title: "enamel", Lane: "Rack", From: at(10), Ready: at(11),
		Windows: []Span{{at(11), at(12)}, {at(58), time.Time{}}}}}}
	var xs []float64
	for _, f := range Gantt(g).Figures {
		if len(f.Path) == 4 && f.Style.Width == windowMark.Width {
			xs = append(xs, f.Path[1].X)
		}
	}
	a := newAxis(Span{at(0), at(96)}, nil, laneTitle, ganttWidth-2)
	want := []float64{a.x(at(11)), a.x(at(12)), a.x(at(58))}
	if len(xs) < 3 || !slices.EqualFunc(xs[:3], want, func(a, b float64) bool { return math.Abs(a-b) < 1e-9 }) {
		t.Errorf("the windows are marked at %v, want %v and the key's two", xs, want)
	}
}

func BenchmarkGantts(b *testing.B) {
	g := shopPlan(12)
	for b.Loop() {
		Gantts(g)
	}
}

// The pages of one commission's plan end with its last work, however much later it is promised.
func TestNoEmptyPage(t *testing.T) {
	g := samplePlan(60, 3)
	end := extent(g).To
	g.Promise = time.Date(end.Year(), end.Month(), end.Day()+40, 12, 0, 0, 0, zone)
	c := newGantt(g)
	strips := c.strips(ganttHigh)
	if len(strips) < 2 {
		t.Fatal("the plan is not cut into strips")
	}
	for _, st := range strips {
		n := 0
		for _, l := range st.lanes {
			in := l.within(st.Span)
			n += len(in.Bars) + len(in.cures)
		}
		if n == 0 {
			t.Errorf("nothing is done or cures from %v to %v", st.From, st.To)
		}
	}
}

// Pages of whole weeks begin with the first day of the plan, as one picture of it does, and not on the Monday before.
func TestPagesBeginWithTheFirstDay(t *testing.T) {
	thursday := time.Date(2026, 11, 5, 9, 0, 0, 0, zone)
	g := PlanPicture{Zone: zone, From: thursday, To: thursday.AddDate(0, 0, 20)}
	for d := range 21 {
		at := thursday.AddDate(0, 0, d)
		g.Open = append(g.Open, Span{at.AddDate(0, 0, -7), at.AddDate(0, 0, -7).Add(8 * time.Hour)})
		g.Lanes = append(g.Lanes, Lane{Title: "Mara", Bars: []Bar{{Number: d + 1, Title: "Cut", Kind: "cut", Spans: []Span{{at, at.Add(time.Hour)}}}}})
	}
	weeks := newGantt(g).windows(extent(g), 7)
	if len(weeks) < 3 || weeks[0].From.Format(time.DateOnly) != "2026-11-05" || weeks[1].From.Format(time.DateOnly) != "2026-11-09" {
		t.Errorf("the weeks are %v", weeks)
	}
}

// Pages after the first may have more room, and then there are fewer of them; none is higher than its room.
func TestLaterPagesHaveMoreRoom(t *testing.T) {
	fewer := 0
	for lanes := 1; lanes < 9; lanes++ {
		g := PlanPicture{Zone: zone, From: time.Date(2026, 11, 2, 9, 0, 0, 0, zone), Lanes: make([]Lane, lanes)}
		for d := range 12 {
			at := g.From.AddDate(0, 0, 7*(d/5)+d%5)
			g.Open, g.To = append(g.Open, Span{at, at.Add(8 * time.Hour)}), at.Add(8*time.Hour)
			for n := range 8 {
				from := at.Add(time.Duration(n) * 20 * time.Minute)
				l := &g.Lanes[n%lanes]
				l.Title = fmt.Sprint("Maker ", n%lanes+1)
				l.Bars = append(l.Bars, Bar{Number: 100*d + n + 101, Title: "Glue", Kind: "glue", Spans: []Span{{from, from.Add(20 * time.Minute)}}})
			}
		}
		before := Gantts(g)
		g.Later = 160
		now := Gantts(g)
		if len(now) > len(before) {
			t.Errorf("%d lanes: %d pages with more room, %d before", lanes, len(now), len(before))
		}
		if len(now) < len(before) {
			fewer++
		}
		for i, s := range now {
			if room := geom.MM(ganttHigh); s.Height > room && (i == 0 || s.Height > g.Later) {
				t.Errorf("%d lanes: page %d is %.1f mm high", lanes, i+1, float64(s.Height))
			}
		}
	}
	if fewer == 0 {
		t.Error("more room is never of use")
	}
}
