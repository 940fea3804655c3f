package main

import (
	"context"
	"path/filepath"
	"testing"

	"benchbell/bot/browser"
	"benchbell/bot/browser/storetest"
	"benchbell/bot/ledger"
)

// The ledger keeps the browser desk's pages as the desk's own memory does.
func TestShelfConformance(t *testing.T) {
	storetest.Conformance(t, func(t *testing.T) browser.Store {
		l, err := ledger.Open(context.Background(), filepath.Join(t.TempDir(), "ledger.db"))
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { l.Close() })
		return shelf{l.Pages()}
	})
}
