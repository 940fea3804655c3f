package desk

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"hash/fnv"
	"strings"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/jobs"
	"benchbell/quote"
)

// confirm takes the measurements as right and has the quote worked out.
func (w *work) confirm(c ledger.Commission) (chat.Reply, error) {
	switch c.State {
	case ledger.Checking:
	case ledger.Choosing, ledger.Measuring:
		return chat.Reply{}, refuse("not all measurements are in yet; press Give measurements")
	case ledger.Computing:
		return chat.Reply{}, refuse("the measurements of %s are confirmed and its quote is being worked out", c.ID)
	default:
		return chat.Reply{}, w.mustDraft(c)
	}
	all, err := w.wants(c)
	if err != nil {
		return chat.Reply{}, err
	}
	if left := missing(all); len(left) > 0 {
		return chat.Reply{}, refuse("%s is still missing; press Give measurements", left[0].label())
	}
	key := checkKey(c)
	var b strings.Builder
	if len(all) == 0 {
		fmt.Fprintf(&b, "*%s, confirmed %s*\n", c.ID, w.d.when(w.now))
	} else {
		fmt.Fprintf(&b, "*Measurements of %s, confirmed %s*\n", c.ID, w.d.when(w.now))
	}
	for _, x := range all {
		fmt.Fprintf(&b, "• %s: %s\n", x.label(), shown(x))
	}
	if err := w.t.PutPost(c.ID, chat.Post{Key: key, Text: clip(strings.TrimSpace(b.String()), chat.MaxText)}, w.now); err != nil {
		return chat.Reply{}, err
	}
	if len(all) > 0 {
		if err := w.t.PutPost(c.ID, chat.Post{Key: bodyKey(c), Text: fmt.Sprintf("*Measurements of %s*: all are in and confirmed.", c.ID)}, w.now); err != nil {
			return chat.Reply{}, err
		}
	}
	changes, err := w.asked(c)
	if err != nil {
		return chat.Reply{}, err
	}
	if err := w.compute(&c, changes); err != nil {
		return chat.Reply{}, err
	}
	return chat.Reply{Text: "Thank you. The quote is being worked out; it comes to this thread."}, nil
}

// asked is what the client wanted changed when they asked for measuring again; it was kept in the change form's place.
func (w *work) asked(c ledger.Commission) ([]string, error) {
	if c.Revision == 0 || c.ChangeTyped == "" {
		return nil, nil
	}
	var was changeTyped
	if err := json.Unmarshal([]byte(c.ChangeTyped), &was); err != nil {
		return nil, fmt.Errorf("the change asked of %s: %w", c.ID, err)
	}
	return was.Asked, nil
}

// compute makes the next revision and asks the workers for its quote, in one transaction with the event.
func (w *work) compute(c *ledger.Commission, changes []string) error {
	if c.Revision > 0 {
		if err := w.retire(*c, ledger.RevReplaced, fmt.Sprintf("Replaced by revision %d.", c.Revision+1)); err != nil {
			return err
		}
	}
	c.Revision++
	c.State = ledger.Computing
	c.ChangeTyped = ""
	snap, err := w.snapshot(*c, changes)
	if err != nil {
		return err
	}
	if err := w.save(c, "quote asked for", fmt.Sprintf("revision %d", c.Revision)); err != nil {
		return err
	}
	if err := w.t.AddRevision(ledger.Revision{Commission: c.ID, Revision: c.Revision, AskedAt: w.now, Change: strings.Join(changes, "; "), Snapshot: snap}); err != nil {
		return err
	}
	items, err := w.t.Items(c.ID)
	if err != nil {
		return err
	}
	if err := w.putCard(*c, false); err != nil {
		return err
	}
	for _, it := range items {
		if err := w.putItem(*c, it); err != nil {
			return err
		}
	}
	return w.send(*c)
}

// requestTag is the name under which the ledger keeps what tells its requests from those of another ledger on the same
// queue, which may remember task IDs longer than a ledger file lives.
const requestTag = "request tag"

// send asks for the current revision under a new request.
func (w *work) send(c ledger.Commission) error {
	n, err := w.t.RequestCount(c.ID, c.Revision)
	if err != nil {
		return err
	}
	fresh := make([]byte, 4)
	rand.Read(fresh)
	tag, err := w.t.Secret(requestTag, []byte(hex.EncodeToString(fresh)))
	if err != nil {
		return err
	}
	r := ledger.Request{ID: jobs.RequestID(fmt.Sprintf("%s-r%d-%d-%s", c.ID, c.Revision, n+1, tag)), Commission: c.ID, Revision: c.Revision,
		Attempt: 1, Deadline: w.now.Add(w.d.cfg.Patience)}
	if err := w.t.AddRequest(r, w.now); err != nil {
		return err
	}
	if err := w.t.PutRequest(wire(r), c.ID, w.now); err != nil {
		return err
	}
	return w.putProgress(r, "waiting for a worker", false)
}

func wire(r ledger.Request) jobs.Request {
	return jobs.Request{Version: jobs.Version, ID: r.ID, Attempt: r.Attempt, Deadline: r.Deadline}
}

// snapshot gathers all that the quote depends on.
func (w *work) snapshot(c ledger.Commission, changes []string) (quote.Snapshot, error) {
	items, err := w.t.Items(c.ID)
	if err != nil {
		return quote.Snapshot{}, err
	}
	all, err := w.wants(c)
	if err != nil {
		return quote.Snapshot{}, err
	}
	promised, err := w.t.Promised(c.ID)
	if err != nil {
		return quote.Snapshot{}, err
	}
	h := fnv.New64a()
	fmt.Fprintf(h, "%s/%d", c.ID, c.Revision)
	s := quote.Snapshot{
		Version: quote.Version, Commission: c.ID, Revision: c.Revision, Client: c.ClientName, Items: items, Finish: c.Finish,
		Wanted: c.Wanted, Notes: c.Notes, Clothing: c.Clothing, Allowance: c.Allowance, Changes: changes, Patterns: map[string]quote.PatternSource{},
		Studio: w.d.cfg.Studio(), Promised: promised, At: w.now.UTC().Truncate(time.Second),
		Seed: h.Sum64() >> 11, // 53 bits survive every JSON reader
	}
	for _, x := range all {
		s.Body = append(s.Body, quote.Taken{Key: x.def.Key, Side: x.side, Value: x.have.Value, Typed: x.have.Typed, Deviation: x.have.Deviation})
	}
	for _, it := range items {
		set, ok := w.d.set(it.Set)
		if !ok {
			return s, fmt.Errorf("%s orders the set %q, which the library does not have any more", c.ID, it.Set)
		}
		s.Patterns[it.Set] = set.Source
	}
	return s, nil
}

var stageSay = map[quote.Stage]string{
	quote.Scaling:  "scaling the patterns to your measurements",
	quote.Nesting:  "laying the pieces out on sheets",
	quote.Costing:  "costing material and hours",
	quote.Planning: "planning the work and its drying times",
	quote.Printing: "printing the quote",
}

// putProgress shows the one progress message of a revision.
func (w *work) putProgress(r ledger.Request, say string, failed bool) error {
	bar := &chat.Bar{Share: r.Share, Failed: failed}
	for i, s := range quote.Stages {
		bar.Stages = append(bar.Stages, string(s))
		if s == r.Stage {
			bar.At = i
		}
	}
	if r.State == ledger.ReqDone {
		bar.At, bar.Share = len(quote.Stages), 0
	}
	p := chat.Post{Key: progressKey(r.Commission, r.Revision), Text: fmt.Sprintf("*%s, revision %d*: %s.", r.Commission, r.Revision, say), Bar: bar}
	if failed {
		p.Buttons = []chat.Button{{Action: "again/" + string(r.Commission), Label: "Try again", Tone: chat.Good},
			{Action: "mend/" + string(r.Commission), Label: "Change the order"},
			{Action: "cancel/" + string(r.Commission), Label: "Cancel", Tone: chat.Grave}}
	}
	return w.t.PutPost(r.Commission, p, w.now)
}

func progressKey(id quote.CommissionID, revision int) string {
	return fmt.Sprintf("%s/progress/%d", id, revision)
}

// take files one answer of a worker. Delivery is at least once and attempts may overlap: the first result of any attempt,
// or the failure of the latest, settles a request; every later answer is dropped.
func (d *Desk) take(ctx context.Context, a jobs.Answer) error {
	if a.Version != jobs.Version {
		d.log.Error("answer of another version dropped", "request", a.ID, "version", a.Version, "known", jobs.Version)
		return nil
	}
	err := d.ledger.Tx(ctx, func(t *ledger.Tx) error {
		w := &work{d: d, t: t, now: d.cfg.Now()}
		r, err := t.Request(a.ID)
		if errors.Is(err, ledger.ErrNone) {
			d.log.Warn("answer to an unknown request dropped", "request", a.ID)
			return nil
		}
		if err != nil {
			return err
		}
		if r.State != ledger.ReqOpen {
			return nil
		}
		c, err := t.Commission(r.Commission)
		if err != nil {
			return err
		}
		switch a.Kind {
		case jobs.Progress:
			return w.progress(r, a)
		case jobs.Done:
			if problem := unfit(a, r); problem != "" {
				return w.failed(c, r, a.Attempt, "The quote could not be worked out; the studio has been told. You can try again.", problem)
			}
			return w.quoted(c, r, a)
		case jobs.Failed:
			if a.Attempt < r.Attempt {
				// It waited past its deadline or ran into it, and the attempt that overtook it is still at it.
				d.log.Warn("failure of an overtaken attempt dropped", "request", a.ID, "attempt", a.Attempt, "cause", a.Cause)
				return nil
			}
			return w.failed(c, r, a.Attempt, a.Say, a.Cause)
		}
		d.log.Error("answer of an unknown kind dropped", "request", a.ID, "kind", a.Kind)
		return nil
	})
	d.Wake()
	return err
}

// unfit says why a result cannot be the request's.
func unfit(a jobs.Answer, r ledger.Request) string {
	switch q := a.Quote; {
	case q == nil:
		return "the worker's result holds no quote"
	case q.Commission != r.Commission || q.Revision != r.Revision:
		return fmt.Sprintf("the worker's result is for %s revision %d, not %s revision %d", q.Commission, q.Revision, r.Commission, r.Revision)
	case len(q.PDF) == 0:
		return "the worker's result holds no PDF"
	}
	return ""
}

func stageIndex(s quote.Stage) int {
	for i, x := range quote.Stages {
		if x == s {
			return i
		}
	}
	return -1
}

// progress moves the bar forward, never back: answers of two attempts may interleave.
func (w *work) progress(r ledger.Request, a jobs.Answer) error {
	at, was := stageIndex(a.Stage), stageIndex(r.Stage)
	if at < 0 || at < was || at == was && a.Share <= r.Share {
		return nil
	}
	r.Stage, r.Share = a.Stage, min(max(a.Share, 0), 1)
	r.Deadline = w.now.Add(w.d.cfg.Patience)
	if err := w.t.MoveRequest(r); err != nil {
		return err
	}
	say := stageSay[r.Stage]
	if a.Used > 0 {
		say += fmt.Sprintf(", %.0f %% of the foam used so far", 100*a.Used)
	}
	return w.putProgress(r, say, false)
}

func (w *work) quoted(c ledger.Commission, r ledger.Request, a jobs.Answer) error {
	if err := w.t.SettleRequest(r.ID, ledger.ReqDone, a.Attempt, "", w.now); err != nil {
		return err
	}
	r.State = ledger.ReqDone
	sha, err := w.t.StoreQuote(c.ID, r.Revision, *a.Quote)
	if err != nil {
		return err
	}
	if a.Quote.SHA256 != "" && a.Quote.SHA256 != sha {
		w.d.log.Warn("the worker's hash of the PDF is not that of the bytes received; the latter is filed", "request", r.ID, "worker", a.Worker)
	}
	c.State = ledger.Quoted
	c.Promise = a.Quote.Promise
	if err := w.save(&c, "quoted", fmt.Sprintf("revision %d, PDF %s, by %s in %s", r.Revision, sha, a.Worker, a.Took.Round(time.Millisecond))); err != nil {
		return err
	}
	if err := w.putProgress(r, "the quote is ready", false); err != nil {
		return err
	}
	rev, err := w.t.Revision(c.ID, r.Revision)
	if err != nil {
		return err
	}
	files, err := w.quoteFiles(rev)
	if err != nil {
		return err
	}
	p, err := w.quotePost(c, rev)
	if err != nil {
		return err
	}
	p.Files = files
	p.Mention = []chat.PersonID{c.Client}
	if err := w.t.PutPost(c.ID, p, w.now); err != nil {
		return err
	}
	q := rev.Quote
	return w.note(fmt.Sprintf("%s/note/quoted/%d", c.ID, r.Revision), fmt.Sprintf("%s · %s: revision %d is quoted, %s, promised for %s.",
		c.ID, c.ClientName, r.Revision, q.Estimate.Total.Format(q.Estimate.Currency), dateWords(q.Promise)), nil, nil)
}

func (w *work) failed(c ledger.Commission, r ledger.Request, attempt int, say, cause string) error {
	if err := w.t.SettleRequest(r.ID, ledger.ReqFailed, attempt, cause, w.now); err != nil {
		return err
	}
	r.State = ledger.ReqFailed
	if err := w.t.SetRevisionState(c.ID, r.Revision, ledger.RevFailed); err != nil {
		return err
	}
	c.State = ledger.Failed
	if err := w.save(&c, "quote failed", cause); err != nil {
		return err
	}
	w.d.log.Error("a quote could not be worked out", "commission", c.ID, "revision", r.Revision, "request", r.ID, "attempt", attempt, "cause", cause)
	if say == "" {
		say = "the quote could not be worked out; the studio has been told, and you can try again"
	}
	say = strings.TrimSuffix(say, ".")
	if !strings.Contains(say, "the studio has been told") {
		say += ". The studio has been told. If this names something you gave, press Change the order"
	}
	if err := w.putProgress(r, say, true); err != nil {
		return err
	}
	return w.note(fmt.Sprintf("%s/note/failed/%s", c.ID, r.ID), fmt.Sprintf("%s · %s: revision %d could not be worked out. Cause: %s.",
		c.ID, c.ClientName, r.Revision, strings.TrimSuffix(cause, ".")), nil, nil)
}

// tryAgain asks for a failed revision once more, with the settings as they are now.
func (w *work) tryAgain(c ledger.Commission) (chat.Reply, error) {
	switch c.State {
	case ledger.Failed:
	case ledger.Computing:
		return chat.Reply{}, refuse("revision %d of %s is being worked out", c.Revision, c.ID)
	default:
		return chat.Reply{}, refuse("%s is %s; there is nothing to try again", c.ID, stateWords[c.State])
	}
	was, err := w.t.Revision(c.ID, c.Revision)
	if err != nil {
		return chat.Reply{}, err
	}
	snap, err := w.snapshot(c, was.Snapshot.Changes)
	if err != nil {
		return chat.Reply{}, err
	}
	if err := w.t.SetSnapshot(c.ID, c.Revision, snap); err != nil {
		return chat.Reply{}, err
	}
	c.State = ledger.Computing
	if err := w.save(&c, "quote asked for again", fmt.Sprintf("revision %d", c.Revision)); err != nil {
		return chat.Reply{}, err
	}
	return chat.Reply{Text: "It is being worked out again."}, w.send(c)
}

// overdue sends requests that nobody answered again under the next attempt, or gives up after MaxAttempts. Those whose
// deadline is before the moment by are overdue.
func (d *Desk) overdue(ctx context.Context, now, by time.Time) error {
	return d.ledger.Tx(ctx, func(t *ledger.Tx) error {
		late, err := t.OverdueRequests(by)
		if err != nil {
			return err
		}
		w := &work{d: d, t: t, now: now}
		for _, r := range late {
			c, err := t.Commission(r.Commission)
			if err != nil {
				return err
			}
			if r.Attempt >= MaxAttempts {
				err := w.failed(c, r, 0, "the quote could not be worked out because no worker answered; the studio has been told, and you can try again later",
					fmt.Sprintf("no worker answered any of %d attempts: see that a worker runs and reaches the queue", MaxAttempts))
				if err != nil {
					return err
				}
				continue
			}
			r.Attempt++
			r.Deadline = now.Add(d.cfg.Patience)
			if err := t.MoveRequest(r); err != nil {
				return err
			}
			if err := t.PutRequest(wire(r), r.Commission, now); err != nil {
				return err
			}
			if err := t.Record(ledger.Event{At: now, Commission: r.Commission, What: "request sent again", Detail: fmt.Sprintf("%s attempt %d", r.ID, r.Attempt)}); err != nil {
				return err
			}
			d.log.Warn("no answer in time; sent again", "request", r.ID, "attempt", r.Attempt)
		}
		return nil
	})
}
