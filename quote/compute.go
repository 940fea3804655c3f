package quote

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"fmt"
	"math"
	"sort"
	"strings"
	"time"

	"benchbell/quote/geom"
	"benchbell/quote/labour"
	"benchbell/quote/pattern"
	"benchbell/quote/pdf"
	"benchbell/quote/plan"
	"benchbell/quote/price"
)

// Limits of one commission; above them the request is a mistake or an attack.
const (
	maxItems  = 20
	maxCount  = 50
	maxPieces = 2000
)

// Compute makes the quote. progress, which may be nil, is told the stage and its share done (0..1) from this
// goroutine. It returns ctx's error when ctx ends first; any other error is a sentence for the person.
func Compute(ctx context.Context, s Snapshot, progress Progress) (Quote, error) {
	if progress == nil {
		progress = func(Step) {}
	}
	if s.Version != Version {
		return Quote{}, fmt.Errorf("this snapshot is of version %d and this program computes version %d; run bot and workers of one release", s.Version, Version)
	}
	q := Quote{Commission: s.Commission, Revision: s.Revision, Issued: s.At}

	progress.At(Scaling, 0)
	sets, err := s.sets()
	if err != nil {
		return Quote{}, err
	}
	if q.Graded, err = s.grade(sets); err != nil {
		return Quote{}, err
	}
	batches, err := s.batches(sets, q.Graded)
	if err != nil {
		return Quote{}, err
	}
	q.cut(s, batches)
	progress.At(Scaling, 1)

	if err := q.nest(ctx, s, progress); err != nil {
		return Quote{}, err
	}

	progress.At(Costing, 0)
	j, err := work(s, batches)
	if err != nil {
		return Quote{}, err
	}
	if err := q.cost(s, j); err != nil {
		return Quote{}, err
	}
	progress.At(Costing, 1)

	progress.At(Planning, 0)
	if err := q.plan(ctx, s, j, progress); err != nil {
		return Quote{}, err
	}
	progress.At(Planning, 1)

	progress.At(Printing, 0)
	if err := ctx.Err(); err != nil {
		return Quote{}, err
	}
	if err := q.print(s, sets); err != nil {
		return Quote{}, err
	}
	progress.At(Printing, 1)
	return q, nil
}

// sets parses the sets that the items name.
func (s Snapshot) sets() (map[string]*pattern.Set, error) {
	if len(s.Items) == 0 {
		return nil, fmt.Errorf("nothing is ordered; choose at least one pattern set")
	}
	if len(s.Items) > maxItems {
		return nil, fmt.Errorf("%d sets are ordered; a commission holds at most %d, split it in two", len(s.Items), maxItems)
	}
	sets := map[string]*pattern.Set{}
	for _, it := range s.Items {
		if it.Count < 1 || it.Count > maxCount {
			return nil, fmt.Errorf("%d of %q are ordered; order 1 to %d", it.Count, it.Set, maxCount)
		}
		if sets[it.Set] != nil {
			continue
		}
		src, ok := s.Patterns[it.Set]
		if !ok {
			return nil, fmt.Errorf("there is no pattern set %q in the library; choose one that is there", it.Set)
		}
		set, err := pattern.Parse([]byte(src.Drawing), []byte(src.TOML))
		if err != nil {
			return nil, fmt.Errorf("pattern set %q: %w", it.Set, err)
		}
		sets[it.Set] = set
	}
	return sets, nil
}

// units of an item: one side each, as often as counted.
func (it Item) units(set *pattern.Set) ([]pattern.Side, error) {
	var one []pattern.Side
	switch {
	case !set.Sided && it.Sides == Plain:
		one = []pattern.Side{pattern.NoSide}
	case !set.Sided:
		return nil, fmt.Errorf("%s has no left and right; order it without a side", set.Title)
	case it.Sides == Pair:
		one = []pattern.Side{pattern.Left, pattern.Right}
	case it.Sides == OneLeft:
		one = []pattern.Side{pattern.Left}
	case it.Sides == OneRight:
		one = []pattern.Side{pattern.Right}
	default:
		return nil, fmt.Errorf("%s is made for one side; order left, right or pair", set.Title)
	}
	var all []pattern.Side
	for range it.Count {
		all = append(all, one...)
	}
	return all, nil
}

func (s Snapshot) grade(sets map[string]*pattern.Set) ([]pattern.Graded, error) {
	var out []pattern.Graded
	pieces := 0
	for _, it := range s.Items {
		set := sets[it.Set]
		units, err := it.units(set)
		if err != nil {
			return nil, err
		}
		for _, side := range units {
			fit := pattern.Fit{Body: s.body(side), Side: side, FoamK: s.Studio.FoamK, Clothing: s.Clothing,
				Allowance: s.Allowance, Uncertain: s.uncertain(side), Tools: s.Studio.Bench.Tools}
			g, err := set.Grade(fit)
			if err != nil {
				return nil, misfit{strings.TrimSpace(set.Title + " " + string(side)), set.Suits(fit) == nil, err}
			}
			if pieces += len(g.Pieces); pieces > maxPieces {
				return nil, fmt.Errorf("this commission has more than %d pieces; split it", maxPieces)
			}
			out = append(out, g)
		}
	}
	return out, nil
}

// misfit is a set that cannot be graded to a body.
type misfit struct {
	title string
	shape bool // the measurements are all right one by one; what they ask together has no shape
	err   error
}

func (m misfit) Error() string { return m.title + ": " + m.err.Error() }
func (m misfit) Unwrap() error { return m.err }

// Client says no more of the pattern's inside than the client can do something about.
func (m misfit) Client() string {
	if !m.shape {
		return m.Error()
	}
	return m.title + " cannot be made to these measurements together; please measure again, or let the studio look at them"
}

// takenFor is the measurements for a side: those taken on it, else those taken without a side.
func (s Snapshot) takenFor(side pattern.Side) map[string]Taken {
	m := map[string]Taken{}
	for _, t := range s.Body {
		if t.Side == pattern.NoSide {
			m[t.Key] = t
		}
	}
	for _, t := range s.Body {
		if t.Side == side && side != pattern.NoSide {
			m[t.Key] = t
		}
	}
	return m
}

func (s Snapshot) body(side pattern.Side) map[string]geom.MM {
	m := map[string]geom.MM{}
	for k, t := range s.takenFor(side) {
		m[k] = t.Value
	}
	return m
}

// uncertain is the standard deviation of each measurement that was estimated.
func (s Snapshot) uncertain(side pattern.Side) map[string]geom.MM {
	m := map[string]geom.MM{}
	for k, t := range s.takenFor(side) {
		if t.Estimated() {
			m[k] = t.Deviation
		}
	}
	return m
}

func (s Snapshot) batches(sets map[string]*pattern.Set, graded []pattern.Graded) ([]batch, error) {
	var out []batch
	for i, it := range s.Items {
		set := sets[it.Set]
		units, err := it.units(set)
		if err != nil {
			return nil, err
		}
		if len(graded) < len(units) {
			return nil, fmt.Errorf("the quote does not belong to this snapshot: it has fewer graded sets than are ordered")
		}
		b := batch{number: i + 1, title: it.title(set), graded: graded[:len(units)]}
		graded = graded[len(units):]
		if len(set.Operations) > 0 {
			b.steps = map[string]bool{}
			for _, op := range set.Operations {
				b.steps[op] = true
			}
		}
		out = append(out, b)
	}
	return out, nil
}

// title of an item: "Forearm cuff, pair", "2 × Lantern".
func (it Item) title(set *pattern.Set) string {
	t := set.Title
	if it.Sides != Plain {
		t += ", " + string(it.Sides)
	}
	if it.Count > 1 {
		t = fmt.Sprintf("%d × %s", it.Count, t)
	}
	return t
}

func (s Snapshot) density(t geom.MM) float64 {
	for _, sh := range s.Studio.Prices.Sheets {
		if sh.Thickness == t {
			return sh.Density
		}
	}
	return 0
}

// cut lists the pieces.
func (q *Quote) cut(s Snapshot, batches []batch) {
	for _, b := range batches {
		for unit, g := range b.graded {
			copies := map[string]int{}
			for _, p := range g.Pieces {
				copies[p.ID]++
			}
			for _, p := range g.Pieces {
				box := p.Shape.Bounds()
				side := ""
				switch g.Side {
				case pattern.Left:
					side = "L"
				case pattern.Right:
					side = "R"
				}
				number := fmt.Sprint(b.number)
				if s.Items[b.number-1].Count > 1 {
					n := unit + 1
					if s.Items[b.number-1].Sides == Pair {
						n = unit/2 + 1
					}
					number = fmt.Sprintf("%d.%d", b.number, n)
				}
				label := fmt.Sprintf("%s%s-%s", number, side, p.ID)
				if copies[p.ID] > 1 {
					label = fmt.Sprintf("%s/%d", label, p.Copy)
				}
				q.Pieces = append(q.Pieces, CutPiece{
					Label: label, Set: g.Set, Side: g.Side, Piece: p.ID, Title: p.Title, Copy: p.Copy, Mirrored: p.Mirrored,
					Thickness: p.Thickness, Width: box.Width(), Height: box.Height(), Area: p.Shape.Area(), CutLength: p.Shape.CutLength(),
					Grams: p.Shape.Area().M2() * p.Thickness.M() * s.density(p.Thickness) * 1000,
				})
			}
		}
	}
}

// graded lists the graded pieces in the order of q.Pieces.
func (q *Quote) graded() []pattern.Piece {
	var out []pattern.Piece
	for _, g := range q.Graded {
		out = append(out, g.Pieces...)
	}
	return out
}

// byLabel are the graded pieces by the label of the cut list.
func (q *Quote) byLabel() (map[string]pattern.Piece, error) {
	graded := q.graded()
	if len(graded) != len(q.Pieces) {
		return nil, fmt.Errorf("the quote of %s does not hold its graded pieces; work it out again", q.Commission)
	}
	out := map[string]pattern.Piece{}
	for i, p := range graded {
		out[q.Pieces[i].Label] = p
	}
	return out, nil
}

func (q *Quote) cost(s Snapshot, j job) error {
	bill := price.Bill{Liquids: j.liquids, Labour: j.labour}
	for _, sh := range s.Studio.Prices.Sheets {
		var use price.SheetUse
		for _, l := range q.Sheets {
			if l.Layout.Sheet == sh.Key {
				use.Key = sh.Key
				use.Shares = append(use.Shares, l.Layout.Used)
			}
		}
		if use.Key != "" {
			bill.Sheets = append(bill.Sheets, use)
		}
	}
	hw := map[string]int{}
	for _, g := range q.Graded {
		for _, h := range g.Hardware {
			i, ok := hw[h.Kind]
			if !ok {
				i = len(bill.Hardware)
				hw[h.Kind] = i
				bill.Hardware = append(bill.Hardware, price.HardwareUse{Key: h.Kind})
			}
			bill.Hardware[i].Count += h.Count
			bill.Hardware[i].Length += h.Length
		}
	}
	sort.SliceStable(bill.Hardware, func(a, b int) bool { return bill.Hardware[a].Key < bill.Hardware[b].Key })
	est, err := s.Studio.Prices.Estimate(bill)
	if err != nil {
		return err
	}
	q.Estimate = est
	for _, t := range j.times {
		q.Minutes.Low += t.Low
		q.Minutes.Likely += t.Likely
		q.Minutes.High += t.High
	}
	expected, sd := labour.Sum(j.times)
	q.Hours, q.HoursSD = expected/60, sd/60
	q.Grams = q.mass(s, bill)
	q.Parcel = q.parcel(s)
	return nil
}

func (q *Quote) plan(ctx context.Context, s Snapshot, j job, progress Progress) error {
	zone, err := time.LoadLocation(s.Studio.Calendar.Zone)
	if err != nil {
		return fmt.Errorf("time zone %q is not known: %w", s.Studio.Calendar.Zone, err)
	}
	start, err := firstWorkday(s.Studio.Calendar, s.At, s.Studio.StartAfter)
	if err != nil {
		return err
	}
	q.Plan, err = plan.Solve(ctx, s.problem(j.operations, start, s.Promised), func(done, budget int) {
		if budget > 0 {
			progress.At(Planning, math.Min(1, float64(done)/float64(budget)))
		}
	})
	if err != nil {
		return err
	}
	q.Sure = s.Studio.Promise
	q.Promise = s.Studio.PromiseDay(q.Plan, zone).Format(time.DateOnly)
	q.Late = s.Wanted != "" && q.Promise > s.Wanted
	at := s.At.In(zone)
	q.Expires = time.Date(at.Year(), at.Month(), at.Day()+s.Studio.Validity+1, 0, 0, 0, 0, zone).UTC()
	q.Remarks = append(q.Remarks, q.Plan.Broken...)
	for _, g := range q.Graded {
		for _, n := range g.Notes {
			q.Remarks = append(q.Remarks, strings.TrimSpace(g.Title+" "+string(g.Side))+": "+n)
		}
	}
	return nil
}

// print makes the pictures, the cut list, the summary and the PDF.
func (q *Quote) print(s Snapshot, sets map[string]*pattern.Set) error {
	q.CutList = q.cutList()
	q.Summary = q.summary(s, sets)
	doc, pictures, err := q.document(s, sets)
	if err != nil {
		return err
	}
	q.Pictures = pictures
	if q.PDF, err = pdf.Print(doc); err != nil {
		return fmt.Errorf("the quote could not be printed: %w", err)
	}
	sum := sha256.Sum256(q.PDF)
	q.SHA256 = hex.EncodeToString(sum[:])
	return nil
}

// cutList is the pieces as CSV (RFC 4180), lengths in mm, areas in cm². Where a piece lies is the left lower corner of the
// box round it, from the sheet's left lower corner.
func (q *Quote) cutList() string {
	shapes := q.graded()
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.Write(cutColumns)
	for i, p := range q.Pieces {
		w.Write(p.row(shapes[i]))
	}
	w.Flush() // a bytes.Buffer never fails
	return b.String()
}

var cutColumns = []string{"piece", "set", "side", "name", "copy", "mirrored", "thickness_mm", "width_mm", "height_mm", "area_cm2", "cut_length_mm", "grams", "sheet", "x_mm", "y_mm", "turn_deg", "flipped"}

// row of the cut list.
func (p CutPiece) row(g pattern.Piece) []string {
	corner := p.At.Shape(g.Shape).Bounds().Min
	return []string{
		p.Label, p.Set, string(p.Side), p.Title, fmt.Sprint(p.Copy), yes(p.Mirrored), fmt.Sprintf("%g", float64(p.Thickness)),
		fmt.Sprintf("%.1f", float64(p.Width)), fmt.Sprintf("%.1f", float64(p.Height)), fmt.Sprintf("%.1f", float64(p.Area)/100),
		fmt.Sprintf("%.0f", float64(p.CutLength)), fmt.Sprintf("%.1f", p.Grams), fmt.Sprint(p.Sheet),
		fmt.Sprintf("%.1f", corner.X), fmt.Sprintf("%.1f", corner.Y), fmt.Sprintf("%.1f", p.At.Turn), yes(p.At.Mirrored),
	}
}

func yes(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}

func (q *Quote) summary(s Snapshot, sets map[string]*pattern.Set) string {
	var b strings.Builder
	var what []string
	for _, it := range s.Items {
		what = append(what, it.title(sets[it.Set]))
	}
	finish, _ := s.finish() // checked while costing
	fmt.Fprintf(&b, "%s, revision %d: %s · %s.\n", q.Commission, q.Revision, strings.Join(what, "; "), finish.Title)
	fmt.Fprintf(&b, "%d pieces on %d sheets, %.1f hours, about %.0f g; %s.\n", len(q.Pieces), len(q.Sheets), q.Hours, q.Grams, q.Parcel.words())
	e := q.Estimate
	fmt.Fprintf(&b, "*%s* in total", e.Total.Format(e.Currency))
	if e.Tax != 0 {
		fmt.Fprintf(&b, ", %s of it %s", e.Tax.Format(e.Currency), e.TaxName)
	}
	fmt.Fprintf(&b, "; deposit %s.\n", e.Deposit.Format(e.Currency))
	fmt.Fprintf(&b, "Ready by *%s*, kept in at least %d of 100 simulated runs", longDate(q.Promise), q.Sure)
	b.WriteString(".")
	return b.String()
}

// longDate writes "2026-12-18" as "Friday 18 December 2026".
func longDate(d string) string {
	t, err := time.Parse(time.DateOnly, d)
	if err != nil {
		return d
	}
	return t.Format("Monday 2 January 2006")
}
