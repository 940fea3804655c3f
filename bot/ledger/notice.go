package ledger

import (
	"time"

	"benchbell/bot/chat"
	"benchbell/quote"
)

// Notice is something that one listener of the studio is told once.
type Notice struct {
	N          int64
	Key        string // what is told: bell/C0001/12
	Listener   string // a person as they sign, or a part of the studio; empty: whoever looks at the notice board
	Event      string
	Commission quote.CommissionID
	Text       string
	Buttons    []chat.Button
	At         time.Time
	Due        time.Time
	Waits      bool   // for the beginning of work; else it goes with whatever the listener is told before
	SaidIn     string // the key of the post; empty: not said yet
}

const noticeColumns = `n, key, listener, event, commission, text, buttons, at, due_at, waits, said_in`

func scanNotice(s scanner) (x Notice, err error) {
	return x, s.Scan(&x.N, &x.Key, &x.Listener, &x.Event, &x.Commission, &x.Text, encoded{&x.Buttons}, moment{&x.At}, moment{&x.Due}, &x.Waits, &x.SaidIn)
}

// AddNotice files a notice to be said when it is due; one that the listener has under the same key is left as it is.
func (t *Tx) AddNotice(x Notice) error {
	buttons, err := encode(x.Buttons)
	if err != nil {
		return err
	}
	return t.exec(`insert into notices (key, listener, event, commission, text, buttons, at, due_at, waits, said_at, said_in) values (?,?,?,?,?,?,?,?,?,?,?)
		on conflict (key, listener) do nothing`, x.Key, x.Listener, x.Event, string(x.Commission), x.Text, buttons, stamp(x.At), stamp(x.Due), x.Waits,
		saidAt(x), x.SaidIn)
}

// saidAt is when a notice that is filed as said was said.
func saidAt(x Notice) string {
	if x.SaidIn == "" {
		return ""
	}
	return stamp(x.At)
}

// Unsaid are the notices that are not said yet, in the order they were filed.
func (t *Tx) Unsaid() ([]Notice, error) {
	return all(t, scanNotice, `select `+noticeColumns+` from notices where said_at = '' order by n`)
}

// Said marks a notice as said in a post.
func (t *Tx) Said(n int64, post string, at time.Time) error {
	return t.exec(`update notices set said_at = ?, said_in = ? where n = ? and said_at = ''`, stamp(at), post, n)
}

// DropNotice forgets what is not said yet and need not be any more.
func (t *Tx) DropNotice(key string) error {
	return t.exec(`delete from notices where key = ? and said_at = ''`, key)
}

// TimesTold is in how many posts a listener was told something since.
func (t *Tx) TimesTold(listener string, since time.Time) (int, error) {
	return one(t, func(s scanner) (n int, err error) { return n, s.Scan(&n) },
		`select count(distinct said_in) from notices where listener = ? and said_at >= ?`, listener, stamp(since))
}
