package shop

import (
	"cmp"
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
	"benchbell/quote/floor"
	"benchbell/quote/price"
)

// Requested is a revision that the workers were asked for.
type Requested struct {
	Commission ledger.Commission
	Replaced   int // the revision that it replaces; 0: none
	Request    ledger.Request
}

// changeKept is what was asked to be changed, kept while something in it is not understood or measurements are awaited.
type changeKept struct {
	Revision int               `json:"revision"`
	Values   map[string]string `json:"values,omitempty"`
	Asked    []string          `json:"asked,omitempty"` // understood, and waiting for new measurements
}

// askedOf is what the client wanted changed when they asked for measuring again.
func askedOf(c ledger.Commission) ([]string, error) {
	if c.Revision == 0 || c.ChangeTyped == "" {
		return nil, nil
	}
	var was changeKept
	if err := json.Unmarshal([]byte(c.ChangeTyped), &was); err != nil {
		return nil, fmt.Errorf("the change asked of %s: %w", c.ID, err)
	}
	return was.Asked, nil
}

// compute makes the next revision and asks the workers for its quote.
func (j *job) compute(c ledger.Commission, changes []string) (Requested, error) {
	o := Requested{Replaced: c.Revision}
	if err := j.retire(c, ledger.RevReplaced); err != nil {
		return o, err
	}
	c.Revision++
	c.State = ledger.Computing
	c.ChangeTyped = ""
	snap, err := j.snapshot(c, changes)
	if err != nil {
		return o, err
	}
	if err := j.save(&c, "quote asked for", fmt.Sprintf("revision %d", c.Revision)); err != nil {
		return o, err
	}
	if err := j.t.AddRevision(ledger.Revision{Commission: c.ID, Revision: c.Revision, AskedAt: j.now, Change: strings.Join(changes, "; "), Snapshot: snap}); err != nil {
		return o, err
	}
	o.Commission = c
	o.Request, err = j.send(c)
	return o, err
}

// retire ends the current revision; unless it was approved, its date and its place in the shop plan go with it.
func (j *job) retire(c ledger.Commission, to ledger.RevisionState) error {
	if c.Revision == 0 {
		return nil
	}
	if to != ledger.RevApproved {
		if err := j.letGo(c.ID, ledger.Void); err != nil {
			return err
		}
	}
	return j.t.SetRevisionState(c.ID, c.Revision, to)
}

// RequestTag is the name under which the ledger keeps what tells its requests from those of another ledger on the same
// queue, which may remember task IDs longer than a ledger file lives.
const RequestTag = "request tag"

// send asks for the current revision under a new request.
func (j *job) send(c ledger.Commission) (ledger.Request, error) {
	n, err := j.t.RequestCount(c.ID, c.Revision)
	if err != nil {
		return ledger.Request{}, err
	}
	fresh := make([]byte, 4)
	rand.Read(fresh)
	tag, err := j.t.Secret(RequestTag, []byte(hex.EncodeToString(fresh)))
	if err != nil {
		return ledger.Request{}, err
	}
	r := ledger.Request{ID: jobs.RequestID(fmt.Sprintf("%s-r%d-%d-%s", c.ID, c.Revision, n+1, tag)), Commission: c.ID, Revision: c.Revision,
		Attempt: 1, Deadline: j.now.Add(j.s.cfg.Patience)}
	if err := j.t.AddRequest(r, j.now); err != nil {
		return r, err
	}
	return r, j.t.PutRequest(wire(r), c.ID, j.now)
}

func wire(r ledger.Request) jobs.Request {
	return jobs.Request{Version: jobs.Version, ID: r.ID, Attempt: r.Attempt, Deadline: r.Deadline}
}

// snapshot gathers all that the quote depends on.
func (j *job) snapshot(c ledger.Commission, changes []string) (quote.Snapshot, error) {
	items, err := j.t.Items(c.ID)
	if err != nil {
		return quote.Snapshot{}, err
	}
	all, _, err := j.wants(c)
	if err != nil {
		return quote.Snapshot{}, err
	}
	taken, err := j.t.Taken(c.ID)
	if err != nil {
		return quote.Snapshot{}, err
	}
	st, err := j.studio()
	if err != nil {
		return quote.Snapshot{}, err
	}
	st.Appointments.Fittings = cmp.Or(c.Fittings, st.Appointments.Fittings)
	h := fnv.New64a()
	fmt.Fprintf(h, "%s/%d", c.ID, c.Revision)
	s := quote.Snapshot{
		Version: quote.Version, Commission: c.ID, Revision: c.Revision, Client: c.ClientName, Items: items, Finish: c.Finish,
		Wanted: c.Wanted, Notes: c.Notes, Clothing: c.Clothing, Allowance: c.Allowance, Changes: changes, Patterns: map[string]quote.PatternSource{},
		Studio: st, Promised: taken, At: j.now.UTC().Truncate(time.Second),
		Seed: h.Sum64() >> 11, // 53 bits survive every JSON reader
	}
	for _, x := range all {
		s.Body = append(s.Body, x.Taken)
	}
	open, err := j.openNow()
	if err != nil {
		return s, err
	}
	if s.Beside, err = floor.Beside(open, st, s.At, c.ID); err != nil { // a quote is worth having all the same
		j.s.log.Error("a date is worked out without the other work in the shop", "commission", c.ID, "err", err)
	}
	for _, it := range items {
		set, ok := j.s.Set(it.Set)
		if !ok {
			return s, noSet(c, it)
		}
		s.Patterns[it.Set] = set.Source
	}
	return s, nil
}

// Progressed is a computation that has come further.
type Progressed struct {
	Request ledger.Request
	Used    float64 // share of the foam that the best layout uses so far; 0: not known
}

// Quoted is a revision whose quote has come.
type Quoted struct {
	Commission ledger.Commission
	Request    ledger.Request
	Estimate   price.Estimate
	Promise    string
	Held       time.Time // until when the date is held
}

// QuoteFailed is a revision that could not be worked out.
type QuoteFailed struct {
	Commission ledger.Commission
	Request    ledger.Request
	Say        string // for the client, in the worker's words; empty: none
	Cause      string // for the studio
	Lost       bool   // nobody answered
	Unfit      bool   // the answer was not one to the request
}

// Take files one answer of a worker. Delivery is at least once and attempts may overlap: the first result of any attempt,
// or the failure of the latest, settles a request; every later answer is dropped.
func (s *Shop) Take(ctx context.Context, a jobs.Answer) error {
	if a.Version != jobs.Version {
		s.log.Error("answer of another version dropped", "request", a.ID, "version", a.Version, "known", jobs.Version)
		return nil
	}
	if err := s.withShelf(ctx); err != nil {
		return err
	}
	err := s.inTx(ctx, s.cfg.Now(), chat.Person{}, func(j *job) error {
		r, err := j.t.Request(a.ID)
		if errors.Is(err, ledger.ErrNone) {
			s.log.Warn("answer to an unknown request dropped", "request", a.ID)
			return nil
		}
		if err != nil {
			return err
		}
		if r.State != ledger.ReqOpen {
			return nil
		}
		c, err := j.t.Commission(r.Commission)
		if err != nil {
			return err
		}
		switch a.Kind {
		case jobs.Progress:
			return j.progress(r, a)
		case jobs.Done:
			if problem := unfit(a, r); problem != "" {
				return j.failed(QuoteFailed{Commission: c, Request: r, Cause: problem, Unfit: true}, a.Attempt)
			}
			return j.quoted(c, r, a)
		case jobs.Failed:
			if a.Attempt < r.Attempt {
				// It waited past its deadline or ran into it, and the attempt that overtook it is still at it.
				s.log.Warn("failure of an overtaken attempt dropped", "request", a.ID, "attempt", a.Attempt, "err", a.Cause)
				return nil
			}
			return j.failed(QuoteFailed{Commission: c, Request: r, Say: a.Say, Cause: a.Cause}, a.Attempt)
		}
		s.log.Error("answer of an unknown kind dropped", "request", a.ID, "kind", a.Kind)
		return nil
	})
	s.wake()
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

// progress moves on, never back: answers of two attempts may interleave.
func (j *job) progress(r ledger.Request, a jobs.Answer) error {
	at, was := stageIndex(a.Stage), stageIndex(r.Stage)
	if at < 0 || at < was || at == was && a.Share <= r.Share {
		return nil
	}
	r.Stage, r.Share = a.Stage, min(max(a.Share, 0), 1)
	r.Deadline = j.now.Add(j.s.cfg.Patience)
	if err := j.t.MoveRequest(r); err != nil {
		return err
	}
	return j.tell(Progressed{r, a.Used})
}

func (j *job) quoted(c ledger.Commission, r ledger.Request, a jobs.Answer) error {
	rev, err := j.t.Revision(c.ID, r.Revision)
	if err != nil {
		return err
	}
	if crossed, err := j.crossed(rev.Snapshot, a.Quote.Plan); err != nil || crossed {
		return errors.Join(err, j.around(c, r, rev))
	}
	if err := j.t.SettleRequest(r.ID, ledger.ReqDone, a.Attempt, "", j.now); err != nil {
		return err
	}
	r.State = ledger.ReqDone
	sha, err := j.t.StoreQuote(c.ID, r.Revision, *a.Quote)
	if err != nil {
		return err
	}
	if a.Quote.SHA256 != "" && a.Quote.SHA256 != sha {
		j.s.log.Warn("the worker's hash of the PDF is not that of the bytes received; the latter is filed", "request", r.ID, "worker", a.Worker)
	}
	if err := j.hold(c.ID, a.Quote.Plan, a.Quote.Work.After()); err != nil {
		return err
	}
	c.State = ledger.Quoted
	if err := j.save(&c, "quoted", fmt.Sprintf("revision %d, PDF %s, by %s in %s", r.Revision, sha, a.Worker, a.Took.Round(time.Millisecond))); err != nil {
		return err
	}
	c.Promise = a.Quote.Promise
	err = j.t.Promise(ledger.Promise{Commission: c.ID, Date: c.Promise, Odds: a.Quote.Odds, Revision: r.Revision,
		HeldUntil: a.Quote.Held, ToldAt: j.now, Message: QuoteMessage(c.ID, r.Revision), State: ledger.Offered})
	if err != nil {
		return err
	}
	if err := j.planChanged(); err != nil {
		return err
	}
	return j.tell(Quoted{c, r, a.Quote.Estimate, a.Quote.Promise, a.Quote.Held})
}

// failed settles a request that cannot be answered; attempt is the one that failed, 0 for none.
func (j *job) failed(o QuoteFailed, attempt int) error {
	if err := j.t.SettleRequest(o.Request.ID, ledger.ReqFailed, attempt, o.Cause, j.now); err != nil {
		return err
	}
	o.Request.State = ledger.ReqFailed
	if err := j.t.SetRevisionState(o.Commission.ID, o.Request.Revision, ledger.RevFailed); err != nil {
		return err
	}
	o.Commission.State = ledger.Failed
	if err := j.save(&o.Commission, "quote failed", o.Cause); err != nil {
		return err
	}
	j.s.log.Error("a quote could not be worked out", "commission", o.Commission.ID, "revision", o.Request.Revision, "request", o.Request.ID,
		"attempt", attempt, "err", o.Cause)
	return j.tell(o)
}

// TryAgain asks for a failed revision once more, with the settings as they are now.
type TryAgain struct{ Of }

// TriedAgain is a revision asked for once more.
type TriedAgain struct {
	Commission ledger.Commission
	Request    ledger.Request
}

func tryAgain(j *job, c ledger.Commission, _ TryAgain) (TriedAgain, error) {
	was, err := j.t.Revision(c.ID, c.Revision)
	if err != nil {
		return TriedAgain{}, err
	}
	snap, err := j.snapshot(c, was.Snapshot.Changes)
	if err != nil {
		return TriedAgain{}, err
	}
	if err := j.t.SetSnapshot(c.ID, c.Revision, snap); err != nil {
		return TriedAgain{}, err
	}
	c.State = ledger.Computing
	if err := j.save(&c, "quote asked for again", fmt.Sprintf("revision %d", c.Revision)); err != nil {
		return TriedAgain{}, err
	}
	r, err := j.send(c)
	return TriedAgain{c, r}, err
}

// SendAgain sends every open request again at once, for a queue that has lost them.
func (s *Shop) SendAgain(ctx context.Context) error {
	// Every deadline of an open request is at most the patience away.
	now := s.cfg.Now()
	return s.overdue(ctx, now, now.Add(s.cfg.Patience))
}

// overdue sends requests that nobody answered again under the next attempt, or gives up after MaxAttempts. Those whose
// deadline is before the moment by are overdue.
func (s *Shop) overdue(ctx context.Context, now, by time.Time) error {
	return s.inTx(ctx, now, chat.Person{}, func(j *job) error {
		late, err := j.t.OverdueRequests(by)
		if err != nil {
			return err
		}
		for _, r := range late {
			if r.Attempt >= MaxAttempts {
				c, err := j.t.Commission(r.Commission)
				if err != nil {
					return err
				}
				err = j.failed(QuoteFailed{Commission: c, Request: r, Lost: true,
					Cause: fmt.Sprintf("no worker answered any of %d attempts: see that a worker runs and reaches the queue", MaxAttempts)}, 0)
				if err != nil {
					return err
				}
				continue
			}
			r.Attempt++
			r.Deadline = now.Add(s.cfg.Patience)
			if err := j.t.MoveRequest(r); err != nil {
				return err
			}
			if err := j.t.PutRequest(wire(r), r.Commission, now); err != nil {
				return err
			}
			if err := j.t.Record(ledger.Event{At: now, Commission: r.Commission, What: "request sent again", Detail: fmt.Sprintf("%s attempt %d", r.ID, r.Attempt)}); err != nil {
				return err
			}
			s.log.Warn("no answer in time; sent again", "request", r.ID, "attempt", r.Attempt)
		}
		return nil
	})
}
