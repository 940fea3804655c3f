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
	"benchbell/quote"
)

// pick is the first button of a page that does something.
func pick(t *testing.T, page, do string) url.Values {
	t.Helper()
	all := forms(page)
	i := slices.IndexFunc(all, func(v url.Values) bool { return v.Get("do") == do })
	if i < 0 {
		t.Fatalf("no button does %q: %s", do, text(page))
	}
	return all[i]
}

// step is the page of an operation.
func (p *person) step(v url.Values) string {
	return p.base + "step?commission=" + v.Get("commission") + "&operation=" + v.Get("operation")
}

// What is in hand is put down, taken up, done and taken back where it stands, and the hours say so.
func TestPauseAndBack(t *testing.T) {
	h := atWork(t, 1)
	p := h.sit("studio", "")
	today := func() string { return p.get(p.base+"today", http.StatusOK) }
	first := pick(t, today(), "start")
	p.press(first)
	h.wait(20 * time.Minute)
	says(t, today(), "20 min so far")
	p.press(pick(t, today(), "pause"))
	h.wait(time.Hour)
	says(t, today(), "paused 09:50, 20 min so far", "Go on")
	stale := pick(t, today(), "start")
	i := slices.IndexFunc(forms(today()), func(v url.Values) bool {
		return v.Get("do") == "start" && v.Get("operation") == first.Get("operation")
	})
	p.press(forms(today())[i])
	h.wait(10 * time.Minute)
	says(t, today(), "30 min so far")
	p.press(pick(t, today(), "done"))
	row := rowOf(today(), "C0001-"+first.Get("operation"))
	says(t, row, "done 11:00", "took 30 min", "Take back")
	says(t, p.get(p.step(first), http.StatusOK), "20 min 09:30 to 09:50", "10 min 10:50 to 11:00", "As quoted:")
	p.press(pick(t, row, "back"))
	says(t, today(), "30 min so far", "Done", "Pause")
	if n := h.count("C0001", "taken back"); n != 1 {
		t.Errorf("it is taken back %d times", n)
	}
	if stale.Get("operation") == "" {
		t.Error("nothing was offered while it was put down")
	}
	// Done again, and the next begun: it stays done, and the page says what rests on it.
	old := pick(t, today(), "done")
	p.press(old)
	back := pick(t, rowOf(today(), "C0001-"+first.Get("operation")), "back")
	h.goOn(func(d shop.BenchDay) bool {
		return slices.ContainsFunc(d.Done, func(o shop.Operation) bool { return slices.Contains(o.After, h.op(t, first).Op) })
	})
	says(t, p.press(back), "stays done", "was begun after it; take that back first")
}

func (h *house) op(t *testing.T, v url.Values) shop.Operation {
	t.Helper()
	seq, err := strconv.Atoi(v.Get("operation"))
	if err != nil {
		t.Fatal(err)
	}
	o, err := h.s.See(t.Context(), boss, shop.Step{OfOperation: shop.OnOperation(quote.CommissionID(v.Get("commission")), seq)})
	if err != nil {
		t.Fatal(err)
	}
	return o.(shop.StepSeen).Operation
}

// Typed hours count, and what cannot be read is said beside the field, with what was typed still in it.
func TestHoursCorrected(t *testing.T) {
	h := atWork(t, 1)
	p := h.sit("studio", "")
	done := pick(t, p.get(p.base+"today", http.StatusOK), "start")
	done.Set("do", "done")
	p.press(done)
	page := p.get(p.step(done), http.StatusOK)
	says(t, page, "not known", "without a start")
	v := pick(t, page, "correct")
	v.Set("typed", "a while")
	to, _ := p.post(p.base+"step", v, http.StatusSeeOther)
	page = p.get(strings.TrimSuffix(to, "#told"), http.StatusOK)
	says(t, page, "is not a length of time; write it as 35")
	if v = pick(t, page, "correct"); v.Get("typed") != "a while" {
		t.Errorf("the field has %q", v.Get("typed"))
	}
	v.Set("typed", "1:05")
	to, _ = p.post(p.base+"step", v, http.StatusSeeOther)
	says(t, p.get(to, http.StatusOK), "1 h 5 min")
	says(t, rowOf(p.get(p.base+"today", http.StatusOK), "C0001-"+done.Get("operation")), "took 1 h 5 min")
	says(t, p.get(p.base+"step?commission=C0001&operation=999", http.StatusNotFound), "has no such operation any more")
	says(t, p.get(p.base+"step?commission=C0001&operation=x", http.StatusNotFound), "has no such operation any more")
}

// Pieces are ticked and sent back with a reason; both stay where it is refused, and the day says why it is done again.
func TestSentBack(t *testing.T) {
	h := atWork(t, 1)
	p := h.sit("studio", "")
	h.work(3)
	d := h.day()
	i := slices.IndexFunc(d.Done, func(o shop.Operation) bool {
		return !slices.ContainsFunc(d.Done, func(x shop.Operation) bool { return slices.Contains(x.After, o.Op) })
	})
	op := d.Done[i]
	v := url.Values{"commission": {"C0001"}, "operation": {strconv.Itoa(op.Seq)}}
	page := p.get(p.step(v), http.StatusOK)
	if strings.Count(page, `name="piece"`) < 2 || !strings.Contains(page, `<path d="M`) {
		t.Fatalf("its pieces are not to be seen: %s", text(page))
	}
	v = pick(t, page, "again")
	label := between(page, `name="piece" value="`, `"`)
	v["piece"] = []string{label}
	to, _ := p.post(p.base+"step", v, http.StatusSeeOther)
	page = p.get(strings.TrimSuffix(to, "#told"), http.StatusOK)
	says(t, page, "say in a few words why it goes back")
	if !strings.Contains(page, `value="`+label+`" checked=""`) {
		t.Error("what was ticked is not any more")
	}
	v = pick(t, page, "again")
	v["piece"] = []string{label}
	v.Set("typed", "edge torn")
	to, _ = p.post(p.base+"step", v, http.StatusSeeOther)
	if strings.HasSuffix(to, "#told") { // it asks what it does to the promise first
		page = p.get(strings.TrimSuffix(to, "#told"), http.StatusOK)
		says(t, page, "Nothing has changed yet.", "all the same")
		v = pick(t, page, "again")
		v["piece"] = []string{label}
		p.post(p.base+"step", v, http.StatusSeeOther)
	}
	if n := h.count("C0001", "went back"); n != 1 {
		t.Fatalf("it went back %d times", n)
	}
	says(t, p.get(p.base+"today", http.StatusOK), "Again: edge torn")
}

// Each row shows its pieces, what to lay out, and leads to its own page; a page of the day is no longer than it may be.
func TestOutlines(t *testing.T) {
	h := atWork(t, 2)
	p := h.sit("studio", "")
	page := p.get(p.base+"today", http.StatusOK)
	says(t, page, "Lay out", "mm foam")
	d := h.day()
	for _, l := range d.Lines {
		work := d.Quotes[l.Operation.Commission].Quote.Work.Operations
		i := slices.IndexFunc(work, func(o quote.Operation) bool { return o.ID == l.Operation.Op })
		row := rowOf(page, string(l.Operation.Commission)+"-"+strconv.Itoa(l.Operation.Seq))
		if row == "" { // it is the one to do now
			continue
		}
		if n := strings.Count(row, "<path "); len(work[i].Pieces) > 0 && (n < 1 || n > 3) {
			t.Errorf("%s shows %d outlines", l.Operation.Title, n)
		}
		if len(work[i].Pieces) > 1 {
			says(t, row, strconv.Itoa(len(work[i].Pieces))+" pieces")
		}
	}
	wet := h.goOn(func(d shop.BenchDay) bool {
		return slices.ContainsFunc(d.Drying, func(x shop.Drying) bool { return x.Ready.After(h.now()) })
	})
	if len(wet.Drying) == 0 || !strings.Contains(p.get(p.base+"curing", http.StatusOK), `class="left"`) {
		t.Error("what is wet is not hatched")
	}
}

func between(s, from, to string) string {
	_, s, _ = strings.Cut(s, from)
	s, _, _ = strings.Cut(s, to)
	return s
}
