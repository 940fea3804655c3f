package pdf

import (
	"bytes"
	"compress/zlib"
	"flag"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"pgregory.net/rapid"

	"benchbell/quote/draw"
	"benchbell/quote/gaugetest"
	"benchbell/quote/geom"
)

var (
	show = flag.String("show", "", "directory to write the documents to, to be looked at")
)

func blob(w, h float64) geom.Shape {
	var r geom.Ring
	for i := range 48 {
		a := 2 * math.Pi * float64(i) / 48
		r = append(r, geom.Pt(w/2+w/2*math.Cos(a), h/2+h/2*math.Sin(a)*(0.85+0.15*math.Cos(3*a))))
	}
	return geom.Shape{Outer: r}
}

func shifted(s geom.Shape, x, y float64) geom.Shape {
	return geom.Placement{Move: geom.Pt(x, y)}.Shape(s)
}

// ordinary is a quote as a studio sends it; all of it is invented.
func ordinary() Document {
	zone := time.FixedZone("shop", 3600)
	at := func(d, h int) time.Time { return time.Date(2026, 11, 30+d, h, 0, 0, 0, zone) }
	sheet := func(n int) draw.SheetPicture {
		p := draw.SheetPicture{Title: fmt.Sprintf("sheet %d of 2 · EVA foam %d mm · 1000 × 500 mm · 64 %% used", n, 11-3*n), Commission: "C0007", Width: 1000, Height: 500}
		for i := range 8 {
			s := shifted(blob(190+float64(i%3)*20, 180+float64(i%2)*30), 20+float64(i%4)*245, 20+float64(i/4)*240)
			c, _ := draw.Roomiest(s)
			p.Pieces = append(p.Pieces, draw.LaidPiece{Label: fmt.Sprintf("1L-%c%d", 'A'+i/2, i%2+1), Shape: s, Mirrored: i%2 == 1,
				Scores: []geom.Path{{c.Add(geom.Pt(-60, -50)), c.Add(geom.Pt(60, -50))}}})
		}
		return p
	}
	plan := draw.PlanPicture{Zone: zone, From: at(0, 9), Now: at(0, 9), Promise: at(14, 17)}
	for d := range 16 {
		if w := at(d, 0).Weekday(); w != 0 && w != 6 {
			plan.Open = append(plan.Open, draw.Span{From: at(d, 9), To: at(d, 17)})
		}
	}
	maker := draw.Lane{Title: "Maker"}
	booth := draw.Lane{Title: "Spray booth"}
	for i, b := range []struct {
		title, kind string
		day, h, to  int
	}{
		{"Cut", "cut", 0, 9, 14}, {"Bevel and sand", "form", 0, 14, 17}, {"Heat-form", "form", 1, 9, 12}, {"Glue seams", "glue", 1, 12, 17},
		{"Raised plates", "glue", 2, 13, 17}, {"Heat-seal", "seal", 3, 9, 11}, {"First fitting", "fit", 3, 13, 14}, {"Prime, coat 1", "paint", 4, 9, 10}, {"Prime, coat 2", "paint", 4, 14, 15},
		{"Base colour", "paint", 8, 9, 12}, {"Wash and wear", "paint", 9, 9, 15}, {"Clear coat", "paint", 10, 9, 11}, {"Hardware and straps", "fit", 11, 9, 15},
	} {
		bar := draw.Bar{Number: i + 1, Title: b.title, Kind: b.kind, Spans: []draw.Span{{From: at(b.day, b.h), To: at(b.day, b.to)}}}
		maker.Bars = append(maker.Bars, bar)
		if b.kind == "paint" {
			booth.Bars = append(booth.Bars, bar)
			plan.Cures = append(plan.Cures, draw.CureBar{Title: b.title, Lane: "Drying: shoulders", From: at(b.day, b.to), Ready: at(b.day, b.to+4+40*(i%2)), Latest: at(b.day, b.to+70)})
		}
	}
	plan.Lanes = []draw.Lane{maker, booth}
	return Document{
		Created: time.Date(2026, 11, 25, 10, 30, 0, 0, zone), Studio: "Studio Kupferwinkel", Address: []string{"Hinterhof 3", "12345 Beispielstadt"},
		Contact: "hello@studio.example", TaxNumber: "DE000000000", Number: "C0007", Revision: 2, Client: "Žofie Müller-Σταύρου",
		Issued: "25 November 2026", ValidTo: "9 December 2026",
		Intro: []string{"One pair of shoulder plates of three lames each, in EVA foam of 8 and 5 mm, graded to your measurements, and one left forearm guard, closed with two buckles.",
			"Note from you: “the left shoulder a little flatter, please”."},
		Facts: []Fact{{"Finish", "weathered metal: primer, base colour, wash, clear coat", false}, {"Weight", "about 640 g without straps", false}, {"Wanted by", "20 December 2026", false}, {"Pieces", "16 on 2 sheets", false}},
		Drawings: []draw.Scene{draw.Pieces("", []draw.PieceGroup{
			{Title: "Shoulder, pair", Pieces: []draw.NamedPiece{{Name: "Cap", Shape: blob(240, 170), Count: 2}, {Name: "Lame", Shape: blob(220, 90), Count: 4}, {Name: "Strap", Shape: blob(30, 160), Count: 2}}},
			{Title: "Forearm guard, left", Pieces: []draw.NamedPiece{{Name: "Plate", Shape: blob(180, 230), Count: 1}, {Name: "Cuff", Shape: blob(200, 60), Count: 1}}},
		}, 170)},
		Lines: []Line{
			{Title: "Material", Heading: true}, {Title: "EVA foam 8 mm, sheet 1000 × 500 mm", Quantity: "1 sheet", Amount: "24,00 €"}, {Title: "EVA foam 5 mm, sheet 1000 × 500 mm", Quantity: "1 sheet", Amount: "16,50 €"},
			{Title: "Solvent contact cement", Quantity: "180 ml", Amount: "7,20 €"}, {Title: "Flexible primer, two coats", Quantity: "240 ml", Amount: "11,40 €"},
			{Title: "Hardware", Heading: true}, {Title: "Side-release buckle 25 mm", Quantity: "6", Amount: "9,00 €"}, {Title: "Webbing 25 mm", Quantity: "2.4 m", Amount: "4,80 €"},
			{Title: "Labour", Heading: true}, {Title: "Cut, bevel, form, glue", Quantity: "14.5 h", Amount: "551,00 €"}, {Title: "Seal, prime, paint", Quantity: "9.0 h", Amount: "342,00 €"}, {Title: "Fitting and packing", Quantity: "2.5 h", Amount: "95,00 €"},
		},
		Totals:  []Fact{{"Subtotal", "1.060,90 €", false}, {"Value added tax 19 %", "201,57 €", false}, {"Total", "1.262,47 €", true}, {"Deposit before material is bought (40 %)", "504,99 €", false}, {"Balance before dispatch", "757,48 €", false}},
		Promise: "Ready by Monday 14 December 2026, if the deposit arrives by 30 November 2026. 87 of 100 simulated courses of the work finish by then.",
		Plan:    []draw.Scene{draw.Gantt(plan)}, PlanNote: "Hatched bars are drying times; they run through nights and weekends.",
		Changes:  []string{"Price 1.198,00 € → 1.262,47 €: the finish is now weathered metal", "Promised date 11 December → 14 December 2026"},
		Sheets:   []Captioned{{"Sheet 1: 8 mm, 8 pieces", draw.Layout(sheet(1))}, {"Sheet 2: 5 mm, 8 pieces", draw.Layout(sheet(2))}},
		Body:     []Fact{{"Chest", "97.5 cm · 38 3/8 in", false}, {"Upper arm, left", "31.0 cm · 12 1/4 in", false}, {"Upper arm, right", "31.5 cm · 12 3/8 in", false}, {"Shoulder width", "43.0 cm · 16 7/8 in", false}},
		Cautions: []string{"Foam parts soften above about 60 °C: do not leave them in a car in the sun.", "The wearer must see, breathe, cool down and get out without help. Follow the data sheets and the rules of the event."},
		Terms:    []string{"The quote lapses at the end of its last day of validity.", "Work begins when the deposit has arrived; changes after approval are quoted anew.", "The balance is due before dispatch."},
	}
}

// stress is everything a chat can bring.
func stress() Document {
	d := ordinary()
	d.Paper = Letter
	d.Studio = "The Very Long Named Workshop for Wearable Armour, Masks, Props and Other Improbable Objects of Foam " + strings.Repeat("and more ", 6)
	d.Client = strings.Repeat("Donaudampfschifffahrtsgesellschaftskapitänswitwe", 2) + " \U0001F9DD\u200d♀️ Αλεξάνδρα Жанна 漢字"
	d.Number = "C0007"
	d.Revision = 12
	d.Intro = append(d.Intro, "\U0001F525 "+strings.Repeat("A note that goes on and on, with Ελληνικά, Кириллица, € and “quotes”. ", 30))
	d.Lines = nil
	for i := range 80 {
		if i%11 == 0 {
			d.Lines = append(d.Lines, Line{Title: fmt.Sprintf("Section %d", i/11+1), Heading: true})
		}
		title := fmt.Sprintf("Line %d", i+1)
		if i%7 == 3 {
			title += strings.Repeat(" with a description that needs more than one line", 4)
		}
		if i == 20 {
			title = strings.Repeat("unbroken", 40)
		}
		d.Lines = append(d.Lines, Line{Title: title, Quantity: fmt.Sprintf("%d.5 h", i), Amount: fmt.Sprintf("%d.000.000,00 €", i)})
	}
	d.Terms = append(d.Terms, strings.Repeat("A term of great length. ", 120))
	d.Body = nil
	for i := range 60 {
		d.Body = append(d.Body, Fact{Label: fmt.Sprintf("Measurement %d", i+1), Value: "97.5 cm · 38 3/8 in"})
	}
	for range 3 {
		d.Sheets = append(d.Sheets, d.Sheets[0])
	}
	d.PlanNote = strings.Repeat("A remark about the plan. ", 40)
	return d
}

func documents() map[string]Document {
	return map[string]Document{"ordinary": ordinary(), "stress": stress(), "empty": {}}
}

// The kept files hold for the toolchain that go.mod names: compression is the standard library's.
func TestGolden(t *testing.T) {
	for name, d := range documents() {
		out, err := Print(d)
		if err != nil {
			t.Fatal(err)
		}
		if *show != "" {
			if err := os.WriteFile(filepath.Join(*show, name+".pdf"), out, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		gaugetest.Golden(t, filepath.Join("testdata", name+".pdf"), out)
	}
}

func TestSameBytesAlsoAtOnce(t *testing.T) {
	docs := []Document{ordinary(), stress()}
	var want [2][]byte
	for i, d := range docs {
		var err error
		if want[i], err = Print(d); err != nil {
			t.Fatal(err)
		}
	}
	var wg sync.WaitGroup
	for i := range 6 {
		wg.Go(func() {
			out, err := Print(docs[i%2])
			if err != nil {
				t.Error(err)
			} else if !bytes.Equal(out, want[i%2]) {
				t.Error("the same document gave other bytes while others were printed")
			}
		})
	}
	wg.Wait()
}

func written(t *testing.T, d Document) string {
	out, err := Print(d)
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "quote.pdf")
	if err := os.WriteFile(path, out, 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// Source of the check: qpdf's own reading of the file structure.
func TestStructure(t *testing.T) {
	qpdf := gaugetest.Tool(t, "qpdf")
	for name, d := range documents() {
		if out, err := exec.Command(qpdf, "--check", written(t, d)).CombinedOutput(); err != nil {
			t.Errorf("%s: %v\n%s", name, err, out)
		}
	}
}

var pageOf = regexp.MustCompile(`page (\d+) of (\d+)`)

// Source of the check: poppler's pdftotext.
func TestWordsComeOut(t *testing.T) {
	pdftotext := gaugetest.Tool(t, "pdftotext")
	words := map[string][]string{
		"ordinary": {"Studio Kupferwinkel", "C0007", "Žofie Müller-Σταύρου", "25 November 2026", "9 December 2026", "1.262,47 €", "Deposit before material", "Promised date", "Acceptance", "Signature", "Annex: plan", "Annex: cut layouts", "1L-A1", "Made to these measurements", "38 3/8 in", "Changed since revision 1", "Prime, coat 1"},
		"stress":   {"Ελληνικά", "Кириллица", "Αλεξάνδρα", "Жанна", "Line 80", "79.000.000,00 €", "revision 12", "Section 8", "Measurement 60"},
		"empty":    {"Quote", "Acceptance"},
	}
	for name, d := range documents() {
		out, err := exec.Command(pdftotext, "-layout", written(t, d), "-").Output()
		if err != nil {
			t.Fatal(err)
		}
		text := string(out)
		for _, w := range words[name] {
			if !strings.Contains(text, w) {
				t.Errorf("%s: %q did not come out", name, w)
			}
		}
		pages := strings.Count(text, "\f")
		found := pageOf.FindAllStringSubmatch(text, -1)
		if len(found) != pages {
			t.Errorf("%s: %d of %d pages carry their number", name, len(found), pages)
		}
		for i, f := range found {
			if f[1] != fmt.Sprint(i+1) || f[2] != fmt.Sprint(pages) {
				t.Errorf("%s: page %d of %d says %q", name, i+1, pages, f[0])
			}
		}
	}
}

var box = regexp.MustCompile(`(<page width="([\d.]+)" height="([\d.]+)")|(<word xMin="([\d.-]+)" yMin="([\d.-]+)" xMax="([\d.-]+)" yMax="([\d.-]+)">(.*)</word>)`)

// No word lies in the margins. Source of the check: pdftotext's word boxes.
func TestNothingOverflows(t *testing.T) {
	pdftotext := gaugetest.Tool(t, "pdftotext")
	for name, d := range documents() {
		out, err := exec.Command(pdftotext, "-bbox", written(t, d), "-").Output()
		if err != nil {
			t.Fatal(err)
		}
		var w, h float64
		for _, m := range box.FindAllStringSubmatch(string(out), -1) {
			num := func(i int) float64 {
				var f float64
				_, _ = fmt.Sscan(m[i], &f)
				return f
			}
			if m[1] != "" {
				w, h = num(2), num(3)
				continue
			}
			const slack = 1.5 // points: the boxes are the font's, a little wider than the letters
			if margin := side * 72 / 25.4; num(5) < margin-slack || num(7) > w-margin+slack || num(6) < 0 || num(8) > h {
				t.Errorf("%s: %q lies at %s … %s of a page %.0f wide", name, m[9], m[5], m[7], w)
			}
		}
	}
}

var (
	stream = regexp.MustCompile(`(?s)/FlateDecode[^>]*>>\s*stream\r?\n(.*?)\r?\nendstream`)
	// noNumber is a coordinate as Go prints one that is none, where an operator of a page would read it.
	noNumber = regexp.MustCompile(`(?:^|[\s\[])[+-]?(?:NaN|Inf)(?:[\s\]]|$)`)
)

// inflated are the compressed streams of a file. In their compressed bytes any three letters can stand by chance.
func inflated(file []byte) (out [][]byte) {
	for _, m := range stream.FindAllSubmatch(file, -1) {
		z, err := zlib.NewReader(bytes.NewReader(m[1]))
		if err != nil {
			continue
		}
		page, err := io.ReadAll(z)
		if err == nil {
			out = append(out, page)
		}
	}
	return out
}

// Any scene and any text must print.
func TestOddDocumentsPrint(t *testing.T) {
	float := rapid.OneOf(rapid.Float64Range(-300, 300), rapid.SampledFrom([]float64{0, math.NaN(), math.Inf(1), math.Inf(-1), 1e300, -1e12}))
	rapid.Check(t, func(t *rapid.T) {
		mm := func() geom.MM { return geom.MM(float.Draw(t, "mm")) }
		text := rapid.String().Draw(t, "text")
		ring := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) geom.Point { return geom.Pt(float.Draw(t, "x"), float.Draw(t, "y")) }), 0, 6).Draw(t, "ring")
		s := draw.Scene{Width: mm(), Height: mm(), Title: text, Figures: []draw.Figure{
			{Shape: &geom.Shape{Outer: ring, Holes: []geom.Ring{ring}}, Style: draw.Style{Width: mm(), Dash: []geom.MM{mm(), mm()}, Hatch: &draw.Hatch{Angle: float.Draw(t, "angle"), Spacing: mm(), Width: mm()}}},
			{Path: ring, Style: draw.Stroke(draw.Ink, mm(), mm())},
			{Text: &draw.Text{At: geom.Pt(1, 1), Size: mm(), Font: draw.Font(rapid.IntRange(-3, 99).Draw(t, "font")), Turn: float.Draw(t, "turn"), Value: text}},
		}}
		line := Line{Title: text, Quantity: text, Amount: text}
		fact := Fact{Label: text, Value: text, Strong: true}
		d := Document{Paper: Paper(text), Studio: text, Address: []string{text}, Contact: text, TaxNumber: text, Number: text, Client: text, Issued: text, ValidTo: text,
			Intro: []string{text}, Facts: []Fact{fact}, Drawings: []draw.Scene{s}, Lines: []Line{line, {Title: text, Heading: true}}, Totals: []Fact{fact}, Promise: text,
			Plan: []draw.Scene{s, {}, s}, PlanNote: text, Changes: []string{text}, Sheets: []Captioned{{text, s}, {"", draw.Scene{}}}, Body: []Fact{fact}, Cautions: []string{text}, Terms: []string{text}}
		out, err := Print(d)
		if err != nil {
			t.Fatal(err)
		}
		pages := inflated(out)
		if len(pages) == 0 {
			t.Fatal("no page of the file can be read")
		}
		for _, page := range pages {
			if bad := noNumber.Find(page); bad != nil {
				t.Fatalf("the file has a coordinate that is no number: %q", bad)
			}
		}
	})
}

func TestEveryCharacterPrints(t *testing.T) {
	var all strings.Builder
	for r := rune(0); r < 0x20000; r += 3 {
		all.WriteRune(r)
		all.WriteByte(' ')
	}
	if _, err := Print(Document{Studio: all.String()[:400], Intro: []string{all.String()}}); err != nil {
		t.Error(err)
	}
}

func BenchmarkPrint(b *testing.B) {
	d := ordinary()
	for b.Loop() {
		if _, err := Print(d); err != nil {
			b.Fatal(err)
		}
	}
}
