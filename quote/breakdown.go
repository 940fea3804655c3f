package quote

import (
	"fmt"

	"benchbell/quote/geom"
	"benchbell/quote/labour"
	"benchbell/quote/plan"
)

// BreakdownVersion is the version of breakdowns made now.
const BreakdownVersion = 1

// Breakdown is a commission's work, operation by operation, as it was worked out when its quote was made. Whoever plans,
// prices or works by the quote later reads it from here: a release that would work it out in another way changes nothing
// that was quoted before.
type Breakdown struct {
	Version    int         `json:"version"` // 0: of a quote from before breakdowns were kept
	Assemblies []Assembly  `json:"assemblies"`
	Operations []Operation `json:"operations"`
}

// Operation is one step of the work: what is planned, from how much it was reckoned, and what it is done to and with.
type Operation struct {
	plan.Operation
	Assembly  int         `json:"assembly,omitempty"` // number of the assembly; 0: of the whole commission
	Quantity  float64     `json:"quantity"`           // in Unit
	Unit      labour.Unit `json:"unit"`
	Time      labour.Time `json:"time"`   // minutes, before they are rounded up to the plan's grid
	Pieces    []string    `json:"pieces"` // labels of the cut list
	Materials []Material  `json:"materials,omitempty"`
}

// Material is something an operation uses up: foam by its thickness, a liquid by area and coats, hardware by count or length.
type Material struct {
	Key       string   `json:"key,omitempty"` // of the studio's price book; empty for foam
	Thickness geom.MM  `json:"thickness,omitempty"`
	Area      geom.MM2 `json:"area,omitempty"` // one face
	Coats     int      `json:"coats,omitempty"`
	Count     int      `json:"count,omitempty"`
	Length    geom.MM  `json:"length,omitempty"`
}

// Assembly is what goes through the shop together: all the copies, left and right, of one item ordered (common practice,
// no source: an assembly is primed together), with how much there is to do on it.
type Assembly struct {
	Number   int         `json:"number"` // 1-based, as in piece labels
	Title    string      `json:"title"`
	Steps    []string    `json:"steps,omitempty"`    // labour ops the set asks for; none: whatever has a quantity
	Finishes []string    `json:"finishes,omitempty"` // keys of the finishes the set can have; none: any
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

// CutLength is how far the blade goes in foam of one thickness, and through which pieces.
type CutLength struct {
	Thickness geom.MM  `json:"thickness"`
	Metres    float64  `json:"metres"`
	Pieces    []string `json:"pieces"`
}

// Plan lists the operations as the planner takes them; the caller may change them.
func (b Breakdown) Plan() []plan.Operation {
	var out []plan.Operation
	for _, o := range b.Operations {
		out = append(out, o.Operation)
	}
	return out
}

// After tells which operations each operation needs done, and cured, before it: operation ID → IDs.
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
func CutOperation(t geom.MM) string { return fmt.Sprintf("cut-%g", float64(t)) }
