//go:build chromium

package browser_test

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"benchbell/bot/browser"
	"benchbell/bot/chat"
	"benchbell/bot/chat/chattest"
)

// shots is where pictures of the pages go, to be looked at; nothing compares them.
const shots = "BENCHBELL_SHOTS"

func chromium(t *testing.T) context.Context {
	t.Helper()
	opts := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.NoSandbox, chromedp.DisableGPU, chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-dev-shm-usage", true))
	alloc, stopAlloc := chromedp.NewExecAllocator(t.Context(), opts...)
	t.Cleanup(stopAlloc)
	ctx, stop := chromedp.NewContext(alloc)
	t.Cleanup(stop)
	ctx, cancel := context.WithTimeout(ctx, 2*time.Minute)
	t.Cleanup(cancel)
	if err := chromedp.Do(ctx); err != nil {
		t.Fatalf("chromium doesn't start: %v", err)
	}
	return ctx
}

// act is a step at a page; into keeps what one of them reads.
type act = chromedp.Action[chromedp.Void]

func into[T any](to *T, read chromedp.Action[T]) act {
	return chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		v, err := read(ctx, t)
		*to = v
		return err
	})
}

// demo answers as a studio's handler would, with invented data.
func demo(d *browser.Desk) chat.Handler {
	form := chat.Form{
		Action: "measure/C0007", Title: "Measure the head",
		Fields: []chat.Field{
			{Key: "around", Label: "Head, around", Hint: "57,5 cm or 22 5/8 in"},
			{Key: "chin", Label: "Chin to crown", Hint: "24 cm", Value: "24 cm"},
			{Key: "notes", Label: "Glasses, hair, padding", Long: true, Optional: true},
		},
		Files: []chat.File{{Name: "head.png", MIME: "image/png", Alt: "Where the tape goes: level, above the ears", Data: chattest.PNG(360, 160)}},
	}
	return func(ctx context.Context, in chat.Incoming) (chat.Reply, error) {
		switch {
		case in.Command == "new-commission":
			th, err := d.OpenThread(ctx, "C0007", "C0007 "+in.Values["what"], in.Person.ID)
			if err != nil {
				return chat.Reply{}, err
			}
			err = d.Put(ctx, chat.Post{Key: "C0007/hello", Thread: th, Mention: []chat.PersonID{in.Person.ID},
				Text:    "A *" + in.Values["what"] + "* it is.\nMeasure next, then pictures.",
				Buttons: []chat.Button{{Action: "measure/C0007", Label: "Give measures", Tone: chat.Good}, {Action: "cancel/C0007", Label: "Cancel", Tone: chat.Grave}},
				Menus: []chat.Menu{{Action: "foam/C0007", Label: "Foam", Min: 1, Max: 1, Options: []chat.Option{
					{Value: "10", Label: "EVA foam, 10 mm", Note: "for the shell"}, {Value: "5", Label: "EVA foam, 5 mm", Note: "for trim"}}}}})
			return chat.Reply{Thread: th}, err
		case in.Command == "status" && in.Person.Studio:
			return chat.Reply{Text: "Two commissions wait for you:\n*C0007* for its quote, *C0009* for foam.",
				Files:   []chat.File{{Name: "week.svg", MIME: "image/svg+xml", Alt: "The week", Data: []byte(`<svg xmlns="http://www.w3.org/2000/svg" width="300" height="60"><rect width="120" height="60" fill="#2b4a3f"/></svg>`)}},
				Buttons: []chat.Button{{Action: "open/C0009", Label: "Show C0009"}}}, nil
		case in.Command == "status":
			return chat.Reply{}, errors.New("the disk is full")
		case in.Command == "stock":
			return chat.Reply{}, &chat.Refusal{Say: "stock of 3 mm foam is given in sheets, such as 4, not metres"}
		case in.Press == "decline":
			return chat.Reply{Text: "Declined."}, d.Put(ctx, chat.Post{Key: "C0007/quote", Thread: in.Thread, Text: "Quote declined."})
		case in.Press == "measure/C0007":
			return chat.Reply{Form: &form}, nil
		case in.Form != "" && !strings.Contains(in.Values["around"], "cm"):
			return chat.Reply{}, &chat.Refusal{Say: "head, around needs a unit, such as 57,5 cm"}
		case in.Form != "":
			return chat.Reply{Text: "Thank you, measures are in."}, d.Put(ctx, chat.Post{Key: "C0007/bar", Thread: in.Thread, Text: "Working the quote out.",
				Bar: &chat.Bar{Stages: []string{"grade", "nest", "labour", "cure", "price", "draw", "bind"}, At: 1, Share: .4}})
		}
		return chat.Reply{Text: "Noted."}, nil
	}
}

func TestChromium(t *testing.T) {
	d, err := browser.New(browser.Options{Listen: "127.0.0.1:0", Log: slog.New(slog.DiscardHandler), Studio: "The Yew Lane Studio"})
	if err != nil {
		t.Fatal(err)
	}
	run, stop := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() {
		ended <- d.Run(run, []chat.Command{
			{Name: "new-commission", Summary: "begin a commission of your own", Options: []chat.CommandOption{
				{Name: "what", Summary: "what is to be made, such as a moth helm", Required: true},
				{Name: "picture", Summary: "a picture of it", File: true}}},
			{Name: "status", Summary: "where your commissions stand"},
			{Name: "stock", Summary: "say what is on the shelf", Studio: true, Options: []chat.CommandOption{
				{Name: "foam", Summary: "thickness in mm", Required: true}, {Name: "sheets", Summary: "how many sheets", Required: true}}},
		}, demo(d))
	}()
	defer func() {
		stop()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	}()

	client := chromium(t)
	studio := chromium(t) // a browser of its own, as a tab out of view doesn't follow
	sizes := func(width, height int64) act {
		return chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
			_, err := cdp.Call(ctx, t, emulation.SetDeviceMetricsOverride,
				emulation.SetDeviceMetricsOverrideParams{Width: width, Height: height, DeviceScaleFactor: 1, Mobile: width < 600})
			return err
		})
	}
	do := func(ctx context.Context, what string, acts ...act) {
		t.Helper()
		ctx, cancel := context.WithTimeout(ctx, 20*time.Second)
		defer cancel()
		if err := chromedp.Do(ctx, acts...); err != nil {
			t.Fatalf("%s: %v", what, err)
		}
	}
	look := func(ctx context.Context, name string) {
		t.Helper()
		for _, width := range []int64{390, 1200} {
			var over string
			var shot []byte
			do(ctx, name, sizes(width, 844), chromedp.Sleep(50*time.Millisecond),
				into(&over, chromedp.Evaluate[string](`document.scrollingElement.scrollWidth <= innerWidth ? "" :
					[...document.querySelectorAll("*")].filter(e => e.getBoundingClientRect().right > innerWidth).map(e => e.tagName + "." + e.className).slice(0, 5).join(" ") || "?"`)),
				into(&shot, chromedp.FullScreenshot(100)))
			if over != "" {
				t.Errorf("%s at %d px overflows: %s", name, width, over)
			}
			if dir := os.Getenv(shots); dir != "" {
				if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("%s-%d.png", name, width)), shot, 0o600); err != nil {
					t.Error(err)
				}
			}
		}
		do(ctx, name, sizes(390, 844))
	}

	do(client, "door", sizes(390, 844), chromedp.Navigate(d.URL()), chromedp.WaitVisible("#name"))
	look(client, "door")
	do(client, "seat", chromedp.SendKeys("#name", "Mara Ünn"), chromedp.Submit("#name"), chromedp.WaitVisible("#command-new-commission"))
	look(client, "list-empty")
	do(studio, "studio seat", sizes(390, 844), chromedp.Navigate(d.URL()), chromedp.Click(`form:nth-of-type(2) button`), chromedp.WaitVisible("#none"))

	do(client, "command", chromedp.Click("#command-new-commission summary"), chromedp.SendKeys("#o-new-commission-what", "moth helm"),
		chromedp.Click("#command-new-commission button"), chromedp.WaitVisible(".press button.good"))
	// The studio's list follows without a reload.
	do(studio, "live list", chromedp.WaitVisible("#threads a"))
	look(studio, "studio-list")
	look(client, "thread")
	do(studio, "studio thread", chromedp.Click("#threads a"), chromedp.WaitVisible("#note"))

	do(client, "open form", chromedp.Click(".press button.good"), chromedp.WaitVisible(".ask"))
	look(client, "form")
	do(client, "refused form", chromedp.SendKeys(".ask input[type=text]", "57"), chromedp.SendKeys(".ask textarea", "wears glasses"),
		chromedp.Click(".ask button"), chromedp.WaitVisible(".card .notice.refused"))
	var kept string
	do(client, "kept", into(&kept, chromedp.Value(".ask textarea")))
	if kept != "wears glasses" {
		t.Errorf("after a refusal the form holds %q", kept)
	}
	look(client, "form-refused")

	// Half-typed words stay while the other seat posts, and the page follows without a reload.
	do(client, "half typed", chromedp.SendKeys("#note", "half a sent"), chromedp.Evaluate[chromedp.Void](`window.sameLoad = true`))
	do(studio, "studio writes", chromedp.SendKeys("#note", "I have 10 mm foam on the shelf"), chromedp.Click("#say button"),
		chromedp.WaitVisible(".post.own"))
	do(client, "live post", chromedp.WaitVisible(`//li[contains(@class,"post")]//p[contains(.,"on the shelf")]`))
	var half string
	var same bool
	do(client, "kept", into(&half, chromedp.Value("#note")), into(&same, chromedp.Evaluate[bool](`window.sameLoad === true`)))
	if half != "half a sent" || !same {
		t.Errorf("half-typed words are %q, page kept %v", half, same)
	}

	do(client, "mended form", chromedp.SendKeys(".ask input[type=text]", " cm"), chromedp.Click(".ask button"), chromedp.WaitVisible(".post progress"))
	do(studio, "live bar", chromedp.WaitVisible(".post progress"))
	do(client, "post files", chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		ths, err := memoryThreads(d, ctx)
		if err != nil {
			return err
		}
		return d.Put(ctx, chat.Post{Key: "C0007/quote", Thread: ths, Text: "Your quote, *412,50*, ready on 9 May.",
			Mention: []chat.PersonID{"browser:mara"}, Files: []chat.File{
				{Name: "quote-C0007-r1-with-a-very-long-name-that-goes-on-and-on-and-on.pdf", MIME: "application/pdf", Data: []byte("%PDF-1.7\n")},
				{Name: "nest.png", MIME: "image/png", Alt: "Sheet 1 of 2", Data: chattest.PNG(1200, 500)}},
			Buttons: []chat.Button{{Action: "approve", Label: "Approve", Tone: chat.Good}, {Action: "change", Label: "Change something"}, {Action: "decline", Label: "Decline", Tone: chat.Grave}},
			Menus:   []chat.Menu{{Action: "m", Label: "Extras", Min: 1, Max: 2, Options: []chat.Option{{Value: "a", Label: "Battens", Note: "hold the shape"}, {Value: "b", Label: "Strap"}}}}})
	}), chromedp.WaitVisible(`.paper a`))
	look(client, "thread-progress")
	look(studio, "studio-thread")

	do(client, "failure", chromedp.Click("#command-status button"), chromedp.WaitVisible("#command-status .notice.sorry"))
	look(client, "apology")
	do(studio, "private answer", chromedp.Click("#command-status button"), chromedp.WaitVisible(".card .press"))
	do(studio, "refused command", chromedp.Click("#command-stock summary"), chromedp.SendKeys("#o-stock-foam", "3"),
		chromedp.SendKeys("#o-stock-sheets", "4 m"), chromedp.Click("#command-stock button"), chromedp.WaitVisible("#command-stock .notice.refused"))
	look(studio, "studio-refused")
	var foam string
	do(studio, "kept", into(&foam, chromedp.Value("#o-stock-foam")))
	if foam != "3" {
		t.Errorf("a refused command holds %q", foam)
	}

	// Without scripts the same acts work by loading pages.
	noScripts := chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})
		return err
	})
	var list string
	do(client, "where", into(&list, chromedp.Location()))
	do(client, "no script", noScripts, chromedp.Navigate(list),
		chromedp.Click(`//button[.="Decline"]`), chromedp.WaitVisible(`//p[contains(.,"Quote declined")]`), chromedp.WaitVisible(`//section[contains(.,"Declined.")]`))
	look(client, "no-script")
	do(client, "problem", chromedp.Navigate(d.URL()+"/nowhere"), chromedp.WaitVisible("#problem"))
	look(client, "problem")
}

// memoryThreads is the demo's one thread: its key always gives it.
func memoryThreads(d *browser.Desk, ctx context.Context) (chat.ThreadID, error) {
	return d.OpenThread(ctx, "C0007", "", "")
}
