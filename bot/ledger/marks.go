package ledger

import (
	"context"
	"errors"
)

// Marks keeps what a transport remembers of its service from one start to the next, by key.
type Marks struct{ l *Ledger }

// Marks of this ledger.
func (l *Ledger) Marks() Marks { return Marks{l} }

// Get returns the value last put under key, and whether there is one.
func (m Marks) Get(ctx context.Context, key string) (value string, ok bool, err error) {
	err = m.l.Tx(ctx, func(t *Tx) error {
		value, err = one(t, func(s scanner) (v string, err error) { return v, s.Scan(&v) }, `select value from marks where key = ?`, key)
		return err
	})
	if errors.Is(err, ErrNone) {
		return "", false, nil
	}
	return value, err == nil, err
}

// Put remembers value under key, in place of what was there.
func (m Marks) Put(ctx context.Context, key, value string) error {
	return m.l.Tx(ctx, func(t *Tx) error {
		return t.exec(`insert into marks (key, value) values (?, ?) on conflict (key) do update set value = excluded.value`, key, value)
	})
}
