package paper

import (
	"bytes"
	"flag"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"benchbell/quote/gaugetest"
	"benchbell/quote/geom"
)

var (
	show = flag.String("show", "", "directory to write the documents to, to be looked at")
)

func printed(t *testing.T, p Pattern) string {
	t.Helper()
	data, err := Print(p)
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "pattern.pdf")
	if err := os.WriteFile(path, data, 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// raster is a grey page; k pixels a millimetre.
type raster struct {
	w, h int
	pix  []byte
	k    float64
}

// dark is black ink: the pattern and its words, not the greys about it.
func (r raster) dark(x, y int) bool {
	return x >= 0 && y >= 0 && x < r.w && y < r.h && r.pix[y*r.w+x] < 80
}

// rasterise paints one page with poppler, whose PDF reader shares nothing with our printer.
func rasterise(t *testing.T, path string, page, dpi int) raster {
	t.Helper()
	out, err := exec.Command(gaugetest.Tool(t, "pdftoppm"), "-gray", "-r", fmt.Sprint(dpi), "-f", fmt.Sprint(page), "-l", fmt.Sprint(page), path).Output()
	if err != nil {
		t.Fatal(err)
	}
	var w, h, most int
	if _, err := fmt.Fscanf(bytes.NewReader(out), "P5\n%d %d\n%d\n", &w, &h, &most); err != nil || most != 255 {
		t.Fatalf("not a grey map: %v", err)
	}
	return raster{w, h, out[len(out)-w*h:], float64(dpi) / float64(geom.Inch)}
}

// run is a straight dark line: from, to and across (its middle) are millimetres; first and last are its rows of pixels.
type run struct {
	from, to, across float64
	first, last      int
}

// runs are the dark lines longer than least along x (or y), each line's several rows of pixels taken together.
func (r raster) runs(least float64, vertical bool) []run {
	long, wide := r.w, r.h
	at := r.dark
	if vertical {
		long, wide = r.h, r.w
		at = func(x, y int) bool { return r.dark(y, x) }
	}
	var out []run
	for y := range wide {
		for x := 0; x < long; x++ {
			begin := x
			for x < long && at(x, y) {
				x++
			}
			from, to := float64(begin)/r.k, float64(x)/r.k
			if to-from < least {
				continue
			}
			same := func(o run) bool { return y-o.last <= 1 && math.Abs(o.from-from) < 1 }
			i := slices.IndexFunc(out, same)
			if i < 0 {
				i = len(out)
				out = append(out, run{from: from, to: to, first: y})
			}
			o := &out[i]
			o.last, o.from, o.to = y, math.Min(o.from, from), math.Max(o.to, to)
			o.across = float64(o.first+o.last+1) / 2 / r.k
		}
	}
	return out
}

// A printed page is at scale if its check squares are: measured on the page as poppler paints it at 300 dots an inch,
// 0.085 mm a pixel. Source: 4 in = 101.6 mm (international yard and pound agreement, NIST SP 811, app. B).
func TestCheckSquaresMeasure(t *testing.T) {
	const tolerance = 0.2 // mm: the stroke's rims and two pixels
	for _, key := range []string{"a4", "letter", "roll-610"} {
		r := rasterise(t, printed(t, on(key, chest(140, 110))), 1, 300)
		for _, vertical := range []bool{false, true} {
			lines := r.runs(95, vertical)
			var got []float64
			for _, l := range lines {
				got = append(got, l.to-l.from-0.3) // the stroke's width
			}
			if len(lines) != 4 {
				t.Fatalf("%s: %d long lines on the cover (%v), want the sides of two squares", key, len(lines), lines)
			}
			for i, want := range []float64{100, 100, 101.6, 101.6} {
				if vertical {
					// Left sides lie on one line, the metric square's above; then the right sides.
					want = []float64{100, 101.6, 100, 101.6}[i]
				}
				if math.Abs(got[i]-want) > tolerance {
					t.Errorf("%s, vertical %v: side %d measures %.2f mm, want %.1f", key, vertical, i, got[i], want)
				}
			}
			if !vertical {
				for i, want := range []float64{100, 0, 101.6} {
					if d := lines[i+1].across - lines[i].across; want > 0 && math.Abs(d-want) > tolerance {
						t.Errorf("%s: sides %.2f mm apart, want %.1f", key, d, want)
					}
				}
			}
		}
	}
}

// A piece comes out of the printer as large as it is: extents of the black ink within its tile's frame.
func TestPieceMeasures(t *testing.T) {
	const tolerance = 0.2 // mm
	for _, key := range []string{"a4", "letter", "roll-610"} {
		for _, wh := range [][2]float64{{150, 110}, {183.7, 64.2}, {76.2, 203.2}} {
			p := on(key, Piece{Label: "A1", Title: "Plate", Count: 1, Thickness: 5, Shape: geom.Shape{Outer: oval(wh[0], wh[1])}})
			s := arrange(&p)
			if len(s.tiles) != 1 || s.covers != 1 {
				t.Fatalf("%d tiles after %d covers", len(s.tiles), s.covers)
			}
			r := rasterise(t, printed(t, p), 2, 300)
			top := int((s.origin().Y + 0.3) * r.k)
			box := geom.EmptyBox()
			for y := top; y < r.h; y++ {
				for x := range r.w {
					if r.dark(x, y) {
						box = box.Extend(geom.Pt(float64(x), float64(y))).Extend(geom.Pt(float64(x+1), float64(y+1)))
					}
				}
			}
			w, h := float64(box.Width())/r.k-0.5, float64(box.Height())/r.k-0.5 // the outline's stroke
			if s.items[0].turned {
				w, h = h, w
			}
			want := p.Pieces[0].Shape.Bounds()
			if math.Abs(w-float64(want.Width())) > tolerance || math.Abs(h-float64(want.Height())) > tolerance {
				t.Errorf("%s: the piece measures %.2f × %.2f mm, want %.2f × %.2f", key, w, h, float64(want.Width()), float64(want.Height()))
			}
		}
	}
}

// Tiles pasted together by the pattern's lattice show a large piece whole: its outline is black all along, also over the
// seams, and where two tiles overlap they show the same.
func TestTilesJoin(t *testing.T) {
	const dpi = 150
	p := on("a4", chest(700, 560))
	s := arrange(&p)
	if len(s.tiles) < 6 {
		t.Fatalf("only %d tiles", len(s.tiles))
	}
	path := printed(t, p)
	pages := map[cell]raster{}
	for _, tl := range s.tiles {
		pages[tl.cell] = rasterise(t, path, s.covers+tl.number+1, dpi)
	}
	// inked reports whether the tile shows black within near of a point of the pattern; ok is false off its frame.
	inked := func(c cell, q geom.Point, near float64) (ink, ok bool) {
		f := s.grid.frame(c)
		if !f.Grow(geom.MM(-near - 0.2)).Contains(q) {
			return false, false
		}
		r := pages[c]
		at := q.Sub(f.Min).Add(s.origin()).Mul(r.k)
		n := int(math.Ceil(near * r.k))
		for dy := -n; dy <= n; dy++ {
			for dx := -n; dx <= n; dx++ {
				if r.dark(int(at.X)+dx, int(at.Y)+dy) {
					return true, true
				}
			}
		}
		return false, true
	}
	it := s.items[0]
	outline := append(append(geom.Path{}, it.room.shape.Outer...), it.room.shape.Outer[0])
	points, twice := 0, 0
	for d := geom.MM(0); d < outline.Length(); d += 0.5 {
		q, _ := outline.At(d)
		q = q.Add(it.offset)
		seen := 0
		for _, tl := range s.tiles {
			ink, ok := inked(tl.cell, q, 0.25)
			if !ok {
				continue
			}
			if !ink {
				t.Fatalf("tile %s is white at %.1f, %.1f, where the outline runs", tl.name(), q.X, q.Y)
			}
			seen++
		}
		points++
		if seen == 0 {
			t.Fatalf("no tile shows the outline at %.1f, %.1f", q.X, q.Y)
		}
		if seen > 1 {
			twice++
		}
	}
	if points < 2000 || twice < 100 {
		t.Errorf("%d points of the outline, %d of them in overlaps: the check is too thin", points, twice)
	}
	// In the overlaps, both tiles show the same ink.
	for _, a := range s.tiles {
		b := s.at[cell{a.col + 1, a.row}]
		if b == nil {
			continue
		}
		fa, fb := s.grid.frame(a.cell), s.grid.frame(b.cell)
		for x := fb.Min.X + 1; x < fa.Max.X-1; x += 0.4 {
			for y := fa.Min.Y + 1; y < fa.Max.Y-1; y += 0.4 {
				q := geom.Pt(x, y)
				if ink, ok := inked(a.cell, q, 0.01); ok && ink {
					if other, ok := inked(b.cell, q, 0.3); ok && !other {
						t.Fatalf("tiles %s and %s differ at %.1f, %.1f", a.name(), b.name(), x, y)
					}
				}
			}
		}
	}
}

// Source of the check: qpdf, which reads the file's structure.
func TestFileIsSound(t *testing.T) {
	for _, key := range []string{"a4", "letter", "roll-610"} {
		out, err := exec.Command(gaugetest.Tool(t, "qpdf"), "--check", printed(t, ordinary(key))).CombinedOutput()
		if err != nil || bytes.Contains(out, []byte("WARNING")) {
			t.Errorf("%s: %v\n%s", key, err, out)
		}
	}
}

// Every page is as large as its paper. Source of the check: poppler's pdfinfo.
func TestPageBoxes(t *testing.T) {
	for _, size := range sizes() {
		p := ordinary(size.Key)
		s := arrange(&p)
		out, err := exec.Command(gaugetest.Tool(t, "pdfinfo"), "-f", "1", "-l", "999", printed(t, p)).Output()
		if err != nil {
			t.Fatal(err)
		}
		found := regexp.MustCompile(`Page +(\d+) size: +([\d.]+) x ([\d.]+) pts`).FindAllStringSubmatch(string(out), -1)
		if len(found) != s.pages() {
			t.Errorf("%s: %d pages, want %d", size.Key, len(found), s.pages())
		}
		for i, m := range found {
			w, _ := strconv.ParseFloat(m[2], 64)
			h, _ := strconv.ParseFloat(m[3], 64)
			w, h = w*25.4/72, h*25.4/72
			if math.Abs(w-float64(size.Width)) > 0.02 || !size.roll() && math.Abs(h-float64(size.Height)) > 0.02 {
				t.Errorf("%s, page %d: %.2f × %.2f mm", size.Key, i+1, w, h)
			}
			if size.roll() && i >= s.covers && math.Abs(h-s.pageHeight(s.tiles[i-s.covers])) > 0.02 {
				t.Errorf("%s, page %d is %.2f mm long", size.Key, i+1, h)
			}
		}
	}
}

// The words of the patterns, page by page, as poppler's pdftotext reads them, and the bytes of the files.
func TestGolden(t *testing.T) {
	for _, key := range []string{"a4", "letter", "roll-610"} {
		data, err := Print(ordinary(key))
		if err != nil {
			t.Fatal(err)
		}
		if *show != "" {
			if err := os.WriteFile(filepath.Join(*show, key+".pdf"), data, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		gaugetest.Golden(t, filepath.Join("testdata", key+".pdf"), data)
		path := filepath.Join(t.TempDir(), "p.pdf")
		if err := os.WriteFile(path, data, 0o644); err != nil {
			t.Fatal(err)
		}
		out, err := exec.Command(gaugetest.Tool(t, "pdftotext"), "-layout", path, "-").Output()
		if err != nil {
			t.Fatal(err)
		}
		gaugetest.Golden(t, filepath.Join("testdata", key+".txt"), []byte(words(string(out))))
	}
}

// words are the words of each page in order; how far apart they stand is the reader's business.
func words(s string) string {
	var out strings.Builder
	for i, page := range strings.Split(strings.TrimSuffix(s, "\f"), "\f") {
		fmt.Fprintf(&out, "page %d\n", i+1)
		for _, l := range strings.Split(page, "\n") {
			if l = strings.Join(strings.Fields(l), " "); l != "" {
				fmt.Fprintln(&out, l)
			}
		}
	}
	return out.String()
}
