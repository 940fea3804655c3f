package chattest

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"benchbell/bot/chat"
)

// most is a limit or, where there is none, a number that no transport without it may stumble over.
func most(limit, without int) int {
	if limit > 0 {
		return limit
	}
	return without
}

// phrase is words of n characters.
func phrase(n int) string {
	return strings.Repeat("foam ", n/5+1)[:n-1] + "y"
}

// filling is a text of the transport's own length n, with characters in it that a transport may have to write otherwise.
func filling(l chat.Limits, n int) string {
	s := "*Head*"
	for _, line := range []string{"\nfoam_board at 97,5 cm, *sure* & <none> `1` 2*3 [x] Größe 木の盾", "\nplain", "x"} {
		if each := l.Size(s+line) - l.Size(s); n > l.Size(s) {
			s += strings.Repeat(line, (n-l.Size(s))/each)
		}
	}
	return s
}

func chosenOf(ms []chat.Menu) string {
	var out []string
	for _, m := range ms {
		out = append(out, fmt.Sprint(m.Action, m.Chosen()))
	}
	return strings.Join(out, " ")
}

func chosen(t *testing.T, b *bench) {
	th := b.thread("chosen", b.Client)
	menu := func(some ...string) []chat.Menu {
		ms := []chat.Menu{{Action: "one", Label: "Finish", Min: 1, Max: 1, Answer: true}, {Action: "some", Label: "Sets", Max: 3}, {Action: "none", Label: "Extras", Min: 1, Max: 2}}
		for i := range ms {
			for _, v := range []string{"a", "b", "c", "d"} {
				on := i == 0 && v == "c" || i == 1 && slices.Contains(some, v)
				ms[i].Options = append(ms[i].Options, chat.Option{Value: v, Label: "Option " + v, Chosen: on})
			}
		}
		return ms
	}
	post := chat.Post{Key: "c", Thread: th, Text: "choose", Menus: menu("b", "d")}
	b.put(post)
	for _, who := range []Peer{b.Client, b.Studio} {
		if got := chosenOf(b.posts(who, th)[0].Menus); got != "one[c] some[b d] none[]" {
			t.Errorf("%s sees chosen %s", who.ID(), got)
		}
	}
	// A pick says all that is chosen then.
	for _, want := range [][]string{{"a", "b", "d"}, {"a"}, nil} {
		b.answers(nil)
		b.well(b.Client.Pick(t.Context(), th, "some", want...))
		if in := b.last(); in.Pick != "some" || !slices.Equal(slices.Sorted(slices.Values(in.Picked)), want) {
			t.Errorf("picking %v arrived as %+v", want, in)
		}
		post.Menus = menu(want...)
		b.put(post)
		if got := chosenOf(b.posts(b.Client, th)[0].Menus); got != fmt.Sprint("one[c] some", want, " none[]") {
			t.Errorf("after an edit %s is chosen", got)
		}
	}
	b.replies(chat.Reply{Text: "yours", Menus: menu("a")})
	if a := b.well(b.Client.Do(t.Context(), th, "ping", nil)); chosenOf(a.Menus) != "one[c] some[a] none[]" {
		t.Errorf("in a private answer %s is chosen", chosenOf(a.Menus))
	}
}

// full is a message with that many of each, every word and action as long as it may be.
func full(l chat.Limits, buttons, menus, options, files int) chat.Reply {
	var r chat.Reply
	action := func(kind string, i int) string {
		s := fmt.Sprint(kind, i, "/")
		return s + strings.Repeat("a", most(l.Action, 200)-len(s))
	}
	label := func(n, i int) string { s := fmt.Sprint(i, " "); return s + phrase(n-len(s)) }
	for i := range buttons {
		r.Buttons = append(r.Buttons, chat.Button{Action: action("b", i), Label: label(most(l.Label, 120), i)})
	}
	for i := range menus {
		m := chat.Menu{Action: action("m", i), Label: label(most(l.Line, 200), i), Min: 1, Max: options}
		for n := range options {
			m.Options = append(m.Options, chat.Option{Value: label(most(l.Line, 120), n), Label: label(most(l.Line, 120), n), Note: phrase(most(l.Line, 300)), Chosen: n%3 == 0})
		}
		r.Menus = append(r.Menus, m)
	}
	for i := range files {
		r.Files = append(r.Files, chat.File{Name: fmt.Sprintf("%d.png", i), MIME: "image/png", Alt: "a picture", Data: PNG(i+1, 1)})
	}
	return r
}

func post(key string, th chat.ThreadID, r chat.Reply) chat.Post {
	return chat.Post{Key: key, Thread: th, Text: r.Text, Files: r.Files, Buttons: r.Buttons, Menus: r.Menus}
}

// sameThings reports what of the things wanted isn't shown as it was sent.
func sameThings(want chat.Reply, text string, files []chat.File, buttons []chat.Button, menus []chat.Menu) error {
	if text != want.Text {
		return fmt.Errorf("a text of %d characters is shown with %d", utf8.RuneCountInString(want.Text), utf8.RuneCountInString(text))
	}
	if len(files) != len(want.Files) || len(buttons) != len(want.Buttons) || len(menus) != len(want.Menus) {
		return fmt.Errorf("of %d files, %d buttons, %d menus there are %d, %d, %d", len(want.Files), len(want.Buttons), len(want.Menus), len(files), len(buttons), len(menus))
	}
	for i, f := range want.Files {
		if !bytes.Equal(files[i].Data, f.Data) {
			return fmt.Errorf("file %d is another", i)
		}
	}
	for i, x := range want.Buttons {
		if buttons[i].Action != x.Action || buttons[i].Label != x.Label {
			return fmt.Errorf("button %d is %+v, want %+v", i, buttons[i], x)
		}
	}
	for i, x := range want.Menus {
		if menus[i].Action != x.Action || menus[i].Label != x.Label || !slices.Equal(menus[i].Options, x.Options) {
			return fmt.Errorf("menu %d is %+v, want %+v", i, menus[i], x)
		}
	}
	return nil
}

func room(l chat.Limits, menus int) int {
	if n := l.Room(menus); n < math.MaxInt {
		return n
	}
	return 30
}

// atLimits: what is just within every limit is shown whole, to everybody and in a private answer.
func atLimits(t *testing.T, b *bench) {
	th, l := b.thread("at limits", b.Client), b.Transport.Limits()
	menus := most(l.Menus, 4)
	some := menus / 2
	for what, r := range map[string]chat.Reply{
		"text":    {Text: filling(l, most(l.Text, 20_000))},
		"buttons": full(l, room(l, 0), 0, 0, 0),
		"menus":   full(l, room(l, menus), menus, most(l.Options, 40), 0),
		"both":    full(l, room(l, some), some, most(l.Options, 40), 0),
		"files":   full(l, 0, 0, 0, most(l.Files, 12)),
		"a file":  {Files: []chat.File{{Name: "big.bin", MIME: "application/octet-stream", Data: bytes.Repeat([]byte{1}, most(l.File, 9<<20))}}},
	} {
		if r.Text == "" {
			r.Text = "look"
		}
		if err := l.CheckReply(r); err != nil {
			t.Fatalf("%s: %v", what, err)
		}
		p := post(what, th, r)
		// People told and progress take nothing from the text.
		p.Mention, p.Bar = []chat.PersonID{b.Client.ID(), b.Studio.ID()}, &chat.Bar{Stages: []string{"scaling", "nesting", "costing"}, At: 1, Share: .5}
		b.put(p)
		ps := b.posts(b.Client, th)
		got := ps[len(ps)-1]
		if err := sameThings(r, got.Text, got.Files, got.Buttons, got.Menus); err != nil {
			t.Errorf("%s, posted: %v", what, err)
		}
		if got.Bar == nil {
			t.Errorf("%s: the progress is gone", what)
		}
		b.replies(r)
		a := b.well(b.Client.Do(t.Context(), th, "ping", nil))
		if err := sameThings(r, a.Text, a.Files, a.Buttons, a.Menus); err != nil {
			t.Errorf("%s, in a private answer: %v", what, err)
		}
	}
}

// beyondLimits: what is beyond a count or a size isn't posted, and an answer of it becomes an apology.
func beyondLimits(t *testing.T, b *bench) {
	th, l := b.thread("beyond limits", b.Client), b.Transport.Limits()
	beyond := map[string]chat.Reply{}
	if n := l.Room(0); n < math.MaxInt {
		beyond["buttons"] = full(l, n+1, 0, 0, 0)
	}
	if n := l.Room(1); n < math.MaxInt {
		beyond["buttons beside a menu"] = full(l, n+1, 1, 1, 0)
	}
	if l.Menus > 0 {
		beyond["menus"] = full(l, 0, l.Menus+1, 1, 0)
	}
	if l.Options > 0 {
		beyond["options"] = full(l, 0, 1, l.Options+1, 0)
	}
	if l.Action > 0 {
		beyond["an action"] = chat.Reply{Buttons: []chat.Button{{Action: strings.Repeat("a", l.Action+1), Label: "A"}}}
		beyond["a menu's action"] = chat.Reply{Menus: []chat.Menu{{Action: strings.Repeat("a", l.Action+1), Label: "A", Max: 1, Options: []chat.Option{{Value: "a", Label: "A"}}}}}
	}
	if l.File > 0 {
		beyond["a file"] = chat.Reply{Files: []chat.File{{Name: "big.bin", Data: make([]byte, l.File+1)}}}
	}
	if l.Files > 0 {
		beyond["files"] = full(l, 0, 0, 0, l.Files+1)
	}
	for what, r := range beyond {
		r.Text = "look"
		if l.CheckReply(r) == nil {
			t.Fatalf("%s isn't beyond the limits", what)
		}
		if err := b.Transport.Put(t.Context(), post(what, th, r)); err == nil {
			t.Errorf("%s: posted", what)
		}
		if what == "files" { // those of an answer may come in several messages
			continue
		}
		b.replies(r)
		if a := b.must(b.Client.Do(t.Context(), th, "ping", nil)); !a.Sorry {
			t.Errorf("%s, in a private answer: %d buttons, %d menus, %d files, and no apology", what, len(a.Buttons), len(a.Menus), len(a.Files))
		}
	}
	if ps := b.posts(b.Client, th); len(ps) != 0 {
		t.Errorf("%d posts beyond the limits are shown", len(ps))
	}
}

// longWords: words too long are shown cut at a word's end, and a private answer's text comes whole all the same.
func longWords(t *testing.T, b *bench) {
	th, l := b.thread("long words", b.Client), b.Transport.Limits()
	check := func(what, got, sent string, limit int) {
		t.Helper()
		if limit == 0 {
			if got != sent {
				t.Errorf("%s has no limit, but %d characters of %d are shown", what, len(got), len(sent))
			}
			return
		}
		kept, cut := strings.CutSuffix(got, "…")
		if !cut || !strings.HasPrefix(sent, kept+" ") || utf8.RuneCountInString(kept) < limit/2 {
			t.Errorf("%s of %d characters is shown as %d, ending in %q", what, len(sent), len(got), got[max(0, len(got)-40):])
		}
	}
	long := func(limit int) string { return phrase(2*most(limit, 10_000) + 7) }
	r := chat.Reply{Text: long(l.Text), Buttons: []chat.Button{{Action: "b", Label: long(l.Label)}},
		Menus: []chat.Menu{{Action: "m", Label: long(l.Line), Max: 1, Options: []chat.Option{{Value: "v", Label: long(l.Line), Note: long(l.Line)}}}}}
	b.put(post("long", th, r))
	got := b.posts(b.Client, th)[0]
	check("a text", got.Text, r.Text, l.Text)
	check("a button's label", got.Buttons[0].Label, r.Buttons[0].Label, l.Label)
	check("a menu's label", got.Menus[0].Label, r.Menus[0].Label, l.Line)
	check("an option's label", got.Menus[0].Options[0].Label, r.Menus[0].Options[0].Label, l.Line)
	check("an option's note", got.Menus[0].Options[0].Note, r.Menus[0].Options[0].Note, l.Line)
	// An answer too long for one message comes whole, if need be in several.
	b.replies(chat.Reply{Text: r.Text})
	b.well(b.Client.Do(t.Context(), th, "ping", nil))
	words := strings.Count(r.Text, "foam")
	for end := time.Now().Add(patience); ; time.Sleep(5 * time.Millisecond) {
		got, err := b.Client.Private(t.Context(), th)
		if err != nil {
			t.Fatal(err)
		}
		if strings.Count(got, "foam") == words {
			break
		}
		if time.Now().After(end) {
			t.Fatalf("of an answer of %d words %d are shown", words, strings.Count(got, "foam"))
		}
	}
}

func formLimits(t *testing.T, b *bench) {
	th, l := b.thread("form limits", b.Client), b.Transport.Limits()
	form := func(fields int) chat.Form {
		f := chat.Form{Action: strings.Repeat("a", most(l.Action, 200)), Title: phrase(most(l.Title, 200))}
		for i := range fields {
			key := fmt.Sprint(i, "/")
			f.Fields = append(f.Fields, chat.Field{Key: key + strings.Repeat("k", most(l.Action, 200)-len(key)), Label: phrase(most(l.Title, 200)), Hint: phrase(most(l.Line, 200)),
				Value: phrase(most(l.Value, 9000)), Long: i%2 == 0, Optional: i%3 == 0})
		}
		return f
	}
	f := form(most(l.Fields, 40))
	if err := l.CheckForm(f); err != nil {
		t.Fatal(err)
	}
	b.replies(chat.Reply{Form: &f})
	a := b.well(b.Client.Do(t.Context(), th, "ping", nil))
	if a.Form == nil || a.Form.Title != f.Title || len(a.Form.Fields) != len(f.Fields) {
		t.Fatalf("a form of %d fields opened as %+v", len(f.Fields), a.Form)
	}
	for i, x := range a.Form.Fields {
		if w := f.Fields[i]; x.Key != w.Key || x.Label != w.Label || x.Hint != w.Hint || x.Value != w.Value || x.Optional != w.Optional {
			t.Errorf("field %d opened as %.300q, want %.300q", i, fmt.Sprintf("%+v", x), fmt.Sprintf("%+v", w))
		}
	}
	b.replies(chat.Reply{Text: "thanks"})
	b.well(b.Client.Submit(t.Context(), th, f.Action, map[string]string{f.Fields[1].Key: "typed"}))
	in := b.last()
	if len(in.Values) != len(f.Fields) || in.Values[f.Fields[0].Key] != f.Fields[0].Value || in.Values[f.Fields[1].Key] != "typed" {
		t.Errorf("%d of %d values arrived", len(in.Values), len(f.Fields))
	}

	// What is typed beyond the limit doesn't reach the handler.
	if l.Value > 0 {
		b.replies(chat.Reply{Form: &f})
		b.well(b.Client.Do(t.Context(), th, "ping", nil))
		b.answers(nil)
		if a, err := b.Client.Submit(t.Context(), th, f.Action, map[string]string{f.Fields[0].Key: phrase(l.Value + 1)}); err == nil && a.Refused == "" {
			t.Errorf("%d characters typed are taken: %+v", l.Value+1, a)
		}
		b.mu.Lock()
		if len(b.got) != 0 {
			t.Errorf("%d characters typed arrived", l.Value+1)
		}
		b.mu.Unlock()
	}
	beyond := map[string]chat.Form{}
	if l.Fields > 0 {
		beyond["fields"] = form(l.Fields + 1)
	}
	if l.Value > 0 {
		f := form(1)
		f.Fields[0].Value += "x"
		beyond["a value"] = f
	}
	if l.Action > 0 {
		f, k := form(1), form(1)
		f.Action += "a"
		k.Fields[0].Key += "k"
		beyond["an action"], beyond["a key"] = f, k
	}
	for what, f := range beyond {
		b.answers(func(context.Context, chat.Incoming) (chat.Reply, error) { return chat.Reply{Form: &f}, nil })
		if a := b.must(b.Client.Do(t.Context(), th, "ping", nil)); !a.Sorry || a.Form != nil {
			t.Errorf("%s beyond the limits: the form opened (%v), and no apology", what, a.Form != nil)
		}
	}
}

func uploads(t *testing.T, b *bench) {
	th, l := b.thread("uploads", b.Client), b.Transport.Limits()
	if l.Upload == 0 {
		return
	}
	data := make([]byte, l.Upload+1)
	copy(data, PNG(2, 2))
	b.answers(nil)
	b.well(b.Client.Do(t.Context(), th, "show", nil, chat.File{Name: "big.png", MIME: "image/png", Data: data[:l.Upload]}))
	if in := b.last(); len(in.Files) != 1 || len(in.Files[0].Data) != l.Upload {
		t.Errorf("a file of %d bytes arrived as %d files", l.Upload, len(in.Files))
	}
	b.answers(nil)
	if a := b.must(b.Client.Do(t.Context(), th, "show", nil, chat.File{Name: "big.png", MIME: "image/png", Data: data})); a.Refused == "" || a.Sorry {
		t.Errorf("a file of %d bytes is answered with %+v", len(data), a)
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	if len(b.got) != 0 {
		t.Errorf("a file of %d bytes arrived", len(data))
	}
}
