package browser_test

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"benchbell/bot/browser"
	"benchbell/bot/browser/browsertest"
	"benchbell/bot/chat"
)

// keys are Seats in memory: a link's secret is who it is for, and a session's says so, too.
type keys struct {
	mu       sync.Mutex
	named    bool
	links    map[string]browser.Sitting // not used yet, or of a client
	sessions map[string]browser.Sitting
}

func newKeys(named bool) *keys {
	return &keys{named: named, links: map[string]browser.Sitting{}, sessions: map[string]browser.Sitting{}}
}

func (k *keys) link(secret, slug string, p chat.Person) {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.links[secret] = browser.Sitting{Person: p, Slug: slug}
}

func (k *keys) signOut() {
	k.mu.Lock()
	defer k.mu.Unlock()
	clear(k.sessions)
}

func (k *keys) Named(context.Context) (bool, error) {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.named, nil
}

func (k *keys) NameOwner(_ context.Context, name string) (string, error) {
	if name == "" {
		return "", &chat.Refusal{Say: "a name is needed"}
	}
	k.link("owner", "M1", chat.Person{ID: "browser:M1", Name: name, Studio: true})
	k.mu.Lock()
	defer k.mu.Unlock()
	k.named = true
	return "owner", nil
}

func (k *keys) Opens(_ context.Context, secret string) (browser.Entrance, error) {
	k.mu.Lock()
	defer k.mu.Unlock()
	x, ok := k.links[secret]
	if !ok {
		return browser.Entrance{}, &chat.Refusal{Say: "this link was used before"}
	}
	return browser.Entrance{Name: x.Person.Name, To: x.Person.Only}, nil
}

func (k *keys) SignIn(_ context.Context, secret, _ string) (string, error) {
	k.mu.Lock()
	defer k.mu.Unlock()
	x, ok := k.links[secret]
	if !ok {
		return "", &chat.Refusal{Say: "this link was used before"}
	}
	if x.Person.Only == "" {
		delete(k.links, secret)
	}
	x.Number = fmt.Sprint(len(k.sessions) + 1)
	s := "session-" + secret + x.Number
	k.sessions[s] = x
	return s, nil
}

func (k *keys) Seated(_ context.Context, session string) (browser.Sitting, error) {
	k.mu.Lock()
	defer k.mu.Unlock()
	x, ok := k.sessions[session]
	if !ok {
		return x, &chat.Refusal{Say: "signed out"}
	}
	return x, nil
}

func (k *keys) Leave(_ context.Context, session string) error {
	k.mu.Lock()
	defer k.mu.Unlock()
	delete(k.sessions, session)
	return nil
}

func (k *keys) People(context.Context, chat.Person, string) (browser.Roster, error) {
	return browser.Roster{}, nil
}

func (k *keys) Name(context.Context, chat.PersonID) string { return "" }

// A desk that others reach lets nobody in by a name; its passphrase names the first owner and opens nothing after that, and
// guessing it is slow.
func TestTheDoorBeyondThisMachine(t *testing.T) {
	now := time.Date(2031, 3, 4, 9, 0, 0, 0, time.UTC)
	k := newKeys(false)
	d := open(t, browser.Options{Passphrase: "yew lane", Hosts: []string{"desk.example"}, Seats: k, Now: func() time.Time { return now }}, nil)
	ctx := t.Context()
	_, door := request(t, plain(t, d, nil), "GET", d.URL()+"/", "", nil)
	if !strings.Contains(door, `action="/owner"`) || strings.Contains(door, `action="/seat"`) {
		t.Errorf("the door of a desk that others reach offers the wrong ways in:\n%s", door)
	}
	if _, err := browsertest.Client(ctx, d.URL(), "Mara"); err == nil {
		t.Error("a name opens a client's seat")
	}
	if _, err := browsertest.Studio(ctx, d.URL()); err == nil {
		t.Error("the studio's seat is taken by asking")
	}
	for range 10 {
		if _, err := browsertest.Owner(ctx, d.URL(), "Edda", "guess"); err == nil {
			t.Fatal("a guessed passphrase names an owner")
		}
	}
	if _, err := browsertest.Owner(ctx, d.URL(), "Edda", "yew lane"); err == nil || !strings.Contains(err.Error(), "too many") {
		t.Errorf("after ten wrong tries: %v", err)
	}
	now = now.Add(11 * time.Minute)
	edda, err := browsertest.Owner(ctx, d.URL(), "Edda", "yew lane")
	if err != nil || edda.ID() != "browser:M1" {
		t.Fatalf("the owner: %v", err)
	}
	if _, page := request(t, plain(t, d, edda), "GET", d.URL()+edda.Path(), "", nil); !strings.Contains(page, "<span>Edda</span>") {
		t.Error("the owner's page does not say who they are")
	}
	if _, err := browsertest.Owner(ctx, d.URL(), "Rolf", "yew lane"); err == nil {
		t.Error("the passphrase names a second owner")
	}
	if _, door := request(t, plain(t, d, nil), "GET", d.URL()+"/", "", nil); strings.Contains(door, "assphrase") {
		t.Error("the door asks for a passphrase that opens nothing any more")
	}
}

// Once the studio's people are named, seats by name are closed, those already taken, too, and their streams end.
func TestNamingClosesTheSharedSeats(t *testing.T) {
	d := open(t, browser.Options{Seats: newKeys(false)}, nil)
	ctx := t.Context()
	mara := sit(t, d, "Mara")
	studio, err := browsertest.Studio(ctx, d.URL())
	if err != nil {
		t.Fatal(err)
	}
	streams := []*stream{follow(t, d, mara, ""), follow(t, d, studio, "")}
	c, old := plain(t, d, mara), plain(t, d, studio)
	edda, err := studio.NameOwner(ctx, "Edda")
	if err != nil || edda.Path() != "/as/M1/" {
		t.Fatalf("%v", err)
	}
	for i, s := range streams {
		if !s.ends() {
			t.Errorf("stream %d goes on", i)
		}
	}
	for what, get := range map[string]func() *http.Response{
		"Mara's seat":     func() *http.Response { res, _ := request(t, c, "GET", d.URL()+"/as/mara/", "", nil); return res },
		"the shared seat": func() *http.Response { res, _ := request(t, old, "GET", d.URL()+"/as/studio/", "", nil); return res },
		"a new seat by name": func() *http.Response {
			res, _ := request(t, plain(t, d, nil), "POST", d.URL()+"/seat", "role=client&name=Ilo", nil)
			return res
		},
	} {
		if res := get(); res.StatusCode == http.StatusOK || strings.HasPrefix(res.Header.Get("Location"), "/as/") {
			t.Errorf("%s is still given: %s", what, res.Status)
		}
	}
}

// A link is asked about before it is used, so that a preview of it does no harm; one that was used says so.
func TestLinksAreUsedByPressing(t *testing.T) {
	k := newKeys(true)
	k.link("abc", "M2", chat.Person{ID: "browser:M2", Name: "Rolf", Studio: true})
	d := open(t, browser.Options{Seats: k, Public: "https://desk.example", Passphrase: "x"}, nil)
	at := strings.Replace(d.LinkTo("abc"), "https://desk.example", d.URL(), 1)
	for range 2 {
		if res, page := request(t, plain(t, d, nil), "GET", at, "", nil); res.StatusCode != http.StatusOK || !strings.Contains(page, "Rolf") {
			t.Fatalf("the link: %s", res.Status)
		}
	}
	res, _ := request(t, plain(t, d, nil), "POST", d.URL()+"/enter", url.Values{"secret": {"abc"}}.Encode(), nil)
	cookie := res.Header.Get("Set-Cookie")
	for _, want := range []string{"HttpOnly", "SameSite=Strict", "Path=/as/M2/", "Secure"} {
		if !strings.Contains(cookie, want) {
			t.Errorf("the cookie %q lacks %s", cookie, want)
		}
	}
	for _, method := range []string{"GET", "POST"} {
		to, body := at, ""
		if method == "POST" {
			to, body = d.URL()+"/enter", url.Values{"secret": {"abc"}}.Encode()
		}
		if res, page := request(t, plain(t, d, nil), method, to, body, nil); res.StatusCode != http.StatusGone || !strings.Contains(page, "used before") || res.Header.Get("Set-Cookie") != "" {
			t.Errorf("%s of a used link: %s, cookie %q", method, res.Status, res.Header.Get("Set-Cookie"))
		}
	}
}

// Behind TLS that ends before the desk, cookies are sent over TLS alone; without it they have to come at all.
func TestSecureBehindTLS(t *testing.T) {
	for _, c := range []struct {
		public, proto string
		want          bool
	}{{"", "", false}, {"", "https", true}, {"", "http", false}, {"https://desk.example", "", true}, {"http://desk.example", "", false}} {
		k := newKeys(true)
		k.link("abc", "M2", chat.Person{ID: "browser:M2", Name: "Rolf", Studio: true})
		d := open(t, browser.Options{Seats: k, Public: c.public}, nil)
		res, _ := request(t, plain(t, d, nil), "POST", d.URL()+"/enter", "secret=abc", func(r *http.Request) {
			if c.proto != "" {
				r.Header.Set("X-Forwarded-Proto", c.proto)
			}
		})
		for _, cookie := range res.Header.Values("Set-Cookie") {
			if strings.Contains(cookie, "Secure") != c.want {
				t.Errorf("public %q, proxy says %q: cookie %q", c.public, c.proto, cookie)
			}
		}
		if len(res.Header.Values("Set-Cookie")) != 2 {
			t.Errorf("%d cookies, want the session's and the browser's", len(res.Header.Values("Set-Cookie")))
		}
	}
}

// Who was let in for one matter sees its thread, its files and its changes, and of the same person's others nothing: no
// page, no file, no stream, no act, no note.
func TestLetInForOneMatter(t *testing.T) {
	k := newKeys(true)
	var got []chat.Incoming
	d := open(t, browser.Options{Seats: k}, func(_ context.Context, in chat.Incoming) (chat.Reply, error) {
		got = append(got, in)
		return chat.Reply{Text: "noted for " + in.Person.Only}, nil
	}, chat.Command{Name: "ask", Summary: "x", Apart: true}, chat.Command{Name: "where", Summary: "x"})
	ctx := t.Context()
	var mine, other chat.ThreadID
	for key, to := range map[string]*chat.ThreadID{"C0001": &mine, "C0002": &other} {
		id, err := d.OpenThread(ctx, key, key, "discord:7")
		if err != nil {
			t.Fatal(err)
		}
		*to = id
		if err := d.Put(ctx, chat.Post{Key: key + "/p", Thread: id, Text: "secret of " + key, Buttons: []chat.Button{{Action: "go/" + key, Label: "Go"}},
			Files: []chat.File{{Name: "a.txt", MIME: "text/plain", Data: []byte(key)}}}); err != nil {
			t.Fatal(err)
		}
		k.link(strings.ToLower(key), key, chat.Person{ID: "discord:7", Name: "Nils", Only: key})
	}
	nils, err := browsertest.Enter(ctx, d.URL(), "c0001")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := browsertest.Enter(ctx, d.URL(), "c0001"); err != nil {
		t.Errorf("a client's link opens on a second device: %v", err)
	}
	ths, err := nils.Threads(ctx)
	if err != nil || len(ths) != 1 || ths[0] != mine {
		t.Errorf("they see the threads %v, %v", ths, err)
	}
	commands, err := nils.Commands(ctx)
	if err != nil || strings.Join(commands, " ") != "where" {
		t.Errorf("they are offered %v, %v", commands, err)
	}
	c := plain(t, d, nils)
	_, page := request(t, c, "GET", d.URL()+nils.Path(), "", nil)
	token := regexp.MustCompile(`name="token" value="([^"]+)"`).FindStringSubmatch(page)[1]
	slug := strings.TrimPrefix(string(other), "browser:")
	file := url.Values{"thread": {string(other)}, "post": {"C0002/p"}, "n": {"0"}}.Encode()
	act := func(v url.Values) string {
		v.Set("token", token)
		v.Set("act", "x")
		return v.Encode()
	}
	for what, try := range map[string][3]string{
		"the other thread":        {"GET", nils.Path() + "t/" + slug, ""},
		"its file":                {"GET", nils.Path() + "file/a.txt?" + file, ""},
		"its stream":              {"GET", nils.Path() + "events?thread=" + url.QueryEscape(string(other)), ""},
		"a press in it":           {"POST", nils.Path() + "act", act(url.Values{"kind": {"message"}, "thread": {string(other)}, "on": {"post C0002/p"}, "do": {"press go/C0002"}})},
		"words in it":             {"POST", nils.Path() + "act", act(url.Values{"kind": {"say"}, "thread": {string(other)}, "note": {"hello"}})},
		"a command that is apart": {"POST", nils.Path() + "act", act(url.Values{"kind": {"command"}, "name": {"ask"}})},
		"the seat of the other":   {"GET", "/as/C0002/", ""},
		"the seat of a member":    {"GET", "/as/M1/", ""},
		"the form for the owner":  {"POST", nils.Path() + "owner", act(url.Values{"name": {"Nils"}})},
	} {
		res, page := request(t, c, try[0], d.URL()+try[1], try[2], nil)
		if res.StatusCode == http.StatusOK || strings.HasPrefix(res.Header.Get("Location"), "/as/C0002") || strings.Contains(page, "secret of C0002") {
			t.Errorf("%s is given: %s", what, res.Status)
		}
	}
	if len(got) != 0 {
		t.Errorf("what is not theirs reached the handler: %+v", got)
	}
	// A press that names no thread is the handler's to judge, which is told for what they were let in.
	request(t, c, "POST", d.URL()+nils.Path()+"act", act(url.Values{"kind": {"message"}, "on": {"post C0002/p"}, "do": {"press go/C0002"}}), nil)
	if len(got) != 1 || got[0].Person.Only != "C0001" {
		t.Errorf("the handler is told %+v", got)
	}
	// Notes are of the one matter, though the other is the same person's.
	if _, err := nils.Do(ctx, "", "where", nil); err != nil {
		t.Fatal(err)
	}
	again, err := browsertest.Enter(ctx, d.URL(), "c0002")
	if err != nil {
		t.Fatal(err)
	}
	if said, err := again.Private(ctx, ""); err != nil || strings.Contains(said, "C0001") {
		t.Errorf("with the other link they read %q, %v", said, err)
	}
}

// Leaving ends the session and its open pages, and an old cookie opens nothing.
func TestLeaving(t *testing.T) {
	k := newKeys(true)
	k.link("abc", "M2", chat.Person{ID: "browser:M2", Name: "Rolf", Studio: true})
	d := open(t, browser.Options{Seats: k}, nil)
	rolf, err := browsertest.Enter(t.Context(), d.URL(), "abc")
	if err != nil {
		t.Fatal(err)
	}
	c, page := plain(t, d, rolf), follow(t, d, rolf, "")
	if err := rolf.Leave(t.Context()); err != nil {
		t.Fatal(err)
	}
	if !page.ends() {
		t.Error("an open page of who left goes on")
	}
	if res, _ := request(t, c, "GET", d.URL()+"/as/M2/", "", nil); res.StatusCode == http.StatusOK {
		t.Error("the old cookie opens the seat")
	}
}

// stream is a page's stream of events, read in the background.
type stream struct{ ended chan struct{} }

// follow opens a stream and returns once it is open.
func follow(t *testing.T, d *browser.Desk, p *browsertest.Peer, thread chat.ThreadID) *stream {
	t.Helper()
	to := d.URL() + p.Path() + "events"
	if thread != "" {
		to += "?thread=" + url.QueryEscape(string(thread))
	}
	req, err := http.NewRequestWithContext(t.Context(), "GET", to, nil)
	if err != nil {
		t.Fatal(err)
	}
	res, err := plain(t, d, p).Do(req)
	if err != nil || res.Header.Get("Content-Type") != "text/event-stream" {
		t.Fatalf("no stream: %v, %v", res, err)
	}
	s := &stream{ended: make(chan struct{})}
	open := make(chan struct{})
	go func() {
		defer close(s.ended)
		defer res.Body.Close()
		lines := bufio.NewScanner(res.Body)
		lines.Scan()
		close(open)
		for lines.Scan() { // until it ends
		}
	}()
	<-open
	return s
}

// ends waits until the stream has ended, for less than a heartbeat.
func (s *stream) ends() bool {
	select {
	case <-s.ended:
		return true
	case <-time.After(5 * time.Second):
		return false
	}
}

// A member who is signed out elsewhere loses the page that is open when the desk is told to look again.
func TestRecheckEndsStreams(t *testing.T) {
	k := newKeys(true)
	k.link("abc", "M2", chat.Person{ID: "browser:M2", Name: "Rolf", Studio: true})
	d := open(t, browser.Options{Seats: k}, nil)
	rolf, err := browsertest.Enter(t.Context(), d.URL(), "abc")
	if err != nil {
		t.Fatal(err)
	}
	page := follow(t, d, rolf, "")
	d.Recheck() // nothing has happened: the page stays
	select {
	case <-page.ended:
		t.Fatal("a look ends the page of who still sits there")
	case <-time.After(200 * time.Millisecond):
	}
	k.signOut()
	d.Recheck()
	if !page.ends() {
		t.Error("the page of who was signed out goes on")
	}
}

// A printed code leads whoever opens it to the page in the seat that their browser used last, with what it asks for; where nobody is
// signed in, to the door.
func TestPrintedCodesLeadToOnesSeat(t *testing.T) {
	k := newKeys(true)
	k.link("edda", "M1", chat.Person{ID: "browser:M1", Name: "Edda", Studio: true})
	page := browser.Page{Name: "rack", Title: "Rack", Serve: func(w http.ResponseWriter, r *http.Request, v browser.Visitor) error {
		fmt.Fprintf(w, "%s reads %s", v.Person.Name, r.URL.Query().Get("of"))
		return nil
	}}
	d := open(t, browser.Options{Seats: k, Further: []browser.Page{page}}, nil)
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	c := &http.Client{Jar: jar}
	read := func() (string, string) {
		t.Helper()
		r, err := c.Get(d.URL() + "/to/rack?of=R0007")
		if err != nil {
			t.Fatal(err)
		}
		defer r.Body.Close()
		raw, err := io.ReadAll(r.Body)
		if err != nil {
			t.Fatal(err)
		}
		return r.Request.URL.Path, string(raw)
	}
	if at, said := read(); at != "/" || strings.Contains(said, "reads") {
		t.Errorf("whoever is not signed in is led to %s", at)
	}
	r, err := c.PostForm(d.URL()+"/enter", url.Values{"secret": {"edda"}})
	if err != nil {
		t.Fatal(err)
	}
	r.Body.Close()
	if at, said := read(); at != "/as/M1/rack" || said != "Edda reads R0007" {
		t.Errorf("Edda is led to %s, which says %.80q", at, said)
	}
	home := func() string {
		t.Helper()
		r, err := c.Get(d.URL() + "/")
		if err != nil {
			t.Fatal(err)
		}
		r.Body.Close()
		return r.Request.URL.String()
	}
	if at := home(); at != d.URL()+"/as/M1/" {
		t.Errorf("Edda opens the desk's address and is led to %s", at)
	}
	k.signOut()
	if at := home(); at != d.URL()+"/?again=M1" {
		t.Errorf("signed out elsewhere, Edda is led to %s", at)
	}
	jar.SetCookies(r.Request.URL, []*http.Cookie{{Name: "bb-seat", Value: "../../evil", Path: "/"}})
	if at, said := read(); strings.Contains(at, "evil") || strings.Contains(said, "reads") {
		t.Errorf("a cookie of somebody's own leads to %s", at)
	}
}
