package browser_test

import (
	"testing"

	"benchbell/bot/browser"
	"benchbell/bot/browser/storetest"
)

func TestMemory(t *testing.T) {
	storetest.Conformance(t, func(*testing.T) browser.Store { return browser.NewMemory() })
}
