package schedule

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"

	"benchbell/quote/plan"
)

// maxProblem is the most bytes of a problem that Decode reads: some fifty times a large commission's.
const maxProblem = 8 << 20

// Decode reads a problem from JSON and validates it as Solve would. It refuses more than maxProblem bytes, fields it
// does not know and anything after the problem.
func Decode(data []byte) (plan.Problem, error) {
	if len(data) > maxProblem {
		return plan.Problem{}, fmt.Errorf("the problem has %d bytes, give at most %d", len(data), maxProblem)
	}
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	var p plan.Problem
	if err := d.Decode(&p); err != nil {
		return plan.Problem{}, fmt.Errorf("the problem is not readable JSON of a plan: %w", err)
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return plan.Problem{}, errors.New("the problem is followed by something else, give one JSON object")
	}
	if _, err := compile(&p); err != nil {
		return plan.Problem{}, err
	}
	return p, nil
}
