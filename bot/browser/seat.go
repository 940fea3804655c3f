package browser

import (
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base32"
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

	// Wrong passphrases and invites allowed from one network address in each window. At ten in ten minutes, guessing
	// one of 2^40 invites takes longer than anybody's commission.
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
}

func (s seat) id() chat.PersonID { return chat.PersonID(scheme + ":" + s.Slug) }

func (s seat) base() string { return "/as/" + s.Slug + "/" }

func (s seat) person() chat.Person {
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

// invite is the code that opens a client's seat from another machine: 40 bits in base 32, given by the studio.
func (d *Desk) invite(slug string) string {
	return strings.ToLower(base32.StdEncoding.EncodeToString(d.sign("invite", slug)[:5]))
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
		HttpOnly: true, Secure: r.TLS != nil, SameSite: http.SameSiteStrictMode,
	})
}

// mark has the browser tell itself from others.
func (d *Desk) mark(w http.ResponseWriter, r *http.Request) {
	if _, err := r.Cookie(browserName); err == nil {
		return
	}
	http.SetCookie(w, &http.Cookie{Name: browserName, Value: rand.Text(), Path: "/", MaxAge: int(cookieLasts / time.Second),
		HttpOnly: true, Secure: r.TLS != nil, SameSite: http.SameSiteStrictMode})
}

// browserOf tells browsers apart; without the mark each seat counts as one.
func browserOf(r *http.Request, s seat) string {
	if c, err := r.Cookie(browserName); err == nil {
		return c.Value
	}
	return s.Nonce
}

// seatOf is the seat that the request's cookie proves for the slug.
func (d *Desk) seatOf(r *http.Request, slug string) (seat, bool) {
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
			d.learn(s)
		}
		return s, true
	}
	return seat{}, false
}

// learn remembers what a person is called.
func (d *Desk) learn(s seat) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.names[s.id()] = s.Name
}

// claim checks what somebody at the door says; the returned sentence is empty when the seat is theirs.
func (d *Desk) claim(r *http.Request, role, name, pass string) (seat, string) {
	studio := role == "studio"
	s := seat{Slug: studioSlug, Name: d.o.Studio, Studio: true}
	if !studio {
		tidy, ok := tidyName(name)
		if !ok {
			return s, "a name needs 1 to 40 characters, with a letter or digit among them"
		}
		s = seat{Slug: slug(tidy), Name: tidy}
		if s.Slug == studioSlug || s.Slug == slug(d.o.Studio) {
			return s, "that name is the studio's own; add your family name, or sign in as the studio"
		}
	}
	if d.o.Passphrase == "" || !studio && d.private {
		return s, ""
	}
	from := address(r)
	if !d.tries.allowed(from, d.o.Now()) {
		return s, "too many wrong tries from this network; wait ten minutes, then try again"
	}
	pass = strings.TrimSpace(pass)
	ok := same(pass, strings.TrimSpace(d.o.Passphrase))
	if !studio {
		// Both are compared every time, so that neither's failure shows in the time taken.
		ok = same(strings.ToLower(pass), d.invite(s.Slug)) || ok
	}
	if ok {
		return s, ""
	}
	d.tries.failed(from, d.o.Now())
	if studio {
		return s, "that isn't the studio's passphrase; it is the one in the desk's settings"
	}
	return s, "that code isn't for this name; type the name and the code just as the studio gave them to you"
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
