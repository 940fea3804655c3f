package drawing

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"math"
	"os"
	"os/exec"
	"strings"
	"testing"

	"benchbell/quote/geom"
)

// render has rsvg-convert (Debian's librsvg2-bin) draw a file, and gives the coverage of each pixel, 0 to 255.
func render(t *testing.T, svg []byte, width int) *image.Alpha {
	t.Helper()
	cmd := exec.Command("rsvg-convert", "--width", fmt.Sprint(width), "--format", "png")
	cmd.Stdin = bytes.NewReader(svg)
	var out, complaint bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &complaint
	if err := cmd.Run(); err != nil {
		t.Fatalf("rsvg-convert: %v: %s", err, complaint.String())
	}
	img, err := png.Decode(&out)
	if err != nil {
		t.Fatal(err)
	}
	cover := image.NewAlpha(img.Bounds())
	for y := cover.Rect.Min.Y; y < cover.Rect.Max.Y; y++ {
		for x := cover.Rect.Min.X; x < cover.Rect.Max.X; x++ {
			_, _, _, a := img.At(x, y).RGBA()
			cover.Pix[cover.PixOffset(x, y)] = uint8(a >> 8)
		}
	}
	return cover
}

// An independent reader draws each file filled, and draws our polygons of it: both must cover the same pixels, to one
// percent of what is covered. Checked with rsvg-convert 2.54.7 from Debian.
func TestAgreesWithAnotherReader(t *testing.T) {
	if _, err := exec.LookPath("rsvg-convert"); err != nil {
		if os.Getenv("BENCHBELL_STRICT") == "1" {
			t.Fatal("rsvg-convert is not installed (Debian's librsvg2-bin), and BENCHBELL_STRICT=1 wants it")
		}
		t.Skip("not run: rsvg-convert (Debian's librsvg2-bin) is not installed")
	}
	for _, c := range []struct {
		file          string
		width, height float64 // page in mm
	}{{"shapes.svg", 120, 90}, {"editor_layers.svg", 300, 220}} {
		t.Run(c.file, func(t *testing.T) {
			data, err := os.ReadFile("testdata/" + c.file)
			if err != nil {
				t.Fatal(err)
			}
			d, err := Read(data)
			if err != nil {
				t.Fatal(err)
			}
			const width = 1200
			// The editor's file is painted solid by a style that beats its own, and what has no area is left out.
			solid := `<style>path,circle,g,use{stroke:none!important;fill:#000!important} text,#score{display:none!important}</style></svg>`
			theirs := render(t, bytes.Replace(data, []byte("</svg>\n"), []byte(solid), 1), width)
			if c.file == "shapes.svg" { // it has an inner svg, and is black as it is
				theirs = render(t, data, width)
			}
			var ours strings.Builder
			fmt.Fprintf(&ours, `<svg xmlns="http://www.w3.org/2000/svg" width="%gmm" height="%gmm" viewBox="0 0 %g %g"><path fill-rule="evenodd" d="`, c.width, c.height, c.width, c.height)
			area := 0.0
			for _, l := range d.Lines {
				if !l.Closed || l.ID == "rivet" { // painted over the cuff by them, a hole in it to us
					continue
				}
				for i, p := range l.Points {
					fmt.Fprintf(&ours, "%c%.4f %.4f", "ML"[min(i, 1)], p.X, c.height-p.Y)
				}
				ours.WriteString("Z")
				if inner := geom.Pt(95, 52); l.Points[0].Dist(inner) < 8 { // the one hole, in line 9 of shapes.svg
					area -= float64(geom.Ring(l.Points).Area())
				} else {
					area += float64(geom.Ring(l.Points).Area())
				}
			}
			ours.WriteString(`"/></svg>`)
			mine := render(t, []byte(ours.String()), width)
			if mine.Rect != theirs.Rect {
				t.Fatalf("%v and %v pixels", mine.Rect, theirs.Rect)
			}
			covered, differing := 0.0, 0.0
			for i := range mine.Pix {
				covered += float64(theirs.Pix[i]) / 255
				differing += math.Abs(float64(mine.Pix[i])-float64(theirs.Pix[i])) / 255
			}
			pixelArea := (c.width / width) * (c.width / width)
			t.Logf("they cover %.1f mm², our polygons have %.1f mm², %.3f %% of the pixels differ", covered*pixelArea, area, 100*differing/covered)
			if differing > covered/100 {
				t.Errorf("%.2f %% of the covered pixels differ", 100*differing/covered)
			}
			if math.Abs(covered*pixelArea-area) > area/100 {
				t.Errorf("they cover %.1f mm², our polygons have %.1f mm²", covered*pixelArea, area)
			}
		})
	}
}
