package board_test

import (
	"bufio"
	"context"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/quote"
	"benchbell/quote/floor"
)

// begun is how long after the tests' first morning the work of what was ordered then begins.
const begun = 72 * time.Hour

// person is somebody at the desk with a browser without script.
type person struct {
	t    testing.TB
	h    *house
	c    *http.Client
	base string
}

func (h *house) sit(role, name string) *person {
	h.t.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		h.t.Fatal(err)
	}
	p := &person{t: h.t, h: h, c: &http.Client{Jar: jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}}
	to, _ := p.post("/seat", url.Values{"role": {role}, "name": {name}}, http.StatusSeeOther)
	p.base = to
	return p
}

func (p *person) answer(r *http.Response, err error, want int) (to, page string) {
	p.t.Helper()
	if err != nil {
		p.t.Fatal(err)
	}
	defer r.Body.Close()
	raw, err := io.ReadAll(r.Body)
	if err != nil {
		p.t.Fatal(err)
	}
	if r.StatusCode != want {
		p.t.Fatalf("%s: %s, want %d: %s", r.Request.URL.Path, r.Status, want, text(string(raw)))
	}
	return r.Header.Get("Location"), string(raw)
}

func (p *person) get(path string, want int) string {
	p.t.Helper()
	r, err := p.c.Get(p.h.desk.URL() + path)
	_, page := p.answer(r, err, want)
	return page
}

func (p *person) post(path string, v url.Values, want int) (to, page string) {
	p.t.Helper()
	r, err := p.c.PostForm(p.h.desk.URL()+path, v)
	return p.answer(r, err, want)
}

var (
	formOf  = regexp.MustCompile(`(?s)<form method="post" action="today">(.*?)</form>`)
	inputOf = regexp.MustCompile(`name="([^"]+)" value="([^"]*)"`)
	tag     = regexp.MustCompile(`(?s)<[^>]*>`)
)

// text is what a page says.
func text(page string) string {
	return strings.Join(strings.Fields(tag.ReplaceAllString(page, " ")), " ")
}

// forms are what the buttons of a page send.
func forms(page string) []url.Values {
	var out []url.Values
	for _, f := range formOf.FindAllStringSubmatch(page, -1) {
		v := url.Values{}
		for _, in := range inputOf.FindAllStringSubmatch(f[1], -1) {
			v.Set(in[1], in[2])
		}
		out = append(out, v)
	}
	return out
}

// press sends a form and follows it to the page.
func (p *person) press(v url.Values) string {
	p.t.Helper()
	to, _ := p.post(p.base+"today", v, http.StatusSeeOther)
	return p.get(to, http.StatusOK)
}

// count is how often something happened to a commission.
func (h *house) count(id quote.CommissionID, what string) (n int) {
	h.t.Helper()
	if err := h.led.Tx(h.t.Context(), func(t *ledger.Tx) error {
		es, err := t.Events(id)
		for _, e := range es {
			if e.What == what {
				n++
			}
		}
		return err
	}); err != nil {
		h.t.Fatal(err)
	}
	return n
}

func atWork(t *testing.T, n int) *house {
	t.Helper()
	h := newHouse(t)
	h.fill(n)
	h.wait(begun)
	return h
}

func says(t *testing.T, page string, wants ...string) {
	t.Helper()
	said := text(page)
	for _, w := range wants {
		if !strings.Contains(said, w) {
			t.Errorf("the page does not say %q: %s", w, said)
		}
	}
}

// What is first to be done is begun and done with one press each; a press sent twice is one act, and one too late says so.
func TestToday(t *testing.T) {
	h := atWork(t, 1)
	p, other := h.sit("studio", ""), h.sit("studio", "")
	page := p.get(p.base+"today", http.StatusOK)
	says(t, page, "Today", "Thu 5 Nov, 09:30", "Mara", "Jonas", "C0001", "Bench", "Start")
	fs := forms(page)
	if len(fs) < 2 || fs[0].Get("do") != "start" {
		t.Fatalf("the page offers %v", fs)
	}
	stale := forms(other.get(other.base+"today", http.StatusOK))[0]
	if stale.Get("act") == fs[0].Get("act") {
		t.Error("two pages have one act's name")
	}
	first := p.press(fs[0])
	again := p.press(fs[0])
	says(t, again, "since 09:30", "Done")
	if n := h.count("C0001", "started"); n != 1 || strings.Contains(again, "refused") {
		t.Errorf("pressed twice, it is begun %d times, and the page says %s", n, text(again))
	}
	says(t, other.press(stale), "was begun at 09:30; press Done when it is")
	done := forms(first)[0]
	if done.Get("do") != "done" || done.Get("operation") != fs[0].Get("operation") {
		t.Fatalf("what is in hand is not first: %v", done)
	}
	stale = forms(other.get(other.base+"today", http.StatusOK))[0]
	h.wait(20 * time.Minute)
	p.press(done)
	p.press(done)
	if n := h.count("C0001", "done"); n != 1 {
		t.Errorf("pressed twice, it is done %d times", n)
	}
	says(t, other.press(stale), "was done at 09:50; take the next")
	says(t, p.get(p.base+"today", http.StatusOK), "1 of")
}

// What waits says for what, and a press of it is refused beside it.
func TestRefusedBesideIt(t *testing.T) {
	h := atWork(t, 1)
	d := h.day()
	if len(d.Waiting) == 0 {
		t.Fatal("nothing waits, and nothing is proved")
	}
	p := h.sit("studio", "")
	v := forms(p.get(p.base+"today", http.StatusOK))[0]
	w := d.Waiting[0]
	v.Set("operation", strconv.Itoa(w.Operation.Seq))
	if to, _ := p.post(p.base+"today", v, http.StatusSeeOther); !strings.HasSuffix(to, "#told") {
		t.Errorf("a refusal leads to %s", to)
	}
	page := p.press(v)
	if strings.Count(page, `id="told"`) != 1 {
		t.Error("the page has no one place of what was refused")
	}
	li := regexp.MustCompile(`(?s)<li[^>]*><div><p class="what" id="t-[a-z]+-C0001-` + strconv.Itoa(w.Operation.Seq) + `">.*?</li>`).FindString(page)
	says(t, li, w.Operation.Title, "cannot be done yet", "must be done first")
	if strings.Contains(text(strings.Replace(page, li, "", 1)), "cannot be done yet") && len(w.Operation.Resources) < 3 {
		t.Error("it is refused elsewhere, too")
	}
	if n := h.count("C0001", "started"); n != 0 {
		t.Errorf("it is begun %d times", n)
	}
	if page := p.get(p.base+"today?note=x", http.StatusOK); strings.Contains(page, "cannot be done yet") {
		t.Error("a note is shown to who does not know its name")
	}
}

// What is begun ahead of its place and hurts a promise is asked first, with what it does.
func TestStartThatHurts(t *testing.T) {
	h := newHouse(t)
	h.fill(2)
	h.look = func(ctx context.Context, open []floor.Open, st quote.Studio, now time.Time) (floor.Shop, error) {
		s, err := floor.Look(ctx, open, st, now)
		hurts := slices.ContainsFunc(open, func(o floor.Open) bool {
			return o.Snapshot.Commission == "C0001" && slices.ContainsFunc(o.Actual, func(a floor.Actual) bool { return !a.Started.IsZero() })
		})
		for i := range s.Outlooks {
			if l := &s.Outlooks[i]; hurts && l.Commission == "C0002" {
				l.Kept, l.KeptNow, l.Danger = .31, .31, true
			}
		}
		return s, err
	}
	p := h.sit("studio", "")
	page := p.get(p.base+"today", http.StatusOK)
	i := slices.IndexFunc(forms(page), func(v url.Values) bool { return v.Get("commission") == "C0001" })
	if i < 0 {
		t.Fatalf("C0001 is not offered: %s", text(page))
	}
	v := forms(page)[i]
	page = p.press(v)
	says(t, page, "Nothing has changed yet.", "C0002 · Client 2", "kept in 31 of 100 simulated runs", "Start all the same", "Leave it")
	if n := h.count("C0001", "started"); n != 0 {
		t.Fatalf("it is begun %d times before it is said", n)
	}
	for _, f := range forms(page) {
		if f.Get("seen") != "" && f.Get("operation") == v.Get("operation") {
			v = f
		}
	}
	if v.Get("seen") == "" {
		t.Fatal("there is no second button")
	}
	p.press(v)
	p.press(v)
	if n := h.count("C0001", "started"); n != 1 {
		t.Errorf("all the same, it is begun %d times", n)
	}
}

// The pages are the studio's alone, and what is posted comes from them.
func TestWhoseBoard(t *testing.T) {
	h := newHouse(t)
	client, studio := h.sit("client", "Ilka"), h.sit("studio", "")
	for _, path := range []string{"today", "curing", "board.css"} {
		says(t, client.get(client.base+path, http.StatusNotFound), "you have no such page")
		r, err := client.c.Get(h.desk.URL() + studio.base + path)
		if to, _ := client.answer(r, err, http.StatusSeeOther); !strings.HasPrefix(to, "/?again=") {
			t.Errorf("the studio's %s leads a client to %s", path, to)
		}
	}
	client.post(client.base+"today", url.Values{"commission": {"C0001"}, "operation": {"1"}, "do": {"done"}}, http.StatusNotFound)
	client.get(client.base+"events?page=today", http.StatusNotFound)
	says(t, client.get(client.base, http.StatusOK), "Your commissions")
	if page := client.get(client.base, http.StatusOK); strings.Contains(page, "/today") {
		t.Error("a client's list leads to the board")
	}
	for _, path := range []string{"today", "curing"} {
		if page := studio.get(studio.base, http.StatusOK); !strings.Contains(page, `href="`+studio.base+path+`"`) {
			t.Errorf("the studio's list does not lead to %s", path)
		}
		if page := studio.get(studio.base+path, http.StatusOK); !strings.Contains(page, `href="`+studio.base+`"`) {
			t.Errorf("%s does not lead back", path)
		}
	}
	studio.post(studio.base+"today", url.Values{"commission": {"C0001"}, "operation": {"1"}, "do": {"done"}}, http.StatusForbidden)
	says(t, studio.get(studio.base+"today", http.StatusOK), "Nothing is at the bench")
	says(t, studio.get(studio.base+"curing", http.StatusOK), "Nothing dries")
}

// A part that dries says until when in the studio's time, what comes then, and when its window closes.
func TestCuring(t *testing.T) {
	h := atWork(t, 1)
	p := h.sit("studio", "")
	windowed := func(x shop.Drying) bool { return !x.Closes.IsZero() && x.Next != nil && x.Ready.After(h.now()) }
	d := h.goOn(func(d shop.BenchDay) bool { return slices.ContainsFunc(d.Drying, windowed) })
	part := d.Drying[slices.IndexFunc(d.Drying, windowed)]
	zone, err := time.LoadLocation(studio().Calendar.Zone)
	if err != nil {
		t.Fatal(err)
	}
	at := func(x time.Time) string {
		if x.In(zone).YearDay() == h.now().In(zone).YearDay() {
			return x.In(zone).Format("15:04")
		}
		return x.In(zone).Format("Mon 2 Jan, 15:04")
	}
	page := func() string { return p.get(p.base+"curing", http.StatusOK) }
	says(t, page(), "Ready "+at(part.Ready), "then ready for", part.Next.Title, "Window closes "+at(part.Closes), "1 still drying")
	h.wait(part.Ready.Sub(h.now()) + time.Minute)
	says(t, page(), "Ready since "+at(part.Ready), part.Next.Title, "Window closes "+at(part.Closes), "1 dry and waiting")
	if strings.Contains(page(), "closing") {
		t.Error("a window long open is said to close soon")
	}
	h.wait(part.Closes.Sub(h.now()) - 31*time.Minute)
	if strings.Contains(page(), "soon") {
		t.Error("a window that is open for half an hour and more is said to close soon")
	}
	h.wait(21 * time.Minute)
	says(t, page(), "Window closes soon: "+at(part.Closes)+", in 10 min")
	if today := text(p.get(p.base+"today", http.StatusOK)); strings.Count(today, "Window closes soon: "+at(part.Closes)) != 2 {
		t.Errorf("the coat that must be on soon does not say so, beside what dries: %s", today)
	}
	h.wait(11 * time.Minute)
	says(t, page(), "Window closed "+at(part.Closes)+": key the surface first")
}

// Who has a page open hears of an act within a second.
func TestPagesHear(t *testing.T) {
	h := atWork(t, 1)
	p, other := h.sit("studio", ""), h.sit("studio", "")
	page := other.get(other.base+"today", http.StatusOK)
	m := regexp.MustCompile(`data-events="([^"]+)"`).FindStringSubmatch(page)
	if m == nil {
		t.Fatal("the page follows nothing")
	}
	ctx, stop := context.WithTimeout(t.Context(), 20*time.Second)
	defer stop()
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, h.desk.URL()+m[1], nil)
	if err != nil {
		t.Fatal(err)
	}
	r, err := other.c.Do(req)
	if err != nil || r.StatusCode != http.StatusOK {
		t.Fatalf("the stream: %v, %v", r, err)
	}
	defer r.Body.Close()
	lines := bufio.NewScanner(r.Body)
	if !lines.Scan() { // the stream has opened
		t.Fatal("the stream says nothing")
	}
	began := time.Now()
	p.press(forms(p.get(p.base+"today", http.StatusOK))[0])
	for lines.Scan() {
		if lines.Text() == "event: changed" {
			if took := time.Since(began); took > time.Second {
				t.Errorf("it is heard after %s", took)
			}
			return
		}
	}
	t.Error("nothing is heard")
}

// One maker's day has nothing that is another's alone.
func TestWhoseDay(t *testing.T) {
	h := atWork(t, 2)
	p := h.sit("studio", "")
	all := p.get(p.base+"today", http.StatusOK)
	says(t, all, "Everybody Mara Jonas")
	one := p.get(p.base+"today?for=jonas", http.StatusOK)
	if strings.Contains(one, `id="m-mara"`) || !strings.Contains(one, `id="m-jonas"`) {
		t.Errorf("the day of Jonas is %s", text(one))
	}
	v := forms(one)[0]
	to, _ := p.post(p.base+"today", v, http.StatusSeeOther)
	if !strings.HasSuffix(to, "today?for=jonas") {
		t.Errorf("a press leads from one maker's day to %s", to)
	}
}
