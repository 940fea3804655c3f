package board_test

import (
	"net/http"
	"regexp"
	"strings"
	"testing"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/shop"
)

// The page of a commission has its stage, pieces, money, dates and trail, leads to its papers, and says what it does not have.
func TestCommissionPage(t *testing.T) {
	h := newHouse(t)
	h.fill(1)
	h.wait(begun)
	h.work(6)
	h.do(h.client(1), shop.Say{Of: shop.On("C0001"), Words: "can it be <i>green</i>?"})
	h.do(h.client(1), shop.AddPictures{Of: shop.On("C0001"), Files: []chat.File{{Name: "a b\".png", MIME: "image/png", Data: []byte("picture")}}})
	h.do(boss, shop.Answer{Message: 1, Words: "yes, it can"})
	p := h.sit("studio", "")
	page := p.get(p.base+"commission?of=c0001", http.StatusOK)
	says(t, page, "C0001", "Client 1", "Price EUR", "Deposit EUR", "Balance EUR", "Wrist girth", "17", "Revision 1: approved", "Quote (PDF)", "wrote: “can it be &lt;i&gt;green&lt;/i&gt;?”",
		"Studio answered", "“yes, it can”", "sent a picture", "nobody has answered yet", "stands", "Planned", "Worked", "6 of", "What happened", "First fitting")
	if !strings.Contains(page, `class="here" aria-current="step">In work`) {
		t.Error("the line of steps does not say where it is")
	}
	if strings.Count(page, `class="state">`) == 0 || !strings.Contains(page, `class="state">formed<`) {
		t.Errorf("no piece is formed: %s", text(page[strings.Index(page, "h-pieces"):]))
	}
	to := strings.ReplaceAll(hrefTo.FindStringSubmatch(page)[1], "&amp;", "&")
	r, err := p.c.Get(h.desk.URL() + to)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Body.Close()
	if r.StatusCode != http.StatusOK || r.Header.Get("Content-Type") != "application/pdf" || !strings.HasPrefix(r.Header.Get("Content-Disposition"), "attachment") ||
		!strings.HasPrefix(r.Header.Get("Content-Security-Policy"), "sandbox") {
		t.Errorf("its paper comes as %s with %v", r.Status, r.Header)
	}
	if got := p.get(p.base+"document?of=C0001&sent=1", http.StatusOK); got != "picture" {
		t.Errorf("what the client sent is %q", got)
	}
	p.get(p.base+"document?of=C0001&revision=7", http.StatusNotFound)
	says(t, p.get(p.base+"commission?of=C0999", http.StatusNotFound), "There is no commission")

	// The trail has pages, and each act is on one of them.
	second := p.get(p.base+"commission?of=C0001&trail=2", http.StatusOK)
	if !strings.Contains(second, "asked") || !strings.Contains(second, ">Later<") {
		t.Errorf("the second page of the trail: %s", text(second))
	}
	h.do(h.client(2), shop.Ask{})
	h.do(h.client(2), shop.Cancel{Of: shop.On("C0002")})
	h.wait(time.Minute)
	says(t, p.get(p.base+"commission?of=C0002", http.StatusOK), "Cancelled", "None yet", "They come with the quote")
}

// hrefTo leads to a paper.
var hrefTo = regexp.MustCompile(`href="([^"]+)">Quote \(PDF\)`)
