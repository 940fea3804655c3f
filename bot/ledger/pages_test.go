package ledger_test

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"testing"

	"benchbell/bot/browser"
	"benchbell/bot/browser/storetest"
	"benchbell/bot/chat"
	"benchbell/bot/ledger"
)

// store speaks the browser desk's interface; the ledger itself knows no transport.
type store struct{ p ledger.Pages }

func known(err error) error {
	switch {
	case errors.Is(err, ledger.ErrNone):
		return fmt.Errorf("%w: %w", browser.ErrUnknown, err)
	case errors.Is(err, ledger.ErrMoved):
		return fmt.Errorf("%w: %w", browser.ErrMoved, err)
	}
	return err
}

func (s store) PutThread(ctx context.Context, t browser.Thread) (browser.Thread, error) {
	k, err := s.p.PutThread(ctx, ledger.PageThread(t))
	return browser.Thread(k), known(err)
}

func (s store) Thread(ctx context.Context, id chat.ThreadID) (browser.Thread, error) {
	t, err := s.p.Thread(ctx, id)
	return browser.Thread(t), known(err)
}

func (s store) Threads(ctx context.Context, person chat.PersonID, studio bool) ([]browser.Thread, error) {
	ths, err := s.p.Threads(ctx, person, studio)
	var out []browser.Thread
	for _, t := range ths {
		out = append(out, browser.Thread(t))
	}
	return out, known(err)
}

func (s store) PutPost(ctx context.Context, p browser.Stored) error {
	return known(s.p.PutPost(ctx, ledger.PagePost(p)))
}

func (s store) Posts(ctx context.Context, th chat.ThreadID) ([]browser.Stored, error) {
	ps, err := s.p.Posts(ctx, th)
	var out []browser.Stored
	for _, p := range ps {
		out = append(out, browser.Stored(p))
	}
	return out, known(err)
}

func (s store) File(ctx context.Context, th chat.ThreadID, key string, n int) (chat.File, error) {
	f, err := s.p.File(ctx, th, key, n)
	return f, known(err)
}

func (s store) Secret(ctx context.Context, name string, fresh []byte) ([]byte, error) {
	return s.p.Secret(ctx, name, fresh)
}

func TestPagesKeepTheStoreLaws(t *testing.T) {
	storetest.Conformance(t, func(t *testing.T) browser.Store {
		l, err := ledger.Open(t.Context(), filepath.Join(t.TempDir(), "ledger.db"))
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { l.Close() })
		return store{p: l.Pages()}
	})
}
