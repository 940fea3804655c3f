//go:build chromium

package main

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
)

// wide makes the phone that many pixels wide.
func (p phone) wide(width int64) {
	p.t.Helper()
	p.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, emulation.SetDeviceMetricsOverride,
			emulation.SetDeviceMetricsOverrideParams{Width: width, Height: phoneTall, DeviceScaleFactor: 1, Mobile: true})
		return err
	}))
}

// says is what a script in the page answers.
func (p phone) says(script string) (out string) {
	p.t.Helper()
	p.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) (err error) {
		out, err = chromedp.Evaluate[string](script)(ctx, t)
		return err
	}))
	return out
}

// fits holds the page against the narrowest phones: nothing is cut off at the side, what is pressed is at least 44 px high, every
// field and button has a name.
func (p phone) fits(name string) {
	p.t.Helper()
	for _, width := range []int64{320, phoneWide} {
		p.wide(width)
		p.shot(fmt.Sprintf("people-%s-%d", name, width))
		for what, script := range map[string]string{
			"overflows": `document.scrollingElement.scrollWidth <= innerWidth ? "" :
				[...document.querySelectorAll("*")].filter(e => e.getBoundingClientRect().right > innerWidth).map(e => e.tagName + "." + e.className).slice(0, 5).join(" ") || "?"`,
			"has small targets": `[...document.querySelectorAll("main button:not(.unseen), header button, summary, main select, main input:not([type=hidden]):not([type=checkbox]):not([type=radio]), label.tick, label.card")]
				.filter(e => e.offsetParent && e.getBoundingClientRect().height < 43.5).map(e => e.tagName + " " + e.textContent.trim().slice(0, 20) + " " + e.getBoundingClientRect().height).join(", ")`,
			"has what has no name": `[...document.querySelectorAll("main button, main input:not([type=hidden]), main select")]
				.filter(e => !(e.textContent.trim() || e.getAttribute("aria-label") || e.labels?.length)).map(e => e.outerHTML.slice(0, 80)).join(", ")`,
		} {
			if bad := p.says(script); bad != "" {
				p.t.Errorf("%s at %d px %s: %s", name, width, what, bad)
			}
		}
	}
}

// The owner is named, adds a maker who signs in on a phone by their link, sees the phone, and signs it out; the phone's page
// notices without being touched.
func TestChromiumPeople(t *testing.T) {
	h := openHouse(t, map[string]string{"BENCHBELL_LISTEN": "127.0.0.1:0", "BENCHBELL_STUDIO": hurriedStudio(t)})
	url := strings.TrimPrefix(h.stdout.Await(t, printedURL), "the desk is at ")
	h.awaitBoard()
	owner, maker := newPhone(t), newPhone(t)
	owner.do(chromedp.Navigate(url), chromedp.WaitVisible("#name"))
	owner.fits("door-by-name")
	owner.do(chromedp.Click(`form:nth-of-type(2) button`), chromedp.WaitVisible("#owner-name"))
	owner.fits("shared-list")
	owner.do(chromedp.SendKeys("#owner-name", "Edda Holm"), chromedp.Submit("#owner-name"), chromedp.WaitVisible("a.onward"))
	owner.fits("owners-list")
	owner.do(chromedp.Click("a.onward"), chromedp.WaitVisible("#person-M1"))
	owner.fits("page")
	owner.do(chromedp.SendKeys("#in--name", "Rolf Ager"), chromedp.Click(`.side input[name="v.maker"]`), chromedp.Click(".side button.good"), chromedp.WaitVisible("#person-M2"), chromedp.WaitVisible(".card"))
	owner.fits("link")
	link := printedSecret.FindStringSubmatch(owner.says(`document.querySelector(".card .text").textContent`))
	if link == nil || !strings.HasSuffix(owner.says(`location.pathname`), "/people") {
		t.Fatalf("no link on the page of the studio's people")
	}
	maker.do(chromedp.Navigate(url), chromedp.WaitVisible("h1"))
	maker.fits("door")
	maker.do(chromedp.Navigate(url+"/enter/"+link[1]), chromedp.WaitVisible("#device"))
	maker.fits("enter")
	maker.do(chromedp.SendKeys("#device", " of Rolf"), chromedp.Submit("#device"), chromedp.WaitVisible("#commands"))
	maker.fits("makers-list")
	maker.do(chromedp.Click("a.onward"), chromedp.WaitVisible("#person-M2"))
	maker.fits("makers-page")
	if maker.says(`String(document.querySelectorAll("details.change, #add").length + document.querySelectorAll("#person-M1 button").length)`) != "0" {
		t.Error("a maker is offered to change the studio's people")
	}
	owner.do(chromedp.WaitVisible(`#person-M2 .devices button`)) // without a reload
	owner.fits("signed-in")
	owner.do(chromedp.Click(`#person-M2 details summary`), chromedp.WaitVisible(`#person-M2 button.grave`))
	owner.fits("change")
	owner.do(chromedp.Click(`#person-M2 .devices button`), chromedp.WaitNotPresent(`#person-M2 .devices`))
	maker.do(chromedp.Navigate(url+"/enter/"+link[1]), chromedp.WaitVisible("#problem"))
	maker.fits("used")
	maker.do(chromedp.Navigate(url+"/as/M2/people"), chromedp.WaitVisible(".notice"))
	if maker.says(`location.pathname`) != "/" {
		t.Error("who was signed out is still at the page")
	}
}
