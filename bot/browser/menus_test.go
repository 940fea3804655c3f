package browser_test

import (
	"context"
	"fmt"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"benchbell/bot/browser"
	"benchbell/bot/browser/browsertest"
	"benchbell/bot/chat"
	"benchbell/bot/chat/chattest"
)

// Of two answers that offer a menu under the same action, each offers what it shows: the older one's choices don't stand
// in the way of the newer one's.
func TestMenusOfOneActionOnSeveralCards(t *testing.T) {
	menu := func(values ...string) []chat.Menu {
		m := chat.Menu{Action: "bench", Label: "More operations", Min: 1, Max: 1}
		for _, v := range values {
			m.Options = append(m.Options, chat.Option{Value: v, Label: v})
		}
		return []chat.Menu{m}
	}
	var got []string
	d := open(t, browser.Options{}, func(_ context.Context, in chat.Incoming) (chat.Reply, error) {
		switch {
		case in.Command == "bench":
			return chat.Reply{Text: "older", Menus: menu("cut", "glue"), Buttons: []chat.Button{{Action: "start", Label: "Start"}}}, nil
		case in.Press == "start":
			return chat.Reply{Text: "newer", Menus: menu("glue", "prime")}, nil
		}
		got = append(got, in.Picked...)
		return chat.Reply{}, nil
	}, chat.Command{Name: "bench", Summary: "x"})
	ctx := t.Context()
	mara := sit(t, d, "Mara")
	if _, err := mara.Do(ctx, "", "bench", nil); err != nil {
		t.Fatal(err)
	}
	if _, err := mara.Press(ctx, "", "start"); err != nil {
		t.Fatal(err)
	}
	for _, v := range []string{"prime", "cut", "glue"} {
		if a, err := mara.Pick(ctx, "", "bench", v); err != nil || a.Refused != "" {
			t.Errorf("picking %s, which a card shows: %+v, %v", v, a, err)
		}
	}
	if a, err := mara.Pick(ctx, "", "bench", "sand"); err != nil || a.Refused == "" {
		t.Errorf("picking what no card shows: %+v, %v", a, err)
	}
	if len(got) != 3 {
		t.Errorf("%v arrived", got)
	}
}

// stall is a thread with a message of three menus and two buttons, whose conversation takes every choice.
type stall struct {
	t    *testing.T
	d    *browser.Desk
	mara *browsertest.Peer
	th   chat.ThreadID
	got  []chat.Incoming
	// refuse says why a pick is refused; nil or empty: it isn't.
	refuse func(chat.Incoming) string
	// edit has the message say what is chosen, as a conversation does.
	edit  bool
	state map[string][]string
}

var stallMenus = []chat.Menu{
	{Action: "sets", Label: "Pattern sets", Min: 1, Max: 3, Options: []chat.Option{{Value: "cuff", Label: "Cuff"}, {Value: "helm", Label: "Helm"}, {Value: "sword", Label: "Sword"}}},
	{Action: "finish", Label: "Finish", Min: 1, Max: 1, Answer: true, Options: []chat.Option{{Value: "plain", Label: "Plain"}, {Value: "worn", Label: "Worn"}}},
	{Action: "bench", Label: "More operations", Min: 1, Max: 1, Options: []chat.Option{{Value: "cut", Label: "Cut"}, {Value: "glue", Label: "Glue"}}},
}

func newStall(t *testing.T) *stall {
	s := &stall{t: t, edit: true}
	s.d = open(t, browser.Options{}, s.handle, chat.Command{Name: "ask", Summary: "x", Options: []chat.CommandOption{{Name: "what", Summary: "x"}}})
	s.fresh("k")
	return s
}

// fresh begins anew in another thread.
func (s *stall) fresh(key string) {
	s.t.Helper()
	s.mara, s.got, s.state = sit(s.t, s.d, "Mara"), nil, map[string][]string{}
	var err error
	if s.th, err = s.d.OpenThread(s.t.Context(), key, key, s.mara.ID()); err != nil {
		s.t.Fatal(err)
	}
	s.put()
}

func (s *stall) put() {
	p := chat.Post{Key: "card/" + string(s.th), Thread: s.th, Text: "choose", Buttons: []chat.Button{
		{Action: "go", Label: "Go on", Tone: chat.Good}, {Action: "cancel", Label: "Cancel", Tone: chat.Grave}}}
	for _, m := range stallMenus {
		m.Options = slices.Clone(m.Options)
		for i, o := range m.Options {
			m.Options[i].Chosen = slices.Contains(s.state[m.Action], o.Value)
		}
		p.Menus = append(p.Menus, m)
	}
	if err := s.d.Put(context.Background(), p); err != nil {
		s.t.Error(err)
	}
}

func (s *stall) handle(_ context.Context, in chat.Incoming) (chat.Reply, error) {
	s.got = append(s.got, in)
	if in.Pick == "" {
		return chat.Reply{Text: "on it"}, nil
	}
	if s.refuse != nil {
		if say := s.refuse(in); say != "" {
			return chat.Reply{}, &chat.Refusal{Say: say}
		}
	}
	if in.Pick != "bench" {
		s.state[in.Pick] = in.Picked
	}
	if s.edit {
		time.Sleep(time.Millisecond) // versions of a post are told apart by the millisecond
		s.put()
	}
	return chat.Reply{Text: "noted"}, nil
}

// arrived is what the handler got since it was last asked, in short.
func (s *stall) arrived() string {
	var out []string
	for _, in := range s.got {
		switch {
		case in.Press != "":
			out = append(out, "press "+in.Press)
		case in.Pick != "":
			out = append(out, fmt.Sprint("pick ", in.Pick, " ", in.Picked))
		default:
			out = append(out, fmt.Sprint(in.Command, in.Form))
		}
	}
	s.got = nil
	return strings.Join(out, ", ")
}

// chosen is what the page shows chosen, by menu.
func (s *stall) chosen() map[string][]string {
	s.t.Helper()
	ps, _, err := s.mara.Posts(context.Background(), s.th)
	if err != nil {
		s.t.Fatal(err)
	}
	out := map[string][]string{}
	for _, m := range ps[0].Menus {
		out[m.Action] = m.Chosen()
	}
	return out
}

func (s *stall) press(action string) chattest.Answer {
	s.t.Helper()
	a, err := s.mara.Press(context.Background(), s.th, action)
	if err != nil {
		s.t.Fatal(err)
	}
	return a
}

func (s *stall) want(what, arrived string) {
	s.t.Helper()
	if got := s.arrived(); got != arrived {
		s.t.Errorf("%s: %q arrived, want %q", what, got, arrived)
	}
}

func (s *stall) shows(what string, sets, finish, bench string) {
	s.t.Helper()
	c := s.chosen()
	if got := fmt.Sprint(c["sets"], c["finish"], c["bench"]); got != fmt.Sprintf("[%s] [%s] [%s]", sets, finish, bench) {
		s.t.Errorf("%s: the page shows %s, want [%s] [%s] [%s]", what, got, sets, finish, bench)
	}
}

// What was chosen and not sent goes before the press, each as an act of its own; what would do something stays.
func TestChoicesGoWithThePress(t *testing.T) {
	for _, edit := range []bool{true, false} { // a conversation may say what is chosen at once, or later
		s := newStall(t)
		s.edit = edit
		s.mara.Tick("sets", "cuff", "sword")
		s.mara.Tick("finish", "worn")
		s.mara.Tick("bench", "glue")
		if a := s.press("go"); a.Text != "on it" {
			t.Errorf("the answer is %+v", a)
		}
		first := slices.Clone(s.got)
		s.want("a press beside three choices", "pick sets [cuff sword], pick finish [worn], press go")
		s.shows("after it", "cuff sword", "worn", "glue")
		if _, err := s.mara.Again(t.Context()); err != nil {
			t.Fatal(err)
		}
		for i, in := range s.got {
			if in.ID != first[i].ID || in.ID == "" || i > 0 && in.ID == first[i-1].ID {
				t.Errorf("act %d has the ID %q, delivered again %q", i, first[i].ID, in.ID)
			}
		}
		s.want("the same press delivered again", "pick sets [cuff sword], pick finish [worn], press go")
		s.press("go")
		s.want("a press with nothing new", "press go")

		// One added, one taken away; the other menu's own button sends it too.
		s.mara.Tick("sets", "helm", "sword")
		if a, err := s.mara.Pick(t.Context(), s.th, "finish", "plain"); err != nil || a.Refused != "" {
			t.Errorf("%+v, %v", a, err)
		}
		s.want("a pick beside a choice", "pick sets [helm sword], pick finish [plain]")
		s.shows("after that", "helm sword", "plain", "glue")
		if a, err := s.mara.Pick(t.Context(), s.th, "bench", "cut"); err != nil || a.Refused != "" {
			t.Errorf("%+v, %v", a, err)
		}
		s.want("what does something, by its own button", "pick bench [cut]")
		s.shows("after it is done", "helm sword", "plain", "")
	}
}

// The same press of the same page beside other choices is another act.
func TestPressBesideOtherChoices(t *testing.T) {
	s := newStall(t)
	c := plain(t, s.d, s.mara)
	_, page := request(t, c, "GET", s.d.URL()+s.mara.Path(), "", nil)
	token := regexp.MustCompile(`name="token" value="([^"]+)"`).FindStringSubmatch(page)[1]
	for _, picks := range [][]string{nil, {"cuff"}, nil, {"cuff"}, {"cuff", "helm"}} {
		body := url.Values{"token": {token}, "act": {"x"}, "thread": {string(s.th)}, "kind": {"message"}, "on": {"post card/" + string(s.th)}, "do": {"press go"},
			"menu": {"sets"}, "pick.sets": picks}
		if res, _ := request(t, c, "POST", s.d.URL()+s.mara.Path()+"act", body.Encode(), nil); res.StatusCode != 303 {
			t.Fatal(res.Status)
		}
	}
	ids := map[string]bool{}
	for _, in := range s.got {
		ids[in.ID] = true
	}
	s.want("one page, pressed with three choices", "press go, pick sets [cuff], press go, press go, pick sets [cuff], press go, pick sets [cuff helm], press go")
	if len(ids) != 5 {
		t.Errorf("they have %d IDs, want 5", len(ids))
	}
}

// A choice that is refused holds the press up, and stays chosen.
func TestRefusedChoiceHoldsThePressUp(t *testing.T) {
	s := newStall(t)
	s.refuse = func(in chat.Incoming) string {
		if in.Pick == "sets" && len(in.Picked) > 1 {
			return "these don't go together; choose one"
		}
		return ""
	}
	s.mara.Tick("sets", "cuff", "helm")
	s.mara.Tick("finish", "worn")
	if a := s.press("go"); a.Refused != "these don't go together; choose one" {
		t.Errorf("the answer is %+v", a)
	}
	s.want("a press beside a refused choice", "pick sets [cuff helm]")
	s.shows("after it", "cuff helm", "worn", "")
	s.mara.Tick("sets", "cuff")
	s.press("go")
	s.want("mended", "pick sets [cuff], pick finish [worn], press go")
	s.shows("after that", "cuff", "worn", "")
	s.mara.Tick("sets") // none, where one is needed
	if a := s.press("go"); a.Refused != "choose at least 1 from the menu" {
		t.Errorf("nothing chosen where something must be: %+v", a)
	}
	s.want("a press beside too few choices", "")
}

// Who takes it all back needs no choices sent; they stay on the page all the same.
func TestGravePressSendsNoChoices(t *testing.T) {
	s := newStall(t)
	s.mara.Tick("sets", "helm")
	s.press("cancel")
	s.want("a grave press beside a choice", "press cancel")
	s.shows("after it", "helm", "", "")
}

// What the conversation says is chosen holds over what was sent before.
func TestConversationHasTheLastWord(t *testing.T) {
	s := newStall(t)
	s.mara.Tick("sets", "cuff", "helm")
	s.press("go")
	s.state["sets"] = []string{"sword"} // from another seat
	time.Sleep(time.Millisecond)
	s.put()
	s.shows("after the message changed", "sword", "", "")
	s.arrived()
	s.press("go")
	s.want("a press on it", "press go")
}

// Whatever is ticked, sent and pressed in whatever order, the page shows what the conversation has, and over that what the
// person chose since; and the conversation has what was last sent.
func TestPagesShowWhatIsChosen(t *testing.T) {
	s, runs := newStall(t), 0
	rapid.Check(t, func(rt *rapid.T) {
		runs++
		s.fresh(fmt.Sprint("run ", runs))
		for range rapid.IntRange(1, 4).Draw(rt, "acts") {
			want := s.chosen()
			for _, m := range stallMenus {
				if !rapid.Bool().Draw(rt, "change "+m.Action) {
					continue
				}
				var values []string
				for _, o := range m.Options {
					values = append(values, o.Value)
				}
				values = rapid.Permutation(values).Draw(rt, "order")[:rapid.IntRange(1, m.Max).Draw(rt, "n")]
				slices.Sort(values) // the options' order
				want[m.Action] = values
				s.mara.Tick(m.Action, values...)
			}
			sent := true
			switch rapid.IntRange(0, 2).Draw(rt, "how") {
			case 0:
				s.press("go")
			case 1:
				s.press("cancel")
				sent = false
			case 2:
				if _, err := s.mara.Pick(context.Background(), s.th, "finish", "worn"); err != nil {
					rt.Fatal(err)
				}
				want["finish"] = []string{"worn"}
			}
			shown := s.chosen()
			for action, values := range want {
				if !slices.Equal(shown[action], values) {
					rt.Fatalf("%s shows %v, want %v", action, shown[action], values)
				}
				if sent && action != "bench" && len(values) > 0 && !slices.Equal(slices.Sorted(slices.Values(s.state[action])), values) {
					rt.Fatalf("the conversation has %v of %s, want %v", s.state[action], action, values)
				}
			}
		}
	})
}

// What the page's script tells of half-typed answers elsewhere on the page is kept when something is pressed.
func TestTypedElsewhereIsKept(t *testing.T) {
	s := newStall(t)
	form := chat.Form{Action: "m", Title: "M", Fields: []chat.Field{{Key: "head", Label: "Head", Value: "56"}, {Key: "notes", Label: "Notes", Long: true}}}
	forms := open(t, browser.Options{}, func(_ context.Context, in chat.Incoming) (chat.Reply, error) {
		if in.Command != "" {
			return chat.Reply{Form: &form}, nil
		}
		return chat.Reply{}, nil
	}, chat.Command{Name: "ask", Summary: "x", Options: []chat.CommandOption{{Name: "what", Summary: "x"}}})
	s.d, s.mara = forms, sit(t, forms, "Mara")
	var err error
	if s.th, err = s.d.OpenThread(t.Context(), "k", "k", s.mara.ID()); err != nil {
		t.Fatal(err)
	}
	s.put()
	if _, err := s.mara.Do(t.Context(), s.th, "ask", nil); err != nil {
		t.Fatal(err)
	}
	c := plain(t, s.d, s.mara)
	path := s.d.URL() + s.mara.Path() + "t/" + strings.TrimPrefix(string(s.th), "browser:")
	look := func() string {
		_, page := request(t, c, "GET", path, "", nil)
		return page
	}
	find := func(pattern string) string { return regexp.MustCompile(pattern).FindStringSubmatch(look())[1] }
	keep := func(parts ...string) {
		t.Helper()
		body := url.Values{"token": {find(`name="token" value="([^"]+)"`)}, "act": {"x"}, "thread": {string(s.th)}, "kind": {"message"},
			"on": {"post card/" + string(s.th)}, "do": {"press cancel"}, "keep": parts}
		if res, page := request(t, c, "POST", s.d.URL()+s.mara.Path()+"act", body.Encode(), nil); res.StatusCode != 303 {
			t.Fatalf("%s: %s", res.Status, page)
		}
	}
	card := find(`data-keep="form ([a-z0-9]+)"`)
	keep("form "+card+"\nv.head=57%2C5&v.notes=two%0D%0Alines&v.other=x", "post card/"+string(s.th)+"\nmenu=sets&pick.sets=helm&pick.sets=nonsense",
		"command ask\nv.what=a+shield", "say \nnote=half+a+sent", "say\nnote=half+a+sent", "nobody\nx=y", "form gone\nv.head=1", "%zz\n%zz")
	page := look()
	for _, want := range []string{`value="57,5"`, "two\nlines</textarea>", `value="a shield"`, "half a sent</textarea>"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	s.shows("after another button", "helm", "", "")
	keep("command ask\nv.what=", "say\nnote=", "post card/"+string(s.th)+"\nmenu=sets")
	page = look()
	for _, gone := range []string{`value="a shield"`, "half a sent"} {
		if strings.Contains(page, gone) {
			t.Errorf("the page still holds %q, which was taken out", gone)
		}
	}
	s.shows("after it was unticked again", "", "", "")
}

// A form that is opened again takes the place of the one that is open, with what was typed there, also where it asks for it in
// another field.
func TestSameFormOpensOnce(t *testing.T) {
	apart := false
	d := open(t, browser.Options{}, func(_ context.Context, in chat.Incoming) (chat.Reply, error) {
		f := chat.Form{Action: "rest/C0007", Title: "Measurements", Fields: []chat.Field{{Key: "chest", Label: "Chest", Optional: true}, {Key: "wrist", Label: "Wrist", Optional: true}}}
		if apart {
			f.Fields = []chat.Field{{Key: "chest", Label: "Chest", Optional: true}, {Key: "wrist/left", Label: "Wrist, left", Value: "17", Optional: true, Kin: []string{"wrist"}},
				{Key: "wrist/right", Label: "Wrist, right", Optional: true, Kin: []string{"wrist"}}}
		}
		apart = true
		if in.Form != "" {
			return chat.Reply{Text: "all in"}, nil
		}
		return chat.Reply{Form: &f}, nil
	}, chat.Command{Name: "ask", Summary: "x"}, chat.Command{Name: "rest", Summary: "x"})
	mara := sit(t, d, "Mara")
	if _, err := mara.Do(t.Context(), "", "ask", nil); err != nil {
		t.Fatal(err)
	}
	c := plain(t, d, mara)
	find := func(pattern string) []string {
		_, page := request(t, c, "GET", d.URL()+mara.Path(), "", nil)
		var out []string
		for _, m := range regexp.MustCompile(pattern).FindAllStringSubmatch(page, -1) {
			out = append(out, m[1])
		}
		return out
	}
	card, token := find(`data-keep="form ([a-z0-9]+)"`)[0], find(`name="token" value="([^"]+)"`)[0]
	body := url.Values{"token": {token}, "act": {"x"}, "kind": {"command"}, "name": {"rest"}, "keep": {"form " + card + "\nv.chest=96&v.wrist=18"}}
	if res, page := request(t, c, "POST", d.URL()+mara.Path()+"act", body.Encode(), nil); res.StatusCode != 303 {
		t.Fatalf("%s: %s", res.Status, page)
	}
	if forms := find(`data-keep="form ([a-z0-9]+)"`); len(forms) != 1 {
		t.Errorf("%d forms are open", len(forms))
	}
	for field, want := range map[string]string{"chest": "96", "wrist/left": "17", "wrist/right": "18"} {
		if is := find(`name="v.` + field + `" value="([^"]*)"`); len(is) != 1 || is[0] != want {
			t.Errorf("%s holds %q, want %s", field, is, want)
		}
	}
	if a, err := mara.Submit(t.Context(), "", "rest/C0007", nil); err != nil || a.Text != "all in" {
		t.Errorf("%+v, %v", a, err)
	}
	if forms := find(`data-keep="form ([a-z0-9]+)"`); len(forms) != 0 {
		t.Errorf("sent, and %d forms are open", len(forms))
	}
}

// The studio's page begins with the studio's own commands, and offers what needs a thread in threads only.
func TestStudiosCommandsComeFirst(t *testing.T) {
	d := open(t, browser.Options{}, func(context.Context, chat.Incoming) (chat.Reply, error) { return chat.Reply{}, nil },
		chat.Command{Name: "ask", Summary: "x"}, chat.Command{Name: "where", Summary: "x"}, chat.Command{Name: "orders", Summary: "x", Studio: true},
		chat.Command{Name: "bench", Summary: "x", Studio: true}, chat.Command{Name: "board", Summary: "x", Studio: true, InThread: true})
	studio, err := browsertest.Studio(t.Context(), d.URL())
	if err != nil {
		t.Fatal(err)
	}
	for p, want := range map[*browsertest.Peer]string{studio: "[orders bench ask where]", sit(t, d, "Mara"): "[ask where]"} {
		got, err := p.Commands(t.Context())
		if err != nil || fmt.Sprint(got) != want {
			t.Errorf("offered are %v, %v; want %s", got, err, want)
		}
	}
}
