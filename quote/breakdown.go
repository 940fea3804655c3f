package quote

import (
	"fmt"

	"benchbell/quote/geom"
	"benchbell/quote/labour"
	"benchbell/quote/plan"
)

// BreakdownVersion is the version of breakdowns made now.
const BreakdownVersion = 1

// Breakdown lists the work of a commission, operation by operation, as it was worked out when the quote was made. Later
// planning, pricing and bench work read it from here, so a release that would break the work down differently changes no
// existing quote.
type Breakdown struct {
	Version    int         `json:"version"` // 0: the quote is older than stored breakdowns
	Assemblies []Assembly  `json:"assemblies"`
	Operations []Operation `json:"operations"`
}

// Operation is one step of the work: what is planned, the quantity its time was estimated from, and what it is done to and
// with.
type Operation struct {
	plan.Operation
	Assembly  int         `json:"assembly,omitempty"` // number of the assembly; 0: the whole commission
	Quantity  float64     `json:"quantity"`           // in Unit
	Unit      labour.Unit `json:"unit"`
	Time      labour.Time `json:"time"`   // minutes, before they are rounded up to the plan's grid
	Pieces    []string    `json:"pieces"` // labels of the cut list
	Materials []Material  `json:"materials,omitempty"`
}

// Material is something an operation uses up: foam by thickness, a liquid by area and coats, hardware by count or length.
type Material struct {
	Key       string   `json:"key,omitempty"` // in the studio's price book; empty for foam
	Thickness geom.MM  `json:"thickness,omitempty"`
	Area      geom.MM2 `json:"area,omitempty"` // one face
	Coats     int      `json:"coats,omitempty"`
	Count     int      `json:"count,omitempty"`
	Length    geom.MM  `json:"length,omitempty"`
}

// Assembly is what goes through the shop together: all copies, left and right, of one ordered item (common practice, no
// source: an assembly is primed together), with the amount of work on it.
type Assembly struct {
	Number   int         `json:"number"` // 1-based, as in piece labels
	Title    string      `json:"title"`
	Steps    []string    `json:"steps,omitempty"`    // labour ops the set lists; none: every op with a quantity
	Finishes []string    `json:"finishes,omitempty"` // keys of the finishes the set allows; none: any
	Pieces   []string    `json:"pieces"`             // labels of the cut list
	Units    int         `json:"units"`              // how many are handed over
	Cut      []CutLength `json:"cut"`                // thickest first
	Bevel    float64     `json:"bevel"`              // m
	Score    float64     `json:"score"`              // m
	Formed   float64     `json:"formed"`             // m²
	Seam     float64     `json:"seam"`               // m of joint
	SeamArea geom.MM2    `json:"seam_area"`          // of joint, one face
	Lap      geom.MM2    `json:"lap"`
	Holes    int         `json:"holes"`
	Sealed   float64     `json:"sealed"` // m², both faces
	Coated   geom.MM2    `json:"coated"` // outer faces and the edges around them
	Fittings int         `json:"fittings"`
	Hardware []Material  `json:"hardware,omitempty"`
}

// CutLength is the length to cut in foam of one thickness, and the pieces it belongs to.
type CutLength struct {
	Thickness geom.MM  `json:"thickness"`
	Metres    float64  `json:"metres"`
	Pieces    []string `json:"pieces"`
}

// Plan returns the operations as the planner takes them; the caller may change them.
func (b Breakdown) Plan() []plan.Operation {
	var out []plan.Operation
	for _, o := range b.Operations {
		out = append(out, o.Operation)
	}
	return out
}

// After maps the ID of each operation to the IDs of those that must be done, and cured, before it.
func (b Breakdown) After() map[string][]string {
	out := map[string][]string{}
	for _, o := range b.Operations {
		for _, l := range o.After {
			out[o.ID] = append(out[o.ID], l.After)
		}
	}
	return out
}

// Minutes is the expected time of all operations.
func (b Breakdown) Minutes() float64 {
	m := 0.0
	for _, o := range b.Operations {
		m += o.Time.Expected()
	}
	return m
}

// CutOperation is the ID of the operation that cuts foam of a thickness.
func CutOperation(t geom.MM) string { return fmt.Sprintf("%s%g", cutting, float64(t)) }
