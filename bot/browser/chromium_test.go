//go:build chromium

package browser_test

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"benchbell/bot/browser"
	"benchbell/bot/browser/browsertest"
	"benchbell/bot/chat"
	"benchbell/bot/chat/chattest"
)

// shots is where pictures of the pages go, to be looked at; nothing compares them.
const shots = "BENCHBELL_SHOTS"

func chromium(t *testing.T) context.Context {
	t.Helper()
	ctx, cancel := context.WithTimeout(browsertest.Chromium(t), 2*time.Minute)
	t.Cleanup(cancel)
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

// sizes makes the window that wide, a phone's below 600.
func sizes(width, height int64) act {
	return chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, emulation.SetDeviceMetricsOverride,
			emulation.SetDeviceMetricsOverrideParams{Width: width, Height: height, DeviceScaleFactor: 1, Mobile: width < 600})
		return err
	})
}

func do(t *testing.T, ctx context.Context, what string, acts ...act) {
	t.Helper()
	ctx, cancel := context.WithTimeout(ctx, 20*time.Second)
	defer cancel()
	if err := chromedp.Do(ctx, acts...); err != nil {
		if dir := os.Getenv(shots); dir != "" {
			var shot []byte
			late, cancel := context.WithTimeout(context.WithoutCancel(ctx), 5*time.Second)
			defer cancel()
			if chromedp.Do(late, into(&shot, chromedp.FullScreenshot(100))) == nil {
				if err := os.WriteFile(filepath.Join(dir, "failed.png"), shot, 0o600); err != nil {
					t.Log(err)
				}
			}
		}
		t.Fatalf("%s: %v", what, err)
	}
}

// look holds the page against two widths, and takes its picture.
func look(t *testing.T, ctx context.Context, name string) {
	t.Helper()
	for _, width := range []int64{390, 1200} {
		var over string
		var shot []byte
		do(t, ctx, name, sizes(width, 844), chromedp.Sleep(50*time.Millisecond),
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
	do(t, ctx, name, sizes(390, 844))
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
	do := func(ctx context.Context, what string, acts ...act) { t.Helper(); do(t, ctx, what, acts...) }
	look := func(ctx context.Context, name string) { t.Helper(); look(t, ctx, name) }

	do(client, "door", sizes(390, 844), chromedp.Navigate(d.URL()), chromedp.WaitVisible("#name"))
	look(client, "door")
	do(client, "seat", chromedp.SendKeys("#name", "Mara Ünn"), chromedp.Submit("#name"), chromedp.WaitVisible("#command-new-commission"))
	look(client, "list-empty")
	do(studio, "studio seat", sizes(390, 844), chromedp.Navigate(d.URL()), chromedp.Click(`form:nth-of-type(2) button`), chromedp.WaitVisible("#none"))

	do(client, "command", chromedp.Click("#command-new-commission summary"), chromedp.SendKeys("#o-new-commission-what", "moth helm"),
		chromedp.Click("#command-new-commission button"), chromedp.WaitVisible("button.press.good"))
	// The studio's list follows without a reload.
	do(studio, "live list", chromedp.WaitVisible("#threads a"))
	look(studio, "studio-list")
	look(client, "thread")
	do(studio, "studio thread", chromedp.Click("#threads a"), chromedp.WaitVisible("#note"))

	do(client, "open form", chromedp.Click("button.press.good"), chromedp.WaitVisible(".ask"))
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
			Menus:   []chat.Menu{{Action: "m", Label: "Extras", Min: 0, Max: 2, Options: []chat.Option{{Value: "a", Label: "Battens", Note: "hold the shape"}, {Value: "b", Label: "Strap"}}}}})
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

// library is a menu of pattern sets as a studio has them, with some chosen.
func library(n int, chosen ...string) chat.Menu {
	names := []string{"Back plate", "Belt with pouches", "Breastplate", "Collar", "Forearm cuff", "Gored helmet", "Hip plates", "Knee cup", "Round shield", "Shin guard", "Short sword", "Shoulder cap with lames", "Six-sided lantern", "Thigh guard"}
	notes := []string{"Two halves with raised shoulder blades, a spine of five overlapping scales and a waist band.", "A broad belt with a layered buckle plate, two large and two small box pouches.", "A domed knee cup with four darts.", ""}
	m := chat.Menu{Action: "sets", Label: "Pattern sets", Min: 1, Max: n}
	for i := range n {
		name := names[i%len(names)]
		if i >= len(names) {
			name += fmt.Sprint(" ", i/len(names)+1)
		}
		m.Options = append(m.Options, chat.Option{Value: name, Label: name, Note: notes[i%len(notes)], Chosen: slices.Contains(chosen, name)})
	}
	return m
}

// A message of long menus, a long form, and answers given half: on a phone and on a wide screen.
func TestChromiumChoices(t *testing.T) {
	d, err := browser.New(browser.Options{Listen: "127.0.0.1:0", Log: slog.New(slog.DiscardHandler), Studio: "The Yew Lane Studio"})
	if err != nil {
		t.Fatal(err)
	}
	form := chat.Form{Action: "measure", Title: "Measurements of C0007", Files: []chat.File{{Name: "how.png", MIME: "image/png", Alt: "Where and how to take each measurement", Data: chattest.PNG(700, 420)}}}
	for i := range 20 {
		form.Fields = append(form.Fields, chat.Field{Key: fmt.Sprint("f", i), Label: []string{"Wrist girth", "Forearm girth", "Elbow to wrist length", "Shoulder breadth, bone to bone", "Upper arm girth, left"}[i%5] + fmt.Sprint(" ", i), Hint: "97,5 or 38 1/2 in", Optional: i%4 > 0})
	}
	ops := chat.Menu{Action: "bench", Label: "More operations", Min: 1, Max: 1}
	for i := range 40 {
		ops.Options = append(ops.Options, chat.Option{Value: fmt.Sprint(i), Label: fmt.Sprintf("Start: C%04d second coat of primer · Shoulder cap with lames, pair", i)})
	}
	var here, there chat.ThreadID
	var finish string
	sets := []string{"Forearm cuff"}
	got := make(chan string, 64)
	card := func(chosen ...string) chat.Post {
		return chat.Post{Key: "card", Thread: here, Text: "*C0007 · Mara*\nPick one or more pattern sets and a finish, then give your measurements.",
			Menus: []chat.Menu{library(14, chosen...), {Action: "finish", Label: "Finish", Min: 1, Max: 1, Answer: true, Options: []chat.Option{
				{Value: "plain", Label: "Plain", Note: "sealed and primed", Chosen: finish == "plain"},
				{Value: "worn", Label: "Painted, weathered and clear-coated", Note: "with scratches at the edges and a dark wash in the recesses", Chosen: finish == "worn"}}}},
			Buttons: []chat.Button{{Action: "details", Label: "Details"}, {Action: "measure", Label: "Go on", Tone: chat.Good}, {Action: "away", Label: "To the other thread"}, {Action: "cancel", Label: "Cancel", Tone: chat.Grave}}}
	}
	handle := func(ctx context.Context, in chat.Incoming) (chat.Reply, error) {
		got <- in.Press + in.Pick + in.Form + in.Command + fmt.Sprint(in.Picked)
		switch {
		case in.Pick == "sets" && len(in.Picked) > 4:
			return chat.Reply{}, &chat.Refusal{Say: "no finish suits all of these sets; ask for them in separate commissions"}
		case in.Pick == "sets":
			sets = in.Picked
			return chat.Reply{Text: "Noted."}, d.Put(ctx, card(sets...))
		case in.Pick == "finish":
			finish = in.Picked[0]
			return chat.Reply{Text: "Finish: " + finish + "."}, d.Put(ctx, card(sets...))
		case in.Press == "measure":
			return chat.Reply{Form: &form}, nil
		case in.Press == "away":
			return chat.Reply{Text: "Here it goes on.", Thread: there}, nil
		case in.Form == "measure":
			return chat.Reply{}, &chat.Refusal{Say: "forearm girth 6: “1,265 mm” could mean 1.265 mm or 1265 mm, write the one you mean"}
		case in.Command == "bench":
			return chat.Reply{Text: "*Bench, Mon 2 Nov 2026, 09:00*\n*Today*\n• C0007 cut 5 mm foam, planned Mon 09:00 to Mon 11:00", Menus: []chat.Menu{ops}, Buttons: []chat.Button{{Action: "start/1", Label: "Start: C0007 Cut 5 mm foam"}, {Action: "start/2", Label: "Start: C0009 Base colour · Forearm cuff, pair"}}}, nil
		case in.Command == "many":
			return chat.Reply{Text: "Which of them?", Menus: []chat.Menu{library(40, "Knee cup 2")}}, nil
		}
		return chat.Reply{Text: "Done."}, nil
	}
	run, stop := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() {
		ended <- d.Run(run, []chat.Command{{Name: "bench", Summary: "today's operations"}, {Name: "many", Summary: "a long menu"}}, handle)
	}()
	defer func() {
		stop()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	}()
	for i, key := range []string{"C0007", "C0008"} {
		th, err := d.OpenThread(t.Context(), key, key+" · Mara", "browser:mara")
		if err != nil {
			t.Fatal(err)
		}
		*[]*chat.ThreadID{&here, &there}[i] = th
	}
	for _, p := range []chat.Post{card(sets...), {Key: "C0008", Thread: there, Text: "Another one."}} {
		if err := d.Put(t.Context(), p); err != nil {
			t.Fatal(err)
		}
	}
	want := func(what string, arrived ...string) {
		t.Helper()
		for _, w := range arrived {
			select {
			case g := <-got:
				if g != w {
					t.Errorf("%s: %q arrived, want %q", what, g, w)
				}
			case <-time.After(10 * time.Second):
				t.Fatalf("%s: nothing arrived, want %q", what, w)
			}
		}
		if len(got) > 0 {
			t.Errorf("%s: %q arrived too", what, <-got)
		}
	}
	ctx := chromium(t)
	do := func(what string, acts ...act) { t.Helper(); do(t, ctx, what, acts...) }
	path := "/as/mara/t/" + strings.TrimPrefix(string(here), "browser:")
	tick := func(value string) act {
		return chromedp.Click(fmt.Sprintf(`.post input[type=checkbox][value=%q]`, value))
	}
	ticked := func(what, want string) {
		t.Helper()
		var is string
		do(what, into(&is, chromedp.Evaluate[string](`[...document.querySelectorAll(".post input:checked")].map(e => e.value).join()`)))
		if is != want {
			t.Errorf("%s: %q is ticked, want %q", what, is, want)
		}
	}
	do("seat", sizes(390, 844), chromedp.Navigate(d.URL()), chromedp.WaitVisible("#name"), chromedp.SendKeys("#name", "Mara"), chromedp.Submit("#name"), chromedp.WaitVisible("#threads a"),
		chromedp.Navigate(d.URL()+path), chromedp.WaitVisible(".ticks"))
	look(t, ctx, "choices")
	ticked("at first", "Forearm cuff")

	// Ticks that were not sent go with the next press.
	unfold := chromedp.Click(`.post details.many:not([open]) > summary`)
	do("go on with ticks", unfold, tick("Knee cup"), chromedp.Click("button.press.good"), chromedp.WaitVisible(".ask"))
	want("go on with ticks", "sets[Forearm cuff Knee cup]", "measure[]")
	ticked("after it", "Forearm cuff,Knee cup")
	look(t, ctx, "choices-form")
	do("half a form", chromedp.SendKeys(".ask .field:nth-of-type(1) input", "17,4"), chromedp.SendKeys("#note", "half a sent"))

	// They and what was typed elsewhere are there after an act that leads away.
	do("away", unfold, tick("Collar"), tick("Knee cup"), chromedp.SetValue(".post select", "worn"), chromedp.Click(`//button[.="To the other thread"]`), chromedp.WaitVisible(`//p[.="Another one."]`))
	want("away", "sets[Collar Forearm cuff]", "finish[worn]", "away[]")
	look(t, ctx, "choices-away")
	var first, note, shown string
	do("back", chromedp.Navigate(d.URL()+path), chromedp.WaitVisible(".ask"), into(&first, chromedp.Value(".ask input[type=text]")), into(&note, chromedp.Value("#note")), into(&shown, chromedp.Value(".post select")))
	ticked("back", "Collar,Forearm cuff")
	if first != "17,4" || note != "half a sent" || shown != "worn" {
		t.Errorf("back again the form holds %q, the note %q, the finish %q", first, note, shown)
	}

	// A choice refused stays ticked, and says that it is not sent.
	do("too many", unfold, tick("Back plate"), tick("Breastplate"), tick("Gored helmet"), chromedp.Click(`.post .choose`), chromedp.WaitVisible(".card .notice.refused"))
	want("too many", "sets[Back plate Breastplate Collar Forearm cuff Gored helmet]")
	ticked("too many", "Back plate,Breastplate,Collar,Forearm cuff,Gored helmet")
	look(t, ctx, "choices-refused")
	do("cancel", chromedp.Click(`//button[.="Cancel"]`), chromedp.WaitVisible(`//section[contains(.,"Done.")]`))
	want("cancel", "cancel[]")

	do("form refused", chromedp.Evaluate[chromedp.Void](`document.querySelectorAll(".ask input[type=text]").forEach((e, i) => { e.value = i == 6 ? "1,265 mm" : "40"; })`),
		chromedp.Click(".ask button"), chromedp.WaitVisible("[aria-invalid]"))
	want("form refused", "measure[]")
	var wrong []string
	do("which is wrong", into(&wrong, chromedp.Evaluate[[]string](`[...document.querySelectorAll("[aria-invalid]")].map(e => e.name)`)))
	if fmt.Sprint(wrong) != "[v.f6]" {
		t.Errorf("marked as wrong are %v", wrong)
	}
	look(t, ctx, "choices-form-refused")

	do("long menus", chromedp.Click("#command-bench button"), chromedp.WaitVisible(`//section[contains(.,"More operations")]`), chromedp.Click("#command-many button"), chromedp.WaitVisible(`//section[contains(.,"Which of them")]`))
	want("long menus", "bench[]", "many[]")
	look(t, ctx, "choices-long")
	do("an operation", chromedp.SetValue(".card select", "7"), chromedp.Click(`//section[contains(.,"More operations")]//button[contains(@class,"choose")]`), chromedp.WaitVisible(`//section[contains(.,"Done.")]`))
	want("an operation", "bench[7]")

	// Putting a note away asks nobody and leaves the rest.
	var cards int
	// The page may be drawn anew between finding the button and clicking it, so it does both itself.
	do("put away", chromedp.WaitVisible(`.card .dismiss button`), chromedp.Evaluate[chromedp.Void](`document.querySelector(".card .dismiss button").click()`), chromedp.Sleep(300*time.Millisecond), into(&cards, chromedp.Evaluate[int](`document.querySelectorAll(".card").length`)))
	if cards == 0 {
		t.Error("putting one note away took all")
	}
	want("put away")
}
