package chat

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func options(n int) []Option {
	var out []Option
	for i := range n {
		out = append(out, Option{Value: fmt.Sprint("v", i), Label: fmt.Sprint("Option ", i)})
	}
	return out
}

func TestPagesHoldEveryOptionOnce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := Limits{Options: rapid.IntRange(0, 25).Draw(t, "limit"), Line: 40}
		m := Menu{Action: "sets/C0007", Label: "Pattern sets", Min: 1, Max: rapid.IntRange(1, 90).Draw(t, "max"), Options: options(rapid.IntRange(1, 90).Draw(t, "n"))}
		m.Options[rapid.IntRange(0, len(m.Options)-1).Draw(t, "chosen")].Chosen = true
		pages := l.Pages(m)
		var all []Option
		actions := map[string]bool{}
		for _, p := range pages {
			if err := l.CheckPost(Post{Menus: []Menu{p}}); err != nil {
				t.Fatal(err)
			}
			if len(p.Options) == 0 || actions[p.Action] || !strings.HasPrefix(p.Action, m.Action) {
				t.Fatalf("a page %+v", p)
			}
			if p.Answers() && len(pages) > 1 && p.Min > 0 {
				t.Fatalf("page %q must be picked from, though what is wanted may be on another", p.Label)
			}
			actions[p.Action] = true
			all = append(all, p.Options...)
		}
		if !slices.Equal(all, m.Options) {
			t.Fatalf("%d options come in %d pages with %d", len(m.Options), len(pages), len(all))
		}
	})
	one := (Limits{Options: 3}).Pages(Menu{Action: "a", Label: "Sets", Max: 5, Options: options(5)})
	if len(one) != 2 || one[0].Label != "Sets: Option 0 to Option 2" || one[1].Action != "a/2" || one[1].Label != "Sets: Option 3 to Option 4" {
		t.Errorf("%+v", one)
	}
	if tight := (Limits{Options: 3, Line: 12}).Pages(Menu{Label: "Sets", Options: options(5)}); tight[1].Label != "Sets, 2 of 2" {
		t.Errorf("%q", tight[1].Label)
	}
}

func TestRoom(t *testing.T) {
	for _, c := range []struct {
		l     Limits
		menus int
		want  int
	}{
		{Limits{}, 9, math.MaxInt}, {Limits{Buttons: 5}, 9, 5},
		{Limits{Rows: 5, InRow: 5}, 0, 25}, {Limits{Rows: 5, InRow: 5}, 4, 5}, {Limits{Rows: 5, InRow: 5}, 5, 0}, {Limits{Rows: 5, InRow: 5}, 6, 0},
		{Limits{Rows: 5, InRow: 5, Buttons: 7}, 2, 7}, {Limits{Rows: 2}, 1, math.MaxInt}, {Limits{Rows: 2}, 2, 0},
	} {
		if got := c.l.Room(c.menus); got != c.want {
			t.Errorf("%+v has room for %d buttons beside %d menus, want %d", c.l, got, c.menus, c.want)
		}
	}
}

func TestChecksNameTheLimit(t *testing.T) {
	l := Limits{Text: 5, Files: 1, Buttons: 2, Menus: 1, Rows: 2, InRow: 2, Options: 2, Fields: 1, Title: 4, Label: 4, Line: 4, Value: 4, Action: 4, File: 3}
	b, m := Button{Action: "a", Label: "A"}, Menu{Action: "m", Label: "M", Max: 1, Options: []Option{{Value: "v", Label: "V"}}}
	fd := Field{Key: "k", Label: "K"}
	for what, r := range map[string]Reply{
		"":                  {Text: "12345", Buttons: []Button{b, b}, Menus: []Menu{m}, Files: []File{{Data: []byte("123")}}, Form: &Form{Action: "f", Title: "F", Fields: []Field{fd}}},
		"the text":          {Text: "123456"},
		"buttons":           {Buttons: []Button{b, b, b}},
		"menus":             {Menus: []Menu{m, m}},
		"2 files":           {Files: []File{{}, {}}},
		"the file":          {Files: []File{{Data: []byte("1234")}}},
		"a button's label":  {Buttons: []Button{{Action: "a", Label: "12345"}}},
		"a button's action": {Buttons: []Button{{Action: "ééé", Label: "A"}}},
		"options":           {Menus: []Menu{{Options: options(3)}}},
		"an option's label": {Menus: []Menu{{Options: options(1)}}},
		"are chosen":        {Menus: []Menu{{Max: 1, Options: []Option{{Value: "a", Chosen: true}, {Value: "b", Chosen: true}}}}},
		"fields":            {Form: &Form{Fields: []Field{fd, fd}}},
		"the form's title":  {Form: &Form{Title: "12345"}},
		"a field's label":   {Form: &Form{Fields: []Field{{Label: "12345"}}}},
		"a field's value":   {Form: &Form{Fields: []Field{{Value: "12345"}}}},
		"a field's key":     {Form: &Form{Fields: []Field{{Key: "12345"}}}},
	} {
		err := l.CheckReply(r)
		if what == "" && err != nil || what != "" && (err == nil || !strings.Contains(err.Error(), what)) {
			t.Errorf("%q: %v", what, err)
		}
		if err := (Limits{}).CheckReply(r); err != nil && what != "are chosen" {
			t.Errorf("without limits %q: %v", what, err)
		}
	}
}

type fixed struct {
	Transport
	scheme string
}

func (f fixed) Scheme() string { return f.scheme }
func (f fixed) Limits() Limits { return Limits{Text: len(f.scheme)} }

func TestLimitsAreThoseOfTheTransport(t *testing.T) {
	ts := []Transport{fixed{scheme: "a"}, fixed{scheme: "bb"}}
	if got := LimitsOf(ts, Scheme(ThreadID("bb:7"))).Text; got != 2 {
		t.Errorf("the limits are another's: %d", got)
	}
	if got := LimitsOf(ts, Scheme(PersonID("gone:7"))).Text; got != Cautious.Text {
		t.Errorf("for a transport that isn't there the text may have %d", got)
	}
	if Within(0, 9) != 9 || Within(5, 9) != 5 || Within(5, 3) != 3 {
		t.Error("within a limit is not what it is")
	}
}
