package desk

import (
	"cmp"
	"context"
	"errors"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/quote"
	"benchbell/quote/geom"
	"benchbell/quote/measure"
)

// way is how one act of the shop comes and is answered.
type way struct {
	ways
	reads   bool // a question
	acts    reflect.Type
	outcome reflect.Type
	read    func(*reading) (shop.Act, error)
	reply   func(*answer, any) chat.Reply
}

// ways an act can come; several verbs are separated by blanks.
type ways struct {
	command, press, pick, form string
	menu                       string              // a menu whose options are presses of this act
	files                      bool                // files alone, or with words
	words                      bool                // words in a commission's thread
	when                       func(*reading) bool // which of several acts with the same verb it is; the first that is
}

// act is the way of an act of the shop.
func act[A, O any](w ways, read func(*reading) (A, error), reply func(*answer, O) chat.Reply) way {
	return way{ways: w, acts: reflect.TypeFor[A](), outcome: reflect.TypeFor[O](),
		read:  func(r *reading) (shop.Act, error) { return read(r) },
		reply: func(a *answer, o any) chat.Reply { return reply(a, o.(O)) }}
}

// look is the way of a question to the shop.
func look[Q, F any](w ways, read func(*reading) (Q, error), reply func(*answer, F) chat.Reply) way {
	x := act(w, read, reply)
	x.reads = true
	return x
}

// reading is something that a person did, being read as an act.
type reading struct {
	ctx  context.Context
	d    *Desk
	in   chat.Incoming
	path []string // the action's parts: "approve", "C0007", "2"
	bad  error    // what of and its like could not read
}

// act finds the way that something came and reads the act.
func (r *reading) act() (*way, shop.Act, error) {
	in := r.in
	verb := func(verbs string) bool { return slices.Contains(strings.Fields(verbs), r.path[0]) }
	var is func(w ways) bool
	var unknown error
	switch {
	case in.Command != "":
		r.path = []string{cmp.Or(earlierNames[in.Command], in.Command)}
		is = func(w ways) bool { return verb(w.command) }
		unknown = refuse("there is no command %q; start with “commission”, or use “where”", in.Command)
	case in.Press != "":
		r.path = strings.Split(in.Press, "/")
		is = func(w ways) bool { return verb(w.press) }
		unknown = refuse("this button no longer works; use “where” to see what can be done now")
	case in.Pick != "" && menuRefusals[menuOf(in.Pick)] != "":
		menu := menuOf(in.Pick)
		unknown = refuse("%s", menuRefusals[menu])
		if len(in.Picked) != 1 {
			return nil, nil, unknown
		}
		r.path = strings.Split(in.Picked[0], "/")
		is = func(w ways) bool { return w.menu == menu && verb(w.press) }
	case in.Pick != "":
		r.path = strings.Split(in.Pick, "/")
		is = func(w ways) bool { return verb(w.pick) }
		unknown = refuse("this menu no longer works; use “where” to see what can be done now")
	case in.Form != "":
		r.path = strings.Split(in.Form, "/")
		is = func(w ways) bool { return verb(w.form) }
		unknown = refuse("this form no longer works; use “where” to see what can be done now")
	case in.Said != "" && len(in.Files) == 0:
		is = func(w ways) bool { return w.words }
	case len(in.Files) > 0:
		is = func(w ways) bool { return w.files }
	default:
		return nil, nil, refuse("nothing was asked; start with “commission”")
	}
	for i := range acts {
		if w := &acts[i]; is(w.ways) && (w.when == nil || w.when(r)) {
			a, err := w.read(r)
			return w, a, err
		}
	}
	return nil, nil, unknown
}

// earlierNames are what commands were called before, which a client that was loaded then may still send.
var earlierNames = map[string]string{"whatif": "what-if"}

// menuRefusals is what is said to those who pick from a menu what it does not have.
var menuRefusals = map[string]string{benchMenu: "pick one operation", planMenu: "pick one commission", ordersMenu: "pick one commission",
	correctMenu: "pick the measurements to correct", slotsMenu: "pick one time", peopleMenu: "pick one person", sessionsMenu: "pick one device"}

// Menus for what buttons have no room for.
const (
	benchMenu   = "bench"
	planMenu    = "shop"
	ordersMenu  = "orders"
	correctMenu = "pages"
	slotsMenu   = "times"
)

// menuOf is the menu that an action is of, "bench" for "bench/2" too, which is its second page.
func menuOf(action string) string {
	menu, _, _ := strings.Cut(action, "/")
	return menu
}

// limits are those of the transport that the person acts on.
func (r *reading) limits() chat.Limits {
	return chat.LimitsOf(r.d.cfg.Transports, chat.Scheme(r.in.Person.ID))
}

// from is the first measurement of a page, as forms of the person's transport hold them: "correct/C0007/2". Where a form
// holds any number, every page is all of them.
func (r *reading) from() int { return (max(r.number(2), 1) - 1) * r.limits().Fields }

// offered are the sets that a page of a menu had: "sets/C0007/2/cuff/helm" is the second, from the cuff to the helm. It is nil
// for a menu that had all.
func (r *reading) offered() []string {
	if len(r.path) < 3 {
		return nil
	}
	out := []string{} // of an action without its sets none is known, and none is taken off
	if len(r.path) < 5 {
		return out
	}
	first, last := r.d.titleOf(r.path[3]), r.d.titleOf(r.path[4])
	for _, s := range r.d.shop.Known() {
		if first <= s.Title && s.Title <= last {
			out = append(out, s.Name)
		}
	}
	return out
}

// value of a command's option.
func (r *reading) value(key string) string { return strings.TrimSpace(r.in.Values[key]) }

// part is the n-th part of the action; empty where it has none.
func (r *reading) part(n int) string {
	if n >= len(r.path) {
		return ""
	}
	return r.path[n]
}

// number is the n-th part of the action as a number; -1 where it is none.
func (r *reading) number(n int) int {
	if n >= len(r.path) {
		return -1
	}
	v, err := strconv.Atoi(r.path[n])
	if err != nil {
		return -1
	}
	return v
}

// one is the one thing picked.
func (r *reading) one(else_ string) (string, error) {
	if len(r.in.Picked) != 1 {
		return "", refuse("%s", else_)
	}
	return r.in.Picked[0], nil
}

// commission that an action or a command is about; the latter names it, or is given in its thread.
func (r *reading) commission() (shop.Of, error) {
	if r.in.Command == "" && len(r.path) > 0 {
		if len(r.path) < 2 {
			return shop.Of{}, refuse("this button no longer works; use “where” to see what can be done now")
		}
		return shop.On(quote.CommissionID(r.path[1])), nil
	}
	if n := strings.ToUpper(r.value("number")); n != "" {
		return shop.On(quote.CommissionID(n)), nil
	}
	id, err := r.d.shop.CommissionOf(r.ctx, r.in.Thread)
	if errors.Is(err, ledger.ErrNone) && r.in.Person.Only != "" {
		return shop.On(quote.CommissionID(r.in.Person.Only)), nil
	}
	if errors.Is(err, ledger.ErrNone) {
		if r.in.Command == "" {
			return shop.Of{}, refuse("this thread belongs to no commission; send reference pictures in your commission's thread")
		}
		return shop.Of{}, refuse("say which commission, such as C0007, or ask in its thread")
	}
	return shop.On(id), err
}

// of is commission for the rows of the table; err says afterwards what could not be read.
func (r *reading) of() shop.Of {
	of, err := r.commission()
	r.bad = err
	return of
}

func (r *reading) err() error { return r.bad }

// inThread reports whether a commission is named or the thread has one.
func inThread(r *reading) bool {
	if r.value("number") != "" || r.in.Person.Only != "" {
		return true
	}
	_, err := r.d.shop.CommissionOf(r.ctx, r.in.Thread)
	return !errors.Is(err, ledger.ErrNone)
}

// ofRevision is the revision of a quote that an action is about: "approve/C0007/2".
func (r *reading) ofRevision() shop.OfRevision {
	return shop.OfRevision{Of: r.of(), Revision: r.number(2)}
}

// ofOperation is the operation that an action is about: "done/C0007/3".
func (r *reading) ofOperation() shop.OfOperation {
	return shop.OfOperation{Of: r.of(), Operation: r.number(2)}
}

// item is the set that a menu is about and what was picked: "count/C0007/cuff", or "count/C0007/cuff/2" for its second page.
func (r *reading) item() (of shop.Of, set, one string, err error) {
	if len(r.path) != 3 && len(r.path) != 4 {
		return of, "", "", refuse("this menu no longer works; use “where” to see what can be done now")
	}
	if of, err = r.commission(); err != nil {
		return of, "", "", err
	}
	one, err = r.one("pick one")
	return of, r.path[2], one, err
}

// splitNumbers takes the numbers of commissions apart, each once: "C0007 C0009" or "c0007, c0009".
func splitNumbers(numbers string) []quote.CommissionID {
	var out []quote.CommissionID
	for _, n := range strings.FieldsFunc(strings.ToUpper(numbers), func(r rune) bool { return strings.ContainsRune(" \t\n,;+&", r) }) {
		if id := quote.CommissionID(n); !slices.Contains(out, id) {
			out = append(out, id)
		}
	}
	slices.Sort(out)
	return out
}

// adultKey is the field that asks whether the wearer is an adult; what is written there is not kept.
const adultKey = "adult"

// adult reads whether the wearer is one; nil where it is not said.
func adult(typed string) *bool {
	var yes bool
	switch strings.ToLower(strings.Trim(shop.OneLine(typed), ". ")) {
	case "yes", "y", "adult":
		yes = true
	case "no", "n", "child":
	default:
		return nil
	}
	return &yes
}

func rackByHand(r *reading) (a shop.RackOffcut, err error) {
	thickness, size := r.value("thickness"), r.value("size")
	if thickness == "" || size == "" {
		return a, refuse("give the offcut's thickness and its size, such as 5 mm and 40 × 30 cm")
	}
	if a.Thickness, err = measure.Parse(thickness, measure.MM); err != nil {
		return a, refuse("the thickness could not be read: %s", err)
	}
	a.Width, a.Height, err = parseSize(size)
	return a, err
}

var times = regexp.MustCompile(`(?i)\s*(?:×|\*|x|\bby\b)\s*`)

// parseSize reads "400 × 300 mm", "40 cm x 30 cm", "12 1/2 by 10 in". A bare number has the unit of the one after it; without
// any unit, millimetres.
func parseSize(text string) (width, height geom.MM, err error) {
	parts := times.Split(text, -1)
	if len(parts) != 2 {
		return 0, 0, refuse("%q is not a size; write width × height, such as 40 × 30 cm", text)
	}
	if height, err = measure.Parse(parts[1], measure.MM); err != nil {
		return 0, 0, refuse("the size could not be read: %s", err)
	}
	width, err = measure.Parse(parts[0], measure.NoUnit)
	var bare *measure.MissingUnit
	if errors.As(err, &bare) {
		unit := strings.TrimLeft(parts[1], "0123456789.,/½¼¾⅛⅜⅝⅞- ")
		width, err = measure.Parse(parts[0]+" "+unit, measure.MM)
	}
	if err != nil {
		return 0, 0, refuse("the size could not be read: %s", err)
	}
	return width, height, nil
}
