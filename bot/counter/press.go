package counter

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/quote"
	"benchbell/quote/measure"
)

// pressed is a form of the page as it came in. It may be several acts: they have the form's one-time number, and are the same acts
// when it comes again.
type pressed struct {
	*Counter
	ctx  context.Context
	v    Visit
	f    url.Values
	id   string
	acts int
}

// press does what a form says, and leads to what is next. What refuses is kept, with what was typed, to be shown there.
func (c *Counter) press(w http.ResponseWriter, r *http.Request, v Visit) error {
	f := r.PostForm
	// What is begun is ended, even if the browser goes away meanwhile.
	p := &pressed{Counter: c, ctx: context.WithoutCancel(r.Context()), v: v, f: f, id: "counter " + digest(f)}
	do := f.Get("do")
	act, ok := presses[do]
	if !ok {
		return fmt.Errorf("%w: a form that does %q", ErrNone, do)
	}
	next, err := act(p)
	var told refused
	no, isNo := refusal(err)
	switch {
	case errors.As(err, &told):
	case isNo && stranger(no):
		return err
	case isNo:
		told.no = no
	case err != nil:
		return err
	}
	q := url.Values{}
	if err != nil {
		told.person, told.of, told.do, told.typed = string(v.Person.ID), v.Of, do, f
		q.Set("note", c.notes.keep(told.note))
		if next == "" {
			next = f.Get("at")
		}
	}
	if next != "" {
		q.Set("at", next)
	}
	to := v.Path
	if len(q) > 0 {
		to += "?" + q.Encode()
	}
	if err != nil {
		to += "#told"
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
	return nil
}

// stranger says that a refusal is of who asks, not of what.
func stranger(no *shop.Refusal) bool {
	return slices.Contains([]shop.Kind{shop.NoCommission, shop.NotYours, shop.OnlyThis, shop.OnlyStudio, shop.NotYourPart, shop.NotAMember}, no.Kind)
}

// digest is the same for the same form sent twice, and another once anything in it is: going back and sending something else is
// another act.
func digest(f url.Values) string {
	h := sha256.New()
	for _, key := range slices.Sorted(maps.Keys(f)) {
		for _, v := range f[key] {
			fmt.Fprintf(h, "%d:%s=%d:%s\n", len(key), key, len(v), v)
		}
	}
	return hex.EncodeToString(h.Sum(nil)[:16])
}

// do does one act of the form.
func (p *pressed) do(a shop.Act) (shop.Outcome, error) {
	p.acts++
	return p.o.Rules.Do(p.ctx, shop.Call{ID: fmt.Sprintf("%s %d", p.id, p.acts), Person: p.v.Person, Act: a})
}

// one does the only act of a form.
func (p *pressed) one(a shop.Act, next string) (string, error) {
	_, err := p.do(a)
	return next, err
}

func (p *pressed) number(field string) int {
	n, err := strconv.Atoi(strings.TrimSpace(p.f.Get(field)))
	if err != nil {
		return 0 // which is none of anything
	}
	return n
}

func (p *pressed) onRevision() shop.OfRevision {
	return shop.OfRevision{Of: p.v.of(), Revision: p.number("revision")}
}

func (p *pressed) onAppointment() shop.OfAppointment {
	return shop.OfAppointment{Of: p.v.of(), N: p.number("appointment")}
}

// Places of the page within a state, as its address has them.
const (
	atSets    = "sets"
	atMany    = "many"
	atFinish  = "finish"
	atDetails = "details"
	atBody    = "body"
	atChange  = "change"
)

// presses are what a form can do, by its name; each says where it leads.
var presses = map[string]func(*pressed) (string, error){
	"sets": func(p *pressed) (string, error) {
		_, err := p.do(shop.ChooseSets{Of: p.v.of(), Sets: p.f["set"], Offered: p.f["offered"]})
		if err != nil {
			return atSets, err
		}
		return atMany, nil
	},
	"many":    (*pressed).many,
	"finish":  (*pressed).finish,
	"details": (*pressed).details,
	"measure": func(p *pressed) (string, error) { return p.one(shop.Measure{Of: p.v.of()}, "") },
	"body":    func(p *pressed) (string, error) { return p.body(true) },
	"apart": func(p *pressed) (string, error) {
		// What is typed comes first, so that it is carried over.
		next, err := p.body(false)
		if no, isNo := refusal(err); isNo {
			return atBody, no
		}
		if _, no := p.do(shop.SetApart{Of: p.v.of()}); no != nil {
			return atBody, no
		}
		return cmp.Or(next, atBody), err
	},
	"estimate": (*pressed).estimate,
	"confirm":  func(p *pressed) (string, error) { return p.one(shop.Confirm{Of: p.v.of()}, "") },
	"approve": func(p *pressed) (string, error) {
		return p.one(shop.Approve{OfRevision: p.onRevision(), Date: p.f.Get("date")}, "")
	},
	"decline": func(p *pressed) (string, error) { return p.one(shop.Decline{OfRevision: p.onRevision()}, "") },
	"change":  (*pressed).change,
	"requote": func(p *pressed) (string, error) { return p.one(shop.Requote{OfRevision: p.onRevision()}, "") },
	"again":   func(p *pressed) (string, error) { return p.one(shop.TryAgain{Of: p.v.of()}, "") },
	"mend":    func(p *pressed) (string, error) { return p.one(shop.Mend{Of: p.v.of()}, "") },
	"cancel":  func(p *pressed) (string, error) { return p.one(shop.Cancel{Of: p.v.of()}, "") },
	"slot": func(p *pressed) (string, error) {
		at, err := time.Parse(time.RFC3339, p.f.Get("slot"))
		if err != nil {
			return "", refused{note{say: "pick one of the times"}}
		}
		return p.one(shop.PickSlot{OfAppointment: p.onAppointment(), At: at, Anyway: p.f.Get("anyway") != "", Seen: p.f.Get("seen")}, "")
	},
	"slots": func(p *pressed) (string, error) {
		o, err := p.do(shop.AskSlots{OfAppointment: p.onAppointment(), First: p.f.Get("first") != ""})
		if err != nil {
			return "", err
		}
		if offered, ok := o.(shop.SlotsOffered); ok && len(offered.Appointment.Slots) == 0 {
			return "", refused{note{say: "no other time can be offered just now; write to the studio what would suit you"}}
		} else if ok && offered.Later {
			return "later", nil
		}
		return "", nil
	},
	"how": func(p *pressed) (string, error) {
		return p.one(shop.ChooseHow{OfAppointment: p.onAppointment(), How: quote.How(p.f.Get("how")), Seen: p.f.Get("seen")}, "")
	},
}

// many says how many of each set, and for which side. What is as it was is not asked for.
func (p *pressed) many() (string, error) {
	o, err := p.sheet(p.ctx, p.v)
	if err != nil {
		return atMany, err
	}
	for _, it := range o.Items {
		if p.f.Has("count." + it.Set) {
			if n := p.number("count." + it.Set); n != it.Count {
				if _, err := p.do(shop.ChooseCount{Of: p.v.of(), Set: it.Set, Count: n}); err != nil {
					return atMany, err
				}
			}
		}
		if s := quote.Sides(p.f.Get("sides." + it.Set)); p.f.Has("sides."+it.Set) && s != it.Sides {
			if _, err := p.do(shop.ChooseSides{Of: p.v.of(), Set: it.Set, Sides: s}); err != nil {
				return atMany, err
			}
		}
	}
	return atFinish, nil
}

func (p *pressed) finish() (string, error) {
	if p.f.Get("finish") == "" {
		return atFinish, refused{note{say: "pick a finish"}}
	}
	_, err := p.do(shop.ChooseFinish{Of: p.v.of(), Finish: p.f.Get("finish")})
	if err != nil {
		return atFinish, err
	}
	return atDetails, nil
}

// details are kept as they are typed; what is not understood is asked for again, and nothing is begun before.
func (p *pressed) details() (string, error) {
	o, err := p.do(shop.GiveDetails{Of: p.v.of(), Wanted: p.f.Get("wanted"), Clothing: p.f.Get("clothing"), Allowance: p.f.Get("allowance"),
		Fittings: p.f.Get("fittings"), Notes: strings.ReplaceAll(p.f.Get("notes"), "\r\n", "\n")})
	if err != nil {
		return atDetails, err
	}
	if given, ok := o.(shop.DetailsGiven); ok && len(given.Problems) > 0 {
		return atDetails, refused{note{problems: given.Problems}}
	}
	if _, err := p.do(shop.Measure{Of: p.v.of()}); err != nil {
		return atDetails, err
	}
	return "", nil
}

// body takes the measurements typed, one by one or as a list; some says that there must be any.
func (p *pressed) body(some bool) (string, error) {
	b, err := see[shop.Body](p.ctx, p.Counter, p.v, shop.Measurements{Of: p.v.of()})
	if err != nil {
		return atBody, err
	}
	typed := map[string]string{}
	var want []measure.Def
	for _, x := range b.All {
		text := withUnit(p.f.Get("m."+x.Field()), p.f.Get("unit."+x.Field()))
		if text != "" && text != x.Typed {
			typed[x.Field()] = text
		}
		if !slices.ContainsFunc(want, func(d measure.Def) bool { return d.Key == x.Key }) {
			want = append(want, x.Def())
		}
	}
	listed, rest := measure.List(p.f.Get("list"), want)
	for _, l := range listed {
		for _, x := range b.All {
			if x.Key == l.Key && (l.Side == "" || x.Side == "" || l.Side == string(x.Side)) && typed[x.Field()] == "" {
				typed[x.Field()] = withUnit(l.Text, p.f.Get("unit.list"))
			}
		}
	}
	if len(typed) == 0 && len(rest) == 0 {
		if b.Complete() {
			return "", nil
		}
		if !some {
			return atBody, nil
		}
		return atBody, refused{note{say: "nothing new was typed; give the measurements that are missing"}}
	}
	if len(typed) > 0 {
		o, err := p.do(shop.GiveMeasurements{Of: p.v.of(), Typed: typed})
		if err != nil {
			return atBody, err
		}
		b, _ = o.(shop.Body)
	}
	if len(rest) > 0 {
		// What was read of the list is in its fields now; what was not stays where it was typed.
		told := refused{note{say: "of these lines it is not clear what they are; begin each with the name of a measurement below: " + strings.Join(rest, "; ")}}
		p.f.Set("list", strings.Join(rest, "\n"))
		for key := range p.f {
			if strings.HasPrefix(key, "m.") {
				p.f.Del(key)
			}
		}
		return atBody, told
	}
	if b.Complete() {
		return "", nil
	}
	return atBody, nil
}

// withUnit is a length as typed with the unit that stands beside it, where it has none of its own.
func withUnit(typed, unit string) string {
	typed = shop.OneLine(typed)
	if (unit == "in" || unit == "cm") && measure.Unitless(typed) {
		return typed + " " + unit
	}
	return typed
}

func (p *pressed) estimate() (string, error) {
	a := shop.Estimate{Of: p.v.of(), Height: withUnit(p.f.Get("height"), p.f.Get("unit.height")), Mass: p.f.Get("mass")}
	switch p.f.Get("adult") {
	case "yes", "no":
		yes := p.f.Get("adult") == "yes"
		a.Adult = &yes
	}
	o, err := p.do(a)
	if err != nil {
		return atBody, err
	}
	b, ok := o.(shop.Body)
	switch {
	case ok && len(b.Problems) > 0:
		return atBody, refused{note{problems: b.Problems, say: "some could not be estimated; measure these"}}
	case ok && b.Complete():
		return "", nil
	}
	return atBody, nil
}

// change asks for another quote: the sets as the form has them, the rest by field.
func (p *pressed) change() (string, error) {
	o, err := p.sheet(p.ctx, p.v)
	if err != nil {
		return atChange, err
	}
	a := shop.AskChange{OfRevision: p.onRevision(), Items: []quote.Item{}, Typed: map[string]string{
		shop.ChangeWhat: p.f.Get("what"), shop.ChangeFinish: p.f.Get("finish"), shop.ChangeWanted: p.f.Get("wanted"), shop.ChangeAgain: p.f.Get("again")}}
	for _, name := range p.f["set"] {
		it := quote.Item{Set: name, Count: 1}
		if i := slices.IndexFunc(o.Items, func(x quote.Item) bool { return x.Set == name }); i >= 0 {
			it = o.Items[i]
		}
		if p.f.Has("count." + name) {
			it.Count = p.number("count." + name)
		}
		if p.f.Has("sides." + name) {
			it.Sides = quote.Sides(p.f.Get("sides." + name))
		}
		a.Items = append(a.Items, it)
	}
	out, err := p.do(a)
	if err != nil {
		return atChange, err
	}
	if c, ok := out.(shop.ChangeAsked); ok && len(c.Problems) > 0 {
		return atChange, refused{note{problems: c.Problems}}
	}
	return "", nil
}

// canDecide are the states in which a quote is decided on.
func canDecide(s ledger.State) bool { return s == ledger.Quoted || s == ledger.Expired }
