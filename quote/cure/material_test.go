package cure

import (
	"slices"
	"testing"
)

func TestTableIsWhole(t *testing.T) {
	keys := []string{"solvent contact cement", "water-based contact adhesive", "cyanoacrylate", "hot-melt glue",
		"peelable rubber coating", "flexible primer", "acrylic paint", "acrylic wash", "polyurethane varnish, water-based",
		"solvent aerosol enamel", "epoxy resin", "polyurethane resin"}
	if len(Materials()) != len(keys) {
		t.Errorf("%d materials, want %d", len(Materials()), len(keys))
	}
	for _, key := range keys {
		m, ok := Lookup(key)
		if !ok {
			t.Errorf("%s is missing", key)
			continue
		}
		if len(m.Cautions) == 0 || len(m.Sources) == 0 || m.Coats < 1 {
			t.Errorf("%s: cautions, sources or coats missing", key)
		}
		if m.WaterBorne != (m.Law == Water) {
			t.Errorf("%s: water-borne mark", key)
		}
		marks := func(what, mark string, sources []string) {
			if load().Confidence[mark] == "" {
				t.Errorf("%s, %s: confidence mark %q is not explained", key, what, mark)
			}
			for _, s := range sources {
				if s == "" {
					t.Errorf("%s, %s: a source has no words", key, what)
				}
			}
			if len(sources) == 0 {
				t.Errorf("%s, %s: no source", key, what)
			}
		}
		for _, f := range m.Figures {
			marks(f.Name, f.Confidence, f.Sources)
			if f.Low > f.High || f.Plan < f.Low || f.Plan > f.High {
				t.Errorf("%s, %s: plan %g outside %g to %g", key, f.Name, f.Plan, f.Low, f.High)
			}
		}
		for _, name := range []string{"touch", "handle", "full"} {
			if _, ok := m.Figure(name); !ok {
				t.Errorf("%s has no %s time", key, name)
			}
		}
		for _, a := range append(append([]Allowed(nil), m.Recoat...), m.Topcoat...) {
			marks("window", a.Confidence, a.Sources)
		}
		for _, l := range m.Limits {
			marks(l.What, l.Confidence, l.Sources)
			if !slices.Contains([]string{"min temperature", "max temperature", "min humidity", "max humidity", "dew margin"}, l.What) {
				t.Errorf("%s: nobody reads a limit called %q", key, l.What)
			}
		}
		if len(m.LawSources) == 0 || m.LawSources[0] == "" {
			t.Errorf("%s: its law has no source", key)
		}
		if e := m.Energy; e != nil {
			marks("energy", e.Confidence, e.Sources)
			if m.Law != Reaction || e.Low > e.High || e.Low < 40 || e.High > 100 { // typical range of a secondary page
				t.Errorf("%s: activation energies %g to %g kJ/mol for %s", key, e.Low, e.High, m.Law)
			}
		}
		if _, err := m.Times(Room{23, 50}); err != nil {
			t.Errorf("refuses the reference room: %v", err)
		}
	}
	if _, ok := Lookup("mortar"); ok {
		t.Error("found an unknown material")
	}
}
