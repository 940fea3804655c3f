package main

import (
	"bufio"
	"bytes"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"benchbell/bot/browser/browsertest"
	"benchbell/bot/chat"
	"benchbell/bot/chat/chattest"
	"benchbell/bot/ledger"
)

var printedSecret = regexp.MustCompile(`/enter/([a-z2-7]{26})`)

// secretIn is the secret of the link that an answer tells.
func secretIn(t *testing.T, a chattest.Answer, err error) string {
	t.Helper()
	if err != nil || a.Refused != "" {
		t.Fatalf("no link: %q, %v", a.Refused, err)
	}
	m := printedSecret.FindStringSubmatch(a.Text)
	if m == nil {
		t.Fatalf("no link in %q", a.Text)
	}
	if len(a.Files) != 1 || a.Files[0].MIME != "image/png" {
		t.Errorf("the link comes with %d pictures, want its QR code", len(a.Files))
	}
	return m[1]
}

// answered is an answer that was not refused.
func answered(t *testing.T, a chattest.Answer, err error) chattest.Answer {
	t.Helper()
	if err != nil || a.Refused != "" {
		t.Fatalf("refused: %q, %v", a.Refused, err)
	}
	return a
}

// An owner is named on a desk that was everybody's, adds a maker and one for the front desk, and each signs in and signs what
// they do; clients come by links. All through the program as it is, from the pages to the file.
func TestPeopleOfTheStudio(t *testing.T) {
	h, who := browserHouse(t, nil)
	ctx := t.Context()
	url := h.stdout.Await(t, printedURL)
	url = strings.TrimPrefix(url, "the desk is at ")
	client := who.client.(*browsertest.Peer)
	ilka := answered2(t)(client.Do(ctx, "", "commission", map[string]string{"set": "forearm-cuff"})).Thread
	answered2(t)(who.other.Do(ctx, "", "commission", nil))
	h.settle()

	owner, err := who.studio.(*browsertest.Peer).NameOwner(ctx, "Edda Holm")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := client.Threads(ctx); err == nil {
		t.Error("a name still opens Ilka's commission")
	}
	if _, err := browsertest.Client(ctx, url, "Ilka"); err == nil {
		t.Error("a name opens a seat on a desk with members")
	}

	add := func(name string, parts map[string]string) string {
		t.Helper()
		answered2(t)(owner.Do(ctx, "", "people", nil))
		answered2(t)(owner.Press(ctx, "", "new-member"))
		v := map[string]string{"name": name}
		for k, x := range parts {
			v[k] = x
		}
		a, err := owner.Submit(ctx, "", "member", v)
		return secretIn(t, a, err)
	}
	secrets := []string{add("Rolf", map[string]string{"maker": "yes", "bench": "Mara"}), add("Frida", map[string]string{"front-desk": "yes"})}
	rolf, err := browsertest.Enter(ctx, url, secrets[0])
	if err != nil {
		t.Fatal(err)
	}
	frida, err := browsertest.Enter(ctx, url, secrets[1])
	if err != nil {
		t.Fatal(err)
	}
	if _, err := browsertest.Enter(ctx, url, secrets[0]); err == nil || !strings.Contains(err.Error(), "was used on") || !strings.Contains(err.Error(), "ask the studio's owner for another") {
		t.Errorf("a link opened twice: %v", err)
	}
	answered2(t)(rolf.Do(ctx, "", "bench", nil))
	offered := func(p *browsertest.Peer, command string) bool {
		t.Helper()
		all, err := p.Commands(ctx)
		if err != nil {
			t.Fatal(err)
		}
		return slices.Contains(all, command)
	}
	for command, want := range map[string][3]bool{"bench": {true, true, true}, "deposit": {true, false, true}, "for-client": {true, false, true},
		"pattern": {true, true, false}, "rack": {true, true, true}, "people": {true, true, true}, "commission": {true, true, true}} {
		for i, p := range []*browsertest.Peer{owner, rolf, frida} {
			if offered(p, command) != want[i] {
				t.Errorf("%s to %s: offered must be %t", command, p.ID(), want[i])
			}
		}
	}
	for act, a := range map[string]func() (chattest.Answer, error){
		"a maker cancels a client's": func() (chattest.Answer, error) {
			return rolf.Do(ctx, "", "cancel", map[string]string{"number": "C0001"})
		},
		"a maker makes a client link": func() (chattest.Answer, error) { return rolf.Do(ctx, ilka, "private-link", nil) },
	} {
		got, err := a()
		if err != nil || !strings.Contains(got.Refused, "ask one of them") {
			t.Errorf("%s: %+v, %v", act, got, err)
		}
	}

	// Ilka comes back by a link that the front desk sends her.
	a, err := frida.Do(ctx, ilka, "private-link", nil)
	secrets = append(secrets, secretIn(t, a, err))
	back, err := browsertest.Enter(ctx, url, secrets[2])
	if err != nil {
		t.Fatal(err)
	}
	if ths, err := back.Threads(ctx); err != nil || len(ths) != 1 || ths[0] != ilka {
		t.Errorf("her link shows %v, %v", ths, err)
	}
	answered2(t)(back.Do(ctx, "", "where", nil))
	if a, err := back.Do(ctx, "", "where", map[string]string{"number": "C0002"}); err != nil || !strings.Contains(a.Refused, "not one of your commissions") || strings.Contains(a.Refused, "Jorin") {
		t.Errorf("another's by her link: %+v, %v", a, err)
	}
	answered2(t)(back.Pick(ctx, ilka, "finish/C0001", "painted"))

	// A client who has never been here.
	a, err = frida.Do(ctx, "", "for-client", map[string]string{"name": "Nils"})
	secrets = append(secrets, secretIn(t, a, err))
	h.settle()
	nils, err := browsertest.Enter(ctx, url, secrets[3])
	if err != nil || nils.ID() != "browser:C0003" {
		t.Fatalf("the invited client: %v", err)
	}
	ths, err := nils.Threads(ctx)
	if err != nil || len(ths) != 1 {
		t.Fatalf("the invited client sees %v, %v", ths, err)
	}
	a, err = nils.Press(ctx, ths[0], "link/C0003") // from the post in the thread
	secrets = append(secrets, secretIn(t, a, err))
	answered2(t)(frida.Press(ctx, ths[0], "end-links/C0003"))
	for _, s := range []string{secrets[3], secrets[4]} {
		if _, err := browsertest.Enter(ctx, url, s); err == nil || !strings.Contains(err.Error(), "was ended") {
			t.Errorf("an ended link: %v", err)
		}
	}
	if _, err := nils.Threads(ctx); err == nil {
		t.Error("who came by an ended link is still in")
	}

	// Rolf goes: his open page ends at once.
	page := stream(t, url, rolf)
	answered2(t)(owner.Do(ctx, "", "people", nil))
	answered2(t)(owner.Pick(ctx, "", "members", "member/M2"))
	answered2(t)(owner.Press(ctx, "", "let-go/M2"))
	select {
	case <-page:
	case <-time.After(10 * time.Second):
		t.Error("the page of who was let go still hears of the studio")
	}
	if _, err := rolf.Threads(ctx); err == nil {
		t.Error("who was let go is still in")
	}

	// The trail says who, and the file holds no secret.
	if err := h.led.Tx(ctx, func(tx *ledger.Tx) error {
		events, err := tx.Events("C0001")
		by := map[string]string{}
		for _, e := range events {
			by[e.What] = e.Name
		}
		if by["made a private link"] != "Frida" || by["signed in"] != "Ilka" || by["asked"] != "Ilka" {
			t.Errorf("the trail has %v", by)
		}
		all, err2 := tx.Events("")
		if n := len(all); n == 0 || all[n-1].What != "let go" || all[n-1].Name != "Edda Holm" {
			t.Errorf("the studio's trail has %+v, %v", all, err2)
		}
		return err
	}); err != nil {
		t.Fatal(err)
	}
	for _, c := range []*browsertest.Peer{owner, frida, back} {
		secrets = append(secrets, c.Cookies()[0].Value)
	}
	h.holdsNone(t, secrets)
}

// answered2 is answered for a call's two values.
func answered2(t *testing.T) func(chattest.Answer, error) chattest.Answer {
	return func(a chattest.Answer, err error) chattest.Answer { t.Helper(); return answered(t, a, err) }
}

// holdsNone looks for secrets in every file of the ledger.
func (h *house) holdsNone(t *testing.T, secrets []string) {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(h.data, "*"))
	if err != nil {
		t.Fatal(err)
	}
	held := false
	for _, f := range files {
		data, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		held = held || bytes.Contains(data, []byte("Edda Holm"))
		for i, s := range secrets {
			if len(s) < 20 || bytes.Contains(data, []byte(s)) {
				t.Errorf("secret %d is in %s", i, f)
			}
		}
	}
	if !held {
		t.Error("the files have not even the owner's name; the search is broken")
	}
}

// stream opens the stream of a page and returns what is closed when it ends.
func stream(t *testing.T, url string, p *browsertest.Peer) <-chan struct{} {
	t.Helper()
	req, err := http.NewRequestWithContext(t.Context(), http.MethodGet, url+p.Path()+"events", nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range p.Cookies() {
		req.AddCookie(c)
	}
	res, err := http.DefaultClient.Do(req)
	if err != nil || res.Header.Get("Content-Type") != "text/event-stream" {
		t.Fatalf("no stream: %v", err)
	}
	r := bufio.NewReader(res.Body)
	if _, err := r.ReadString('\n'); err != nil {
		t.Fatal(err)
	}
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		defer res.Body.Close()
		io.Copy(io.Discard, r) //nolint:errcheck // that it ends is what counts
	}()
	return ended
}

// Who has lost their link makes another on the machine that has the ledger.
func TestSignInFromTheMachine(t *testing.T) {
	h, who := browserHouse(t, nil)
	ctx := t.Context()
	url := strings.TrimPrefix(h.stdout.Await(t, printedURL), "the desk is at ")
	env := func(key string) string {
		return map[string]string{"BENCHBELL_DATA": h.data, "BENCHBELL_DESK_URL": "https://desk.example/"}[key]
	}
	var out bytes.Buffer
	if err := run(ctx, []string{"sign-in"}, env, &out, io.Discard); err == nil || !strings.Contains(err.Error(), "nobody is named") {
		t.Errorf("before anybody is named: %v", err)
	}
	if _, err := who.studio.(*browsertest.Peer).NameOwner(ctx, "Edda Holm"); err != nil {
		t.Fatal(err)
	}
	if err := run(ctx, []string{"sign-in", "Eve"}, env, &out, io.Discard); err == nil || !strings.Contains(err.Error(), "Edda Holm") {
		t.Errorf("for nobody: %v", err)
	}
	if err := run(ctx, []string{"sign-in"}, env, &out, io.Discard); err != nil {
		t.Fatal(err)
	}
	m := printedSecret.FindStringSubmatch(out.String())
	if m == nil || !strings.Contains(out.String(), "https://desk.example/enter/") {
		t.Fatalf("it prints %q", out.String())
	}
	if p, err := browsertest.Enter(ctx, url, m[1]); err != nil || p.ID() != chat.PersonID("browser:M1") {
		t.Errorf("the link: %v", err)
	}
}
