//go:build chromium

package board_test

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/draw"
	"image/png"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"benchbell/bot/browser/browsertest"
	"benchbell/bot/shop"
	"benchbell/quote/gaugetest"
)

// shots is where pictures of the pages go, to be looked at; nothing compares them.
const shots = "BENCHBELL_SHOTS"

// A phone's window.
const (
	phoneWide = 390
	phoneTall = 844
)

// leastButton is the least height of what is pressed with gloves on, in pixels.
const leastButton = 56

type act = chromedp.Action[chromedp.Void]

func into[T any](to *T, read chromedp.Action[T]) act {
	return chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		v, err := read(ctx, t)
		*to = v
		return err
	})
}

// tab is a browser of its own, as a tab out of view does not follow.
type tab struct {
	t   *testing.T
	ctx context.Context
}

func newTab(t *testing.T, h *house) tab {
	t.Helper()
	x := tab{t, browsertest.Chromium(t)}
	x.do("seat", wide(phoneWide, phoneTall), chromedp.Navigate(h.desk.URL()), chromedp.Click(`form:nth-of-type(2) button`), chromedp.WaitVisible(".further"))
	return x
}

func (x tab) do(what string, acts ...act) {
	x.t.Helper()
	ctx, cancel := context.WithTimeout(x.ctx, 20*time.Second)
	defer cancel()
	if err := chromedp.Do(ctx, acts...); err != nil {
		x.t.Fatalf("%s: %v", what, err)
	}
}

func wide(width, height int64) act {
	return chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, emulation.SetDeviceMetricsOverride,
			emulation.SetDeviceMetricsOverrideParams{Width: width, Height: height, DeviceScaleFactor: 1, Mobile: width < 600})
		return err
	})
}

func theme(name string) act {
	return chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, emulation.SetEmulatedMedia,
			emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: name}}})
		return err
	})
}

// until waits for what a script says to be true.
func (x tab) until(what, script string) {
	x.t.Helper()
	var ok bool
	x.do(what, into(&ok, chromedp.Poll[bool](script)))
}

// number is what a script gives.
func (x tab) number(script string) (n float64) {
	x.t.Helper()
	x.do(script, into(&n, chromedp.Evaluate[float64](script)))
	return n
}

// faint are texts whose contrast with what is behind them is under 4.5 to 1, by the formula of WCAG 2.
const faint = `(() => {
	const rgb = (s) => (s.match(/[\d.]+/g) || []).map(Number);
	const lin = (v) => (v /= 255) <= .04045 ? v / 12.92 : ((v + .055) / 1.055) ** 2.4;
	const lum = (c) => { const [r, g, b] = c.map(lin); return .2126 * r + .7152 * g + .0722 * b; };
	const behind = (e) => {
		for (; e; e = e.parentElement) {
			const c = rgb(getComputedStyle(e).backgroundColor);
			if (c.length == 3 || c[3] == 1) return c.slice(0, 3);
		}
		return [255, 255, 255];
	};
	const out = [];
	for (const e of document.querySelectorAll("body *")) {
		if (![...e.childNodes].some((n) => n.nodeType == 3 && n.data.trim()) || !e.checkVisibility() || e.closest("svg") || e.classList.contains("skip")) continue;
		const s = getComputedStyle(e), a = lum(rgb(s.color).slice(0, 3)), b = lum(behind(e));
		const ratio = (Math.max(a, b) + .05) / (Math.min(a, b) + .05);
		if (ratio < 4.5) out.push(e.tagName + "." + e.className + " " + ratio.toFixed(2));
		if (parseFloat(s.fontSize) < 16) out.push(e.tagName + "." + e.className + " " + s.fontSize);
	}
	return out.join(", ");
})()`

// look holds a page against three widths and two themes, and takes its pictures.
func (x tab) look(name string) {
	x.t.Helper()
	for _, size := range [][2]int64{{phoneWide, phoneTall}, {820, 1180}, {1920, 1080}} {
		for _, light := range []string{"light", "dark"} {
			var over float64
			var pale string
			var shot []byte
			x.do(name, wide(size[0], size[1]), theme(light), chromedp.Sleep(100*time.Millisecond),
				into(&over, chromedp.Evaluate[float64](`document.scrollingElement.scrollWidth - innerWidth`)), into(&pale, chromedp.Evaluate[string](faint)),
				into(&shot, chromedp.FullScreenshot(100)))
			if over > 0 {
				x.t.Errorf("%s at %d px is %.0f px too wide", name, size[0], over)
			}
			if pale != "" {
				x.t.Errorf("%s at %d px, %s, is hard to read: %s", name, size[0], light, pale)
			}
			if dir := os.Getenv(shots); dir != "" {
				if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("%s-%d-%s.png", name, size[0], light)), shot, 0o600); err != nil {
					x.t.Error(err)
				}
			}
		}
	}
	x.do(name, wide(phoneWide, phoneTall), theme("light"))
}

// gap is what is left between the pages of the README's picture, in pixels.
const gap = 24

// view is what is in the window.
func (x tab) view() image.Image {
	x.t.Helper()
	var raw []byte
	x.do("view", chromedp.Sleep(200*time.Millisecond), into(&raw, chromedp.CaptureScreenshot()))
	img, _, err := image.Decode(bytes.NewReader(raw))
	if err != nil {
		x.t.Fatal(err)
	}
	return img
}

// The board of a shop of fifteen commissions on a phone: what is next and its button stand on the first screen, two people see what
// either does, two presses are one act, and what is refused stands where it was pressed.
func TestChromium(t *testing.T) {
	const commissions = 15
	h := newHouse(t)
	h.fill(commissions)
	h.wait(begun)
	h.work(24)
	one, two := newTab(t, h), newTab(t, h)
	today := h.desk.URL() + "/as/studio/today"
	one.do("today", chromedp.Click(`.further a`), chromedp.WaitVisible(".now button"))
	two.do("today", chromedp.Navigate(today), chromedp.WaitVisible(".now button"))
	top := one.number(`document.querySelector(".now button").getBoundingClientRect().top + scrollY`)
	tall := one.number(`document.querySelector(".now button").offsetHeight`)
	t.Logf("with %d commissions the first button begins %.0f px down and is %.0f px high", commissions, top, tall)
	if top+tall > phoneTall || tall < leastButton {
		t.Errorf("the first button begins %.0f px down and is %.0f px high; the window has %d", top, tall, phoneTall)
	}
	if low := one.number(`Math.min(...[...document.querySelectorAll("button")].filter(b => b.checkVisibility()).map(b => b.offsetHeight))`); low < leastButton {
		t.Errorf("the lowest button has %.0f px", low)
	}
	one.look("today")
	shown := []image.Image{one.view()}
	for _, path := range []string{"today", "curing"} {
		var took time.Duration
		p := h.sit("studio", "")
		for range 5 {
			began := time.Now()
			page := p.get(p.base+path, http.StatusOK)
			took = max(took, time.Since(began))
			if len(page) > 300_000 {
				t.Errorf("%s has %d bytes", path, len(page))
			}
		}
		t.Logf("%s takes %s at most, of 5", path, took)
	}

	// One does, the other's page follows without being loaded anew; both presses of a double press go out, and one counts.
	var op struct{ Commission, Operation string }
	one.do("what is first", into(&op.Commission, chromedp.Evaluate[string](`document.querySelector(".now [name=commission]").value`)),
		into(&op.Operation, chromedp.Evaluate[string](`document.querySelector(".now [name=operation]").value`)))
	find := fmt.Sprintf(`[...document.querySelectorAll(".now form")].find(f => f.elements.commission.value == "%s" &&
		f.elements.operation.value == "%s" && f.querySelector("[value=done]"))`, op.Commission, op.Operation)
	two.do("same load", chromedp.Evaluate[chromedp.Void](`window.sameLoad = true`))
	before := h.started()
	one.do("start, twice", chromedp.Evaluate[chromedp.Void](`(() => { const f = document.querySelector(".now form"); const body = new URLSearchParams(new FormData(f)); body.append("do", "start");
		fetch(f.action, {method: "POST", body}).then(() => {}); f.querySelector("button").click(); })()`))
	began := time.Now()
	two.until("it follows", `!!`+find)
	t.Logf("the other's page shows it after %s", time.Since(began))
	var same bool
	two.do("same load", into(&same, chromedp.Evaluate[bool](`window.sameLoad === true`)))
	if !same {
		t.Error("the other's page was loaded anew")
	}
	one.do("in hand", chromedp.WaitVisible(fmt.Sprintf(
		`//form[input[@name="commission" and @value="%s"]][input[@name="operation" and @value="%s"]]/button[.="Done"]`, op.Commission, op.Operation)))
	if n := h.started() - before; n != 1 {
		t.Errorf("pressed twice, %d operations are begun", n)
	}

	// What is refused stands beside what was pressed: the first that waits, pressed as a page of before would.
	d := h.day()
	i := slices.IndexFunc(d.Waiting, func(w shop.Waiting) bool { return w.Wait.Until.IsZero() })
	if i < 0 {
		t.Fatal("nothing waits for other work")
	}
	w := d.Waiting[i].Operation
	one.do("refused", chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`(() => { const f = document.querySelector(".now form");
			f.elements.commission.value = "%s"; f.elements.operation.value = "%d"; f.querySelector("button").click(); })()`, w.Commission, w.Seq)),
		chromedp.WaitVisible(fmt.Sprintf(`//li[.//p[contains(@id,"-%s-%d")]]//p[contains(@class,"refused")]`, w.Commission, w.Seq)))
	one.do("in view", chromedp.WaitVisible("#told"))
	if y := one.number(`document.getElementById("told").getBoundingClientRect().top`); y < 0 || y > phoneTall {
		t.Errorf("what was refused stands %.0f px from the top of the window", y)
	}
	one.look("refused")
	h.goOn(func(d shop.BenchDay) bool { return len(d.Drying) > 3 && len(d.Curing) > 1 })

	one.do("curing", chromedp.Navigate(h.desk.URL()+"/as/studio/curing"), chromedp.WaitVisible("#drying li"))
	one.look("curing")
	shown = append(shown, one.view())
	if gaugetest.Update() {
		side := image.NewRGBA(image.Rect(0, 0, len(shown)*(phoneWide+gap)-gap, phoneTall))
		draw.Draw(side, side.Bounds(), image.White, image.Point{}, draw.Src)
		for i, s := range shown {
			draw.Draw(side, image.Rect(i*(phoneWide+gap), 0, i*(phoneWide+gap)+phoneWide, phoneTall), s, image.Point{}, draw.Src)
		}
		var out bytes.Buffer
		if err := png.Encode(&out, side); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join("..", "..", "testdata", "pictures", "board.png"), out.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	// What has the focus shows it.
	one.do("keys", chromedp.Navigate(today), chromedp.WaitVisible(".now button"),
		chromedp.Evaluate[chromedp.Void](`document.querySelector(".now button").focus({focusVisible: true})`))
	if one.number(`parseFloat(getComputedStyle(document.activeElement).outlineWidth)`) < 2 {
		t.Error("what has the focus does not show it")
	}
	var list string
	one.do("back", chromedp.Click(`.top a`), chromedp.WaitVisible("#threads"), into(&list, chromedp.Location()))
	if list != h.desk.URL()+"/as/studio/" {
		t.Errorf("it leads back to %s", list)
	}
}

// started is how many operations are in hand.
func (h *house) started() (n int) {
	for _, l := range h.day().Lines {
		if l.Rank == shop.InHand {
			n++
		}
	}
	return n
}

// On a phone: what is in hand is put down, taken up, done, taken back, and pieces are sent back from the page of the step; every
// button that is pressed on the way is as high as a glove needs, and what is in hand has its main button on the first screen.
func TestChromiumStep(t *testing.T) {
	h := newHouse(t)
	h.fill(3)
	h.wait(begun)
	h.work(6)
	x := newTab(t, h)
	press := func(what, sel, seen string) {
		t.Helper()
		if tall := x.number(fmt.Sprintf(`document.querySelector(%q).offsetHeight`, sel)); tall < leastButton {
			t.Errorf("%s has %.0f px", what, tall)
		}
		x.do(what, chromedp.Click(sel), chromedp.WaitVisible(seen))
	}
	x.do("today", chromedp.Navigate(h.desk.URL()+"/as/studio/today"), chromedp.WaitVisible(".now button"))
	press("start", `.now [value="start"]`, `.now [value="pause"]`)
	h.wait(12 * time.Minute)
	x.do("look", chromedp.Navigate(h.desk.URL()+"/as/studio/today"), chromedp.WaitVisible(".now button"))
	x.look("in-hand")
	if low := x.number(`document.querySelector(".now .main").getBoundingClientRect().bottom + scrollY`); low > phoneTall {
		t.Errorf("the button ends %.0f px down", low)
	}
	press("pause", `.now [value="pause"]`, `li.planned [value="done"]`)
	press("go on", `li.planned [value="start"].main`, `[value="pause"]`)
	press("done", `[value="done"].main`, `.just [value="back"]`)
	press("take back", `.just [value="back"]`, `[value="pause"]`)
	press("done", `[value="done"].main`, `.just [value="back"]`)
	x.look("just-done")
	x.do("step", chromedp.Click(".just .what a"), chromedp.WaitVisible("#b-again"))
	x.look("step")
	x.do("piece", chromedp.Click(".back summary"), chromedp.WaitVisible(".parts label"), chromedp.Click(".parts label"), chromedp.SendKeys("#why", "edge torn"))
	x.do("send back", chromedp.Click("#b-again"), chromedp.Sleep(time.Second))
	if x.number(`document.querySelectorAll("#told").length`) > 0 {
		x.look("asked")
		x.do("all the same", chromedp.Click("#b-again"), chromedp.Sleep(time.Second))
	}
	says(t, h.sit("studio", "").get("/as/studio/today", http.StatusOK), "Again: edge torn")
	x.do("today", chromedp.Navigate(h.desk.URL()+"/as/studio/today"), chromedp.WaitVisible(".why"))
}
