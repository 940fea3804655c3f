package main

import (
	"context"
	"errors"
	"fmt"

	"benchbell/bot/browser"
	"benchbell/bot/chat"
	"benchbell/bot/ledger"
)

// A shelf is the browser desk's store in the ledger: the ledger's pages under the desk's names, since neither package
// knows the other.
type shelf struct{ pages ledger.Pages }

var _ browser.Store = shelf{}

// theirs says the ledger's errors in the desk's words.
func theirs(err error) error {
	switch {
	case errors.Is(err, ledger.ErrNone):
		return fmt.Errorf("%w (%w)", browser.ErrUnknown, err)
	case errors.Is(err, ledger.ErrMoved):
		return fmt.Errorf("%w (%w)", browser.ErrMoved, err)
	}
	return err
}

func (s shelf) PutThread(ctx context.Context, t browser.Thread) (browser.Thread, error) {
	kept, err := s.pages.PutThread(ctx, ledger.PageThread(t))
	return browser.Thread(kept), theirs(err)
}

func (s shelf) Thread(ctx context.Context, id chat.ThreadID) (browser.Thread, error) {
	t, err := s.pages.Thread(ctx, id)
	return browser.Thread(t), theirs(err)
}

func (s shelf) Threads(ctx context.Context, person chat.PersonID, studio bool) ([]browser.Thread, error) {
	ts, err := s.pages.Threads(ctx, person, studio)
	if err != nil {
		return nil, theirs(err)
	}
	out := make([]browser.Thread, len(ts))
	for i, t := range ts {
		out[i] = browser.Thread(t)
	}
	return out, nil
}

func (s shelf) PutPost(ctx context.Context, p browser.Stored) error {
	return theirs(s.pages.PutPost(ctx, ledger.PagePost(p)))
}

func (s shelf) Posts(ctx context.Context, thread chat.ThreadID) ([]browser.Stored, error) {
	ps, err := s.pages.Posts(ctx, thread)
	if err != nil {
		return nil, theirs(err)
	}
	out := make([]browser.Stored, len(ps))
	for i, p := range ps {
		out[i] = browser.Stored(p)
	}
	return out, nil
}

func (s shelf) File(ctx context.Context, thread chat.ThreadID, postKey string, n int) (chat.File, error) {
	f, err := s.pages.File(ctx, thread, postKey, n)
	return f, theirs(err)
}

func (s shelf) Secret(ctx context.Context, name string, fresh []byte) ([]byte, error) {
	b, err := s.pages.Secret(ctx, name, fresh)
	return b, theirs(err)
}
