package main

import (
	"bytes"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"benchbell/bot/browser/browsertest"
	"benchbell/bot/chat"
	"benchbell/bot/chat/chattest"
	"benchbell/quote/gaugetest"
)

// TestDoors goes to every page, file, stream, form and link of the desk in the browser as everybody there can be, and holds what
// is opened against the table that DEVELOPERS.md states. A route that the desk has and nobody tries fails. -update writes the table
// anew, to be looked at.
func TestDoors(t *testing.T) {
	h, who := browserHouse(t, nil)
	ctx := t.Context()
	desk := strings.TrimPrefix(h.stdout.Await(t, printedURL), "the desk is at ")
	client := who.client.(*browsertest.Peer)
	mine := answered2(t)(client.Do(ctx, "", "commission", map[string]string{"set": "forearm-cuff"})).Thread
	other := answered2(t)(who.other.Do(ctx, "", "commission", map[string]string{"set": "forearm-cuff"})).Thread
	h.settle()
	answered2(t)(client.Send(ctx, mine, chat.File{Name: "like-this.png", MIME: "image/png", Data: chattest.PNG(4, 4)}))
	shared := who.studio.(*browsertest.Peer)
	owner, err := shared.NameOwner(ctx, "Edda")
	if err != nil {
		t.Fatal(err)
	}
	enter := func(secret string) *browsertest.Peer {
		t.Helper()
		p, err := browsertest.Enter(ctx, desk, secret)
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	member := func(name, part string) *browsertest.Peer {
		t.Helper()
		answered2(t)(owner.Do(ctx, "", "people", nil))
		answered2(t)(owner.Press(ctx, "", "new-member"))
		a, err := owner.Submit(ctx, "", "member", map[string]string{"name": name, part: "yes"})
		return enter(secretIn(t, a, err))
	}
	maker, front, gone := member("Rolf", "maker"), member("Frida", "front-desk"), member("Gone", "owner")
	link := func(number string) string {
		t.Helper()
		a, err := owner.Do(ctx, "", "private-link", map[string]string{"number": number})
		return secretIn(t, a, err)
	}
	live := link("C0001")
	byLink, byOther := enter(live), enter(link("C0002"))
	answered2(t)(owner.Do(ctx, "", "private-link", map[string]string{"number": "C0002"}))
	answered2(t)(owner.Press(ctx, "", "end-links/C0002"))
	a, err := owner.Do(ctx, "", "private-link", map[string]string{"number": "C0002"})
	endedThen := secretIn(t, a, err)
	other2 := enter(endedThen)
	answered2(t)(owner.Do(ctx, "", "people", nil))
	answered2(t)(owner.Pick(ctx, "", "members", "member/M4"))
	answered2(t)(owner.Press(ctx, "", "let-go/M4"))

	posts, err := h.led.Pages().Posts(ctx, mine)
	if err != nil {
		t.Fatal(err)
	}
	fileOf := func(thread chat.ThreadID) string {
		for _, p := range posts {
			if len(p.Post.Files) > 0 {
				key := strings.Replace(p.Post.Key, "C0001", map[chat.ThreadID]string{mine: "C0001", other: "C0002"}[thread], 1)
				return "file/x?" + url.Values{"thread": {string(thread)}, "post": {key}, "n": {"0"}}.Encode()
			}
		}
		t.Fatal("no post has a file")
		return ""
	}
	slug := func(th chat.ThreadID) string { return strings.TrimPrefix(string(th), "browser:") }
	events := func(th chat.ThreadID) string { return "events?thread=" + url.QueryEscape(string(th)) }
	note := func(th chat.ThreadID) url.Values {
		return url.Values{"kind": {"say"}, "thread": {string(th)}, "note": {"hello"}, "act": {"once"}}
	}

	people := []struct {
		column string
		p      *browsertest.Peer
	}{{"owner", owner}, {"maker", maker}, {"front desk", front}, {"by its link", byLink}, {"by another link", other2}, {"link ended", byOther},
		{"let go", gone}, {"named before", client}, {"shared seat", shared}, {"nobody", nil}}
	res, err := owner.Page(ctx, "")
	noted := regexp.MustCompile(`href="` + owner.Path() + `(card/link.png[^"]*)"`).FindStringSubmatch(strings.ReplaceAll(res, "&amp;", "&"))
	if err != nil || noted == nil {
		t.Fatalf("the owner has no note with a file: %v", err)
	}
	type door struct {
		name, route  string // route: as the desk has it, without the seat
		method, path string
		form         url.Values
		of           *browsertest.Peer // whose seat it is; nil: one's own
	}
	doors := []door{
		{"the list", "GET {$}", "GET", "", nil, nil},
		{"the commission's thread", "GET t/{thread}", "GET", "t/" + slug(mine), nil, nil},
		{"another commission's thread", "GET t/{thread}", "GET", "t/" + slug(other), nil, nil},
		{"the client's page", "GET order/{of}", "GET", "order/C0001", nil, nil},
		{"another client's page", "GET order/{of}", "GET", "order/C0002", nil, nil},
		{"a drawing of the client's page", "GET order/{of}/{part...}", "GET", "order/C0001/set/forearm-cuff.png", nil, nil},
		{"a drawing of another's", "GET order/{of}/{part...}", "GET", "order/C0002/set/forearm-cuff.png", nil, nil},
		{"a button of the client's page", "POST order/{of}", "POST", "order/C0001", url.Values{"do": {"finish"}, "act": {"door"}}, nil},
		{"a button of another's", "POST order/{of}", "POST", "order/C0002", url.Values{"do": {"finish"}, "act": {"door"}}, nil},
		{"a file in the thread", "GET file/{name}", "GET", fileOf(mine), nil, nil},
		{"a file in another", "GET file/{name}", "GET", fileOf(other), nil, nil},
		{"the file of the owner's note", "GET card/{name}", "GET", noted[1], nil, nil}, // the QR code of a link
		{"the stream of the list", "GET events", "GET", "events", nil, nil},
		{"the stream of the thread", "GET events", "GET", events(mine), nil, nil},
		{"the stream of another", "GET events", "GET", events(other), nil, nil},
		{"the studio's people", "GET people", "GET", "people", nil, nil},
		{"Today", "GET ", "GET", "today", nil, nil},
		{"Curing", "GET ", "GET", "curing", nil, nil},
		{"Orders", "GET ", "GET", "orders", nil, nil},
		{"Messages", "GET ", "GET", "messages", nil, nil},
		{"the commission's page", "GET ", "GET", "commission?of=C0001", nil, nil},
		{"the body on it", "GET ", "GET", "commission?of=C0001", nil, nil},
		{"a picture that the client sent", "GET ", "GET", "document?of=C0001&sent=1", nil, nil},
		{"an answer on Messages, which the act itself may refuse", "POST ", "POST", "messages", url.Values{"message": {"99"}, "do": {"read"}, "act": {"door2"}}, nil},
		{"Days", "GET ", "GET", "days", nil, nil},
		{"Rack", "GET ", "GET", "rack", nil, nil},
		{"the print of Days", "GET ", "GET", "days?print=A4", nil, nil},
		{"a button of Today, which the act itself may refuse", "POST ", "POST", "today", url.Values{"commission": {"C0001"}, "operation": {"1"}, "do": {"start"}, "act": {"door"}}, nil},
		{"words in the thread", "POST act", "POST", "act", note(mine), nil},
		{"words in another", "POST act", "POST", "act", note(other), nil},
		{"putting a note away", "POST dismiss", "POST", "dismiss", url.Values{"card": {"none"}}, nil},
		{"naming the owner", "POST owner", "POST", "owner", url.Values{"name": {"Eve"}}, nil},
		{"the owner's seat", "", "GET", "", nil, owner},
		{"the client's seat", "", "GET", "", nil, byLink},
		{"leaving", "POST leave", "POST", "leave", url.Values{}, nil}, // last: it closes what it opens
	}
	src, err := os.ReadFile("browser/routes.go")
	if err != nil {
		t.Fatal(err)
	}
	routes := regexp.MustCompile(`seated\("(GET|POST) /as/\{seat\}/([^"]*)"`).FindAllSubmatch(src, -1)
	if len(routes) < 8 {
		t.Fatalf("only %d routes were found; the search is broken", len(routes))
	}
	for _, r := range routes {
		route := string(r[1]) + " " + string(r[2])
		if !slices.ContainsFunc(doors, func(d door) bool { return d.route == route }) {
			t.Errorf("nobody tries %s", route)
		}
	}

	jars := map[string][]*http.Cookie{}
	tokens := map[string]string{}
	do := func(column, method, to string, form url.Values) (int, string, string) {
		t.Helper()
		var body io.Reader
		if form != nil {
			body = strings.NewReader(form.Encode())
		}
		req, err := http.NewRequestWithContext(ctx, method, desk+to, body)
		if err != nil {
			t.Fatal(err)
		}
		if form != nil {
			req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		}
		for _, c := range jars[column] {
			req.AddCookie(c)
		}
		c := http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }, Timeout: 20 * time.Second}
		res, err := c.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		defer res.Body.Close()
		if res.Header.Get("Content-Type") == "text/event-stream" {
			return res.StatusCode, "", "a stream"
		}
		text, err := io.ReadAll(res.Body)
		if err != nil {
			t.Fatal(err)
		}
		return res.StatusCode, res.Header.Get("Location"), string(text)
	}
	printedToken := regexp.MustCompile(`name="token" value="([^"]+)"`)
	seatOf := map[string]string{}
	for _, x := range people {
		seatOf[x.column] = "/as/nobody/"
		if x.p == nil {
			continue
		}
		seatOf[x.column], jars[x.column] = x.p.Path(), x.p.Cookies()
		if _, _, page := do(x.column, "GET", x.p.Path(), nil); printedToken.MatchString(page) {
			tokens[x.column] = printedToken.FindStringSubmatch(page)[1]
		}
	}
	var b bytes.Buffer
	b.WriteString("| at the desk in the browser |")
	for _, x := range people {
		fmt.Fprintf(&b, " %s |", x.column)
	}
	fmt.Fprintf(&b, "\n|---|%s\n", strings.Repeat("---|", len(people)))
	for _, d := range doors {
		fmt.Fprintf(&b, "| %s |", d.name)
		for _, x := range people {
			to := seatOf[x.column] + d.path
			if d.of != nil {
				to = d.of.Path()
			}
			form := d.form
			if form != nil {
				form = url.Values{"token": {tokens[x.column]}}
				for k, v := range d.form {
					form[k] = v
				}
			}
			status, where, text := do(x.column, d.method, to, form)
			cell := "–"
			switch {
			case d.name == "the body on it" && status == http.StatusOK && !strings.Contains(text, "Wrist girth"):
				cell = "–" // the page is opened, and has no measurements
			case status == http.StatusOK && text != "":
				cell = "yes"
			case status == http.StatusSeeOther && (strings.HasPrefix(where, to[:strings.Index(to[4:], "/")+5]) || d.route == "POST leave"):
				cell = "yes"
			case status >= 500:
				t.Errorf("%s as %s: %d %s", d.name, x.column, status, text)
			}
			// What is refused names nobody it belongs to, and shows nothing of it.
			if cell == "–" && status != http.StatusOK && (strings.Contains(text, "Jorin") || strings.Contains(text, "Ilka") || strings.Contains(text, "forearm")) {
				t.Errorf("%s as %s is refused and says: %s", d.name, x.column, text)
			}
			fmt.Fprintf(&b, " %s |", cell)
		}
		b.WriteByte('\n')
	}
	if strings.Count(b.String(), "yes") < 30 {
		t.Errorf("hardly anything is opened:\n%s", &b)
	}
	doc, err := os.ReadFile("../DEVELOPERS.md")
	if err != nil {
		t.Fatal(err)
	}
	before, rest, ok := bytes.Cut(doc, []byte("<!-- doors -->\n"))
	_, after, ok2 := bytes.Cut(rest, []byte("<!-- end of doors -->\n"))
	if !ok || !ok2 {
		t.Fatal("DEVELOPERS.md has no place for the table of doors")
	}
	gaugetest.Golden(t, "../DEVELOPERS.md", slices.Concat(before, []byte("<!-- doors -->\n"), b.Bytes(), []byte("<!-- end of doors -->\n"), after))
}
