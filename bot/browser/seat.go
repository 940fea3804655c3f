package browser

import (
	"context"
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"net"
	"net/http"
	"net/netip"
	"strings"
	"sync"
	"time"
	"unicode"
	"unicode/utf8"

	"benchbell/bot/chat"
)

const (
	studioSlug  = "studio"
	cookieName  = "seat"
	browserName = "browser" // of the cookie that tells browsers apart, whatever seats they hold; it opens nothing
	cookieLasts = 30 * 24 * time.Hour
	maxName     = 40 // characters of a person's name: fits a phone's line

	// Wrong passphrases and links allowed from one network address in each window.
	maxTries    = 10
	triesWindow = 10 * time.Minute
	maxAddrs    = 4096 // addresses remembered at once
)

// seat is who a browser tab acts as.
type seat struct {
	Slug   string // in the address: "mara", "studio"
	Name   string // as typed
	Studio bool
	Nonce  string
	Issued int64 // Unix seconds

	// Of who is signed in; none of it is taken from a cookie.
	As     chat.Person `json:"-"`
	Secret string      `json:"-"` // of the session
	NotFor []string    `json:"-"` // commands that are not offered
}

func (s seat) id() chat.PersonID {
	if s.As.ID != "" {
		return s.As.ID
	}
	return chat.PersonID(scheme + ":" + s.Slug)
}

// desk is whose notes and drafts these are: who was let in for one matter has their own, whoever they are.
func (s seat) desk() chat.PersonID {
	if s.As.Only != "" {
		return s.id() + chat.PersonID(" "+s.As.Only)
	}
	return s.id()
}

func (s seat) place(thread chat.ThreadID) place { return place{s.desk(), thread} }

func (s seat) base() string { return "/as/" + s.Slug + "/" }

func (s seat) person() chat.Person {
	if s.As.ID != "" {
		return s.As
	}
	return chat.Person{ID: s.id(), Name: s.Name, Studio: s.Studio}
}

// slug makes a name's part of an address: lower case ASCII letters and digits and hyphens. Names that differ in other
// letters get a short hash behind, so that two names in one script never share a seat.
func slug(name string) string {
	name = strings.ToLower(strings.Join(strings.Fields(name), " "))
	var b strings.Builder
	other := false
	for _, r := range name {
		switch {
		case r >= 'a' && r <= 'z', r >= '0' && r <= '9':
			b.WriteRune(r)
		case unicode.IsSpace(r), unicode.IsPunct(r):
			if s := b.String(); s != "" && !strings.HasSuffix(s, "-") {
				b.WriteByte('-')
			}
		default:
			other = true
		}
	}
	out := strings.Trim(b.String(), "-")
	if other {
		sum := sha256.Sum256([]byte(name))
		out = strings.Trim(out+"-"+hex.EncodeToString(sum[:4]), "-")
	}
	return out
}

// tidyName drops what isn't to be seen and says whether a name is left and short enough.
func tidyName(name string) (string, bool) {
	name = strings.Map(func(r rune) rune {
		if unicode.IsSpace(r) {
			return ' '
		}
		if !unicode.IsGraphic(r) || unicode.Is(unicode.Cf, r) {
			return -1
		}
		return r
	}, strings.ToValidUTF8(name, ""))
	name = strings.Join(strings.Fields(name), " ")
	return name, name != "" && utf8.RuneCountInString(name) <= maxName && slug(name) != ""
}

func (d *Desk) sign(purpose, text string) []byte {
	mac := hmac.New(sha256.New, d.key)
	mac.Write([]byte(purpose + "\x00" + text))
	return mac.Sum(nil)
}

// token proves that an act's page was made for this seat.
func (d *Desk) token(s seat) string {
	return base64.RawURLEncoding.EncodeToString(d.sign("token", s.Slug+"\x00"+s.Nonce)[:18])
}

func same(a, b string) bool {
	// Hashing first keeps the lengths from showing in the time taken.
	x, y := sha256.Sum256([]byte(a)), sha256.Sum256([]byte(b))
	return subtle.ConstantTimeCompare(x[:], y[:]) == 1
}

// give sets the seat's cookie, which the browser sends under the seat's own path alone.
func (d *Desk) give(w http.ResponseWriter, r *http.Request, s seat) {
	s.Nonce, s.Issued = rand.Text(), d.o.Now().Unix()
	raw, _ := json.Marshal(s)
	value := base64.RawURLEncoding.EncodeToString(raw)
	value += "." + base64.RawURLEncoding.EncodeToString(d.sign("cookie", value))
	http.SetCookie(w, &http.Cookie{
		Name: cookieName, Value: value, Path: s.base(), MaxAge: int(cookieLasts / time.Second),
		HttpOnly: true, Secure: d.secure(r), SameSite: http.SameSiteStrictMode,
	})
}

// secure reports whether the browser reaches the desk over TLS, which ends before it. Who says so of themselves without it
// is sent a cookie that their browser will not send back.
func (d *Desk) secure(r *http.Request) bool {
	return r.TLS != nil || strings.HasPrefix(d.o.Public, "https:") || strings.EqualFold(r.Header.Get("X-Forwarded-Proto"), "https")
}

// mark has the browser tell itself from others.
func (d *Desk) mark(w http.ResponseWriter, r *http.Request) {
	if _, err := r.Cookie(browserName); err == nil {
		return
	}
	http.SetCookie(w, &http.Cookie{Name: browserName, Value: rand.Text(), Path: "/", MaxAge: int(cookieLasts / time.Second),
		HttpOnly: true, Secure: d.secure(r), SameSite: http.SameSiteStrictMode})
}

// browserOf tells browsers apart; without the mark each seat counts as one.
func browserOf(r *http.Request, s seat) string {
	if c, err := r.Cookie(browserName); err == nil {
		return c.Value
	}
	return s.Nonce
}

// seatOf is the seat that the request's cookie proves for the slug: of who signed in, or by a name alone where that will do.
func (d *Desk) seatOf(r *http.Request, slug string) (seat, bool) {
	if s, ok := d.signedIn(r, slug); ok {
		return s, true
	}
	if !d.byName(r.Context()) {
		return seat{}, false
	}
	for _, c := range r.CookiesNamed(cookieName) {
		value, sum, ok := strings.Cut(c.Value, ".")
		got, err := base64.RawURLEncoding.DecodeString(sum)
		if !ok || err != nil || !hmac.Equal(got, d.sign("cookie", value)) {
			continue
		}
		raw, err := base64.RawURLEncoding.DecodeString(value)
		var s seat
		if err != nil || json.Unmarshal(raw, &s) != nil || s.Slug != slug {
			continue
		}
		if d.o.Now().Sub(time.Unix(s.Issued, 0)) > cookieLasts {
			continue
		}
		if !s.Studio {
			d.learn(s.id(), s.Name)
		}
		return s, true
	}
	return seat{}, false
}

// learn remembers what a person is called.
func (d *Desk) learn(id chat.PersonID, name string) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.names[id] = name
}

// claim checks what somebody says who would sit by a name alone; the returned sentence is empty when the seat is theirs.
func (d *Desk) claim(ctx context.Context, role, name string) (seat, string) {
	s := seat{Slug: studioSlug, Name: d.o.Studio, Studio: true}
	if !d.byName(ctx) {
		return s, "nobody sits here by a name alone; open the link that the studio sent you"
	}
	if role == "studio" {
		return s, ""
	}
	tidy, ok := tidyName(name)
	if !ok {
		return s, "a name needs 1 to 40 characters, with a letter or digit among them"
	}
	s = seat{Slug: slug(tidy), Name: tidy}
	if s.Slug == studioSlug || s.Slug == slug(d.o.Studio) {
		return s, "that name is the studio's own; add your family name, or sign in as the studio"
	}
	return s, ""
}

// address is the network an attempt comes from: an IPv4 address or the first 64 bits of an IPv6 one, since one home
// has all the rest.
func address(r *http.Request) string {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		return r.RemoteAddr
	}
	a, err := netip.ParseAddr(host)
	if err != nil {
		return host
	}
	a = a.Unmap()
	bits := 32
	if a.Is6() {
		bits = 64
	}
	p, err := a.Prefix(bits)
	if err != nil {
		return host
	}
	return p.String()
}

// attempts counts wrong tries by network address.
type attempts struct {
	mu   sync.Mutex
	from map[string]*tally
}

type tally struct {
	n     int
	until time.Time
}

func newAttempts() *attempts { return &attempts{from: map[string]*tally{}} }

func (a *attempts) allowed(from string, now time.Time) bool {
	a.mu.Lock()
	defer a.mu.Unlock()
	t, ok := a.from[from]
	return !ok || !now.Before(t.until) || t.n < maxTries
}

func (a *attempts) failed(from string, now time.Time) {
	a.mu.Lock()
	defer a.mu.Unlock()
	if t, ok := a.from[from]; ok && now.Before(t.until) {
		t.n++
		return
	}
	if len(a.from) >= maxAddrs {
		for k, t := range a.from {
			if !now.Before(t.until) {
				delete(a.from, k)
			}
		}
	}
	if len(a.from) < maxAddrs {
		a.from[from] = &tally{n: 1, until: now.Add(triesWindow)}
	}
}
