//go:build chromium

package main

import (
	"context"
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"benchbell/bot/browser/browsertest"
	"benchbell/bot/chat"
)

const (
	screenTall  = 844 // of a phone's screen, in pixels
	mostScreens = 3   // before what is to be chosen
)

func (p phone) screen(width, height int64, theme string) {
	p.t.Helper()
	p.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		if _, err := cdp.Call(ctx, t, emulation.SetDeviceMetricsOverride,
			emulation.SetDeviceMetricsOverrideParams{Width: width, Height: height, DeviceScaleFactor: 1, Mobile: width < 600}); err != nil {
			return err
		}
		_, err := cdp.Call(ctx, t, emulation.SetEmulatedMedia,
			emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: theme}}})
		return err
	}))
}

func (p phone) number(script string) (n float64) {
	p.t.Helper()
	p.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) (err error) {
		n, err = chromedp.Evaluate[float64](script)(ctx, t)
		return err
	}))
	return n
}

// until waits for what a script says to be true.
func (p phone) until(script string) {
	p.t.Helper()
	p.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := chromedp.Poll[bool](script)(ctx, t)
		return err
	}))
}

// choice is how far down the page the first thing is that can be chosen, given or pressed, in pixels.
const choice = `(() => {
	const all = [...document.querySelectorAll(".stage input:not([type=hidden]), .stage button:not(.unseen), .stage select, .stage textarea")];
	const first = all.find((e) => e.checkVisibility() && !e.closest("details:not([open])"));
	return first ? first.getBoundingClientRect().top + scrollY : -1;
})()`

// looks holds a page of the counter against phones, as people's pages are; where pictures are kept, it is shown at three widths in two
// themes.
func (p phone) looks(name string) {
	p.t.Helper()
	if os.Getenv("BENCHBELL_SHOTS") != "" {
		for _, width := range []int64{390, 800, 1920} {
			for _, theme := range []string{"light", "dark"} {
				p.screen(width, screenTall, theme)
				p.do(chromedp.Evaluate[chromedp.Void](`scrollTo(0, document.body.scrollHeight)`)) // what is drawn late is drawn
				p.shot(fmt.Sprintf("counter-%s-%d-%s", name, width, theme))
				p.do(chromedp.Evaluate[chromedp.Void](`scrollTo(0, 0)`))
			}
		}
	}
	p.screen(phoneWide, screenTall, "light")
	p.fits("counter-" + name)
	p.screen(phoneWide, screenTall, "light")
	if small := p.says(`[...document.querySelectorAll("main *")].filter((e) => e.checkVisibility() && !e.closest("svg") && !["checkbox", "radio"].includes(e.type) && parseFloat(getComputedStyle(e).fontSize) < 16)
		.map((e) => e.tagName + " " + getComputedStyle(e).fontSize).join(", ")`); small != "" {
		p.t.Errorf("%s has small type: %s", name, small)
	}
	top := p.number(choice)
	p.t.Logf("%s: first choice at %.0f px", name, top)
	if top < 0 || top > mostScreens*screenTall {
		p.t.Errorf("%s has its first choice at %.0f px, further than %d screens down", name, top, mostScreens)
	}
}

// inThread is how far down the same choice is in the thread.
func (p phone) inThread(name, thread, selector string) {
	p.t.Helper()
	back := p.says(`location.href`)
	p.do(chromedp.Navigate(thread), chromedp.WaitVisible("#posts .post"))
	top := p.number(fmt.Sprintf(`(() => { const e = document.querySelector(%q); return e ? e.getBoundingClientRect().top + scrollY : -1; })()`, selector))
	p.t.Logf("%s: in the thread at %.0f px", name, top)
	if top < 0 {
		p.t.Errorf("the thread has no %s", selector)
	}
	p.do(chromedp.Navigate(back), chromedp.WaitVisible("#stage"))
}

// invited is a house with an owner, and the address of a private link to the commission of a client who was never there; with it the
// owner, and the client as the thread knows them.
func invited(t *testing.T) (h *house, url, link string, owner *browsertest.Peer) {
	t.Helper()
	h = openHouse(t, map[string]string{"BENCHBELL_LISTEN": "127.0.0.1:0", "BENCHBELL_STUDIO": hurriedStudio(t)})
	url = strings.TrimPrefix(h.stdout.Await(t, printedURL), "the desk is at ")
	h.awaitBoard()
	shared, err := browsertest.Studio(t.Context(), url)
	if err != nil {
		t.Fatal(err)
	}
	if owner, err = shared.NameOwner(t.Context(), "Edda Holm"); err != nil {
		t.Fatal(err)
	}
	a, err := owner.Do(t.Context(), "", "for-client", map[string]string{"name": "Nils Berg"})
	link = url + "/enter/" + secretIn(t, a, err)
	h.settle()
	return h, url, link, owner
}

// take presses the button that does something and waits for what follows.
func (p phone) take(do, next string) {
	p.t.Helper()
	p.do(chromedp.Click(fmt.Sprintf(`.stage button[name=do][value=%s]:not(.unseen)`, do)), chromedp.WaitVisible(next))
}

// A client comes by a private link on a phone, and goes from the first choice to the approved quote and the time of the first fitting.
func TestChromiumCounter(t *testing.T) {
	h, url, link, owner := invited(t)
	p := newPhone(t)
	p.screen(phoneWide, screenTall, "light")
	p.do(chromedp.Navigate(link), chromedp.WaitVisible("#device"), chromedp.Submit("#device"), chromedp.WaitVisible("#stage-sets"))
	thread := p.says(`document.querySelector('.top a[href*="/t/"]').href`)
	// What sets begin at is worked out meanwhile, and the page shows it.
	p.do(chromedp.WaitVisible(`.cards img`))
	for range 40 {
		if p.number(`document.querySelectorAll(".from").length`) == 14 {
			break
		}
		p.do(chromedp.Sleep(500_000_000), chromedp.Navigate(url+p.says(`location.pathname`)), chromedp.WaitVisible("#stage-sets"))
	}
	if n := p.number(`document.querySelectorAll(".from").length`); n != 14 {
		t.Errorf("%v sets say what they begin at", n)
	}
	p.looks("sets")
	p.inThread("sets", thread, `[data-action^="sets/"]`)
	p.do(chromedp.Click(`input[name=set][value=forearm-cuff]`), chromedp.Click(`input[name=set][value=shoulder-cap]`))
	p.take("sets", "#stage-many")
	p.looks("many")
	p.take("many", "#stage-finish")
	p.looks("finish")
	p.inThread("finish", thread, `[data-action^="finish/"]`)
	p.do(chromedp.Click(`input[value=painted]`))
	p.take("finish", "#stage-details")
	p.looks("details")
	p.take("details", "#stage-body")
	p.looks("body")
	p.inThread("body", thread, `[value^="press rest/"]`)

	// A length is read as it is typed.
	p.do(chromedp.SendKeys("#m-wrist-girth", "17 elephants"))
	p.until(`document.querySelector("#m-wrist-girth-says .wrong") !== null`)
	p.looks("body-wrong")
	p.do(chromedp.Evaluate[chromedp.Void](`document.querySelector("#m-wrist-girth").value = ""`), chromedp.SendKeys("#m-wrist-girth", "17,2"))
	p.until(`(document.querySelector("#m-wrist-girth-says .read")?.textContent || "").includes("17.2 cm")`)
	for key, typed := range map[string]string{"forearm-girth": "27", "elbow-wrist-length": "26", "upper-arm-girth": "31", "biacromial-breadth": "38", "shoulder-elbow-length": "35"} {
		p.do(chromedp.SendKeys("#m-"+key, typed))
	}
	// The enter key sends the measurements, and is no press of the first button there is.
	p.do(chromedp.SendKeys("#m-wrist-girth", "\r"), chromedp.WaitVisible("#stage-check"))
	p.looks("check")
	p.inThread("check", thread, `[value^="press right/"]`)
	p.take("confirm", "#stage-quote") // it comes by itself
	h.settle()
	p.looks("quote")
	p.inThread("quote", thread, `[value^="press approve/"]`)
	p.do(chromedp.Navigate(url+p.says(`location.pathname`)+"?at=change"), chromedp.WaitVisible("#stage-change"))
	p.looks("change")
	p.do(chromedp.Click(`.back`), chromedp.WaitVisible("#stage-quote"))
	p.take("approve", "#stage-status")
	if say := p.says(`document.querySelector(".stage").textContent`); !strings.Contains(say, "waits for the deposit") {
		t.Errorf("approved: %s", say)
	}
	h.settle()
	orders := func(what, press string) {
		t.Helper()
		if _, err := owner.Do(t.Context(), "", what, nil); err != nil {
			t.Fatal(err)
		}
		if _, err := owner.Press(t.Context(), chat.ThreadID(""), press); err != nil {
			t.Fatal(err)
		}
		h.settle()
	}
	orders("orders", "deposit/C0001")
	p.do(chromedp.WaitVisible(".slots button")) // without a reload
	p.looks("status")
	p.inThread("slots", thread, `[value^="press slot/"]`)
	p.do(chromedp.Click(".slots button"), chromedp.WaitNotPresent(`.slots button:not(.plain)`))
	if say := p.says(`document.querySelector(".meeting").textContent`); !strings.Contains(say, "It is at the workshop") {
		t.Errorf("picked: %s", say)
	}
	// What is written there is in the thread, and on the page without a reload.
	p.do(chromedp.SendKeys("#messages textarea", "Shall I bring my boots?"), chromedp.Click("#messages button"))
	p.until(`document.querySelector("#messages .said")?.textContent.includes("my boots")`)
	p.looks("picked")
}

// The same without script.
func TestChromiumCounterWithoutScript(t *testing.T) {
	h, _, link, _ := invited(t)
	p := newPhone(t)
	p.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})
		return err
	}))
	p.do(chromedp.Navigate(link), chromedp.WaitVisible("#device"), chromedp.Click("form button"), chromedp.WaitVisible("#stage-sets"))
	p.do(chromedp.Click(`input[name=set][value=forearm-cuff]`))
	p.take("sets", "#stage-many")
	p.take("many", "#stage-finish")
	p.do(chromedp.Click(`input[value=primed]`))
	p.take("finish", "#stage-details")
	p.take("details", "#stage-body")
	p.do(chromedp.SendKeys("#m-wrist-girth", "17 elephants"))
	p.take("body", ".wrong")
	p.do(chromedp.Click(`details[data-menu=list] summary`), chromedp.SendKeys("textarea[name=list]", "wrist 17; forearm 27; elbow to wrist 26"))
	p.take("body", "#stage-check")
	p.take("confirm", "#stage-wait")
	h.settle()
	p.do(chromedp.Click(`.top a[href*="/t/"]`), chromedp.WaitVisible("#posts"), chromedp.Click(`.back a[href*="/order/"]`), chromedp.WaitVisible("#stage-quote"))
	p.take("approve", "#stage-status")
}
