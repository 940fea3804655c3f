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

	"benchbell/quote/gaugetest"
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
	rgba, ok := img.(*image.NRGBA)
	if !ok {
		t.Fatalf("rsvg-convert wrote %T", img)
	}
	cover := image.NewAlpha(img.Bounds())
	for i := range cover.Pix {
		cover.Pix[i] = rgba.Pix[4*i+3]
	}
	return cover
}

// An independent reader draws each file with everything filled, and draws our lines of it as plain polygons: both must
// cover the same pixels, to one percent of what is covered, and the sum of our areas must be what is painted where no
// two shapes overlap. Checked with rsvg-convert 2.54.7 from Debian.
func TestAgreesWithAnotherReader(t *testing.T) {
	gaugetest.Tool(t, "rsvg-convert")
	const filled = `<style>path,circle,ellipse,rect,polygon,g,use,svg{stroke:none!important;fill:#000!important} text{display:none!important}</style></svg>`
	for _, c := range []struct {
		file          string
		width, height float64 // page in mm
		overlaps      bool
	}{{"shapes.svg", 120, 90, false}, {"editor_layers.svg", 300, 220, true}, {"symbols.svg", 200, 150, true}} {
		t.Run(c.file, func(t *testing.T) {
			data, err := os.ReadFile("testdata/" + c.file)
			if err != nil {
				t.Fatal(err)
			}
			d, err := Read(data)
			if err != nil {
				t.Fatal(err)
			}
			var ours strings.Builder
			fmt.Fprintf(&ours, `<svg xmlns="http://www.w3.org/2000/svg" width="%gmm" height="%gmm" viewBox="0 0 %g %g">`, c.width, c.height, c.width, c.height)
			area := 0.0
			for i, l := range d.Lines {
				// Subpaths of one element are one path, so that its holes are holes.
				within := i > 0 && l.At == d.Lines[i-1].At && len(l.Groups) == len(d.Lines[i-1].Groups) && l.ID == d.Lines[i-1].ID
				if !within {
					ours.WriteString(`<path fill-rule="evenodd" d="`)
				}
				for k, p := range l.Points {
					fmt.Fprintf(&ours, "%c%.4f %.4f", "ML"[min(k, 1)], p.X, c.height-p.Y)
				}
				ours.WriteString("Z")
				hole := within && geom.Ring(d.Lines[i-1].Points).Contains(l.Points[0])
				if a := float64(geom.Ring(l.Points).Area()); hole {
					area -= a
				} else {
					area += a
				}
				if next := i + 1; next == len(d.Lines) || d.Lines[next].At != l.At || len(d.Lines[next].Groups) != len(l.Groups) || d.Lines[next].ID != l.ID {
					ours.WriteString(`"/>`)
				}
			}
			ours.WriteString(`</svg>`)
			const width = 1000
			end := bytes.LastIndex(data, []byte("</svg>"))
			theirs, mine := render(t, append(data[:end:end], filled...), width), render(t, []byte(ours.String()), width)
			if mine.Rect != theirs.Rect {
				t.Fatalf("%v and %v pixels", mine.Rect, theirs.Rect)
			}
			covered, differing := 0.0, 0.0
			for i := range mine.Pix {
				covered += float64(theirs.Pix[i]) / 255
				differing += math.Abs(float64(mine.Pix[i])-float64(theirs.Pix[i])) / 255
			}
			painted := covered * (c.width / width) * (c.width / width)
			t.Logf("they paint %.1f mm², our polygons have %.1f mm², %.3f %% of the pixels differ", painted, area, 100*differing/covered)
			if differing > covered/100 {
				t.Errorf("%.2f %% of the covered pixels differ", 100*differing/covered)
			}
			if !c.overlaps && math.Abs(painted-area) > area/100 {
				t.Errorf("they paint %.1f mm², our polygons have %.1f mm²", painted, area)
			}
		})
	}
}
