package browser

import (
	"context"
	"errors"
	"net/http"
	"strings"
	"time"

	"benchbell/bot/chat"
)

// Seats says who sits at the desk once the studio's people are named. What lets somebody in is a secret: a link's, or a
// session's, which their browser keeps in a cookie. A secret that lets nobody in is an error wrapping a *chat.Refusal, whose
// sentence is shown. Methods are called from many goroutines at once.
type Seats interface {
	// Named reports whether the studio's people are named. Once it has, nobody sits by a name alone for ever.
	Named(ctx context.Context) (bool, error)
	// NameOwner names the first of them, from the studio's seat, and returns the secret of a link that signs them in.
	NameOwner(ctx context.Context, name string) (secret string, err error)
	// Opens says whom a link would let in, without using it.
	Opens(ctx context.Context, secret string) (Entrance, error)
	// SignIn opens a link and returns the secret of a session on that device.
	SignIn(ctx context.Context, secret, device string) (session string, err error)
	// Seated says who has a session.
	Seated(ctx context.Context, session string) (Sitting, error)
	// Leave ends a session.
	Leave(ctx context.Context, session string) error
	// People are those of the studio, as a person of it may see them from the session of that number.
	People(ctx context.Context, who chat.Person, session string) (Roster, error)
	// Name is what a person is called; empty where that is not known.
	Name(ctx context.Context, id chat.PersonID) string
}

// Entrance is whom a link would let in.
type Entrance struct {
	Name string // the person's
	To   string // the one matter it lets them in for; empty: they belong to the studio
}

// Sitting is who has a session.
type Sitting struct {
	Person chat.Person
	Slug   string // of their seat's address
	Number string // of the session, for ever its own
	// NotFor are commands that are not offered, as nothing would come of them.
	NotFor []string
}

const (
	sessionName = "session" // of the cookie with a session's secret
	enterPath   = "/enter/"
	seatsTopic  = "seats"
	// A browser keeps a session's secret for as long as any keeps a cookie; the session itself ends before, where it is kept.
	secretLasts = 400 * 24 * time.Hour
)

// LinkTo is the address at which a link's secret lets somebody in.
func (d *Desk) LinkTo(secret string) string { return d.Address() + enterPath + secret }

// Recheck has every open page look whether its person still sits there; to be called when somebody was signed out elsewhere.
func (d *Desk) Recheck() { d.live.tell(seatsTopic) }

func (d *Desk) isNamed(ctx context.Context) (bool, error) {
	if d.o.Seats == nil || d.named.Load() {
		return d.named.Load(), nil
	}
	named, err := d.o.Seats.Named(ctx)
	if err == nil && named {
		d.named.Store(true)
	}
	return named, err
}

// byName reports whether a name alone is enough to sit: nobody but this machine reaches the desk, and nobody is named yet.
func (d *Desk) byName(ctx context.Context) bool {
	if !d.private {
		return false
	}
	named, err := d.isNamed(ctx)
	if err != nil {
		d.fault(ctx, "whether the studio's people are named can't be read", "err", err)
		return false
	}
	return !named
}

// signedIn is the seat of the session in the request's cookie.
func (d *Desk) signedIn(r *http.Request, slug string) (seat, bool) {
	if d.o.Seats == nil {
		return seat{}, false
	}
	for _, c := range r.CookiesNamed(sessionName) {
		x, err := d.o.Seats.Seated(r.Context(), c.Value)
		var no *chat.Refusal
		if err != nil {
			if !errors.As(err, &no) {
				d.fault(r.Context(), "a session can't be read", "err", err)
			}
			continue
		}
		if x.Slug != slug {
			continue
		}
		d.learn(x.Person.ID, x.Person.Name)
		return seat{Slug: x.Slug, Name: x.Person.Name, Studio: x.Person.Studio, Nonce: x.Number, As: x.Person, Secret: c.Value, NotFor: x.NotFor}, true
	}
	return seat{}, false
}

// admit opens a link on this browser and shows what it lets in to.
func (d *Desk) admit(w http.ResponseWriter, r *http.Request, secret, device string) {
	session, err := d.o.Seats.SignIn(r.Context(), secret, device)
	var x Sitting
	if err == nil {
		x, err = d.o.Seats.Seated(r.Context(), session)
	}
	if err != nil {
		d.noEntrance(w, r, err)
		return
	}
	s := seat{Slug: x.Slug, Studio: x.Person.Studio, As: x.Person}
	http.SetCookie(w, &http.Cookie{
		Name: sessionName, Value: session, Path: s.base(), MaxAge: int(secretLasts / time.Second),
		HttpOnly: true, Secure: d.secure(r), SameSite: http.SameSiteStrictMode,
	})
	d.mark(w, r)
	to := s.base()
	switch {
	case x.Person.Only != "" && d.o.Own != nil:
		to = ownPath(s, x.Person.Only)
	case x.Person.Only != "":
		if ths, err := d.threads(r.Context(), s); err == nil && len(ths) == 1 {
			to = threadPath(s, ths[0].ID)
		}
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
}

// noEntrance says why a link lets nobody in.
func (d *Desk) noEntrance(w http.ResponseWriter, r *http.Request, err error) {
	var no *chat.Refusal
	if errors.As(err, &no) {
		d.fail(w, http.StatusGone, no.Say)
		return
	}
	d.fault(r.Context(), "a link can't be opened", "err", err)
	d.fail(w, http.StatusInternalServerError, sorryText)
}

type enterView struct {
	Studio, Secret, Device string
	Entrance
}

// entrance asks before a link is opened: what only looks at it, such as a preview in a chat, must not use it up.
func (d *Desk) entrance(w http.ResponseWriter, r *http.Request) {
	if d.o.Seats == nil {
		d.fail(w, http.StatusNotFound, "there is no such page; go back to the start")
		return
	}
	v := enterView{Studio: d.o.Studio, Secret: r.PathValue("secret"), Device: deviceOf(r.UserAgent())}
	var err error
	if v.Entrance, err = d.o.Seats.Opens(r.Context(), v.Secret); err != nil {
		d.noEntrance(w, r, err)
		return
	}
	d.render(w, http.StatusOK, "enter", v)
}

func (d *Desk) enter(w http.ResponseWriter, r *http.Request) {
	if err := r.ParseForm(); err != nil || d.o.Seats == nil {
		d.fail(w, http.StatusBadRequest, "what was sent can't be read; open the link again")
		return
	}
	device, ok := tidyName(r.PostForm.Get("device"))
	if !ok {
		device = deviceOf(r.UserAgent())
	}
	d.admit(w, r, r.PostForm.Get("secret"), device)
}

// deviceOf says in a word on what somebody signs in, for the list of devices.
func deviceOf(agent string) string {
	switch {
	case strings.Contains(agent, "Tablet"):
		return "tablet"
	case strings.Contains(agent, "Mobi"):
		return "phone"
	}
	return "computer"
}

// nameOwner is sent from the door by who knows the passphrase, or from the studio's seat on a desk that only this machine reaches.
func (d *Desk) nameOwner(w http.ResponseWriter, r *http.Request) {
	if err := r.ParseForm(); err != nil {
		d.fail(w, http.StatusRequestEntityTooLarge, "that was more than a name and a passphrase; go back and shorten it")
		return
	}
	name := r.PostForm.Get("name")
	refuse := func(say string) {
		d.renderDoor(w, r, http.StatusForbidden, doorView{Name: name, Role: "studio", Refused: say})
	}
	named, err := d.isNamed(r.Context())
	if err != nil || named || d.o.Seats == nil || d.private {
		refuse("nobody is named here; open the link that the studio sent you")
		return
	}
	from := address(r)
	if !d.tries.allowed(from, d.o.Now()) {
		refuse("too many wrong tries from this network; wait ten minutes, then try again")
		return
	}
	if !same(strings.TrimSpace(r.PostForm.Get("pass")), strings.TrimSpace(d.o.Passphrase)) {
		d.tries.failed(from, d.o.Now())
		refuse("that isn't the passphrase; it is the one in the desk's settings")
		return
	}
	d.firstOwner(w, r, name)
}

// nameFromSeat names the owner from the shared seat, which is closed by it.
func (d *Desk) nameFromSeat(w http.ResponseWriter, r *http.Request, s seat) {
	if !d.proved(w, r, s) {
		return
	}
	if !s.Studio || s.As.ID != "" || d.o.Seats == nil {
		d.fail(w, http.StatusForbidden, "the owner is named already; ask them for a sign-in link")
		return
	}
	d.firstOwner(w, r, r.PostForm.Get("name"))
}

func (d *Desk) firstOwner(w http.ResponseWriter, r *http.Request, name string) {
	secret, err := d.o.Seats.NameOwner(r.Context(), name)
	if err != nil {
		d.noEntrance(w, r, err)
		return
	}
	d.Recheck()
	d.admit(w, r, secret, deviceOf(r.UserAgent()))
}

// visible reports whether who sits there may see the thread.
func (s seat) visible(t Thread) bool {
	return s.Studio || t.With == s.id() && (s.As.Only == "" || t.Key == s.As.Only)
}

// threads are those that who sits there may see.
func (d *Desk) threads(ctx context.Context, s seat) ([]Thread, error) {
	all, err := d.o.Store.Threads(ctx, s.id(), s.Studio)
	var out []Thread
	for _, t := range all {
		if s.visible(t) {
			out = append(out, t)
		}
	}
	return out, err
}
