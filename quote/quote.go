// Package quote holds the studio's vocabulary: commissions, items, measurements, snapshots, settings, quotes, offcuts,
// files.
//
// It has values and what can be read off a value; computing is left to the packages below it: engine makes a quote,
// document lays out what people read, cutting makes what is cut from, floor plans all commissions together. Code that only
// carries these values, such as a queue or a ledger, needs this package alone. Amounts are in minor units of money, lengths
// in millimetres, times in UTC, dates as "2026-12-18".
package quote

import (
	"fmt"
	"math"
	"time"

	"benchbell/quote/cure"
	"benchbell/quote/foam"
	"benchbell/quote/geom"
	"benchbell/quote/labour"
	"benchbell/quote/nest"
	"benchbell/quote/plan"
	"benchbell/quote/price"
)

// Version of the snapshot format.
const Version = 2

// CommissionID numbers a commission: "C0007".
type CommissionID string

// Stage is a stage of the computation; the progress message in the thread steps through them.
type Stage string

// Stages.
const (
	Scaling  Stage = "scaling"
	Nesting  Stage = "nesting"
	Costing  Stage = "costing"
	Planning Stage = "planning"
	Printing Stage = "printing"
)

// Stages in order.
var Stages = []Stage{Scaling, Nesting, Costing, Planning, Printing}

// Sides says which sides of a sided set are wanted.
type Sides string

// Sides.
const (
	OneLeft  Sides = "left"
	OneRight Sides = "right"
	Pair     Sides = "pair"
	Plain    Sides = "" // a set without sides
)

// Step is how far a computation has got.
type Step struct {
	Stage Stage
	Share float64 // of the stage done, 0..1
	Used  float64 // Nesting: share of the sheets' area the best layout so far uses, 0..1; 0: not known
}

// Progress receives the steps of a computation, from one goroutine.
type Progress func(Step)

// At reports a stage and the share of it that is done.
func (p Progress) At(s Stage, share float64) { p(Step{Stage: s, Share: share}) }

// Item is a pattern set as ordered.
type Item struct {
	Set   string `json:"set"`
	Count int    `json:"count"` // of pairs, where Sides is Pair
	Sides Sides  `json:"sides,omitempty"`
}

// Taken is a body measurement as the client gave it.
type Taken struct {
	Key   string    `json:"key"`
	Side  foam.Side `json:"side,omitempty"` // set if left and right were measured separately
	Value geom.MM   `json:"value"`
	Typed string    `json:"typed"` // as the person wrote it; empty for an estimate
	// Deviation is the standard deviation of a value estimated from the others; 0 if it was measured.
	Deviation geom.MM `json:"deviation,omitempty"`
}

// Estimated reports whether the value was estimated rather than measured.
func (t Taken) Estimated() bool { return t.Deviation > 0 }

// PatternSource is a set's two files: the drawing, SVG or DXF, and the spec sheet, which says what a drawing cannot.
type PatternSource struct {
	Drawing string `json:"drawing"`
	TOML    string `json:"toml"`
}

// Snapshot is everything a quote depends on.
type Snapshot struct {
	Version    int                      `json:"version"`
	Commission CommissionID             `json:"commission"`
	Revision   int                      `json:"revision"`
	Client     string                   `json:"client"`
	Items      []Item                   `json:"items"`
	Finish     string                   `json:"finish"`           // key of Studio.Finishes
	Wanted     string                   `json:"wanted,omitempty"` // "2027-03-01"; empty: no date asked for
	Notes      string                   `json:"notes,omitempty"`
	Body       []Taken                  `json:"body"`
	Clothing   geom.MM                  `json:"clothing,omitempty"`
	Allowance  geom.MM                  `json:"allowance,omitempty"` // mock-up allowance, added to every girth
	Changes    []string                 `json:"changes,omitempty"`   // against the previous revision, printed as given
	Patterns   map[string]PatternSource `json:"patterns"`
	Studio     Studio                   `json:"studio"`
	Promised   []plan.Busy              `json:"promised,omitempty"` // the shop's plan so far, places held for open quotes included
	Beside     *Beside                  `json:"beside,omitempty"`   // the same as work, against which the odds are simulated; nil: no other work
	At         time.Time                `json:"at"`                 // when it is computed; the date of the quote
	Seed       uint64                   `json:"seed"`
}

// Beside is the other commissions' work as it is planned: what takes longer there, or waits for a deposit, delays what comes after
// it, whosever it is.
type Beside struct {
	Operations []plan.Operation `json:"operations"`
	Projects   []plan.Project   `json:"projects"`
}

// Studio is the studio's settings, read from studio.toml.
type Studio struct {
	Name        string          `json:"name"`
	Address     []string        `json:"address"`
	Contact     string          `json:"contact"`
	TaxNumber   string          `json:"tax_number,omitempty"`
	Paper       string          `json:"paper"`       // "A4" or "Letter"
	Validity    int             `json:"validity"`    // days
	Hold        int             `json:"hold_days"`   // days for which a quote's date is held
	StartAfter  int             `json:"start_after"` // working days assumed between quote and deposit
	Terms       []string        `json:"terms"`
	Cautions    []string        `json:"cautions,omitempty"`
	FoamK       float64         `json:"foam_k"`
	Gap         geom.MM         `json:"gap"`
	Margin      geom.MM         `json:"margin"`
	Evaluations int             `json:"evaluations"`     // nesting budget per thickness
	Schedules   int             `json:"schedules"`       // planning budget
	Runs        int             `json:"runs"`            // Monte Carlo runs
	Order       []string        `json:"order,omitempty"` // what the shop's plan is good in, first things first; floor.Order if empty
	Confidence  int             `json:"promise"`         // of the promised date, percent: 50, 80 or 95
	Frozen      int             `json:"frozen"`          // days after today on which a new shop plan moves as little as can be
	Danger      int             `json:"danger"`          // a told date is in danger while fewer than this percent of the runs keep it
	Away        []Away          `json:"away,omitempty"`  // who is not at work when, as told so far
	Spread      plan.Spread     `json:"spread"`          // of real durations against the rates
	Before      plan.Chance     `json:"before"`          // quotes accepted and come to nothing, as believed before any were counted
	Room        cure.Room       `json:"room"`
	Air         *plan.Air       `json:"air,omitempty"` // how much the humidity of the day changes water-borne cures; nil: not at all
	Adhesive    string          `json:"adhesive"`      // cure key for seams and laps
	Calendar    plan.Calendar   `json:"calendar"`
	Resources   []plan.Resource `json:"resources"`
	Rates       []labour.Rate   `json:"rates"`
	Prices      price.Book      `json:"prices"`
	Finishes    []Finish        `json:"finishes"`
	DepositDays int             `json:"deposit_days,omitempty"` // days to pay the deposit
	Overtime    int             `json:"overtime,omitempty"`     // percent on the hourly rate after closing time
	Bench       Bench           `json:"bench"`

	Appointments Appointments `json:"appointments,omitzero"`
	Notices      Notices      `json:"-"` // when people are told
}

// Bench is what the studio has for cutting and packing.
type Bench struct {
	Tools   []foam.Tool `json:"tools,omitempty"` // drills and punches owned; holes snap to them
	Kerf    geom.MM     `json:"kerf"`            // width the knife, laser or router removes
	Paper   string      `json:"paper"`           // for 1:1 patterns, a key of package paper
	Overlap geom.MM     `json:"overlap"`         // between its tiles
	Border  geom.MM     `json:"border"`          // the printer cannot reach
	Padding geom.MM     `json:"padding"`         // around what is packed, each side
	Packing float64     `json:"packing"`         // grams of carton and padding per parcel
}

// Finish is a finish level: its coats, in order.
type Finish struct {
	Key   string `json:"key"`
	Title string `json:"title"`
	Note  string `json:"note"`
	Coats []Coat `json:"coats"`
}

// CoatCount is how many coats a finish has in all.
func (f Finish) CoatCount() int {
	n := 0
	for _, c := range f.Coats {
		n += c.Coats
	}
	return n
}

// Coat is a material and how many coats of it.
type Coat struct {
	Op       string `json:"op"` // labour op: "prime", "paint", "wash", "clear"
	Material string `json:"material"`
	Coats    int    `json:"coats"`
}

// CutPiece is a line of the cut list.
type CutPiece struct {
	Label     string         `json:"label"` // "2L-stud/3": item, side, piece, and which of several copies
	Set       string         `json:"set"`
	Side      foam.Side      `json:"side,omitempty"`
	Piece     string         `json:"piece"`
	Title     string         `json:"title"`
	Copy      int            `json:"copy"`
	Mirrored  bool           `json:"mirrored"`
	Thickness geom.MM        `json:"thickness"`
	Width     geom.MM        `json:"width"`
	Height    geom.MM        `json:"height"`
	Area      geom.MM2       `json:"area"`
	CutLength geom.MM        `json:"cut_length"`
	Grams     float64        `json:"grams"`
	Sheet     int            `json:"sheet"` // 1-based index into Quote.Sheets
	At        geom.Placement `json:"at"`
}

// SheetLayout is a sheet and what to cut from it.
type SheetLayout struct {
	Number    int         `json:"number"` // 1-based
	Thickness geom.MM     `json:"thickness"`
	Layout    nest.Layout `json:"layout"`
}

// Picture is a picture for the thread and for pages.
type Picture struct {
	Name string `json:"name"` // "sheet-1.png"
	MIME string `json:"mime"`
	Alt  string `json:"alt"`
	Data []byte `json:"data"`
}

// Quote is the result of a computation.
type Quote struct {
	Commission CommissionID   `json:"commission"`
	Revision   int            `json:"revision"`
	Graded     []foam.Graded  `json:"graded"`
	Pieces     []CutPiece     `json:"pieces"`
	Sheets     []SheetLayout  `json:"sheets"`
	Estimate   price.Estimate `json:"estimate"`
	Minutes    labour.Time    `json:"minutes"`    // total; Likely is what the expected value is based on
	Hours      float64        `json:"hours"`      // expected
	HoursLow   float64        `json:"hours_low"`  // that 10 of 100 simulated runs stay within
	HoursHigh  float64        `json:"hours_high"` // the same of 90 of 100
	Grams      float64        `json:"grams"`
	Parcel     Parcel         `json:"parcel"`
	Work       Breakdown      `json:"work"` // what was planned and charged
	Plan       plan.Solution  `json:"plan"`
	Issued     time.Time      `json:"issued"`
	Expires    time.Time      `json:"expires"` // end of the last day of validity, studio's zone
	Held       time.Time      `json:"held"`    // end of the last day for which the date is held, studio's zone
	Promise    string         `json:"promise"` // the date, "2026-12-18"
	Confidence int            `json:"sure"`    // percent of simulated runs finished by then, at least
	Odds       float64        `json:"odds"`    // share of simulated runs finished by then
	Late       bool           `json:"late"`    // later than Snapshot.Wanted
	Summary    string         `json:"summary"` // a few lines for the thread
	Remarks    []string       `json:"remarks,omitempty"`
	PDF        []byte         `json:"pdf"`
	SHA256     string         `json:"sha256"`   // of PDF, hex
	Pictures   []Picture      `json:"pictures"` // PNG per sheet, plan PNG, set drawing
	CutList    string         `json:"cut_list"` // as CSV
}

// Offcut is foam left over from a sheet and kept.
type Offcut struct {
	ID        string    `json:"id,omitempty"` // "R0001"; empty until it is on the rack
	Thickness geom.MM   `json:"thickness"`
	Outline   geom.Ring `json:"outline"` // counter-clockwise, its box beginning at 0, 0
	Sheet     int       `json:"sheet"`   // number of the sheet it is left over from
}

// Size of its bounding box.
func (o Offcut) Size() (width, height geom.MM) {
	b := o.Outline.Bounds()
	return b.Width(), b.Height()
}

// File is a file to keep or to cut from.
type File struct {
	Name string
	MIME string
	Data []byte
}

// Away is time that a maker is not at work.
type Away struct {
	Maker string    `json:"maker"` // resource ID
	From  time.Time `json:"from"`
	To    time.Time `json:"to"`
}

// Parcel is the finished work packed for the post: outer size, longest side first, and weight with carton. It is an
// estimate for choosing a carton, not a measurement.
type Parcel struct {
	Length geom.MM `json:"length"`
	Width  geom.MM `json:"width"`
	Height geom.MM `json:"height"`
	Grams  float64 `json:"grams"`
}

// Words says the size and weight: "about 48 × 30 × 22 cm and 1.4 kg packed".
func (p Parcel) Words() string {
	cm := func(l geom.MM) float64 { return float64(l) / 10 }
	return fmt.Sprintf("about %.0f × %.0f × %.0f cm and %s packed", cm(p.Length), cm(p.Width), cm(p.Height), Weight(p.Grams))
}

// Weight says grams as a quote says them: to a tenth of a kilogram, and below half of one to ten grams.
func Weight(grams float64) string {
	if grams < 500 {
		return fmt.Sprintf("%.0f g", math.Ceil(grams/10)*10)
	}
	return fmt.Sprintf("%.1f kg", grams/1000)
}
