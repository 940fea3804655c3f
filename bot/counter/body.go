package counter

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strings"

	"benchbell/bot/shop"
	"benchbell/quote/measure"
)

// bodyView is the form of measurements.
type bodyView struct {
	Given, All int
	Fields     []measureView
	CanDiffer  bool
	Apart      bool
	List       string // typed as one list, as far as it was not understood
	ListInches bool
	Estimable  bool
	Height     field
	Inches     bool // of the height
	Mass       string
	Adult      string // yes, no, or not said
	Estimate   bool   // it is what was refused
}

// measureView is one measurement with its drawing.
type measureView struct {
	Field, Key, ID string
	Label, How     string
	Value          string
	Inches         bool
	Known          bool
	Says           string // what was understood, or an estimate
	Wrong          string
	Unusual        string
}

func (p *looking) measuring() (stage, error) {
	c := p.o.Commission
	s := stage{Kind: "body", Title: "Your measurements", Cancel: true,
		Lead: "Have somebody hold the tape, snug but not tight, and measure the body itself: room for clothes is added."}
	b, err := see[shop.Body](p.r.Context(), p.Counter, p.Visit, shop.Measurements{Of: p.of()})
	if err != nil {
		return s, err
	}
	v := &bodyView{All: len(b.All), Given: len(b.All) - len(shop.Missing(b.All)), CanDiffer: b.CanDiffer, Apart: c.Apart}
	for _, x := range b.All {
		v.Fields = append(v.Fields, p.measurement(b, x))
		v.Estimable = v.Estimable || !x.Known && measure.Estimable(x.Key)
	}
	v.List, v.ListInches = p.n.typed.Get("list"), p.n.typed.Get("unit.list") == "in"
	if v.Estimable {
		h, err := see[shop.Stature](p.r.Context(), p.Counter, p.Visit, shop.HeightAndWeight{Of: p.of()})
		if err != nil {
			return s, err
		}
		v.Height.Value, v.Inches = parted(p.n.value("height", h.Height))
		v.Inches = v.Inches || p.n.typed.Get("unit.height") == "in"
		v.Mass, v.Adult = p.n.value("mass", h.Mass), p.n.typed.Get("adult")
		v.Estimate = p.n.do == "estimate"
	}
	s.Body = v
	return s, nil
}

func (p *looking) measurement(b shop.Body, x shop.Wanted) measureView {
	d := x.Def()
	v := measureView{Field: x.Field(), Key: x.Key, ID: "m-" + strings.ReplaceAll(x.Field(), "/", "-"), Label: x.Label(), How: d.How, Known: x.Known}
	v.Value, v.Inches = parted(x.Typed)
	if x.Known {
		v.Says = known(x)
		if g, judged := d.Judge(x.Value); g != measure.Plausible && !x.Estimated() {
			v.Unusual = strings.TrimSuffix(judged, ".")
		} else if f := b.Findings[x.Field()]; f.Level >= measure.Warn {
			v.Unusual = strings.TrimSuffix(f.Say, ".")
		}
	} else if x.Typed != "" {
		v.Wrong = strings.TrimSuffix(x.Problem, ".")
	}
	if key := "m." + x.Field(); p.n.typed.Has(key) && p.n.do != "estimate" { // refused with the rest of its form
		v.Value, v.Inches = p.n.typed.Get(key), p.n.typed.Get("unit."+x.Field()) == "in"
	}
	return v
}

// known says a value in both unit systems; an estimate says that it is one.
func known(x shop.Wanted) string {
	if x.Estimated() {
		return fmt.Sprintf("estimated: about %s, give or take %s", measure.Format(x.Value), measure.Format(x.Deviation))
	}
	return measure.Format(x.Value)
}

// parted is a length as typed without the unit that the page has beside it.
func parted(typed string) (value string, inches bool) {
	for unit, is := range map[string]bool{" cm": false, " in": true} {
		if v, ok := strings.CutSuffix(typed, unit); ok && measure.Unitless(v) {
			return v, is
		}
	}
	return typed, false
}

// checkView shows the measurements back, and what will be made of them.
type checkView struct {
	Rows  []checkRow
	Sides []string
	Again bool // something is so unusual that it should be measured again
	None  bool // nothing needs measuring
}

type checkRow struct {
	Label, Says, Unusual string
	Estimate             bool
}

func (p *looking) checking() (stage, error) {
	s := stage{Kind: "check", Title: "Is this right?", Lead: "Your quote is worked out from it.", Chosen: p.chosen(true), Cancel: true}
	o, err := see[shop.Body](p.r.Context(), p.Counter, p.Visit, shop.Measurements{Of: p.of()})
	if err != nil {
		return s, err
	}
	v := &checkView{None: len(o.All) == 0}
	for _, x := range o.All {
		r := checkRow{Label: x.Label(), Says: known(x), Estimate: x.Estimated()}
		f := o.Findings[x.Field()]
		switch g, judged := x.Def().Judge(x.Value); {
		case f.Level >= measure.Warn:
			r.Unusual = f.Say
		case g != measure.Plausible:
			r.Unusual = judged
		case f.Level == measure.Note:
			r.Unusual = "a little unusual next to the others"
		}
		v.Again = v.Again || f.Level == measure.Ask
		v.Rows = append(v.Rows, r)
	}
	for _, f := range o.Sides {
		v.Sides = append(v.Sides, f.Say)
		v.Again = v.Again || f.Level == measure.Ask
	}
	s.Check = v
	return s, nil
}

// checked says of one length, while it is typed, what is understood.
type checked struct {
	Good bool   `json:"good"`
	Says string `json:"says"`
}

// check reads a length as it would be read when it is sent; it keeps nothing.
func check(w http.ResponseWriter, r *http.Request) error {
	q := r.URL.Query()
	d, ok := measure.Lookup(q.Get("key"))
	if !ok {
		return ErrNone
	}
	var o checked
	l, err := measure.Parse(withUnit(q.Get("typed"), q.Get("unit")), measure.CM)
	if err != nil {
		o.Says = err.Error()
	} else {
		g, say := d.Judge(l)
		o.Good, o.Says = g != measure.Impossible, measure.Format(l)
		if g != measure.Plausible {
			o.Says = strings.TrimSuffix(say, ".")
		}
	}
	w.Header().Set("Content-Type", "application/json")
	return json.NewEncoder(w).Encode(o)
}
