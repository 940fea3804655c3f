package counter_test

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/counter"
	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/quote"
	"benchbell/quote/price"
)

func wants(t *testing.T, page string, all ...string) {
	t.Helper()
	for _, x := range all {
		if !strings.Contains(strings.ToLower(page), strings.ToLower(x)) { // sentences begin small, and are shown with a capital
			t.Errorf("the page does not say %q: %s", x, page)
		}
	}
}

// A client goes from the first choice to the approved quote, with the page alone.
func TestFromTheFirstChoiceToApproval(t *testing.T) {
	h := newHouse(t)
	p := h.sit("client", "Nils")
	id := h.open(p)

	wants(t, p.page(id), "What shall we make?", "Forearm cuff", "Messages")
	wants(t, p.press("sets", nil), "Pick at least one set", "What shall we make?")
	wants(t, p.press("sets", url.Values{"set": {"forearm-cuff", "short-sword"}}), "How many?", "Forearm cuff", "left only")
	wants(t, p.press("many", url.Values{"count.forearm-cuff": {"2"}, "sides.forearm-cuff": {"left"}}),
		"Which finish?", "Forearm cuff: 2 left", "primer", "clear coat")
	if got := h.items(id); !slices.Contains(got, quote.Item{Set: "forearm-cuff", Count: 2, Sides: quote.OneLeft}) || !slices.Contains(got, quote.Item{Set: "short-sword", Count: 1}) {
		t.Errorf("ordered are %v", got)
	}
	wants(t, p.press("finish", url.Values{"finish": {""}}), "Pick a finish")
	wants(t, p.press("finish", url.Values{"finish": {studio().Finishes[1].Key}}), "Anything else?", studio().Finishes[1].Title)
	said := p.press("details", url.Values{"wanted": {"the day after"}, "clothing": {"thick"}, "notes": {"bronze,\nworn"}})
	wants(t, said, "Anything else?", "is not a thickness")
	if f := p.form("details"); f.Get("wanted") != "the day after" || f.Get("clothing") != "thick" || f.Get("notes") != "bronze,\nworn" {
		t.Errorf("what was typed is lost: %v", f)
	}
	wants(t, p.press("details", url.Values{"wanted": {"1 March 2027"}, "clothing": {"3 mm"}}), "Your measurements", "0 of 3 given", "Lay the tape")
	if c := h.commission(id); c.Notes != "bronze,\nworn" || c.Wanted != "2027-03-01" || c.State != ledger.Measuring {
		t.Errorf("the commission is %+v", c)
	}
	wants(t, p.press("body", body), "Is this right?", "17 cm", "Forearm cuff: 2 left", "This is right: quote it")
	wants(t, p.press("confirm", nil), "Your quote is being worked out", "Pieces laid out on foam")
	h.answer(id)
	said = p.page(id)
	wants(t, said, "Your quote", "Ready by", "times in 10", "The date is held for you until",
		"First fitting", "The quote as a PDF", "What the price is made of", "Terms", "Deposit, to begin")
	if strings.Contains(said, "hours") { // how long it is worked on is not the client's
		t.Errorf("the client is told hours: %s", said)
	}
	pdf := p.get(p.base+"order/"+string(id)+"/quote/1.pdf", http.StatusOK)
	if !strings.HasPrefix(pdf, "%PDF") {
		t.Error("the quote is no PDF")
	}
	wants(t, p.press("approve", nil), "Approved", "The studio waits for the deposit")
	if c := h.commission(id); c.State != ledger.Approved {
		t.Errorf("it is %s", c.State)
	}
	h.do(boss, shop.Pay{Of: shop.On(id)})
	wants(t, p.page(id), "Your work is in the plan", "0 of ", "First fitting", "Promised for", "Deposit, paid")
}

// A press that comes twice is one act, and a form that was changed and sent again is another.
func TestSentTwice(t *testing.T) {
	h := newHouse(t)
	p := h.sit("client", "Nils")
	id := h.open(p)
	p.page(id)
	v, to := p.form("sets"), p.base+"order/"+string(id)
	v["set"] = []string{"forearm-cuff"}
	for range 2 {
		p.post(to, v, http.StatusSeeOther)
	}
	if n := h.count(id, "sets chosen"); n != 1 {
		t.Errorf("chosen %d times", n)
	}
	v["set"] = []string{"short-sword"} // gone back
	p.post(to, v, http.StatusSeeOther)
	if got := h.items(id); len(got) != 1 || got[0].Set != "short-sword" {
		t.Errorf("ordered are %v", got)
	}
}

// A measurement is checked by field; what is not understood stands in its field with what would be right, and nothing is lost.
func TestMeasuring(t *testing.T) {
	h := newHouse(t)
	p := h.sit("client", "Nils")
	id := h.open(p)
	p.page(id)
	p.press("sets", url.Values{"set": {"forearm-cuff"}})
	p.press("many", nil)
	p.press("finish", url.Values{"finish": {studio().Finishes[0].Key}})
	p.press("details", nil)

	wants(t, p.press("body", nil), "nothing new was typed")
	p.press("apart", nil) // with nothing typed, which is nothing wrong
	if told := p.part("told"); told != "" {
		t.Errorf("it is told %q", told)
	}
	wants(t, p.press("apart", nil), "0 of 3 given")

	said := p.press("body", url.Values{"m.wrist-girth": {"6 3/4"}, "unit.wrist-girth": {"in"}, "m.forearm-girth": {"27 bananas"}})
	wants(t, said, "1 of 3 given", "17.1 cm")
	if strings.Contains(said, "Unusual") {
		t.Errorf("a usual measurement is called unusual: %s", said)
	}
	wants(t, p.part("m-forearm-girth-says"), "bananas")
	f := p.form("body")
	if f.Get("m.wrist-girth") != "6 3/4" || f.Get("unit.wrist-girth") != "in" || f.Get("m.forearm-girth") != "27 bananas" {
		t.Errorf("what was typed is lost: %v", f)
	}

	// The enter key presses the first button of a form.
	first := ""
	walk(p.doc, func(n *node) bool {
		if n.name == "button" && first == "" {
			first = n.attr["value"]
		}
		return true
	})
	if first != "body" {
		t.Errorf("the enter key would do %q", first)
	}

	// Left and right: what is typed and not sent yet comes along.
	said = p.press("apart", url.Values{"m.forearm-girth": {"27"}})
	wants(t, said, "Left and right are the same", "Wrist girth, left", "Wrist girth, right", "0 of 6 given")
	f = p.form("body")
	if f.Get("m.wrist-girth/left") != "6 3/4" || f.Get("unit.wrist-girth/right") != "in" || f.Get("m.forearm-girth/right") != "27" {
		t.Errorf("what was given for both sides is not in the fields: %v", f)
	}
	said = p.press("body", url.Values{"m.wrist-girth/left": {"17,2 cm"}, "m.wrist-girth/right": {"17"}, "unit.wrist-girth/right": {"cm"}})
	wants(t, said, "2 of 6 given")
	said = p.press("body", url.Values{"m.wrist-girth/left": {""}, "m.wrist-girth/right": {""}, "m.forearm-girth/left": {""},
		"m.forearm-girth/right": {""}, "list": {"left forearm 27\nforearm right: 27,5 cm\ndog 40"}})
	wants(t, said, "dog 40", "4 of 6 given")
	if f := p.form("body"); f.Get("list") != "dog 40" || f.Get("m.forearm-girth/right") != "27,5" {
		t.Errorf("the list is read as %v", f)
	}
	wants(t, p.press("body", url.Values{"list": {"elbow to wrist = 26"}, "unit.list": {"cm"}}), "Is this right?", "Forearm girth, right", "27.5 cm")

	// Correcting leads back to the check.
	wants(t, p.open(p.base+"order/"+string(id)+"?at=body"), "6 of 6 given")
	wants(t, p.press("body", url.Values{"m.wrist-girth/left": {"18"}}), "Is this right?", "18 cm")

	// What is unusual next to the others is said where it is checked, and asks for more than a yes.
	p.open(p.base + "order/" + string(id) + "?at=body")
	wants(t, p.press("body", url.Values{"m.wrist-girth/left": {"23"}}), "Unusual, please check", "I measured again; this is right")
}

func TestEstimate(t *testing.T) {
	h := newHouse(t)
	p := h.sit("client", "Nils")
	id := h.open(p)
	p.page(id)
	p.press("sets", url.Values{"set": {"forearm-cuff"}})
	p.press("many", nil)
	p.press("finish", url.Values{"finish": {studio().Finishes[0].Key}})
	p.press("details", nil)
	said := p.press("estimate", url.Values{"height": {"174"}, "mass": {"70 kg"}})
	wants(t, said, "Say whether the wearer is an adult")
	if f := p.form("estimate"); f.Get("height") != "174" || f.Get("mass") != "70 kg" {
		t.Errorf("what was typed is lost: %v", f)
	}
	wants(t, p.press("estimate", url.Values{"adult": {"no"}}), "Nothing is estimated for children")
	wants(t, p.press("estimate", url.Values{"adult": {"yes"}, "height": {"174"}, "mass": {"70 kg"}}), "Is this right?", "estimated: about", "give or take")
}

// A length is read as it is typed, and nothing is kept of it.
func TestCheckAsTyped(t *testing.T) {
	h := newHouse(t)
	p := h.sit("client", "Nils")
	id := h.open(p)
	at := p.base + "order/" + string(id) + "/check?"
	for _, c := range []struct{ key, typed, unit, want string }{
		{"wrist-girth", "17", "cm", `"good":true,"says":"17 cm`}, {"wrist-girth", "6 3/4", "in", `"good":true,"says":"17.1 cm`},
		{"wrist-girth", "17", "in", `"says":"`},
		{"wrist-girth", "x", "cm", `"good":false`}, {"wrist-girth", "3", "cm", `"good":false`},
	} {
		got := p.get(at+url.Values{"key": {c.key}, "typed": {c.typed}, "unit": {c.unit}}.Encode(), http.StatusOK)
		if !strings.Contains(got, c.want) {
			t.Errorf("%v: %s", c, got)
		}
	}
	p.get(at+"key=none&typed=17", http.StatusNotFound)
}

// Whoever asks for a page that is not theirs is told the same as of one that is not there, and not whose it is.
func TestOthersPages(t *testing.T) {
	h := newHouse(t)
	nils, rosa := h.sit("client", "Nils"), h.sit("client", "Rosa")
	id := h.open(nils)
	studio := h.sit("studio", "")
	none := rosa.get(rosa.base+"order/C0999", http.StatusNotFound)
	for _, p := range []*person{rosa, studio} {
		for _, part := range []string{"", "/set/forearm-cuff.png", "/how/wrist-girth.png", "/photo/1", "/quote/1.pdf", "/check?key=wrist-girth&typed=1", "/none"} {
			got := p.get(p.base+"order/"+string(id)+part, http.StatusNotFound)
			if got != none || strings.Contains(got, "Nils") {
				t.Errorf("%s%s says %s", p.base, part, got)
			}
		}
		nils.page(id)
		v := nils.form("sets")
		v["set"] = []string{"forearm-cuff"}
		p.post(p.base+"order/"+string(id), v, http.StatusNotFound)
	}
	if n := len(h.items(id)); n != 0 {
		t.Errorf("somebody else ordered %d sets", n)
	}
	// A part that is theirs, of what is not there.
	for _, part := range []string{"/set/none.png", "/photo/1", "/quote/1.pdf", "/none"} {
		want := http.StatusNotFound
		if part == "/set/none.png" { // no set of that name
			want = http.StatusNotFound
		}
		nils.get(nils.base+"order/"+string(id)+part, want)
	}
	// Without the token nothing reaches the page.
	nils.page(id)
	v := nils.form("sets")
	v.Set("token", "none")
	nils.post(nils.base+"order/"+string(id), v, http.StatusForbidden)
}

// A quote is changed on the page: a set goes, another comes with its number and sides, and the finish is from a list. What was
// measured stays; what the new set wants is asked for.
func TestChangingAQuote(t *testing.T) {
	h := newHouse(t)
	p := h.sit("client", "Nils")
	id := p.quoted()
	path := p.base + "order/" + string(id)
	wants(t, p.open(path+"?at=change"), "What should change?", "A change gives up", "Add a set", "Short sword")
	wants(t, p.press("change", nil), "Nothing in it differs")
	wants(t, p.press("change", url.Values{"wanted": {"someday"}, "what": {"darker"}}), "What should change?", "someday")
	if f := p.form("change"); f.Get("wanted") != "someday" || f.Get("what") != "darker" {
		t.Errorf("what was typed is lost: %v", f)
	}
	wants(t, p.press("change", url.Values{"set": {}, "wanted": {""}}), "Pick at least one set")
	said := p.press("change", url.Values{"set": {"short-sword"}, "finish": {studio().Finishes[1].Key}, "wanted": {""}, "what": {""}})
	wants(t, said, "Your quote is being worked out", "Short sword: 1")
	if got, c := h.items(id), h.commission(id); len(got) != 1 || got[0].Set != "short-sword" || c.Finish != studio().Finishes[1].Key || c.Revision != 2 {
		t.Errorf("ordered are %v, finish %s, revision %d", got, c.Finish, c.Revision)
	}
	h.answer(id)
	wants(t, p.page(id), "What is different", "with Short sword: 1", "without Forearm cuff: 1 pair", "less than before")

	p.open(path + "?at=change")
	said = p.press("change", url.Values{"set": {"short-sword", "knee-cup"}, "count.short-sword": {"2"}})
	wants(t, said, "Your measurements", "Knee girth")
	if got := h.items(id); !slices.Contains(got, quote.Item{Set: "short-sword", Count: 2}) || !slices.Contains(got, quote.Item{Set: "knee-cup", Count: 1, Sides: quote.Pair}) {
		t.Errorf("ordered are %v", got)
	}
	if strings.Contains(said, "Wrist girth") || h.commission(id).State != ledger.Measuring {
		t.Errorf("it is %s: %s", h.commission(id).State, said)
	}
}

func TestQuoteDeclinedAndRunOut(t *testing.T) {
	h := newHouse(t)
	p := h.sit("client", "Nils")
	id := p.quoted()
	old := p.form("approve")
	h.wait(25 * 24 * time.Hour)
	wants(t, p.page(id), "Your quote has run out", "Quote again")
	to := p.post(p.base+"order/"+string(id), old, http.StatusSeeOther)
	wants(t, p.open(to), "The quote was valid until", "today's price")
	wants(t, p.press("requote", nil), "Your quote is being worked out")
	h.answer(id)
	p.page(id)
	said := p.press("decline", nil)
	wants(t, said, "You declined the quote")
	for _, no := range []string{"Promised for", "When you get it"} {
		if strings.Contains(said, no) {
			t.Errorf("declined, it still says %q: %s", no, said)
		}
	}
	if c := h.commission(id); c.State != ledger.Declined {
		t.Errorf("it is %s", c.State)
	}
}

// A date that is held no longer is shown as it is now, before anything is approved.
func TestDateHeldNoLonger(t *testing.T) {
	h := newHouse(t)
	p := h.sit("client", "Nils")
	id := p.quoted()
	h.wait(9 * 24 * time.Hour)
	said := p.page(id)
	wants(t, said, "The date is not held any more")
	said = p.press("approve", nil)
	wants(t, said, "nothing is approved yet", "Approve with this date")
	if c := h.commission(id); c.State == ledger.Approved {
		t.Error("it is approved with a date that was not shown")
	}
	wants(t, p.press("approve", nil), "The studio waits for the deposit")
	if c := h.commission(id); c.State != ledger.Approved {
		t.Errorf("it is %s", c.State)
	}
}

// What failed can be tried again, or changed; what is not wanted any more is cancelled.
func TestFailedAndCancelled(t *testing.T) {
	h := newHouse(t)
	p := h.sit("client", "Nils")
	id := h.open(p)
	p.page(id)
	p.press("sets", url.Values{"set": {"short-sword"}})
	p.press("many", nil)
	p.press("finish", url.Values{"finish": {studio().Finishes[0].Key}})
	wants(t, p.press("details", nil), "Is this right?", "needs no measurements")
	p.press("confirm", nil)
	h.fail(id)
	wants(t, p.page(id), "could not be worked out", "Try again", "Change the order")
	wants(t, p.press("mend", nil), "Is this right?")
	wants(t, p.press("cancel", nil), "Cancelled")
	if c := h.commission(id); c.State != ledger.Cancelled {
		t.Errorf("it is %s", c.State)
	}
}

// Times for a fitting are picked on the page; an old button moves nothing, and says what holds.
func TestSlots(t *testing.T) {
	h := newHouse(t)
	p := h.sit("client", "Nils")
	id := p.quoted()
	p.press("approve", nil)
	h.do(boss, shop.Pay{Of: shop.On(id)})
	for range 30 {
		if said := p.page(id); strings.Contains(said, "pick a time") {
			break
		}
		h.wait(12 * time.Hour)
	}
	wants(t, p.page(id), "First fitting: pick a time", "Other times", "Hold it by pictures")
	var slots []string
	walk(p.doc, func(n *node) bool {
		if v, ok := attr(n, "value"); ok && n.attr["name"] == "slot" {
			slots = append(slots, v)
		}
		return true
	})
	if len(slots) < 2 {
		t.Fatalf("only %v are offered", slots)
	}
	old := p.form("slot")
	said := p.press("slot", url.Values{"slot": {slots[0]}})
	wants(t, said, "First fitting: ", "at the workshop")
	if strings.Contains(said, "pick a time") {
		t.Errorf("it is picked, and asked for again: %s", said)
	}
	old["slot"] = []string{"2026-11-02T03:00:00Z"}
	to := p.post(p.base+"order/"+string(id), old, http.StatusSeeOther)
	wants(t, p.open(to), "is not offered any more")
	wants(t, p.press("how", nil), "Come to the workshop", "send pictures from all sides")
	if n := h.count(id, "way chosen"); n != 1 {
		t.Errorf("the way was chosen %d times", n)
	}
}

// The page has what people last wrote, and what is written there stands in the thread.
func TestMessages(t *testing.T) {
	h := newHouse(t)
	p := h.sit("client", "Nils")
	id := h.open(p)
	wants(t, p.page(id), "Nothing written yet")
	v := url.Values{}
	walk(p.doc, func(n *node) bool {
		if n.name == "form" && strings.HasSuffix(n.attr["action"], "/act") {
			walk(n, func(e *node) bool {
				if e.name == "input" && e.attr["type"] == "hidden" {
					v.Set(e.attr["name"], e.attr["value"])
				}
				return true
			})
		}
		return true
	})
	v.Set("note", "could it be darker?")
	to := p.post(p.base+"act", v, http.StatusSeeOther)
	if want := p.base + "order/" + string(id) + "#messages"; to != want {
		t.Errorf("it leads to %s, not %s", to, want)
	}
	wants(t, p.open(to), "could it be darker?")
	thread := ""
	walk(p.doc, func(n *node) bool {
		if strings.Contains(n.attr["href"], "/t/") {
			thread = n.attr["href"]
		}
		return true
	})
	wants(t, p.open(thread), "could it be darker?", "Your page")
	wants(t, p.open(p.base), "Your page")
}

func TestPhotographs(t *testing.T) {
	h := newHouse(t)
	p := h.sit("client", "Nils")
	id := p.quoted()
	h.do(p.who, shop.AddPictures{Of: shop.On(id), Files: []chat.File{{Name: "a.png", MIME: "image/png", Data: drawing}}})
	p.press("approve", nil)
	wants(t, p.page(id), "Your pictures")
	if got := p.get(fmt.Sprintf("%sorder/%s/photo/1", p.base, id), http.StatusOK); got != string(drawing) {
		t.Errorf("the picture is %q", got)
	}
	p.get(fmt.Sprintf("%sorder/%s/photo/2", p.base, id), http.StatusNotFound)
}

// What sets begin at is worked out while the page is there already, once for the same settings, and anew for others.
func TestWhatSetsBeginAt(t *testing.T) {
	st := studio()
	total := price.Money(1200)
	var mu sync.Mutex
	reckoned := map[string]int{}
	hold := make(chan struct{})
	h := newHouse(t, func(o *counter.Options) {
		o.Studio = func() quote.Studio {
			mu.Lock()
			defer mu.Unlock()
			return st
		}
		o.Reckon = func(_ context.Context, s quote.Snapshot) (quote.Quote, error) {
			<-hold
			mu.Lock()
			defer mu.Unlock()
			reckoned[s.Items[0].Set]++
			if s.Items[0].Set == "collar" {
				return quote.Quote{}, errors.New("no such foam")
			}
			if len(s.Body) == 0 && s.Items[0].Set == "forearm-cuff" || s.Finish != st.Finishes[0].Key {
				t.Errorf("%s is worked out for the body %v in the finish %s", s.Items[0].Set, s.Body, s.Finish)
			}
			return quote.Quote{Estimate: price.Estimate{Currency: "EUR", Total: total}, Parcel: quote.Parcel{Length: 300, Width: 200, Height: 100}}, nil
		}
	})
	p := h.sit("client", "Nils")
	id := h.open(p)
	if said := p.page(id); strings.Contains(said, "from EUR") {
		t.Errorf("it is known at once: %s", said)
	}
	close(hold)
	shown := func(what string) int {
		n := 0
		for range 200 {
			if n = strings.Count(p.page(id), what); n == len(h.s.Offered())-1 {
				break
			}
			time.Sleep(5 * time.Millisecond)
		}
		return n
	}
	if n := shown("from EUR 12.00 packed 30 × 20 × 10 cm"); n != len(h.s.Offered())-1 { // but for the collar
		t.Errorf("%d sets say what they begin at", n)
	}
	mu.Lock()
	for set, n := range reckoned {
		if n != 1 {
			t.Errorf("%s is worked out %d times", set, n)
		}
	}
	st.Prices.Discount, total = 1, 1300
	mu.Unlock()
	if n := shown("from EUR 13.00"); n != len(h.s.Offered())-1 {
		t.Errorf("at other prices %d sets say what they begin at", n)
	}
}

// A page takes the server no longer than people notice.
func TestFast(t *testing.T) {
	const most = 100 * time.Millisecond
	h := newHouse(t, func(o *counter.Options) {
		o.Reckon = func(context.Context, quote.Snapshot) (quote.Quote, error) { return quote.Quote{}, nil }
	})
	p := h.sit("client", "Nils")
	id := h.open(p)
	at := p.base + "order/" + string(id)
	for _, step := range []struct {
		name string
		make func()
	}{
		{"sets", func() { p.page(id) }},
		{"measurements", func() {
			p.press("sets", url.Values{"set": {"breastplate", "back-plate", "collar", "gored-helmet", "shin-guard"}})
			p.press("many", nil)
			p.press("finish", url.Values{"finish": {studio().Finishes[0].Key}})
			p.press("details", nil)
		}},
		{"quote", func() {
			id = p.quoted()
			at = p.base + "order/" + string(id)
		}},
	} {
		step.make()
		var took []time.Duration
		for range 50 {
			began := time.Now()
			p.get(at, http.StatusOK)
			took = append(took, time.Since(began))
		}
		slices.Sort(took)
		t.Logf("%s: median %v, longest %v", step.name, took[25], took[49])
		if took[25] > most {
			t.Errorf("%s takes %v", step.name, took[25])
		}
	}
}
