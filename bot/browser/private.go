package browser

import (
	"slices"
	"sync"
	"time"

	"benchbell/bot/chat"
)

const (
	maxCards  = 6        // private answers shown in one place; older ones give way
	maxPlaces = 2000     // places remembered over all people
	maxHeld   = 64 << 20 // bytes of files and typed answers held in cards and drafts
)

// place is where a person is: in a thread or, with none, at the list.
type place struct {
	person chat.PersonID
	thread chat.ThreadID
}

// card is an answer that one person sees, with the form it opened and what has been typed into that so far.
type card struct {
	id      string
	origin  string // what it answers; the next answer to the same takes its place
	at      time.Time
	reply   chat.Reply
	refused string // what the person did wrong, in a sentence
	sorry   bool   // what failed isn't theirs to mend
}

// draft is what a person gave to a command that was refused.
type draft struct {
	values  map[string]string
	files   map[string]chat.File
	refused string
	sorry   bool
}

// chosen is what a person chose in a menu, as far as its message doesn't say it yet.
type chosen struct {
	waiting bool // picked is to be sent
	picked  []string
	sent    bool // taken was sent and accepted, when the message was of that version
	taken   []string
	version string
}

// cabinet holds cards, drafts and choices in memory, as private answers last no longer than the talk they belong to.
type cabinet struct {
	mu     sync.Mutex
	cards  map[place][]card
	drafts map[place]map[string]draft
	picks  map[place]map[[2]string]chosen // by message and action
	used   []place                        // least lately used first
}

func newCabinet() *cabinet {
	return &cabinet{cards: map[place][]card{}, drafts: map[place]map[string]draft{}, picks: map[place]map[[2]string]chosen{}}
}

// touch makes p the last used place and forgets others over the limits.
func (c *cabinet) touch(p place) {
	if i := slices.Index(c.used, p); i >= 0 {
		c.used = slices.Delete(c.used, i, i+1)
	}
	c.used = append(c.used, p)
	for len(c.used) > 1 && (len(c.used) > maxPlaces || c.held() > maxHeld) {
		delete(c.cards, c.used[0])
		delete(c.drafts, c.used[0])
		delete(c.picks, c.used[0])
		c.used = c.used[1:]
	}
}

func (c *cabinet) held() int {
	n := 0
	for _, cs := range c.cards {
		for _, k := range cs {
			n += size(k.reply.Files)
			if k.reply.Form != nil {
				n += size(k.reply.Form.Files)
				for _, f := range k.reply.Form.Fields {
					n += len(f.Value)
				}
			}
		}
	}
	for _, ds := range c.drafts {
		for _, dr := range ds {
			for _, f := range dr.files {
				n += len(f.Data)
			}
			for _, v := range dr.values {
				n += len(v)
			}
		}
	}
	return n
}

func size(fs []chat.File) int {
	n := 0
	for _, f := range fs {
		n += len(f.Data)
	}
	return n
}

// put adds the card, or replaces the one of the same id or origin, or with the same form. What was typed into that stands in
// the new one where it has nothing there.
func (c *cabinet) put(p place, k card) {
	c.mu.Lock()
	defer c.mu.Unlock()
	cs := slices.DeleteFunc(c.cards[p], func(o card) bool {
		same := o.id != k.id && o.reply.Form != nil && k.reply.Form != nil && o.reply.Form.Action == k.reply.Form.Action
		if same {
			k.reply.Form = filledFrom(k.reply.Form, o.reply.Form)
		}
		return same || o.id == k.id || o.origin == k.origin
	})
	cs = append(cs, k)
	if len(cs) > maxCards {
		cs = slices.Delete(cs, 0, len(cs)-maxCards)
	}
	c.cards[p] = cs
	c.touch(p)
}

// filledFrom is the form with its empty fields filled as those of the same key, or of their kin, in the other are.
func filledFrom(form, other *chat.Form) *chat.Form {
	out := *form
	out.Fields = slices.Clone(form.Fields)
	for i, f := range out.Fields {
		for _, key := range append([]string{f.Key}, f.Kin...) {
			if at := slices.IndexFunc(other.Fields, func(o chat.Field) bool { return o.Key == key }); at >= 0 && out.Fields[i].Value == "" {
				out.Fields[i].Value = other.Fields[at].Value
			}
		}
	}
	return &out
}

// fill writes values into the form of the card of that id; its place among the cards stays.
func (c *cabinet) fill(p place, id string, values func(chat.Field) string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	cs := slices.Clone(c.cards[p])
	for i, k := range cs {
		if k.id == id && k.reply.Form != nil {
			form := *k.reply.Form
			form.Fields = slices.Clone(form.Fields)
			for n, f := range form.Fields {
				form.Fields[n].Value = values(f)
			}
			cs[i].reply.Form = &form
		}
	}
	c.cards[p] = cs
	c.touch(p)
}

func (c *cabinet) drop(p place, id string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.cards[p] = slices.DeleteFunc(slices.Clone(c.cards[p]), func(o card) bool { return o.id == id })
}

func (c *cabinet) at(p place) []card {
	c.mu.Lock()
	defer c.mu.Unlock()
	return slices.Clone(c.cards[p])
}

func (c *cabinet) find(p place, id string) (card, bool) {
	for _, k := range c.at(p) {
		if k.id == id {
			return k, true
		}
	}
	return card{}, false
}

func (c *cabinet) draft(p place, command string) (draft, bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	dr, ok := c.drafts[p][command]
	return dr, ok
}

func (c *cabinet) keep(p place, command string, dr draft) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.drafts[p] == nil {
		c.drafts[p] = map[string]draft{}
	}
	c.drafts[p][command] = dr
	c.touch(p)
}

func (c *cabinet) forget(p place, command string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	delete(c.drafts[p], command)
}

func (c *cabinet) chosen(p place, on, action string) (chosen, bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	x, ok := c.picks[p][[2]string{on, action}]
	return x, ok
}

// choose keeps what is chosen and waits to be sent.
func (c *cabinet) choose(p place, on, action string, picked []string) {
	c.change(p, on, action, func(x *chosen) { x.waiting, x.picked = true, picked })
}

// unchoose forgets what waited to be sent.
func (c *cabinet) unchoose(p place, on, action string) {
	c.change(p, on, action, func(x *chosen) { x.waiting, x.picked = false, nil })
}

// taken keeps what was sent and accepted, until the message of that version is another.
func (c *cabinet) taken(p place, on message, action string, picked []string) {
	c.change(p, on.on, action, func(x *chosen) { *x = chosen{sent: true, taken: picked, version: on.version} })
}

func (c *cabinet) change(p place, on, action string, f func(*chosen)) {
	c.mu.Lock()
	defer c.mu.Unlock()
	key := [2]string{on, action}
	x := c.picks[p][key]
	f(&x)
	if !x.waiting && !x.sent {
		delete(c.picks[p], key)
		return
	}
	if c.picks[p] == nil {
		c.picks[p] = map[[2]string]chosen{}
	}
	c.picks[p][key] = x
	c.touch(p)
}
