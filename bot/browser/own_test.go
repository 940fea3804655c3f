package browser_test

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"testing/fstest"

	"benchbell/bot/browser"
	"benchbell/bot/browser/browsertest"
	"benchbell/bot/chat"
)

// A private link leads to the page of its one matter, with or without a thread at this desk, and to no other. Who has another's link, and
// the studio, are told that they have no such page, whether there is one or not.
func TestOwnPage(t *testing.T) {
	k := newKeys(true)
	served := 0
	d := open(t, browser.Options{Seats: k, Own: &browser.Own{Title: "Your page", Assets: fstest.MapFS{"look.css": {Data: []byte("p{}")}},
		Serve: func(w http.ResponseWriter, r *http.Request, g browser.Guest) error {
			served++
			switch g.Part {
			case "none":
				return fmt.Errorf("%w: no such part", browser.ErrUnknown)
			case "said":
				said, err := g.Said(r.Context(), 3)
				for _, x := range said {
					fmt.Fprintf(w, "%s: %s\n", x.By, x.Text)
				}
				return err
			case "broken":
				return errors.New("broken")
			}
			fmt.Fprintf(w, "page of %s, part %s, thread %s, words %s, events %s", g.Of, g.Part, g.Thread, g.Words, g.Events)
			return nil
		}}}, nil)
	ctx := t.Context()
	th, err := d.OpenThread(ctx, "C0001", "C0001 · Nils", "browser:nils")
	if err != nil {
		t.Fatal(err)
	}
	k.link("nils", "C0001", chat.Person{ID: "browser:nils", Name: "Nils", Only: "C0001"})
	k.link("rosa", "C0002", chat.Person{ID: "discord:rosa", Name: "Rosa", Only: "C0002"}) // who writes elsewhere
	k.link("edda", "M1", chat.Person{ID: "browser:M1", Name: "Edda", Studio: true})
	people := map[string]*browsertest.Peer{}
	for _, name := range []string{"nils", "rosa", "edda"} {
		if people[name], err = browsertest.Enter(ctx, d.URL(), name); err != nil {
			t.Fatal(err)
		}
	}
	get := func(who, path string) (int, string) {
		t.Helper()
		res, page := request(t, plain(t, d, people[who]), "GET", d.URL()+path, "", nil)
		return res.StatusCode, page
	}
	if code, page := get("nils", "/as/C0001/order/C0001"); code != http.StatusOK || page != fmt.Sprintf("page of C0001, part , thread %s, words /as/C0001/t/%s, events /as/C0001/events?thread=%s",
		th, strings.TrimPrefix(string(th), "browser:"), url.QueryEscape(string(th))) {
		t.Errorf("%d %s", code, page)
	}
	if code, page := get("rosa", "/as/C0002/order/C0002/set/a.png"); code != http.StatusOK || page != "page of C0002, part set/a.png, thread , words , events /as/C0002/events" {
		t.Errorf("%d %s", code, page)
	}
	for _, at := range []string{"/as/C0001/", "/as/C0001/t/" + strings.TrimPrefix(string(th), "browser:")} {
		if _, page := get("nils", at); !strings.Contains(page, `href="/as/C0001/order/C0001">Your page`) {
			t.Errorf("%s does not lead to the page: %s", at, page)
		}
	}
	if _, page := get("rosa", "/as/C0002/"); !strings.Contains(page, `href="/as/C0002/order/C0002">Your page`) {
		t.Errorf("the list of who writes elsewhere does not lead to the page: %s", page)
	}
	// What the program posts is not said by anybody, unless it is signed.
	for _, p := range []chat.Post{{Key: "C0001/card", Thread: th, Text: "Your quote is ready."}, {Key: "C0001/answer/1", Thread: th, Text: "*Edda:* yes, *matt*", Signed: "Edda"}} {
		if err := d.Put(ctx, p); err != nil {
			t.Fatal(err)
		}
	}
	if _, page := get("nils", "/as/C0001/order/C0001/said"); page != "Edda: yes, *matt*\n" {
		t.Errorf("said is %q", page)
	}
	served = 0
	_, none := get("nils", "/as/C0001/order/C0999")
	for who, at := range map[string]string{"rosa": "/as/C0002/order/C0001", "edda": "/as/M1/order/C0001", "nils": "/as/C0001/order/C0002"} {
		if code, page := get(who, at); code != http.StatusNotFound || page != none || strings.Contains(page, "Nils") {
			t.Errorf("%s at %s: %d %s", who, at, code, page)
		}
	}
	if served != 0 {
		t.Errorf("a page was served %d times to who has none", served)
	}
	if code, page := get("nils", "/as/C0001/order/C0001/none"); code != http.StatusNotFound || page != none {
		t.Errorf("a part that is not there: %d %s", code, page)
	}
	if code, _ := get("nils", "/as/C0001/order/C0001/broken"); code != http.StatusInternalServerError {
		t.Errorf("a fault: %d", code)
	}
	if code, page := get("nils", "/static/order/look.css"); code != http.StatusOK || page != "p{}" {
		t.Errorf("the page's style: %d %s", code, page)
	}
	res, _ := request(t, plain(t, d, people["nils"]), "POST", d.URL()+"/as/C0001/order/C0001", "token=none", nil)
	if served = 0; res.StatusCode != http.StatusForbidden {
		t.Errorf("without the token: %d", res.StatusCode)
	}
	res, _ = request(t, plain(t, d, nil), "POST", d.URL()+"/enter", "secret=nils&device=phone", nil)
	if to := res.Header.Get("Location"); to != "/as/C0001/order/C0001" {
		t.Errorf("the link leads to %q", to)
	}
}
