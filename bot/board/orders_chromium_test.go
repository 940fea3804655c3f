//go:build chromium

package board_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"benchbell/bot/shop"
	"benchbell/quote"
)

// leastTarget is the least side of what is pressed with a finger, in pixels.
const leastTarget = 44

// small are what can be pressed in a page and is lower than a finger needs.
const small = `[...document.querySelectorAll("main a, main button, main summary, main select, main input:not([type=hidden]), main textarea")].filter(
	e => e.checkVisibility() && e.getBoundingClientRect().height < 44).map(e => e.outerHTML.slice(0, 80) + " " + e.getBoundingClientRect().height).join("; ")`

// On a phone, orders are found by typed words and filtered by one press, and answering a message takes it off the page of whoever else
// looks within a second, while what they have typed stays.
func TestOrdersChromium(t *testing.T) {
	h := newHouse(t)
	h.fill(6)
	for n := 7; n <= 16; n++ {
		h.do(h.client(n), shop.Ask{Set: "forearm-cuff"})
	}
	h.wait(begun)
	h.work(12)
	for n := 3; n <= 6; n++ {
		h.do(h.client(n), shop.Say{Of: shop.On(quote.CommissionID(fmt.Sprintf("C%04d", n))), Words: fmt.Sprintf("Can the edge be darker than in picture %d?\nAnd when is the first fitting?", n)})
		h.wait(7 * time.Minute)
	}
	h.endanger(h.commission("C0004"), 0.41)
	one, two := newTab(t, h), newTab(t, h)
	one.do("orders", chromedp.Click(`//nav[@class="further"]/a[.="Orders"]`), chromedp.WaitVisible("#orders tr"))
	if first := one.number(`document.querySelector("#orders tr.danger").getBoundingClientRect().bottom`); first > phoneTall {
		t.Errorf("what is in danger ends %.0f px down; the window has %d", first, phoneTall)
	}
	check := func(x tab, name string) {
		t.Helper()
		x.look(name)
		var low string
		if x.do(name, into(&low, chromedp.Evaluate[string](small))); low != "" {
			t.Errorf("%s: lower than %d px: %s", name, leastTarget, low)
		}
	}
	check(one, "orders")
	one.do("words", chromedp.SendKeys("#q", "client 12\n"), chromedp.WaitVisible(`//tr[@id="o-C0012"]`))
	if n := one.number(`document.querySelectorAll("#orders tr").length`); n != 1 {
		t.Errorf("“client 12” finds %.0f", n)
	}
	one.do("chip", chromedp.Navigate(h.desk.URL()+"/as/studio/orders"), chromedp.Click(`//nav[@class="chips"]/a[starts-with(.,"Choosing")]`),
		chromedp.WaitVisible(`//nav[@class="chips"]/a[@aria-current and starts-with(.,"Choosing")]`))
	if n := one.number(`document.querySelectorAll("#orders tr").length`); n != 10 {
		t.Errorf("%.0f are choosing, want 10", n)
	}

	one.do("commission", chromedp.Navigate(h.desk.URL()+"/as/studio/orders"), chromedp.Click(`//tr[@id="o-C0003"]//a`), chromedp.WaitVisible(".stages"))
	check(one, "commission")

	messages := h.desk.URL() + "/as/studio/messages"
	one.do("messages", chromedp.Navigate(messages), chromedp.WaitVisible("#a-1"))
	two.do("messages", chromedp.Navigate(messages), chromedp.WaitVisible("#a-1"), chromedp.SendKeys("#a-2", "half an answer"))
	check(one, "messages")
	one.do("answer", chromedp.SendKeys("#a-1", "Yes, it can. The fitting is offered once the deposit is in."), chromedp.Click(`#q-1 button`))
	began := time.Now()
	two.until("it goes", `!document.getElementById("q-1") && document.getElementById("a-2").value == "half an answer"`)
	took := time.Since(began)
	t.Logf("the other's page lost it after %s", took)
	if took > time.Second {
		t.Errorf("the other's page shows it still for %s", took)
	}
	if n := h.count("C0003", "answered"); n != 1 {
		t.Errorf("answered %d times", n)
	}
}
