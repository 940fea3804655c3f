package board_test

import (
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"benchbell/bot/shop"
)

var throwOf = regexp.MustCompile(`(?s)<li id="(R\d+)"( class="here")?>.*?<path d="(M[^"]+z)".*?name="token" value="([^"]+)".*?name="act" value="([^"]+)".*?name="do" value="(\w+)".*?</li>`)

// The rack is shown by thickness with each offcut's outline; the label of one leads to it; throwing away asks once.
func TestRack(t *testing.T) {
	h := newHouse(t)
	p := h.sit("studio", "")
	if page := p.get(p.base+"rack", http.StatusOK); !strings.Contains(page, "No offcut is kept") {
		t.Errorf("an empty rack reads %s", text(page))
	}
	h.do(boss, shop.RackOffcut{Thickness: 10, Width: 300, Height: 200})
	h.do(boss, shop.RackOffcut{Thickness: 5, Width: 120, Height: 90})
	page := p.get(p.base+"rack?of=r0002", http.StatusOK)
	all := throwOf.FindAllStringSubmatch(page, -1)
	if len(all) != 2 || all[0][1] != "R0001" || all[0][2] != "" || all[1][1] != "R0002" || all[1][2] == "" || all[0][6] != "ask" {
		t.Fatalf("on the rack are %q", all)
	}
	for _, want := range []string{"2 offcuts are kept", "5 mm", "10 mm", "300 × 200 mm"} {
		if !strings.Contains(text(page), want) {
			t.Errorf("it does not say %q: %s", want, text(page))
		}
	}
	press := func(m []string) string {
		t.Helper()
		to, _ := p.post(p.base+"rack", url.Values{"token": {m[4]}, "act": {m[5]}, "offcut": {m[1]}, "do": {m[6]}}, http.StatusSeeOther)
		return p.get(strings.SplitN(to, "#", 2)[0], http.StatusOK)
	}
	page = press(all[0])
	all = throwOf.FindAllStringSubmatch(page, -1)
	if len(all) != 2 || all[0][6] != "sure" || !strings.Contains(text(page), "Nothing has changed yet. Thrown away, R0001 is not cut from any more") {
		t.Fatalf("it is not asked: %s", text(page))
	}
	page = press(all[0])
	if left := throwOf.FindAllStringSubmatch(page, -1); len(left) != 1 || left[0][1] != "R0002" {
		t.Errorf("left are %q", left)
	}
	again := all[0]
	again[5] = "another"
	if page = press(again); !strings.Contains(text(page), "R0001 is not on the rack any more") {
		t.Errorf("thrown away twice: %s", text(page))
	}
	if page = p.get(p.base+"rack?of=R0001", http.StatusOK); !strings.Contains(text(page), "R0001 is not on the rack any more.") {
		t.Errorf("the label of one that is gone leads to %s", text(page))
	}
}
