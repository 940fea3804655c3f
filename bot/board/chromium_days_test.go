//go:build chromium

package board_test

import (
	"testing"

	"github.com/chromedp/chromedp"
)

// Days fits three widths and two themes; the picture is shown where there is room for it, and what is pressed is large enough.
func TestChromiumDays(t *testing.T) {
	h := newHouse(t)
	h.fill(4)
	h.wait(begun)
	h.work(12)
	x := newTab(t, h)
	x.do("days", chromedp.Navigate(h.desk.URL()+"/as/studio/days"), chromedp.WaitVisible(".coming-day"))
	if n := x.number(`[...document.querySelectorAll("a.print, .labels input, .labels select")].filter((e) => e.getBoundingClientRect().height < 44).length`); n > 0 {
		t.Errorf("%.0f things to press are less than 44 px high", n)
	}
	if n := x.number(`+document.querySelector("img.days").checkVisibility()`); n != 0 {
		t.Error("the picture is shown on a phone, where nobody can read it")
	}
	x.do("wide", wide(1920, 1080))
	x.until("the picture is there", `document.querySelector("img.days").naturalWidth > 0 && document.querySelector("img.days").checkVisibility()`)
	x.look("days")
}
