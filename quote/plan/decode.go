package plan

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
)

// MaxProblem is the most bytes of a problem that Decode reads: some fifty times a large commission's.
const MaxProblem = 8 << 20

// Decode reads a problem from JSON and validates it as Solve would. It refuses more than MaxProblem bytes, fields it
// does not know and anything after the problem.
func Decode(data []byte) (Problem, error) {
	if len(data) > MaxProblem {
		return Problem{}, fmt.Errorf("the problem has %d bytes, give at most %d", len(data), MaxProblem)
	}
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	var p Problem
	if err := d.Decode(&p); err != nil {
		return Problem{}, fmt.Errorf("the problem is not readable JSON of a plan: %w", err)
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return Problem{}, errors.New("the problem is followed by something else, give one JSON object")
	}
	if _, err := compile(&p); err != nil {
		return Problem{}, err
	}
	return p, nil
}
