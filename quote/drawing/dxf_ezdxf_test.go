package drawing

import (
	"encoding/json"
	"os"
	"os/exec"
	"testing"

	"benchbell/quote/gaugetest"
	"benchbell/quote/geom"
)

// ezdxf runs a script with an independent reader of DXF (Debian: python3-ezdxf).
func ezdxf(t *testing.T, script, file string) []byte {
	t.Helper()
	python := gaugetest.Python(t, "ezdxf")
	cmd := exec.Command(python, script, file)
	cmd.Stderr = os.Stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%s: %v", script, err)
	}
	return out
}

// theirLine is what flatten.py prints.
type theirLine struct {
	Layer  string
	Closed bool
	Points [][2]float64
}

// flatnessTheirs is how far ezdxf's polylines are from its curves, as flatten.py asks for, with as much for its digits.
const flatnessTheirs = 0.005

// Every point of ezdxf's flattening lies on our lines of the same layer and the other way round, within what both
// flatten to. Source: python3-ezdxf of Debian reads the same files.
func TestDXFAgainstEzdxf(t *testing.T) {
	for _, name := range []string{"testdata/dxf/r12.dxf", "testdata/dxf/r2000.dxf"} {
		var theirs []theirLine
		if err := json.Unmarshal(ezdxf(t, "testdata/dxf/flatten.py", name), &theirs); err != nil {
			t.Fatal(err)
		}
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		ours, them := map[string][]Line{}, map[string][]Line{}
		for _, l := range mustRead(t, data).Lines {
			ours[l.Layer] = append(ours[l.Layer], l)
		}
		for _, l := range theirs {
			line := Line{Closed: l.Closed}
			for _, p := range l.Points {
				line.Points = append(line.Points, geom.Pt(p[0], p[1]))
			}
			them[l.Layer] = append(them[l.Layer], line)
		}
		points := 0
		compare := func(a, b map[string][]Line, whose string) {
			for layer, ls := range a {
				for _, l := range ls {
					if l.At == "entity 33 (SPLINE)" { // through points only: the format does not define the curve
						continue
					}
					for _, p := range l.Points {
						points++
						if off := nearestLine(p, b[layer]); off > float64(Flatness)+flatnessTheirs {
							t.Errorf("%s: %s of %s on layer %s is %.4f mm from the other's nearest line (%s)", name, whose, pointString(p), layer, off, l.At)
							return
						}
					}
				}
			}
		}
		compare(ours, them, "ours")
		compare(them, ours, "theirs")
		if points < 1000 {
			t.Errorf("%s: only %d points were compared", name, points)
		}
	}
}

func pointString(p geom.Point) string { return geom.MM(p.X).String() + ", " + geom.MM(p.Y).String() }

func nearestLine(p geom.Point, lines []Line) float64 {
	best := 1e9
	for _, l := range lines {
		if l.Points.Bounds().Grow(1).Contains(p) {
			best = min(best, distanceToLine(p, l))
		}
	}
	return best
}
