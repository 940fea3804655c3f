// Package storetest holds the laws of a browser.Store, to be run against every implementation of it.
package storetest

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"sync"
	"testing"
	"time"

	"benchbell/bot/browser"
	"benchbell/bot/chat"
)

// Conformance runs the laws. Open returns a store with nothing in it; it is called once for each law.
func Conformance(t *testing.T, open func(t *testing.T) browser.Store) {
	t.Helper()
	for _, law := range []struct {
		name string
		run  func(*testing.T, browser.Store)
	}{
		{"thread idempotent by key", threadByKey},
		{"threads of a person", threadsOfPerson},
		{"post round trip", roundTrip},
		{"edit keeps place, author and files", edits},
		{"brief of the latest post that has one", briefs},
		{"order by time, then arrival", order},
		{"files", files},
		{"unknown and moved", unknown},
		{"secret kept once", secret},
		{"puts at once", atOnce},
	} {
		t.Run(law.name, func(t *testing.T) { law.run(t, open(t)) })
	}
}

var base = time.Date(2031, 3, 4, 9, 30, 0, 123_000_000, time.UTC)

func at(n int) time.Time { return base.Add(time.Duration(n) * time.Minute) }

func thread(id, key string, with chat.PersonID, opened time.Time) browser.Thread {
	return browser.Thread{ID: chat.ThreadID(id), Key: key, Title: "title of " + key, With: with, Opened: opened, Last: opened}
}

func putThread(t *testing.T, s browser.Store, th browser.Thread) browser.Thread {
	t.Helper()
	got, err := s.PutThread(t.Context(), th)
	if err != nil {
		t.Fatalf("put thread %s: %v", th.Key, err)
	}
	return got
}

func putPost(t *testing.T, s browser.Store, p chat.Post, by chat.PersonID, when time.Time) {
	t.Helper()
	if err := s.PutPost(t.Context(), browser.Stored{Post: p, By: by, At: when}); err != nil {
		t.Fatalf("put post %s: %v", p.Key, err)
	}
}

func posts(t *testing.T, s browser.Store, th chat.ThreadID) []browser.Stored {
	t.Helper()
	got, err := s.Posts(t.Context(), th)
	if err != nil {
		t.Fatalf("posts of %s: %v", th, err)
	}
	return got
}

func sameThread(a, b browser.Thread) bool {
	return a.ID == b.ID && a.Key == b.Key && a.Title == b.Title && a.With == b.With &&
		a.Opened.Equal(b.Opened) && a.Last.Equal(b.Last)
}

func threadByKey(t *testing.T, s browser.Store) {
	first := thread("browser:t1", "C0001", "browser:mara", at(0))
	if got := putThread(t, s, first); !sameThread(got, first) {
		t.Errorf("first put returned %+v, want %+v", got, first)
	}
	other := thread("browser:t2", "C0001", "browser:someone", at(9))
	if got := putThread(t, s, other); !sameThread(got, first) {
		t.Errorf("second put of the key returned %+v, want the first: %+v", got, first)
	}
	got, err := s.Thread(t.Context(), "browser:t1")
	if err != nil || !sameThread(got, first) {
		t.Errorf("thread is %+v, %v; want %+v", got, err, first)
	}
	if _, err := s.Thread(t.Context(), "browser:t2"); !errors.Is(err, browser.ErrUnknown) {
		t.Errorf("the ignored ID gives %v, want ErrUnknown", err)
	}
	if _, err := s.PutThread(t.Context(), thread("browser:t1", "C0002", "browser:mara", at(1))); err == nil {
		t.Error("an ID kept under another key was accepted")
	}
	if all, err := s.Threads(t.Context(), "", true); err != nil || len(all) != 1 {
		t.Errorf("%d threads, %v; want 1", len(all), err)
	}
}

func threadsOfPerson(t *testing.T, s browser.Store) {
	putThread(t, s, thread("browser:b", "B", "browser:mara", at(1)))
	putThread(t, s, thread("browser:a", "A", "browser:mara", at(1)))
	putThread(t, s, thread("browser:c", "C", "browser:ilo", at(0)))
	ids := func(p chat.PersonID, studio bool) string {
		ths, err := s.Threads(t.Context(), p, studio)
		if err != nil {
			t.Fatal(err)
		}
		var out []chat.ThreadID
		for _, th := range ths {
			out = append(out, th.ID)
		}
		return fmt.Sprint(out)
	}
	check := func(p chat.PersonID, studio bool, want string) {
		t.Helper()
		if got := ids(p, studio); got != want {
			t.Errorf("threads of %q (studio %v) are %s, want %s", p, studio, got, want)
		}
	}
	check("browser:mara", false, "[browser:a browser:b]")
	check("browser:ilo", false, "[browser:c]")
	check("browser:nobody", false, "[]")
	check("browser:studio", true, "[browser:a browser:b browser:c]")
	putPost(t, s, chat.Post{Key: "p", Thread: "browser:c", Text: "x"}, "", at(5))
	check("browser:studio", true, "[browser:c browser:a browser:b]")
	// A put of an earlier time doesn't turn a thread's clock back.
	putPost(t, s, chat.Post{Key: "q", Thread: "browser:c", Text: "x"}, "", at(-5))
	check("browser:studio", true, "[browser:c browser:a browser:b]")
}

func full(key string, th chat.ThreadID) chat.Post {
	return chat.Post{
		Key: key, Thread: th, Text: "line *one*\nline two \u2014 <b>&\U0001F528",
		Files: []chat.File{
			{Name: "a.pdf", MIME: "application/pdf", Alt: "the quote", Data: []byte("%PDF-1.7\x00\xff")},
			{Name: "b.png", MIME: "image/png", Alt: "", Data: []byte{1, 2, 3}},
		},
		Buttons: []chat.Button{{Action: "ok/1", Label: "Approve", Tone: chat.Good}, {Action: "no/1", Label: "Decline", Tone: chat.Grave}},
		Menus: []chat.Menu{{Action: "pick/1", Label: "Which?", Min: 1, Max: 2, Options: []chat.Option{
			{Value: "x", Label: "X", Note: "the first", Chosen: true}, {Value: "y", Label: "Y"}}}, {Action: "say/1", Answer: true}},
		Mention: []chat.PersonID{"browser:mara", "browser:studio"},
		Bar:     &chat.Bar{Stages: []string{"grade", "nest"}, At: 1, Share: 0.375, Failed: true},
	}
}

func shape(p chat.Post) string {
	bar := "none"
	if p.Bar != nil {
		bar = fmt.Sprintf("%+v", *p.Bar)
	}
	var fs []string
	for _, f := range p.Files {
		fs = append(fs, fmt.Sprintf("%q %q %q", f.Name, f.MIME, f.Alt))
	}
	return fmt.Sprintf("%q %q %q files %v buttons %+v menus %+v mention %v bar %s",
		p.Key, p.Thread, p.Text, fs, p.Buttons, p.Menus, p.Mention, bar)
}

func roundTrip(t *testing.T, s browser.Store) {
	putThread(t, s, thread("browser:t", "T", "browser:mara", at(0)))
	want := full("k", "browser:t")
	putPost(t, s, want, "browser:mara", at(1))
	got := posts(t, s, "browser:t")
	if len(got) != 1 {
		t.Fatalf("%d posts, want 1", len(got))
	}
	g := got[0]
	if shape(g.Post) != shape(want) {
		t.Errorf("post came back as\n%s\nwant\n%s", shape(g.Post), shape(want))
	}
	if g.By != "browser:mara" || !g.At.Equal(at(1)) || !g.Edited.IsZero() {
		t.Errorf("by %q at %v edited %v; want browser:mara, %v, never", g.By, g.At, g.Edited, at(1))
	}
	if !slices.Equal(g.Sizes, []int{len(want.Files[0].Data), 3}) {
		t.Errorf("sizes %v", g.Sizes)
	}
	for _, f := range g.Post.Files {
		if f.Data != nil {
			t.Errorf("posts carry the data of %s", f.Name)
		}
	}
	// What a caller does to its own values afterwards changes nothing kept.
	want.Buttons[0].Label, want.Bar.At, want.Mention[0] = "changed", 2, "changed"
	if again := posts(t, s, "browser:t"); shape(again[0].Post) != shape(g.Post) {
		t.Error("the kept post changed with the caller's value")
	}
}

func edits(t *testing.T, s browser.Store) {
	putThread(t, s, thread("browser:t", "T", "browser:mara", at(0)))
	putPost(t, s, full("k", "browser:t"), "browser:mara", at(1))
	putPost(t, s, chat.Post{Key: "later", Thread: "browser:t", Text: "later"}, "", at(2))
	putPost(t, s, chat.Post{Key: "k", Thread: "browser:t", Text: "new"}, "browser:other", at(3))
	got := posts(t, s, "browser:t")
	if len(got) != 2 || got[0].Post.Key != "k" {
		t.Fatalf("an edit moved or doubled the post: %d posts", len(got))
	}
	g := got[0]
	if g.Post.Text != "new" || g.Post.Buttons != nil || g.Post.Menus != nil || g.Post.Bar != nil || g.Post.Mention != nil {
		t.Errorf("an edit left something of the old post: %s", shape(g.Post))
	}
	if g.By != "browser:mara" || !g.At.Equal(at(1)) || !g.Edited.Equal(at(3)) {
		t.Errorf("by %q at %v edited %v; want browser:mara, %v, %v", g.By, g.At, g.Edited, at(1), at(3))
	}
	if len(g.Post.Files) != 2 || !slices.Equal(g.Sizes, []int{10, 3}) {
		t.Errorf("nil files removed the files: %d left, sizes %v", len(g.Post.Files), g.Sizes)
	}
	if f, err := s.File(t.Context(), "browser:t", "k", 1); err != nil || !bytes.Equal(f.Data, []byte{1, 2, 3}) {
		t.Errorf("file after the edit: %v, %v", f.Data, err)
	}
	putPost(t, s, chat.Post{Key: "k", Thread: "browser:t", Files: []chat.File{{Name: "c.png", MIME: "image/png", Data: []byte{9}}}}, "", at(4))
	if g := posts(t, s, "browser:t")[0]; len(g.Post.Files) != 1 || g.Post.Files[0].Name != "c.png" {
		t.Errorf("files weren't replaced: %s", shape(g.Post))
	}
	if _, err := s.File(t.Context(), "browser:t", "k", 1); !errors.Is(err, browser.ErrUnknown) {
		t.Errorf("a replaced file is still there: %v", err)
	}
	putPost(t, s, chat.Post{Key: "k", Thread: "browser:t", Files: []chat.File{}}, "", at(5))
	if g := posts(t, s, "browser:t")[0]; len(g.Post.Files) != 0 {
		t.Errorf("empty files left %d", len(g.Post.Files))
	}
}

// briefs: a thread has the brief of its latest post that had one, also of an edit.
func briefs(t *testing.T, s browser.Store) {
	th := putThread(t, s, thread("browser:b", "b", "browser:mara", at(0)))
	for i, brief := range []string{"", "a cuff · quoted", "", "a cuff · approved"} {
		putPost(t, s, chat.Post{Key: "first", Thread: th.ID, Text: "x", Brief: brief}, "", at(2*i+1))
		putPost(t, s, chat.Post{Key: fmt.Sprint("other", i), Thread: th.ID, Text: "x"}, "browser:mara", at(2*i+2))
		want := []string{"", "a cuff · quoted", "a cuff · quoted", "a cuff · approved"}[i]
		got, err := s.Thread(t.Context(), th.ID)
		list, errs := s.Threads(t.Context(), "browser:mara", false)
		if err != nil || errs != nil || got.Brief != want || len(list) != 1 || list[0].Brief != want {
			t.Errorf("after %q the brief is %q, in the list %+v (%v, %v), want %q", brief, got.Brief, list, err, errs, want)
		}
	}
}

func order(t *testing.T, s browser.Store) {
	putThread(t, s, thread("browser:t", "T", "browser:mara", at(0)))
	for _, p := range []struct {
		key string
		at  int
	}{{"c", 3}, {"z", 1}, {"a", 1}, {"m", 1}, {"b", 2}} {
		putPost(t, s, chat.Post{Key: p.key, Thread: "browser:t"}, "", at(p.at))
	}
	var keys []string
	for _, p := range posts(t, s, "browser:t") {
		keys = append(keys, p.Post.Key)
	}
	if fmt.Sprint(keys) != "[z a m b c]" {
		t.Errorf("order %v, want [z a m b c]", keys)
	}
}

func files(t *testing.T, s browser.Store) {
	putThread(t, s, thread("browser:t", "T", "browser:mara", at(0)))
	putThread(t, s, thread("browser:u", "U", "browser:ilo", at(0)))
	big := bytes.Repeat([]byte{0, 0xff, 'x', '\n'}, (8<<20)/4)
	putPost(t, s, chat.Post{Key: "k", Thread: "browser:t", Files: []chat.File{{Name: "big.bin", MIME: "application/octet-stream", Alt: "big", Data: big}, {Name: "empty", MIME: "text/plain"}}}, "", at(1))
	f, err := s.File(t.Context(), "browser:t", "k", 0)
	if err != nil || f.Name != "big.bin" || f.MIME != "application/octet-stream" || f.Alt != "big" || !bytes.Equal(f.Data, big) {
		t.Errorf("file came back as %q %q %q with %d bytes, %v", f.Name, f.MIME, f.Alt, len(f.Data), err)
	}
	if f, err := s.File(t.Context(), "browser:t", "k", 1); err != nil || len(f.Data) != 0 {
		t.Errorf("an empty file came back with %d bytes, %v", len(f.Data), err)
	}
	for _, c := range []struct {
		th  chat.ThreadID
		key string
		n   int
	}{{"browser:u", "k", 0}, {"browser:t", "k", 2}, {"browser:t", "k", -1}, {"browser:t", "x", 0}} {
		if _, err := s.File(t.Context(), c.th, c.key, c.n); !errors.Is(err, browser.ErrUnknown) {
			t.Errorf("file %v gives %v, want ErrUnknown", c, err)
		}
	}
}

func unknown(t *testing.T, s browser.Store) {
	putThread(t, s, thread("browser:t", "T", "browser:mara", at(0)))
	putThread(t, s, thread("browser:u", "U", "browser:mara", at(0)))
	err := s.PutPost(t.Context(), browser.Stored{Post: chat.Post{Key: "k", Thread: "browser:none"}, At: at(1)})
	if !errors.Is(err, browser.ErrUnknown) {
		t.Errorf("a post to no thread gives %v, want ErrUnknown", err)
	}
	if _, err := s.Posts(t.Context(), "browser:none"); !errors.Is(err, browser.ErrUnknown) {
		t.Errorf("posts of no thread give %v, want ErrUnknown", err)
	}
	if got := posts(t, s, "browser:u"); len(got) != 0 {
		t.Errorf("a new thread has %d posts", len(got))
	}
	putPost(t, s, chat.Post{Key: "k", Thread: "browser:t"}, "", at(1))
	err = s.PutPost(t.Context(), browser.Stored{Post: chat.Post{Key: "k", Thread: "browser:u"}, At: at(2)})
	if !errors.Is(err, browser.ErrMoved) {
		t.Errorf("a key of another thread gives %v, want ErrMoved", err)
	}
}

func secret(t *testing.T, s browser.Store) {
	get := func(name, fresh string) string {
		got, err := s.Secret(t.Context(), name, []byte(fresh))
		if err != nil {
			t.Fatal(err)
		}
		return string(got)
	}
	if a, b, c := get("x", "one\x00\xff"), get("x", "two"), get("y", "three"); a != "one\x00\xff" || b != a || c != "three" {
		t.Errorf("secrets %q %q %q", a, b, c)
	}
}

func atOnce(t *testing.T, s browser.Store) {
	const n = 8
	ids := make([]chat.ThreadID, n)
	var wg sync.WaitGroup
	for i := range n {
		wg.Go(func() {
			th, err := s.PutThread(t.Context(), thread(fmt.Sprintf("browser:t%d", i), "same", "browser:mara", at(0)))
			if err != nil {
				t.Errorf("put thread: %v", err)
				return
			}
			ids[i] = th.ID
			for _, key := range []string{"same", fmt.Sprint("own", i)} {
				if err := s.PutPost(t.Context(), browser.Stored{Post: chat.Post{Key: key, Thread: th.ID}, At: at(1)}); err != nil {
					t.Errorf("put post: %v", err)
				}
			}
		})
	}
	wg.Wait()
	for _, id := range ids {
		if id != ids[0] {
			t.Fatalf("one key gave threads %v", ids)
		}
	}
	if got := posts(t, s, ids[0]); len(got) != n+1 {
		t.Errorf("%d posts, want %d", len(got), n+1)
	}
}
