//go:build chromium

package browser_test

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"benchbell/bot/browser"
	"benchbell/bot/chat"
)

// More pages in view than a browser has connections for one host: all of them load, follow what happens, and answer.
func TestChromiumManyTabs(t *testing.T) {
	const tabs = 8
	d := open(t, browser.Options{}, nil)
	th, err := d.OpenThread(t.Context(), "C0007", "C0007 · Mara", "browser:mara")
	if err != nil {
		t.Fatal(err)
	}
	first := chromium(t)
	do(t, first, "seat", chromedp.Navigate(d.URL()), chromedp.WaitVisible("#name"), chromedp.SendKeys("#name", "Mara"), chromedp.Submit("#name"), chromedp.WaitVisible("#threads a"))
	path := d.URL() + "/as/mara/t/" + strings.TrimPrefix(string(th), "browser:")
	hidden := 0
	var all []context.Context
	for i := range tabs {
		tab, stop := chromedp.NewContext(first)
		t.Cleanup(stop)
		if err := chromedp.Do(tab); err != nil {
			t.Fatal(err)
		}
		all = append(all, tab)
		var out bool
		began := time.Now()
		do(t, tab, fmt.Sprint("tab ", i+1), chromedp.Navigate(path), chromedp.WaitVisible("#note"), into(&out, chromedp.Evaluate[bool](`document.hidden`)))
		if took := time.Since(began); took > 5*time.Second {
			t.Errorf("tab %d loads in %s", i+1, took)
		}
		if out {
			hidden++
		}
	}
	if hidden > 0 {
		t.Errorf("%d of %d tabs are out of view, and prove nothing", hidden, tabs)
	}
	do(t, all[tabs-1], "an act in the last", chromedp.SetValue("#note", "from the last tab"), chromedp.Evaluate[chromedp.Void](`document.querySelector("#say button").click()`),
		chromedp.WaitVisible(`//p[contains(.,"from the last tab")]`))
	if err := d.Put(t.Context(), chat.Post{Key: "C0007/quote", Thread: th, Text: "Your quote, ready on 9 May."}); err != nil {
		t.Fatal(err)
	}
	for i, tab := range all {
		do(t, tab, fmt.Sprint("tab ", i+1, " follows"), chromedp.WaitVisible(`//p[contains(.,"ready on 9 May")]`))
	}
}
