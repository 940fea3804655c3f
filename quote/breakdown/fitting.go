package breakdown

import (
	"fmt"
	"slices"

	"benchbell/quote"
	"benchbell/quote/labour"
	"benchbell/quote/plan"
)

// wornSets are the assemblies of a commission that are tried on.
type wornSets struct {
	at     []int // indices
	units  int   // handed over, left and right each
	pieces []string
}

// worn are the assemblies whose set lists a fitting among its operations; props list none.
func worn(as []quote.Assembly) wornSets {
	var w wornSets
	for i, a := range as {
		if a.Units > 0 && (len(a.Steps) == 0 || slices.Contains(a.Steps, labour.Fit)) {
			w.at = append(w.at, i)
			w.units += a.Units
			w.pieces = append(w.pieces, a.Pieces...)
		}
	}
	return w
}

// cuttings are the operations that cut the foam of what is worn. Notice of a fitting counts from their end: the first day on which
// it is certain that the work goes on as planned.
func (b *builder) cuttings(w wornSets, as []quote.Assembly) []string {
	var out []string
	for _, i := range w.at {
		for _, c := range as[i].Cut {
			if id := quote.CutOperation(c.Thickness); !slices.Contains(out, id) {
				out = append(out, id)
			}
		}
	}
	return out
}

// fitting adds the one fitting of that name for all that is worn: after what is tried on is done, and as long after notice as the
// client is given to make room for it. It returns its ID.
func (b *builder) fitting(id string, w wornSets, after []plan.Lag, notice []string) (string, error) {
	how := b.studio.Appointments.Fittings
	o, err := b.add(step{id: id, title: fittingTitle(b.rates, id, how), group: "Fitting", kind: labour.Fit, rate: fittingRate(id, how),
		quantity: float64(w.units), pieces: w.pieces})
	if err != nil {
		return "", err
	}
	o.Whole = o.High <= longestWhole // the client is there once
	for _, l := range after {
		if how == quote.ByPictures {
			l.Min += elsewhere(b.studio, id)
		}
		if i := slices.IndexFunc(o.After, func(x plan.Lag) bool { return x.After == l.After }); i < 0 {
			o.After = append(o.After, l)
		}
	}
	for _, before := range notice {
		if i := slices.IndexFunc(o.After, func(l plan.Lag) bool { return l.After == before }); i >= 0 {
			o.After[i].Min = max(o.After[i].Min, b.studio.Appointments.Ahead())
			continue
		}
		o.After = append(o.After, plan.Lag{After: before, Min: b.studio.Appointments.Ahead()})
	}
	return id, nil
}

// elsewhere is how long a fitting by pictures waits for the client: the raw parts go there and pictures come back; of the finished
// work the studio shows pictures itself, and waits for the answer.
func elsewhere(st quote.Studio, id string) plan.Minutes {
	if id == quote.FinalFitting {
		return st.Appointments.Ahead()
	}
	return st.Appointments.ByPost()
}

// fittingRate is the labour op that a fitting is charged and planned by.
func fittingRate(id string, how quote.How) string {
	switch {
	case how == quote.ByPictures:
		return labour.Pictures
	case id == quote.FinalFitting:
		return labour.Final
	}
	return labour.Fit
}

// fittingTitle names a fitting as the studio's rates do.
func fittingTitle(rates labour.Rates, id string, how quote.How) string {
	r, _ := rates.Find(fittingRate(id, quote.InPerson))
	if how == quote.ByPictures {
		return r.Title + ", by pictures"
	}
	return r.Title
}

// withFittings adds the built-in rates of fittings to those of a studio that were kept before there were any.
func withFittings(rates labour.Rates) labour.Rates {
	rates = slices.Clone(rates)
	for _, r := range labour.DefaultRates() {
		if _, ok := rates.Find(r.Op); !ok && (r.Op == labour.Final || r.Op == labour.Pictures) {
			rates = append(rates, r)
		}
	}
	return rates
}

// Refit is an operation of the breakdown as it is planned where the client has chosen another way to hold its fitting than the
// quote has: what is charged stays. What is no fitting is returned unchanged. It refuses what the studio has no rate for.
func Refit(st quote.Studio, op quote.Operation, how quote.How) (quote.Operation, error) {
	was := st.Appointments.Fittings
	if was == "" {
		was = quote.InPerson
	}
	if op.ID != quote.FirstFitting && op.ID != quote.FinalFitting || how == "" || how == was {
		return op, nil
	}
	rates := withFittings(st.Rates)
	t, err := rates.Estimate(labour.Work{Op: fittingRate(op.ID, how), Quantity: op.Quantity})
	if err != nil {
		return op, fmt.Errorf("the fitting %q: %w", op.Title, err)
	}
	takes(&op, t)
	op.Title = fittingTitle(rates, op.ID, how)
	op.After = slices.Clone(op.After)
	post := elsewhere(st, op.ID)
	if how == quote.InPerson {
		post = -post
	}
	for i := range op.After {
		if l := &op.After[i]; !notice(op.ID, l.After) {
			l.Min = max(0, l.Min+post)
		}
	}
	return op, nil
}

// notice reports whether a fitting waits for an operation only so that its client has notice.
func notice(id, after string) bool {
	if id == quote.FinalFitting {
		return after == quote.FirstFitting
	}
	return quote.Cuts(after)
}
