package ledger

import (
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"benchbell/bot/chat"
	"benchbell/jobs"
	"benchbell/quote"
)

// OutKind says what is to be done.
type OutKind string

// Kinds of outbox rows.
const (
	OutThread  OutKind = "thread"  // open a commission's thread
	OutPost    OutKind = "post"    // show a post
	OutRequest OutKind = "request" // hand a request to the queue
)

// Out is one thing still to be done outside the ledger.
type Out struct {
	Kind       OutKind
	Key        string
	N          int64
	Lane       string
	Commission quote.CommissionID
	Payload    []byte
	Version    int
	DueAt      time.Time // not before; zero: at once
	HoldUntil  time.Time // not before, and nothing waits for it; zero: at once
	Tries      int
}

// put inserts or replaces a row. A row not sent yet keeps its place; one sent before goes to the end.
func (t *Tx) put(o Out, at time.Time) error {
	n, err := t.Next("outbox")
	if err != nil {
		return err
	}
	return t.exec(`insert into outbox (kind, key, n, lane, commission, payload, made_at, hold_until) values (?, ?, ?, ?, ?, ?, ?, ?)
		on conflict (kind, key) do update set payload = excluded.payload, version = version + 1, due_at = '', tries = 0, problem = '',
			n = case when sent < version then n else excluded.n end`,
		string(o.Kind), o.Key, n, o.Lane, string(o.Commission), o.Payload, stamp(at), stamp(o.HoldUntil))
}

// PutThread asks for a commission's thread to be opened.
func (t *Tx) PutThread(id quote.CommissionID, at time.Time) error {
	return t.put(Out{Kind: OutThread, Key: string(id), Lane: string(id), Commission: id, Payload: []byte{}}, at)
}

// PutPost asks for a post, in the commission's thread where p.Thread is empty. Asking again for the same key replaces
// what has not been sent and edits what has; an edit without files keeps them.
func (t *Tx) PutPost(id quote.CommissionID, p chat.Post, at time.Time) error {
	return t.PutPostFrom(id, p, at, time.Time{})
}

// PutPostFrom is PutPost for a post that is not shown before a time. What replaces it before then waits as long, and what is posted
// after it does not wait for it.
func (t *Tx) PutPostFrom(id quote.CommissionID, p chat.Post, at, from time.Time) error {
	if p.Files == nil {
		old, err := one(t, scanOut, `select `+outColumns+` from outbox where kind = 'post' and key = ? and sent < version`, p.Key)
		if err != nil && !errors.Is(err, ErrNone) {
			return err
		}
		if err == nil {
			var was chat.Post
			if err := json.Unmarshal(old.Payload, &was); err != nil {
				return fmt.Errorf("ledger: post %s: %w", p.Key, err)
			}
			p.Files = was.Files
		}
	}
	text, err := encode(p)
	if err != nil {
		return err
	}
	lane := string(id)
	if p.Thread != "" {
		lane = string(p.Thread)
	}
	return t.put(Out{Kind: OutPost, Key: p.Key, Lane: lane, Commission: id, Payload: []byte(text), HoldUntil: from}, at)
}

// Post is the post of a key as it was last asked for, without the files of what was sent, and whether any of it was sent; ErrNone
// where there is none.
func (t *Tx) Post(key string) (p chat.Post, sent bool, err error) {
	type row struct {
		payload []byte
		sent    bool
	}
	r, err := one(t, func(s scanner) (r row, err error) { return r, s.Scan(&r.payload, &r.sent) },
		`select payload, sent > 0 from outbox where kind = 'post' and key = ?`, key)
	if err != nil {
		return p, false, err
	}
	if err := json.Unmarshal(r.payload, &p); err != nil {
		return p, false, fmt.Errorf("ledger: post %s: %w", key, err)
	}
	return p, r.sent, nil
}

// TakeBackPost forgets a post that was not sent yet.
func (t *Tx) TakeBackPost(key string) error {
	return t.exec(`delete from outbox where kind = 'post' and key = ? and sent = 0`, key)
}

// PutRequest asks for a request to be handed to the queue; the snapshot stays with the revision.
func (t *Tx) PutRequest(r jobs.Request, id quote.CommissionID, at time.Time) error {
	r.Snapshot = quote.Snapshot{}
	text, err := encode(r)
	if err != nil {
		return err
	}
	return t.put(Out{Kind: OutRequest, Key: r.TaskID(), Lane: "queue", Commission: id, Payload: []byte(text)}, at)
}

const outColumns = `kind, key, n, lane, commission, payload, version, due_at, tries`

func scanOut(s scanner) (o Out, err error) {
	return o, s.Scan(&o.Kind, &o.Key, &o.N, &o.Lane, &o.Commission, &o.Payload, &o.Version, moment{&o.DueAt}, &o.Tries)
}

// NextOut is the first pending row of a lane that is not in busy, or ErrNone. A row whose time has not come holds back
// its lane.
func (t *Tx) NextOut(now time.Time, busy map[string]bool) (Out, error) {
	type head struct {
		n    int64
		lane string
		due  time.Time
	}
	heads, err := all(t, func(s scanner) (h head, err error) { return h, s.Scan(&h.n, &h.lane, moment{&h.due}) },
		`select o.n, o.lane, o.due_at from outbox o
		 join (select min(n) as n from outbox where sent < version and hold_until <= ? group by lane) f on o.n = f.n order by o.n`, stamp(now))
	if err != nil {
		return Out{}, err
	}
	for _, h := range heads {
		if busy[h.lane] || h.due.After(now) {
			continue
		}
		return one(t, scanOut, `select `+outColumns+` from outbox where n = ?`, h.n)
	}
	return Out{}, ErrNone
}

// Sent marks the version that was sent. Files of a post sent are in the transport and, where they matter, with their
// revision; the row lets go of them.
func (t *Tx) Sent(o Out, at time.Time) error {
	if err := t.exec(`update outbox set sent = max(sent, ?), sent_at = ?, tries = 0, problem = '' where kind = ? and key = ?`,
		o.Version, stamp(at), string(o.Kind), o.Key); err != nil {
		return err
	}
	if o.Kind != OutPost {
		return nil
	}
	var p chat.Post
	if err := json.Unmarshal(o.Payload, &p); err != nil {
		return fmt.Errorf("ledger: post %s: %w", o.Key, err)
	}
	if len(p.Files) == 0 {
		return nil
	}
	p.Files = nil
	text, err := encode(p)
	if err != nil {
		return err
	}
	return t.exec(`update outbox set payload = ? where kind = ? and key = ? and version = ?`,
		[]byte(text), string(o.Kind), o.Key, o.Version)
}

// Unsent puts a row off after a failure.
func (t *Tx) Unsent(o Out, problem string, due time.Time) error {
	return t.exec(`update outbox set tries = tries + 1, problem = ?, due_at = ? where kind = ? and key = ? and version = ?`,
		problem, stamp(due), string(o.Kind), o.Key, o.Version)
}

// Pending is how many rows wait to be sent by now.
func (t *Tx) Pending(now time.Time) (int, error) {
	return one(t, func(s scanner) (n int, err error) { return n, s.Scan(&n) }, `select count(*) from outbox where sent < version and hold_until <= ?`, stamp(now))
}
