package floor

import (
	"time"

	"benchbell/quote"
)

// Beside is the work of all open commissions but one, for simulating that one among them. It refuses what Plan refuses.
func Beside(open []Open, st quote.Studio, now time.Time, but quote.CommissionID) (*quote.Beside, error) {
	var others []Open
	for _, o := range open {
		if o.Snapshot.Commission != but {
			others = append(others, o)
		}
	}
	if len(others) == 0 {
		return nil, nil
	}
	p, _, err := shopProblem(others, st, now)
	if err != nil {
		return nil, err
	}
	for i := range p.Operations { // nobody reads them
		o := &p.Operations[i]
		o.Title, o.Group, o.TailCure = "", "", ""
	}
	return &quote.Beside{Operations: p.Operations, Projects: p.Projects}, nil
}
