package document_test

import (
	"bytes"
	"flag"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"benchbell/quote"
	"benchbell/quote/document"
	"benchbell/quote/engine"
	"benchbell/quote/gaugetest"
	"benchbell/quote/quotetest"
)

var show = flag.String("show", "", "directory to write the sheets to, to be looked at")

// travellers are commissions as they hang in the shop, each on its paper.
func travellers(t *testing.T) map[string]document.AtWork {
	t.Helper()
	out := map[string]document.AtWork{}
	for name, x := range map[string]struct {
		paper string
		sets  []string
	}{"one-a4": {"A4", []string{"forearm-cuff"}}, "two-letter": {"Letter", []string{"forearm-cuff", "shoulder-cap"}}} {
		s := quotetest.Snapshot(t, x.sets...)
		s.Studio.Paper = x.paper
		s.Body[0].Typed = "SECRET-TYPED"
		q, err := engine.Compute(t.Context(), s, nil)
		if err != nil {
			t.Fatal(err)
		}
		out[name] = document.AtWork{Snapshot: s, Quote: q, Operations: q.Plan.Operations, Done: map[string]bool{q.Plan.Operations[0].ID: true}, Promise: "2026-12-18"}
	}
	return out
}

const pageOf = "https://desk.example/as/studio/commission?of=C0001"

// shown writes a file where somebody wants to look at it.
func shown(t *testing.T, name string, data []byte) {
	t.Helper()
	if *show != "" {
		if err := os.WriteFile(filepath.Join(*show, name), data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// pageText is what another program reads on a printed page.
func pdfText(t *testing.T, data []byte) string {
	t.Helper()
	cmd := exec.CommandContext(t.Context(), gaugetest.Tool(t, "pdftotext"), "-layout", "-", "-")
	cmd.Stdin = bytes.NewReader(data)
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	return string(out)
}

// codes are the QR codes of a PDF as another program reads them off its painted pages (ISO/IEC 18004).
func codes(t *testing.T, data []byte, dpi string) []string {
	t.Helper()
	dir := t.TempDir()
	cmd := exec.CommandContext(t.Context(), gaugetest.Tool(t, "pdftoppm"), "-r", dpi, "-gray", "-png", "-", filepath.Join(dir, "page"))
	cmd.Stdin = bytes.NewReader(data)
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	pages, err := filepath.Glob(filepath.Join(dir, "*.png"))
	if err != nil || len(pages) == 0 {
		t.Fatalf("no page is painted: %v", err)
	}
	var all []string
	for _, page := range pages {
		out, err := exec.CommandContext(t.Context(), gaugetest.Tool(t, "zbarimg"), "-q", "--raw", "-Sdisable", "-Sqrcode.enable", page).Output()
		if err != nil && len(out) > 0 {
			t.Fatal(err)
		}
		all = append(all, strings.Fields(string(out))...)
	}
	return all
}

// A traveller has the number, the steps in order with what dries after each, every piece, and nothing of the client; its code leads to the
// commission's page. As it was when it was last looked at.
func TestTraveller(t *testing.T) {
	for name, w := range travellers(t) {
		f, err := document.Traveller(w, pageOf)
		if err != nil {
			t.Fatal(err)
		}
		shown(t, name+"-traveller.pdf", f.Data)
		again, err := document.Traveller(w, pageOf)
		if err != nil || !bytes.Equal(f.Data, again.Data) {
			t.Errorf("%s: the same commission gives other bytes, %v", name, err)
		}
		gaugetest.Golden(t, "testdata/"+name+"-traveller.pdf", f.Data)
		text := pdfText(t, f.Data)
		for _, never := range []string{"Ilka", "Brandt", "SECRET", "scratched", "EUR", "€"} {
			if strings.Contains(text, never) {
				t.Errorf("%s says %q", name, never)
			}
		}
		one := strings.Join(strings.Fields(text), " ")
		at := 0
		for _, o := range w.Operations {
			i := strings.Index(one[at:], o.Title)
			if i < 0 {
				t.Errorf("%s: after what comes before it, “%s” is not on it", name, o.Title)
				continue
			}
			at += i
		}
		for _, p := range w.Quote.Pieces {
			if !strings.Contains(one, p.Label) {
				t.Errorf("%s: piece %s is not on it", name, p.Label)
			}
		}
		for _, has := range []string{"C0001", "Friday 18 December 2026", "never heat foam until it smokes", "no flame, spark or heat gun near it", "data sheet", "Flexible primer", "dries. Next,"} {
			if !strings.Contains(one, has) {
				t.Errorf("%s does not say %q:\n%s", name, has, text)
			}
		}
		if last := regexp.MustCompile(`page (\d+) of (\d+)`).FindAllStringSubmatch(text, -1); len(last) == 0 || last[len(last)-1][1] != last[len(last)-1][2] {
			t.Errorf("%s has the page numbers %v", name, last)
		}
		if got := codes(t, f.Data, "150"); len(got) != 1 || got[0] != pageOf {
			t.Errorf("%s: the code is read as %q", name, got)
		}
	}
}

// A traveller follows the plan: other times and what is done are on it.
func TestTravellerFollowsThePlan(t *testing.T) {
	w := travellers(t)["one-a4"]
	f, err := document.Traveller(w, pageOf)
	if err != nil {
		t.Fatal(err)
	}
	moved := w
	moved.Operations = append(moved.Operations[:0:0], w.Operations...)
	last := &moved.Operations[len(moved.Operations)-1]
	last.Start, last.End, last.Spans = last.Start.AddDate(0, 0, 7), last.End.AddDate(0, 0, 7), nil
	g, err := document.Traveller(moved, pageOf)
	if err != nil || bytes.Equal(f.Data, g.Data) {
		t.Errorf("with its last step a week later it is the same, %v", err)
	}
	if day := last.Start.Format("Mon 2 Jan"); !strings.Contains(pdfText(t, g.Data), day) {
		t.Errorf("%s is not on it", day)
	}
	moved = w
	moved.Done = nil
	if g, err = document.Traveller(moved, pageOf); err != nil || bytes.Equal(f.Data, g.Data) {
		t.Errorf("with nothing done it is the same, %v", err)
	}
	if _, err := document.Traveller(document.AtWork{Snapshot: quote.Snapshot{Studio: quote.Studio{}}}, pageOf); err == nil {
		t.Error("nothing at all is printed")
	}
}
