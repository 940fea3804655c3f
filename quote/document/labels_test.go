package document_test

import (
	"bytes"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"benchbell/quote"
	"benchbell/quote/document"
	"benchbell/quote/gaugetest"
	"benchbell/quote/geom"
	"benchbell/quote/settings"
)

// Every piece has a label with its name and a code that another program reads as the commission's page with the piece named; the box has
// one, too. As they were when they were last looked at.
func TestPieceLabels(t *testing.T) {
	for name, w := range travellers(t) {
		size := document.UsualLabel
		if strings.HasPrefix(name, "two") {
			size = document.LabelSize{Width: 100, Height: 50, Skip: 3}
		}
		f, err := document.PieceLabels(w, pageOf, size)
		if err != nil {
			t.Fatal(err)
		}
		shown(t, name+"-labels.pdf", f.Data)
		gaugetest.Golden(t, "testdata/"+name+"-labels.pdf", f.Data)
		want := []string{pageOf}
		text := pdfText(t, f.Data)
		for _, p := range w.Quote.Pieces {
			want = append(want, pageOf+"&piece="+url.QueryEscape(p.Label))
			if !strings.Contains(text, p.Label) {
				t.Errorf("%s: no label says %s", name, p.Label)
			}
		}
		if strings.Contains(text, "Ilka") {
			t.Errorf("%s names the client", name)
		}
		got := codes(t, f.Data, "150")
		slices.Sort(got)
		slices.Sort(want)
		if !slices.Equal(got, want) {
			t.Errorf("%s: %d codes are read of %d: %q", name, len(got), len(want), got)
		}
	}
}

// bracket is an offcut with a bite taken out of it.
var bracket = quote.Offcut{ID: "R0003", Thickness: 5, Outline: geom.Ring{geom.Pt(0, 0), geom.Pt(400, 0), geom.Pt(400, 120), geom.Pt(150, 120), geom.Pt(150, 300), geom.Pt(0, 300)}}

// An offcut's label has its number, foam and true outline, and its code leads to the rack.
func TestOffcutLabels(t *testing.T) {
	at := time.Date(2026, 11, 30, 9, 0, 0, 0, time.UTC)
	const rack = "https://desk.example/as/studio/rack?of="
	f, err := document.OffcutLabels(settings.Demo(), []quote.Offcut{bracket}, at, rack, document.UsualLabel)
	if err != nil {
		t.Fatal(err)
	}
	shown(t, "offcut-labels.pdf", f.Data)
	gaugetest.Golden(t, "testdata/offcut-labels.pdf", f.Data)
	if got := codes(t, f.Data, "200"); !slices.Equal(got, []string{rack + "R0003"}) {
		t.Errorf("the code is read as %q", got)
	}
	if text := pdfText(t, f.Data); !strings.Contains(text, "R0003") || !strings.Contains(text, "5 mm") || !strings.Contains(text, "400 × 300 mm") {
		t.Errorf("it says %q", text)
	}
	box := bracket
	box.Outline = geom.Ring{geom.Pt(0, 0), geom.Pt(400, 0), geom.Pt(400, 300), geom.Pt(0, 300)}
	g, err := document.OffcutLabels(settings.Demo(), []quote.Offcut{box}, at, rack, document.UsualLabel)
	if err != nil || bytes.Equal(f.Data, g.Data) {
		t.Errorf("its bounding box would look the same, %v", err)
	}
}

// Labels of any size fill sheets of a plain grid, or are refused; none is lost.
func TestLabelsOfAnySize(t *testing.T) {
	pages := regexp.MustCompile(`/Type /Page\b[^s]`)
	rapid.Check(t, func(t *rapid.T) {
		st := settings.Demo()
		st.Paper = rapid.SampledFrom([]string{"A4", "Letter"}).Draw(t, "paper")
		size := document.LabelSize{Width: geom.MM(rapid.IntRange(20, 240).Draw(t, "width")), Height: geom.MM(rapid.IntRange(10, 310).Draw(t, "height")), Skip: rapid.IntRange(-1, 40).Draw(t, "skip")}
		n := rapid.IntRange(0, 40).Draw(t, "labels")
		var rack []quote.Offcut
		for range n {
			rack = append(rack, bracket)
		}
		f, err := document.OffcutLabels(st, rack, time.Time{}, "", size)
		w, h := 210.0, 297.0
		if st.Paper == "Letter" {
			w, h = 215.9, 279.4
		}
		each := int(w/float64(size.Width)) * int(h/float64(size.Height))
		if proper := size.Width >= 45 && size.Height >= 25 && each > 0 && n > 0 && size.Skip >= 0 && size.Skip < each; proper != (err == nil) {
			t.Fatalf("%+v on %s, %d labels: %v", size, st.Paper, n, err)
		}
		if err != nil {
			return
		}
		if got, want := len(pages.FindAll(f.Data, -1)), (size.Skip+n+each-1)/each; got != want {
			t.Fatalf("%d pages for %d labels of %d on each, the first %d used: want %d", got, n, each, size.Skip, want)
		}
	})
}
