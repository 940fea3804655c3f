//go:build chromium

package main

import (
	"bytes"
	"context"
	"image"
	"image/draw"
	"image/png"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"benchbell/bot/browser/browsertest"
	"benchbell/bot/chat"
	"benchbell/quote/gaugetest"
)

// Pages of the README's picture, in pixels: a phone's width.
const (
	phoneWide = 390
	phoneTall = 1300
)

// phone is a browser of a phone's width.
type phone struct {
	t   *testing.T
	ctx context.Context
}

func newPhone(t *testing.T) phone {
	t.Helper()
	p := phone{t, browsertest.Chromium(t)}
	p.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, emulation.SetDeviceMetricsOverride,
			emulation.SetDeviceMetricsOverrideParams{Width: phoneWide, Height: phoneTall, DeviceScaleFactor: 1, Mobile: true})
		return err
	}))
	return p
}

func (p phone) do(acts ...chromedp.Action[chromedp.Void]) {
	p.t.Helper()
	ctx, cancel := context.WithTimeout(p.ctx, 30*time.Second)
	defer cancel()
	if err := chromedp.Do(ctx, acts...); err != nil {
		p.t.Fatal(err)
	}
}

// shot is what is in view, and all of the page is kept where BENCHBELL_SHOTS names a folder, to be looked at.
func (p phone) shot(name string) image.Image {
	p.t.Helper()
	var view, all []byte
	keep := func(to *[]byte, read chromedp.Action[[]byte]) chromedp.Action[chromedp.Void] {
		return chromedp.Func(func(ctx context.Context, t *chromedp.Target) (err error) {
			*to, err = read(ctx, t)
			return err
		})
	}
	p.do(chromedp.Sleep(300*time.Millisecond), keep(&view, chromedp.CaptureScreenshot()), keep(&all, chromedp.FullScreenshot(100)))
	if dir := os.Getenv("BENCHBELL_SHOTS"); dir != "" {
		if err := os.WriteFile(filepath.Join(dir, name+".png"), all, 0o600); err != nil {
			p.t.Error(err)
		}
	}
	img, _, err := image.Decode(bytes.NewReader(view))
	if err != nil {
		p.t.Fatal(err)
	}
	return img
}

// at has the element that the script finds at the top of the view.
func (p phone) at(script string) {
	p.t.Helper()
	p.do(chromedp.Evaluate[chromedp.Void](`(` + script + `).scrollIntoView({block: "start"})`))
}

// The pages that the README shows are made by going through a commission at a phone's width; -update writes its picture.
func TestPictureOfTheDesk(t *testing.T) {
	h := openHouse(t, map[string]string{"BENCHBELL_LISTEN": "127.0.0.1:0"})
	url := strings.TrimPrefix(h.stdout.Await(t, regexp.MustCompile(`the desk is at \S+`)), "the desk is at ")
	ctx := t.Context()
	mara, err := browsertest.Client(ctx, url, "Ilka Brandt")
	if err != nil {
		t.Fatal(err)
	}
	studio, err := browsertest.Studio(ctx, url)
	if err != nil {
		t.Fatal(err)
	}
	p := newPhone(t)
	p.do(chromedp.Navigate(url), chromedp.WaitVisible("#name"), chromedp.SendKeys("#name", "Ilka Brandt"), chromedp.Submit("#name"), chromedp.WaitVisible("#commands"))
	ok := func(_ any, err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		h.settle()
	}
	ok(mara.Do(ctx, "", "commission", map[string]string{"set": "forearm-cuff"}))
	threads, err := mara.Threads(ctx)
	if err != nil || len(threads) != 1 {
		t.Fatalf("threads %v: %v", threads, err)
	}
	th := threads[0]
	page := url + mara.Path() + "t/" + strings.TrimPrefix(string(th), "browser:")
	p.do(chromedp.Navigate(page), chromedp.WaitVisible(".post"))
	p.at(`[...document.querySelectorAll(".post")].find(x => x.dataset.key == "C0001/card")`)
	shots := []image.Image{p.shot("choosing")}
	ok(mara.Pick(ctx, th, "sets/C0001", "forearm-cuff", "shoulder-cap"))
	ok(mara.Pick(ctx, th, "finish/C0001", "weathered"))
	p.do(chromedp.Navigate(page), chromedp.WaitVisible(".post"))
	p.shot("chosen")
	ok(mara.Press(ctx, th, "details/C0001"))
	p.do(chromedp.Navigate(page), chromedp.WaitVisible(".ask"))
	p.shot("details")
	ok(mara.Submit(ctx, th, "details/C0001", nil))
	ok(mara.Press(ctx, th, "measure/C0001"))
	p.do(chromedp.Navigate(page), chromedp.WaitVisible(".ask"))
	p.at(`document.querySelector(".card.form")`)
	shots = append(shots, p.shot("measuring"))
	ok(mara.Submit(ctx, th, "rest/C0001", map[string]string{"wrist-girth": "17,2", "forearm-girth": "10 1/2 in", "elbow-wrist-length": "26",
		"upper-arm-girth": "31", "biacromial-breadth": "38", "shoulder-elbow-length": "35"}))
	p.do(chromedp.Navigate(page), chromedp.WaitVisible(".post"))
	p.shot("check")
	ok(mara.Press(ctx, th, "right/C0001"))
	p.do(chromedp.Navigate(page), chromedp.WaitVisible(`.paper a`))
	p.at(`[...document.querySelectorAll(".post")].find(x => x.dataset.key == "C0001/quote/1")`)
	shots = append(shots, p.shot("quote"))
	ok(mara.Press(ctx, th, "change/C0001/1"))
	p.do(chromedp.Navigate(page), chromedp.WaitVisible(".ask"))
	p.shot("change")
	p.do(chromedp.Navigate(url+mara.Path()), chromedp.WaitVisible("#threads a"))
	p.shot("home")

	desk := image.NewRGBA(image.Rect(0, 0, len(shots)*phoneWide, phoneTall))
	for i, s := range shots {
		if s.Bounds().Size() != image.Pt(phoneWide, phoneTall) {
			t.Fatalf("page %d is %v", i+1, s.Bounds())
		}
		draw.Draw(desk, image.Rect(i*phoneWide, 0, (i+1)*phoneWide, phoneTall), s, image.Point{}, draw.Src)
	}
	if gaugetest.Update() {
		var out bytes.Buffer
		if err := png.Encode(&out, desk); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join("..", "testdata", "pictures", "desk.png"), out.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}

	// The studio's pages, to be looked at.
	ok(mara.Press(ctx, th, "approve/C0001/1"))
	for _, name := range []string{"Jorin", "Theo", "Mina"} {
		c, err := browsertest.Client(ctx, url, name)
		if err != nil {
			t.Fatal(err)
		}
		ok(c.Do(ctx, "", "commission", map[string]string{"set": "short-sword"}))
	}
	var none chat.ThreadID
	ok(studio.Do(ctx, none, "orders", nil))
	p.do(chromedp.Navigate(url), chromedp.Click(`form:nth-of-type(2) button`), chromedp.WaitVisible(".card"))
	p.shot("orders")
	ok(studio.Press(ctx, none, "deposit/C0001"))
	// The client's thread, with the times of the first fitting.
	p.do(chromedp.Navigate(page), chromedp.WaitVisible(`[data-key="C0001/appointment/1"] .press`))
	p.at(`[...document.querySelectorAll(".post")].find(x => x.dataset.key == "C0001/appointment/1")`)
	p.shot("appointment")
	ok(studio.Do(ctx, none, "bench", nil))
	p.do(chromedp.Navigate(url+studio.Path()), chromedp.WaitVisible(".card"))
	p.shot("bench")
	ok(studio.Do(ctx, none, "plan", nil))
	ok(studio.Do(ctx, none, "what-if", map[string]string{"number": "C0001", "date": "12 November 2026"}))
	p.do(chromedp.Navigate(url+studio.Path()), chromedp.WaitVisible(".card"))
	p.shot("plan")
}
