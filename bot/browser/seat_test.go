package browser_test

import (
	"context"
	"fmt"
	"net/http"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"benchbell/bot/browser"
	"benchbell/bot/browser/browsertest"
	"benchbell/bot/chat"
)

// One browser holds several seats at once, each in its own tab.
func TestSeveralSeatsInOneBrowser(t *testing.T) {
	d := open(t, browser.Options{}, nil)
	c := plain(t, d, nil)
	for _, body := range []string{"role=client&name=Mara", "role=client&name=Ilo+Brenn", "role=studio"} {
		if res, page := request(t, c, "POST", d.URL()+"/seat", body, nil); res.StatusCode != http.StatusSeeOther {
			t.Fatalf("%s: %s %s", body, res.Status, page)
		}
	}
	for path, who := range map[string]string{"/as/mara/": "<span>Mara</span>", "/as/ilo-brenn/": "<span>Ilo Brenn</span>", "/as/studio/": "<span>Studio</span>"} {
		if res, page := request(t, c, "GET", d.URL()+path, "", nil); res.StatusCode != http.StatusOK || !strings.Contains(page, who) {
			t.Errorf("%s isn't %s: %s", path, who, res.Status)
		}
	}
}

// What is typed arrives as typed and, when refused, stands in the form as typed. Carriage returns are left out, as
// browsers send every line end as two characters, and control characters, which the pages' reader here can't read.
func TestTypedArrivesAsTyped(t *testing.T) {
	form := chat.Form{Action: "m", Title: "M", Fields: []chat.Field{
		{Key: "short", Label: "Short", Optional: true}, {Key: "long", Label: "Long", Long: true, Optional: true}}}
	var got map[string]string
	d := open(t, browser.Options{}, func(_ context.Context, in chat.Incoming) (chat.Reply, error) {
		if in.Form == "" {
			return chat.Reply{Form: &form}, nil
		}
		got = in.Values
		return chat.Reply{}, &chat.Refusal{Say: "once more"}
	}, chat.Command{Name: "ping", Summary: "x"})
	mara := sit(t, d, "Mara")
	if _, err := mara.Do(t.Context(), "", "ping", nil); err != nil {
		t.Fatal(err)
	}
	text := func(extra string) *rapid.Generator[string] {
		return rapid.StringOfN(rapid.SampledFrom([]rune(` "'<>&;+%=*/\½é木🔨ab12,.{}$`+"`"+extra)), 0, 40, -1)
	}
	rapid.Check(t, func(rt *rapid.T) {
		want := map[string]string{"short": text("").Draw(rt, "short"), "long": text("\n\n").Draw(rt, "long")}
		a, err := mara.Submit(context.Background(), "", "m", want)
		if err != nil || a.Form == nil {
			rt.Fatalf("%+v, %v", a, err)
		}
		for i, f := range a.Form.Fields {
			if got[f.Key] != want[f.Key] || f.Value != want[f.Key] {
				rt.Fatalf("field %d: typed %q, arrived %q, stands as %q", i, want[f.Key], got[f.Key], f.Value)
			}
		}
	})
}

// Bounds of what comes in are held, and said.
func TestLongAnswersAreRefused(t *testing.T) {
	d := open(t, browser.Options{}, nil, chat.Command{Name: "echo", Summary: "x", Options: []chat.CommandOption{{Name: "text", Summary: "x"}}})
	mara := sit(t, d, "Mara")
	for n, refused := range map[int]bool{d.Limits().Value: false, d.Limits().Value + 1: true} {
		a, err := mara.Do(t.Context(), "", "echo", map[string]string{"text": strings.Repeat("木", n)})
		if err != nil || (a.Refused != "") != refused {
			t.Errorf("%d characters: %q, %v", n, a.Refused, err)
		}
	}
}

// A thread of a long commission: 200 posts, every tenth with a picture.
func BenchmarkThreadPage(b *testing.B) {
	store := browser.NewMemory()
	d, err := browser.New(browser.Options{Listen: "127.0.0.1:0", Store: store})
	if err != nil {
		b.Fatal(err)
	}
	ctx, cancel := context.WithCancel(b.Context())
	ended := make(chan error, 1)
	go func() { ended <- d.Run(ctx, nil, nil) }()
	defer func() { cancel(); <-ended }()
	mara, err := browsertest.Client(ctx, d.URL(), "Mara")
	if err != nil {
		b.Fatal(err)
	}
	th, err := d.OpenThread(ctx, "k", "k", mara.ID())
	if err != nil {
		b.Fatal(err)
	}
	for i := range 200 {
		p := chat.Post{Key: fmt.Sprint(i), Thread: th, Text: strings.Repeat("some *words* ", 20)}
		if i%10 == 0 {
			p.Files = []chat.File{{Name: "a.png", MIME: "image/png", Data: make([]byte, 50_000)}}
		}
		if err := d.Put(ctx, p); err != nil {
			b.Fatal(err)
		}
	}
	b.ResetTimer()
	for b.Loop() {
		if _, err := mara.Private(ctx, th); err != nil {
			b.Fatal(err)
		}
	}
}
