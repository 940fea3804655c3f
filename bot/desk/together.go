package desk

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

// maxLayouts is how many layouts are shown beside cut list and archive, which holds them all: see maxShown.
const maxLayouts = maxShown - 2

// together is a plan for cutting several commissions at once.
type together struct {
	plan    ledger.Cutting
	files   []chat.File
	layouts int
	against []string // why it cannot be carried out, a sentence each
}

// several splits the numbers of commissions: "C0007 C0009" or "c0007, c0009".
func several(numbers string) []quote.CommissionID {
	var out []quote.CommissionID
	for _, n := range strings.FieldsFunc(strings.ToUpper(numbers), func(r rune) bool { return strings.ContainsRune(" \t\n,;+&", r) }) {
		if id := quote.CommissionID(n); !slices.Contains(out, id) {
			out = append(out, id)
		}
	}
	slices.Sort(out)
	return out
}

// together nests the commissions' pieces on the rack's offcuts and on sheets to buy.
func (d *Desk) together(ctx context.Context, in chat.Incoming, ids []quote.CommissionID, now time.Time) (*together, error) {
	var jobs []cutting.Commission
	var rack []quote.Offcut
	var at time.Time // of the youngest snapshot: the same plan has the same files
	x := &together{}
	err := d.ledger.Tx(ctx, func(t *ledger.Tx) error {
		w := &work{d: d, t: t, in: in, now: now}
		for _, id := range ids {
			c, err := w.commission(string(id))
			if err != nil {
				return err
			}
			rev, err := w.cutFrom(c)
			if err != nil {
				return err
			}
			no, err := w.uncuttable(c)
			if err != nil {
				return err
			}
			if no != "" {
				x.against = append(x.against, no)
			}
			jobs = append(jobs, cutting.Commission{Snapshot: rev.Snapshot, Quote: rev.Quote})
			if rev.Snapshot.At.After(at) {
				at = rev.Snapshot.At
			}
			x.plan.Commissions = append(x.plan.Commissions, ledger.CutCommission{ID: c.ID, Revision: c.Revision})
		}
		racked, err := t.Rack()
		for _, o := range racked {
			rack = append(rack, o.Stock())
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	p, err := cutting.Together(ctx, jobs, rack, d.cfg.Studio(), nil)
	if err != nil {
		if ctx.Err() != nil {
			return nil, err
		}
		return nil, &chat.Refusal{Say: err.Error()}
	}
	x.plan.Used, x.plan.Rests, x.plan.Summary = p.FromRack(), p.Offcuts(), p.Summary()
	x.plan.At, x.plan.By = now, in.Person.ID
	x.layouts = len(p.Sheets)
	if x.files, err = togetherFiles(p, at); err != nil {
		return nil, err
	}
	sum := sha256.New()
	fmt.Fprintf(sum, "%s\n", x.plan.Summary)
	for _, f := range x.files {
		fmt.Fprintf(sum, "%s %d\n", f.Name, len(f.Data))
		sum.Write(f.Data)
	}
	x.plan.SHA256 = hex.EncodeToString(sum.Sum(nil))
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
		return nil, &chat.Refusal{Say: err.Error()}
	}
	var out []chat.File
	for i, pic := range pics {
		all = append(all, quote.File{Name: pic.Name, MIME: pic.MIME, Data: pic.Data})
		if i < maxLayouts {
			out = append(out, pictured(pic))
		}
	}
	zip, err := cutting.Archive(p.Name()+"-cut-files.zip", all, at)
	if err != nil {
		return nil, err
	}
	for _, f := range []quote.File{p.CutList(), zip} {
		if len(f.Data) > chat.MaxFile {
			return nil, tooLarge(f)
		}
		out = append(out, attached(f))
	}
	return out, nil
}

func tooLarge(f quote.File) error {
	return refuse("%s has %d MB, more than a message holds; cut fewer commissions at once, choose a larger paper, or compute the quote's files with the worker", f.Name, len(f.Data)>>20)
}

// cutFrom is the revision that a commission is cut from; one that is not quoted yet is refused.
func (w *work) cutFrom(c ledger.Commission) (ledger.Revision, error) {
	var rev ledger.Revision
	var err error
	if c.Revision > 0 {
		rev, err = w.t.Revision(c.ID, c.Revision)
	}
	if err == nil && rev.IssuedAt.IsZero() {
		return rev, refuse("%s is not quoted yet; there is nothing to cut from before its pieces are worked out", c.ID)
	}
	return rev, err
}

// uncuttable says why a commission cannot be cut on a cutting day now; empty where it can.
func (w *work) uncuttable(c ledger.Commission) (string, error) {
	switch c.State {
	case ledger.Approved, ledger.Working:
	case ledger.Quoted:
		return fmt.Sprintf("%s is not approved yet", c.ID), nil
	default:
		return fmt.Sprintf("%s is %s", c.ID, stateWords[c.State]), nil
	}
	day, err := w.t.CuttingOf(c.ID)
	if err == nil {
		return fmt.Sprintf("%s was cut on %s, with %s", c.ID, w.d.when(day.At), day.ID), nil
	}
	if !errors.Is(err, ledger.ErrNone) {
		return "", err
	}
	ops, err := w.t.Operations(c.ID)
	if err != nil {
		return "", err
	}
	for _, o := range ops {
		if o.Kind == cutKind && o.State == ledger.Done {
			return fmt.Sprintf("“%s” of %s is done already", opWords(o), c.ID), nil
		}
	}
	return "", nil
}

// cutKind is the kind of the operations that cut foam.
const cutKind = "cut"

// planTogether answers with the plan; one that can be carried out is filed and has the button for it.
func (w *work) planTogether() (chat.Reply, error) {
	x := w.together
	text := x.plan.Summary
	if x.layouts > maxLayouts {
		text += fmt.Sprintf("\nThe first %d of %d layouts are shown, all are in the archive.", maxLayouts, x.layouts)
	}
	rep := chat.Reply{Files: x.files}
	if len(x.against) > 0 {
		rep.Text = clip(fmt.Sprintf("*Only a plan: %s.*\n", strings.Join(x.against, "; "))+text, chat.MaxText)
		return rep, nil
	}
	plan, err := w.t.PlanCutting(x.plan, x.files)
	if err != nil {
		return rep, err
	}
	rep.Text = clip(text, chat.MaxText)
	rep.Buttons = []chat.Button{{Action: "cut/" + plan.ID, Label: "Cut like this", Tone: chat.Good}}
	return rep, nil
}

// cutDay carries a plan out; "cut/D0001".
func (w *work) cutDay(path []string) (chat.Reply, error) {
	if err := w.studioOnly(); err != nil {
		return chat.Reply{}, err
	}
	plan, err := w.t.Cutting(strings.Join(path[1:], "/"))
	if errors.Is(err, ledger.ErrNone) {
		return chat.Reply{}, refuse("this plan is not known any more; ask for cutting with the commissions' numbers again")
	}
	if err != nil {
		return chat.Reply{}, err
	}
	if plan.State == ledger.CutDone {
		return chat.Reply{Text: fmt.Sprintf("%s was recorded on %s; nothing is changed.", plan.ID, w.d.when(plan.At))}, nil
	}
	var cs []ledger.Commission
	var names []string
	for _, k := range plan.Commissions {
		c, err := w.t.Commission(k.ID)
		if err != nil {
			return chat.Reply{}, err
		}
		no, err := w.uncuttable(c)
		switch {
		case err != nil:
			return chat.Reply{}, err
		case no != "":
			return chat.Reply{}, refuse("%s; make a plan without it", no)
		case c.Revision != k.Revision:
			return chat.Reply{}, refuse("%s has changed since the plan was made; ask for cutting again", c.ID)
		}
		cs, names = append(cs, c), append(names, string(c.ID))
	}
	for _, id := range plan.Used {
		o, err := w.t.Offcut(id)
		switch {
		case err != nil:
			return chat.Reply{}, err
		case o.State == ledger.Used:
			return chat.Reply{}, refuse("offcut %s was used on %s, with %s; ask for cutting again", id, w.d.when(o.At), o.UsedIn)
		case o.State == ledger.Thrown:
			return chat.Reply{}, refuse("offcut %s was thrown away on %s; ask for cutting again", id, w.d.when(o.At))
		}
	}
	racked, err := w.t.Cut(plan, w.now, w.in.Person.ID)
	if err != nil {
		return chat.Reply{}, err
	}
	for _, c := range cs {
		if err := w.record(c, "cut together", fmt.Sprintf("%s: %s; off the rack: %s", plan.ID, strings.Join(names, ", "), orNone(plan.Used))); err != nil {
			return chat.Reply{}, err
		}
		if c.State == ledger.Working { // its own layouts are on the board already
			if err := w.noteCutting(c); err != nil {
				return chat.Reply{}, err
			}
		}
	}
	say := fmt.Sprintf("*%s: %s are cut together.* Off the rack: %s.", plan.ID, strings.Join(names, ", "), orNone(plan.Used))
	if len(racked) > 0 {
		say += " Letter what remains and put it on the rack:" + offcutLines(racked)
	}
	files, err := w.t.CuttingFiles(plan.ID)
	if err != nil {
		return chat.Reply{}, err
	}
	return chat.Reply{Text: clip(say, chat.MaxText)}, w.note("cutting/"+plan.ID, say+"\n"+plan.Summary, nil, files)
}

func orNone(list []string) string {
	if len(list) == 0 {
		return "nothing"
	}
	return strings.Join(list, ", ")
}
