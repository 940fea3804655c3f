package shop

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/quote"
	"benchbell/quote/cutting"
)

// CutKind is the kind of the operations that cut foam.
const CutKind = "cut"

// CutFiles looks at what a commission is cut from: the paper pattern, and the cut files of every sheet. They are made from
// the revision that holds now, anew each time: the same revision gives the same bytes.
type CutFiles struct {
	Of
	Paper string // a4, letter, …; empty: the studio's
}

// CutSet is what a commission is cut from.
type CutSet struct {
	Commission ledger.Commission
	Approved   bool
	Cut        *ledger.Cutting // the day on which it was cut after other layouts; nil: none
	Cutter     int             // files for the cutter in the archive
	Files      []quote.File    // the pattern, the archive
}

func makeCutFiles(_ context.Context, _ *Shop, _ Call, a CutFiles, read reading) (o CutSet, err error) {
	var rev ledger.Revision
	err = read(func(j *job, c ledger.Commission) error {
		o.Commission = c
		if rev, err = j.cutFrom(c); err != nil {
			return err
		}
		d, err := j.t.CuttingOf(c.ID)
		if err == nil {
			o.Cut = &d
		} else if !errors.Is(err, ledger.ErrNone) {
			return err
		}
		return nil
	})
	if err != nil {
		return o, err
	}
	o.Approved = rev.State == ledger.RevApproved
	pdf, err := cutting.PaperPattern(rev.Snapshot, rev.Quote, strings.TrimSpace(a.Paper))
	if err != nil {
		return o, &Refusal{Kind: NotCuttable, Commission: o.Commission, Cause: err}
	}
	cuts, err := cutting.CutFiles(rev.Snapshot, rev.Quote)
	if err != nil {
		return o, &Refusal{Kind: NotCuttable, Commission: o.Commission, Cause: err}
	}
	zip, err := cutting.Archive(fmt.Sprintf("%s-r%d-cut-files.zip", rev.Commission, rev.Revision), cuts, rev.Snapshot.At)
	if err != nil {
		return o, err
	}
	o.Cutter, o.Files = len(cuts), []quote.File{pdf, zip}
	return o, fitting(o.Files)
}

// fitting refuses files that no door could carry.
func fitting(files []quote.File) error {
	for _, f := range files {
		if len(f.Data) > MaxFile {
			return &Refusal{Kind: TooLarge, Name: f.Name, Count: len(f.Data)}
		}
	}
	return nil
}

// cutFrom is the revision that a commission is cut from; one that is not quoted yet is refused.
func (j *job) cutFrom(c ledger.Commission) (ledger.Revision, error) {
	var rev ledger.Revision
	var err error
	if c.Revision > 0 {
		rev, err = j.t.Revision(c.ID, c.Revision)
	}
	if err == nil && rev.IssuedAt.IsZero() {
		return rev, &Refusal{Kind: NotQuoted, Commission: c}
	}
	return rev, err
}

// Against is why a commission cannot be cut on a cutting day.
type Against struct {
	Kind       Kind // NotApproved, NotNow, CutWith, OpDone
	Commission ledger.Commission
	Cutting    ledger.Cutting
	Operation  ledger.Operation
}

// uncuttable says why a commission cannot be cut on a cutting day now; nil where it can.
func (j *job) uncuttable(c ledger.Commission) (*Against, error) {
	no := &Against{Commission: c}
	switch c.State {
	case ledger.Approved, ledger.Working:
	case ledger.Quoted:
		no.Kind = NotApproved
		return no, nil
	default:
		no.Kind = NotNow
		return no, nil
	}
	d, err := j.t.CuttingOf(c.ID)
	if err == nil {
		no.Kind, no.Cutting = CutWith, d
		return no, nil
	}
	if !errors.Is(err, ledger.ErrNone) {
		return nil, err
	}
	ops, err := j.t.Operations(c.ID)
	if err != nil {
		return nil, err
	}
	for _, o := range ops {
		if o.Kind == CutKind && o.State == ledger.Done {
			no.Kind, no.Operation = OpDone, o
			return no, nil
		}
	}
	return nil, nil
}

// PlanTogether makes a plan for cutting several commissions on one day.
type PlanTogether struct{ Commissions []quote.CommissionID }

// shownLayouts is how many layouts are filed beside cut list and archive, which holds them all: ten files, one of them
// another's, is what every door shows at once.
const shownLayouts = 7

// PlannedTogether is such a plan. It is filed where nothing is against carrying it out.
type PlannedTogether struct {
	Plan    ledger.Cutting
	Layouts int
	Shown   int // of the layouts, in Files
	Against []Against
	Files   []chat.File `json:"-"`
}

func nestTogether(ctx context.Context, s *Shop, c Call, a PlanTogether, read reading) (x PlannedTogether, err error) {
	var cuts []cutting.Commission
	var rack []quote.Offcut
	var at time.Time // of the youngest snapshot: the same plan has the same files
	ids := slices.Clone(a.Commissions)
	slices.Sort(ids)
	err = read(func(j *job, _ ledger.Commission) error {
		x.Plan.At, x.Plan.By = j.now, c.Person.ID
		for _, id := range slices.Compact(ids) {
			c, err := j.commission(id)
			if err != nil {
				return err
			}
			rev, err := j.cutFrom(c)
			if err != nil {
				return err
			}
			no, err := j.uncuttable(c)
			if err != nil {
				return err
			}
			if no != nil {
				x.Against = append(x.Against, *no)
			}
			cuts = append(cuts, cutting.Commission{Snapshot: rev.Snapshot, Quote: rev.Quote})
			if rev.Snapshot.At.After(at) {
				at = rev.Snapshot.At
			}
			x.Plan.Commissions = append(x.Plan.Commissions, ledger.CutCommission{ID: c.ID, Revision: c.Revision})
		}
		racked, err := j.t.Rack()
		for _, o := range racked {
			rack = append(rack, o.Stock())
		}
		return err
	})
	if err != nil {
		return x, err
	}
	p, err := cutting.Together(ctx, cuts, rack, s.cfg.Studio(), nil)
	if err != nil {
		if ctx.Err() != nil {
			return x, err
		}
		return x, &Refusal{Kind: NotCuttable, Cause: err}
	}
	x.Plan.Used, x.Plan.Rests, x.Plan.Summary = p.FromRack(), p.Offcuts(), p.Summary()
	x.Layouts = len(p.Sheets)
	x.Shown = min(x.Layouts, shownLayouts)
	if x.Files, err = togetherFiles(p, at); err != nil {
		return x, err
	}
	sum := sha256.New()
	fmt.Fprintf(sum, "%s\n", x.Plan.Summary)
	for _, f := range x.Files {
		fmt.Fprintf(sum, "%s %d\n", f.Name, len(f.Data))
		sum.Write(f.Data)
	}
	x.Plan.SHA256 = hex.EncodeToString(sum.Sum(nil))
	return x, nil
}

// togetherFiles are the first layouts, the cut list, and an archive of all layouts and the files for the cutter.
func togetherFiles(p cutting.Plan, at time.Time) ([]chat.File, error) {
	pics, err := p.Pictures()
	if err != nil {
		return nil, err
	}
	all, err := p.CutFiles()
	if err != nil {
		return nil, &Refusal{Kind: NotCuttable, Cause: err}
	}
	var out []chat.File
	for i, pic := range pics {
		all = append(all, quote.File{Name: pic.Name, MIME: pic.MIME, Data: pic.Data})
		if i < shownLayouts {
			out = append(out, chat.File{Name: pic.Name, MIME: pic.MIME, Alt: pic.Alt, Data: pic.Data})
		}
	}
	zip, err := cutting.Archive(p.Name()+"-cut-files.zip", all, at)
	if err != nil {
		return nil, err
	}
	files := []quote.File{p.CutList(), zip}
	for _, f := range files {
		out = append(out, chat.File{Name: f.Name, MIME: f.MIME, Alt: f.Name, Data: f.Data})
	}
	return out, fitting(files)
}

func planTogether(j *job, _ ledger.Commission, _ PlanTogether, x PlannedTogether) (PlannedTogether, error) {
	if len(x.Against) > 0 {
		return x, nil
	}
	plan, err := j.t.PlanCutting(x.Plan, x.Files)
	x.Plan = plan
	return x, err
}

// CutTogether carries a plan out: the day on which its commissions are cut.
type CutTogether struct{ Plan string }

// WereCut is a cutting day.
type WereCut struct {
	Cutting ledger.Cutting
	Before  bool // it was recorded before; nothing is changed
	Racked  []ledger.Offcut
	Working []ledger.Commission // those of it at work, whose own layouts do not hold any more
}

func cutTogether(j *job, a CutTogether) (WereCut, error) {
	plan, err := j.t.Cutting(a.Plan)
	if errors.Is(err, ledger.ErrNone) {
		return WereCut{}, &Refusal{Kind: NoCuttingPlan, Name: a.Plan}
	}
	o := WereCut{Cutting: plan, Before: plan.State == ledger.CutDone}
	if err != nil || o.Before {
		return o, err
	}
	var cs []ledger.Commission
	var names []string
	for _, k := range plan.Commissions {
		c, err := j.t.Commission(k.ID)
		if err != nil {
			return o, err
		}
		no, err := j.uncuttable(c)
		switch {
		case err != nil:
			return o, err
		case no != nil:
			return o, &Refusal{Kind: CannotCut, Commission: c, Against: no}
		case c.Revision != k.Revision:
			return o, &Refusal{Kind: Changed, Commission: c}
		}
		cs, names = append(cs, c), append(names, string(c.ID))
	}
	for _, id := range plan.Used {
		x, err := j.t.Offcut(id)
		if err == nil {
			err = offRack(x)
		}
		if err != nil {
			return o, err
		}
	}
	if o.Racked, err = j.t.Cut(plan, j.now, j.by.ID); err != nil {
		return o, err
	}
	used := "nothing"
	if len(plan.Used) > 0 {
		used = strings.Join(plan.Used, ", ")
	}
	for _, c := range cs {
		if err := j.record(c, "cut together", fmt.Sprintf("%s: %s; off the rack: %s", plan.ID, strings.Join(names, ", "), used)); err != nil {
			return o, err
		}
		if c.State == ledger.Working {
			o.Working = append(o.Working, c)
		}
	}
	return o, nil
}
