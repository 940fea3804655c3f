package pattern

import (
	"bytes"
	"errors"
	"path/filepath"
	"testing"

	"benchbell/quote/foam"
	"benchbell/quote/gaugetest"
)

// bare is a drawing as an editor leaves it: one layer, made-up ids, styles instead of classes.
const bare = `<svg xmlns="http://www.w3.org/2000/svg" xmlns:inkscape="http://www.inkscape.org/namespaces/inkscape" width="400mm" height="300mm" viewBox="0 0 400 300">
<g id="layer1" inkscape:groupmode="layer" inkscape:label="Layer 1">
<path id="path10" style="fill:none;stroke:#000" d="M20 20H120V90H20Z"/>
<circle id="path11" cx="30" cy="30" r="2.5"/><rect id="rect12" x="50" y="40" width="20" height="10"/>
<path id="path13" style="stroke:#f00" d="M40 25V85"/><path id="path14" style="stroke-dasharray:2,2" d="M90 25V85"/>
<text x="80" y="60">Left panel</text>
<g id="g20"><path id="path21" d="M150 20l60 0 0 40 -60 .2 0 -40.4"/></g>
<g id="g30" inkscape:label="Tab"><circle id="path31" cx="60" cy="200" r="40"/></g>
<path id="path40" d="M200 150h50v50h-50z"/>
</g></svg>`

func TestDraft(t *testing.T) {
	toml, s, notes, err := Draft([]byte(bare), "My first panel!")
	if err != nil {
		t.Fatal(err)
	}
	gaugetest.Golden(t, filepath.Join("testdata", "draft.golden.toml"), toml)
	g, err := s.Grade(s.BaseFit(foam.NoSide))
	if err != nil {
		t.Fatal(err)
	}
	out := s.Report(s.BaseFit(foam.NoSide), g).Text()
	gaugetest.Golden(t, filepath.Join("testdata", "draft.golden.txt"), []byte(out))
	p := g.Pieces[0]
	if p.ID != "Left-panel" || len(p.Drills) != 1 || len(p.Shape.Holes) != 2 || len(p.Scores) != 1 || len(p.Marks) != 1 || p.Marks[0].Kind != foam.Bend {
		t.Errorf("the first piece is %s with %d drills, %d holes, %d scores, marks %v", p.ID, len(p.Drills), len(p.Shape.Holes), len(p.Scores), p.Marks)
	}
	if len(notes) < 3 {
		t.Errorf("notes %q: want the closed gap and the names said", notes)
	}
}

func FuzzDraft(f *testing.F) {
	f.Add([]byte(bare), "x")
	f.Add(read(f, "small.svg"), "Cuff")
	f.Add([]byte("0\nSECTION\n2\nENTITIES\n0\nCIRCLE\n8\nring\n10\n50\n20\n50\n40\n20\n0\nENDSEC\n0\nEOF\n"), "ring")
	f.Add([]byte(`<svg viewBox="0 0 9 9"><path d="M0 0h90v90h-90z M10 10h50v50h-50z M20 20h5v5z"/></svg>`), "nest")
	f.Fuzz(func(t *testing.T, data []byte, name string) {
		toml, s, _, err := Draft(data, name)
		if err != nil {
			var ft *Fault
			if errors.As(err, &ft) && !ft.At.Finite() {
				t.Fatalf("%v marks no place", err)
			}
			return
		}
		again, err := Parse(data, toml)
		if err != nil {
			t.Fatalf("a draft must parse: %v", err)
		}
		if len(again.parts) != len(s.parts) {
			t.Fatal("a draft parsed to another set")
		}
		toml2, _, _, _ := Draft(data, name)
		if !bytes.Equal(toml, toml2) {
			t.Fatal("two drafts of one drawing differ")
		}
	})
}
