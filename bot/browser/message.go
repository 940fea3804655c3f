package browser

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"benchbell/bot/chat"
)

// A message, be it a post or a private answer, is one form on the page: what its menus hold goes along with whichever of
// its buttons is pressed. An answer that was chosen and not sent is then sent before the press, as an act of its own; what
// would do something by itself stays on the page unsent.

// message is what a post or a private answer offers.
type message struct {
	on      string // names it within its place: "post C0007/card", "card x7"
	version string // changes with its content
	buttons []chat.Button
	menus   []chat.Menu
}

func (m message) menu(action string) (chat.Menu, bool) {
	i := slices.IndexFunc(m.menus, func(x chat.Menu) bool { return x.Action == action })
	if i < 0 {
		return chat.Menu{}, false
	}
	return m.menus[i], true
}

// grave reports whether the button is hard to take back. What was chosen beside such a one isn't wanted any more.
func (m message) grave(action string) bool {
	return slices.ContainsFunc(m.buttons, func(b chat.Button) bool { return b.Action == action && b.Tone == chat.Grave })
}

func postMessage(k Stored) message {
	return message{on: "post " + k.Post.Key, version: fmt.Sprint(k.Edited.UnixMilli()), buttons: k.Post.Buttons, menus: k.Post.Menus}
}

func cardMessage(k card) message {
	return message{on: "card " + k.id, version: fmt.Sprint(k.at.UnixMilli()), buttons: k.reply.Buttons, menus: k.reply.Menus}
}

// shown are the messages that the place shows now, newest first: private answers, then posts.
func (d *Desk) shown(ctx context.Context, at place) ([]message, error) {
	var out []message
	for _, k := range slices.Backward(d.cards.at(at)) {
		out = append(out, cardMessage(k))
	}
	if at.thread == "" {
		return out, nil
	}
	ps, err := d.o.Store.Posts(ctx, at.thread)
	if err != nil {
		return nil, fmt.Errorf("posts of thread %q: %w", at.thread, err)
	}
	for _, k := range slices.Backward(ps) {
		out = append(out, postMessage(k))
	}
	return out, nil
}

// choice is what a menu of a form held.
type choice struct {
	action string
	picked []string
	was    []string // as the page showed it chosen
}

func (c choice) changed() bool { return !sameValues(c.picked, c.was) }

func sameValues(a, b []string) bool {
	return slices.Equal(slices.Sorted(slices.Values(a)), slices.Sorted(slices.Values(b)))
}

// choices reads the menus of a message's form, in their order.
func choices(v url.Values) []choice {
	var out []choice
	for _, action := range v["menu"] {
		c := choice{action: action, was: v["was."+action]}
		for _, p := range v["pick."+action] {
			if p != "" {
				c.picked = append(c.picked, p)
			}
		}
		out = append(out, c)
	}
	return out
}

// onMessage carries out a press or a pick on a message, after the answers chosen beside it, and returns the address that
// shows what came of it; empty: what was asked isn't understood.
func (d *Desk) onMessage(r *http.Request, s seat, p posted) string {
	verb, action, _ := strings.Cut(r.PostForm.Get("do"), " ")
	if action == "" {
		return ""
	}
	p.kind, p.name = verb, action
	all, err := d.shown(r.Context(), p.place)
	if err != nil {
		d.fault(r.Context(), "what a page shows can't be read", "thread", p.place.thread, "err", err)
		return threadPath(s, p.place.thread) + d.refuse(p, sorryText, true)
	}
	on := message{on: r.PostForm.Get("on")}
	if i := slices.IndexFunc(all, func(m message) bool { return m.on == on.on }); i >= 0 {
		on = all[i]
	}
	var first []posted
	pressed := false
	for _, c := range choices(r.PostForm) {
		d.hold(p.place, on, c)
		own := verb == kindPick && c.action == action
		m, known := on.menu(c.action)
		if !own && !(c.changed() && known && m.Answers() && !(verb == kindPress && on.grave(action))) {
			continue
		}
		x := p
		x.kind, x.name, x.on = kindPick, c.action, on
		x.in.Pick, x.in.Picked = c.action, c.picked
		x.refuse(unoffered(all, on, c))
		if own {
			p, pressed = x, true
			continue
		}
		first = append(first, x)
	}
	switch verb {
	case kindPress:
		p.in.Press, p.on = action, on
	case kindPick:
		if !pressed {
			return ""
		}
	default:
		return ""
	}
	once := r.PostForm.Get("act")
	for _, x := range first {
		x.in.ID = actID(s, once, x)
		// The same press beside other choices is another act.
		p.beside = append(p.beside, x.in.ID)
		to, ok := d.carryOut(r.Context(), s, x)
		if !ok {
			return to
		}
	}
	p.in.ID = actID(s, once, p)
	to, _ := d.carryOut(r.Context(), s, p)
	return to
}

// unoffered says why a choice can't be made; empty: it can. Any message that shows a menu of the action with these options
// offers it, the one chosen on first. Where none has the menu, the desk has forgotten it, and the handler is asked.
func unoffered(all []message, on message, c choice) string {
	say, none := "", true
	for _, m := range append([]message{on}, all...) {
		menu, ok := m.menu(c.action)
		if !ok {
			continue
		}
		no := refusedBy(menu, c.picked)
		if no == "" {
			return ""
		}
		if none {
			say, none = no, false
		}
	}
	if none && len(c.picked) > maxForgotten {
		return "so many choices can't be taken; load the page again and choose there"
	}
	return say
}

func refusedBy(m chat.Menu, picked []string) string {
	for _, v := range picked {
		if !slices.ContainsFunc(m.Options, func(o chat.Option) bool { return o.Value == v }) {
			return "that choice is no longer offered; choose from the menu as it is now"
		}
	}
	low, high := m.Min, max(m.Max, 1)
	switch n := len(picked); {
	case n >= low && n <= high:
		return ""
	case low == high:
		return fmt.Sprintf("choose %d from the menu", low)
	case high >= len(m.Options):
		return fmt.Sprintf("choose at least %d from the menu", low)
	}
	return fmt.Sprintf("choose %d to %d from the menu", low, high)
}

// hold keeps what a menu of a message holds until it is sent, so that it is shown again.
func (d *Desk) hold(at place, on message, c choice) {
	m, ok := on.menu(c.action)
	if !ok {
		return
	}
	if !c.changed() {
		d.cards.unchoose(at, on.on, c.action)
		return
	}
	var picked []string
	for _, o := range m.Options { // no more than there is
		if slices.Contains(c.picked, o.Value) {
			picked = append(picked, o.Value)
		}
	}
	d.cards.choose(at, on.on, c.action, picked)
}

// menuView is a menu with the options chosen that the person sees chosen.
type menuView struct {
	chat.Menu
	Was    []string // what counts as chosen already
	Unsent bool     // the person has chosen otherwise, and not sent it
	Long   bool     // folded up once something is chosen
	Open   bool
	Sum    string // what is chosen, for a long menu
}

// longMenu is how many ticks are too many to be shown all the time on a phone.
const longMenu = 10

// viewMenus lays what the person chose over what the message says is chosen: what was sent holds until the message says
// more, what wasn't sent holds until it is.
func (d *Desk) viewMenus(at place, on message) []menuView {
	var out []menuView
	for _, m := range on.menus {
		v := menuView{Menu: m, Was: m.Chosen()}
		if c, ok := d.cards.chosen(at, on.on, m.Action); ok {
			if c.sent && c.version == on.version {
				v.Was = c.taken
			}
			shown := v.Was
			if c.waiting {
				shown = c.picked
				v.Unsent = !sameValues(shown, v.Was)
			}
			v.Options = slices.Clone(m.Options)
			for i, o := range v.Options {
				v.Options[i].Chosen = slices.Contains(shown, o.Value)
			}
		}
		if v.Long = m.Max > 1 && len(m.Options) > longMenu; v.Long {
			v.Sum = sum(v.Options)
			v.Open = v.Unsent || len(v.Chosen()) == 0
		}
		out = append(out, v)
	}
	return out
}

// sum says what is chosen of the options, in a line.
func sum(options []chat.Option) string {
	var names []string
	for _, o := range options {
		if o.Chosen {
			names = append(names, o.Label)
		}
	}
	if len(names) == 0 {
		return fmt.Sprintf("None of %d chosen", len(options))
	}
	return fmt.Sprintf("%d of %d chosen: %s", len(names), len(options), strings.Join(names, ", "))
}
