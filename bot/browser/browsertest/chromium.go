//go:build chromium

package browsertest

import (
	"context"
	"testing"

	"github.com/chromedp/chromedp"
)

// Chromium starts a browser of its own, which ends with the test.
func Chromium(t testing.TB) context.Context {
	t.Helper()
	alloc, stop := chromedp.NewExecAllocator(t.Context(), append(chromedp.DefaultExecAllocatorOptions[:], chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.Flag("disable-background-networking", true), chromedp.Flag("disable-dev-shm-usage", true))...)
	t.Cleanup(stop)
	ctx, stop := chromedp.NewContext(alloc)
	t.Cleanup(stop)
	if err := chromedp.Do(ctx); err != nil {
		t.Fatalf("chromium doesn't start: %v", err)
	}
	return ctx
}
