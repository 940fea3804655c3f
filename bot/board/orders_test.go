package board_test

import (
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/quote"
)

var orderRow = regexp.MustCompile(`(?s)<tr role="row" id="o-(C\d+)".*?</tr>`)

// rows are the commissions that a page of orders lists.
func rows(page string) (ids []string) {
	for _, m := range orderRow.FindAllStringSubmatch(page, -1) {
		ids = append(ids, m[1])
	}
	return ids
}

func (h *house) client(n int) chat.Person {
	return chat.Person{ID: chat.PersonID(fmt.Sprintf("browser:client-%d", n)), Name: fmt.Sprintf("Client %d", n)}
}

// endanger has the date of a commission be in danger, as the shop last looked at it.
func (h *house) endanger(c ledger.Commission, odds float64) {
	h.t.Helper()
	if err := h.led.Tx(h.t.Context(), func(t *ledger.Tx) error {
		return t.SetOutlook(ledger.Outlook{Commission: c.ID, Promise: c.Promise, Sure: c.Promise, Odds: odds, Danger: true}, h.now())
	}); err != nil {
		h.t.Fatal(err)
	}
}

func (h *house) commission(id quote.CommissionID) (c ledger.Commission) {
	h.t.Helper()
	if err := h.led.Tx(h.t.Context(), func(t *ledger.Tx) (err error) {
		c, err = t.Commission(id)
		return err
	}); err != nil {
		h.t.Fatal(err)
	}
	return c
}

// A row says who waits for what since when, and with which odds the date is kept; what is in danger is first.
func TestOrders(t *testing.T) {
	h := newHouse(t)
	h.fill(2)
	of := shop.On("C0003")
	h.do(h.client(3), shop.Ask{Set: "forearm-cuff"})
	h.do(h.client(3), shop.ChooseFinish{Of: of, Finish: studio().Finishes[0].Key})
	h.do(h.client(3), shop.Measure{Of: of})
	h.do(h.client(3), shop.GiveMeasurements{Of: of, Typed: body})
	h.do(h.client(3), shop.Confirm{Of: of})
	h.answer("C0003")
	h.do(h.client(3), shop.Approve{OfRevision: shop.OnRevision("C0003", 1)})
	h.do(h.client(4), shop.Ask{})
	h.do(h.client(4), shop.Cancel{Of: shop.On("C0004")})
	h.wait(begun)
	h.endanger(h.commission("C0002"), 0.41)
	p := h.sit("studio", "")
	page := p.get(p.base+"orders", http.StatusOK)
	if got := rows(page); len(got) != 3 || got[0] != "C0002" || !slices.Contains(got, "C0003") {
		t.Errorf("listed are %v", got)
	}
	for _, r := range orderRow.FindAllString(page, -1) {
		switch {
		case strings.Contains(r, "o-C0002"):
			says(t, r, "C0002 Client 2", "In danger:", "41 of 100", "done, ")
		case strings.Contains(r, "o-C0003"):
			says(t, r, "Approved 3 days ago, waits for the deposit, due by", "Forearm cuff: 1 pair")
		}
	}
	for q, want := range map[string][]string{
		"q=client+3": {"C0003"}, "q=c0001": {"C0001"}, "q=FOREARM&state=approved": {"C0003"}, "q=nobody": nil, "state=cancelled": {"C0004"},
		"state=all&sort=newest": {"C0004", "C0003", "C0002", "C0001"}, "client=browser%3Aclient-2": {"C0002"}, "from=2099-01-01": nil, "page=2": nil,
		"state=nonsense&sort=nonsense&page=-3": rows(page), "maker=nobody": nil, "q=client+4": nil,
	} {
		page := p.get(p.base+"orders?"+q, http.StatusOK)
		if got := rows(page); !slices.Equal(got, want) {
			t.Errorf("%s lists %v, want %v", q, got, want)
		}
		if v, _ := url.ParseQuery(q); v.Get("q") != "" && v.Get("state") == "" && !strings.Contains(page, "Look among past ones") {
			t.Errorf("%s does not lead to past ones", q)
		}
	}
	for _, m := range []string{"mara", "jonas"} {
		if len(rows(p.get(p.base+"orders?maker="+m, http.StatusOK))) == 0 {
			t.Errorf("%s has no work left", m)
		}
	}
	// What is typed stays typed, and is words and nothing else.
	page = p.get(p.base+"orders?q="+url.QueryEscape(`"><script>`), http.StatusOK)
	if strings.Contains(page, "><script>") || !strings.Contains(page, "&#34;&gt;&lt;script&gt;") {
		t.Error("what is typed is not shown as it is")
	}
}

// Fifty to a page, each once, in the same order.
func TestOrdersPages(t *testing.T) {
	h := newHouse(t)
	const all = 120
	for n := range all {
		h.do(h.client(n+1), shop.Ask{})
	}
	p := h.sit("studio", "")
	next, seen := p.base+"orders?sort=newest", []string(nil)
	link := regexp.MustCompile(`<a href="([^"]+)" rel="next">`)
	for range 5 {
		page := p.get(strings.ReplaceAll(next, "&amp;", "&"), http.StatusOK)
		seen = append(seen, rows(page)...)
		m := link.FindStringSubmatch(page)
		if m == nil {
			break
		}
		next = m[1]
	}
	if len(seen) != all || seen[0] != "C0120" || seen[all-1] != "C0001" || len(slices.Compact(slices.Sorted(slices.Values(seen)))) != all {
		t.Errorf("%d are listed, from %s to %s", len(seen), seen[0], seen[len(seen)-1])
	}
}

var replyForm = regexp.MustCompile(`(?s)<form method="post" action="messages">(.*?)</form>`)

// replies are what the answer forms of a page send.
func replies(page string) (out []url.Values) {
	for _, f := range replyForm.FindAllStringSubmatch(page, -1) {
		v := url.Values{}
		for _, in := range inputOf.FindAllStringSubmatch(f[1], -1) {
			v.Set(in[1], in[2])
		}
		out = append(out, v)
	}
	return out
}

// What a client writes stands on the page, oldest first, until it is answered or marked as read, once, and nobody else's answer counts.
func TestMessagesAreAnswered(t *testing.T) {
	h := newHouse(t)
	for n := range 3 {
		h.do(h.client(n+1), shop.Ask{})
		h.wait(time.Minute)
	}
	p, other := h.sit("studio", ""), h.sit("studio", "")
	says(t, p.get(p.base+"messages", http.StatusOK), "Nobody waits for an answer")
	for n := range 3 {
		h.do(h.client(3-n), shop.Say{Of: shop.On(quote.CommissionID(fmt.Sprintf("C%04d", 3-n))), Words: fmt.Sprintf("words <b>of</b> %d", 3-n)})
		h.wait(time.Minute)
	}
	page := p.get(p.base+"messages", http.StatusOK)
	says(t, page, "3 wait for an answer", "C0003 Client 3 wrote", "words &lt;b&gt;of&lt;/b&gt; 3")
	if i, j := strings.Index(page, "Client 3 wrote"), strings.Index(page, "Client 1 wrote"); i > j {
		t.Error("the oldest is not first")
	}
	fs := replies(page)
	if len(fs) != 3 {
		t.Fatalf("%d can be answered", len(fs))
	}
	send := func(p *person, v url.Values, do, words string) string {
		t.Helper()
		v.Set("do", do)
		v.Set("answer", words)
		to, _ := p.post(p.base+"messages", v, http.StatusSeeOther)
		return p.get(to, http.StatusOK)
	}
	stale := replies(other.get(other.base+"messages", http.StatusOK))[0]
	says(t, send(p, fs[0], "answer", ""), "write an answer first, or press “Read, needs none”")
	long := strings.Repeat("x", shop.MaxAnswer+1)
	if page := send(p, fs[0], "answer", long); !strings.Contains(page, long) {
		t.Error("an answer that is too long is lost")
	}
	says(t, send(p, fs[0], "answer", "yes, it can"), "2 wait for an answer")
	says(t, send(p, fs[0], "answer", "yes, it can"), "2 wait for an answer")
	if n := h.count("C0003", "answered"); n != 1 {
		t.Errorf("pressed twice, it is answered %d times", n)
	}
	says(t, send(other, stale, "answer", "no, it cannot"), "Studio has dealt with this message at", "2 wait")
	says(t, send(p, fs[1], "read", "not sent"), "1 waits for an answer")
	if n := h.count("C0002", "answered") + 10*h.count("C0002", "read"); n != 10 {
		t.Errorf("marked as read: %d", n)
	}
	v := replies(page)[2]
	v.Del("token")
	p.post(p.base+"messages", v, http.StatusForbidden)
}
