package board_test

import (
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"benchbell/bot/shop"
)

// A missed window stands on Curing with its remedy, its time and its cost; one press plans it, after a look at what that does.
func TestRemedy(t *testing.T) {
	h := atWork(t, 1)
	p := h.sit("studio", "")
	windowed := func(x shop.Drying) bool { return !x.Closes.IsZero() && x.Next != nil && x.Ready.After(h.now()) }
	d := h.goOn(func(d shop.BenchDay) bool { return slices.ContainsFunc(d.Drying, windowed) })
	part := d.Drying[slices.IndexFunc(d.Drying, windowed)]
	page := func() string { return p.get(p.base+"curing", http.StatusOK) }
	if strings.Contains(page(), "Abrade") {
		t.Error("a remedy is offered before it is needed")
	}
	h.wait(part.Closes.Sub(h.now()) + time.Minute)
	says(t, page(), "Window closed", "Abrade and recoat:", "EUR", "Plan it")
	v := pick(t, page(), "abrade")
	if v.Get("operation") != strconv.Itoa(part.Next.Seq) {
		t.Errorf("it is planned before operation %s, the coat is %d", v.Get("operation"), part.Next.Seq)
	}
	to, _ := p.post(p.base+"curing", v, http.StatusSeeOther)
	if strings.HasSuffix(to, "#told") {
		asked := p.get(strings.TrimSuffix(to, "#told"), http.StatusOK)
		says(t, asked, "Nothing has changed yet.", "Plan it all the same")
		p.post(p.base+"curing", pick(t, asked, "abrade"), http.StatusSeeOther)
	}
	if n := h.count("C0001", "abrading planned"); n != 1 {
		t.Fatalf("it is planned %d times", n)
	}
	says(t, page(), "Abrading before")
	if strings.Contains(page(), "Plan it") {
		t.Error("it is offered again")
	}
	says(t, p.get(p.base+"today", http.StatusOK), "Abrading before")
}

// The air is typed on Curing; what cannot be is said there, and what dries more slowly says so.
func TestAirTyped(t *testing.T) {
	h := atWork(t, 1)
	p := h.sit("studio", "")
	h.goOn(func(d shop.BenchDay) bool {
		return slices.ContainsFunc(d.Drying, func(x shop.Drying) bool { return x.Ready.Sub(h.now()) > time.Hour && x.Operation.Kind == "prime" })
	})
	page := p.get(p.base+"curing", http.StatusOK)
	says(t, page, "Air at the bench", "not measured in the last 12 h")
	v := pick(t, page, "air")
	send := func(celsius, humidity string) string {
		t.Helper()
		v := url.Values{"token": v["token"], "act": {celsius + humidity}, "do": {"air"}, "celsius": {celsius}, "humidity": {humidity}}
		to, _ := p.post(p.base+"curing", v, http.StatusSeeOther)
		return p.get(strings.TrimSuffix(to, "#told"), http.StatusOK)
	}
	says(t, send("mild", "50"), "“mild” is not the air of a workshop: give the temperature in °C")
	page = send("18", "85")
	says(t, page, "18 °C, 85 % humidity since", "Dries slower than planned in this air:")
}

// The rest of a sheet is racked, and it is said that nobody came, where the step stands.
func TestRackAndNobodyCame(t *testing.T) {
	h := atWork(t, 1)
	p := h.sit("studio", "")
	today := func() string { return p.get(p.base+"today", http.StatusOK) }
	h.work(1)
	if d := h.day(); len(d.Done) != 1 || d.Done[0].Kind != shop.CutKind {
		t.Fatalf("first done is %+v", d.Done)
	}
	p.press(pick(t, today(), "rack"))
	says(t, p.press(pick(t, today(), "start")), "since")
	if n := h.count("C0001", "rest racked"); n != 1 {
		t.Errorf("its rest is racked %d times", n)
	}
	if strings.Contains(today(), `value="rack"`) {
		t.Error("it is offered again")
	}
	d := h.goOn(func(d shop.BenchDay) bool {
		return slices.ContainsFunc(d.Lines, func(l shop.BenchLine) bool {
			return l.Meeting != nil && len(l.Meeting.Slots) > 0 && l.Meeting.At.IsZero()
		})
	})
	i := slices.IndexFunc(d.Lines, func(l shop.BenchLine) bool { return l.Meeting != nil })
	m := *d.Lines[i].Meeting
	client := shop.Person{ID: "browser:client-1", Name: "Client 1"}
	h.do(client, shop.PickSlot{OfAppointment: shop.OfAppointment{Of: shop.On("C0001"), N: m.N}, At: m.Slots[0]})
	if strings.Contains(today(), "Nobody came") {
		t.Error("before the time that was agreed, nobody can be missed")
	}
	h.wait(m.Slots[0].Sub(h.now()) + 20*time.Minute)
	v := pick(t, today(), "missed")
	p.press(v)
	if n := h.count("C0001", "slot missed"); n != 1 {
		t.Errorf("it is said %d times that nobody came", n)
	}
}
