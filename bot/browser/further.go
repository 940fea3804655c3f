package browser

import (
	"net/http"
	"net/url"
	"regexp"
	"time"

	"benchbell/bot/chat"
)

// Page is a page besides the conversation, for the studio's seat alone.
type Page struct {
	Name  string // last part of its address: "today" is /as/studio/today
	Title string // of the link to it on the studio's list; empty: none
	// Serve answers it. What is posted is parsed, and proved to come from a page of the visitor's own. An error is a fault: it is
	// logged and the visitor is told that something went wrong, so nothing must be written before.
	Serve func(http.ResponseWriter, *http.Request, Visitor) error
}

// Visitor is who opens a page, and what the page needs to be one of the desk's.
type Visitor struct {
	Person chat.Person
	Studio string // the studio's name
	Desk   string // address of the desk, to which links from elsewhere lead
	Base   string // address of the seat, with a slash at its end
	Token  string // goes into every form as "token"; what is posted without it does not reach the page
	Events string // stream of "changed" events, which Changed sends
}

// slugs are what the seats of those look like who signed in by a link; members' are those of the studio.
var slugs, memberSlugs = regexp.MustCompile(`^[MC][0-9]{1,9}$`), regexp.MustCompile(`^M[0-9]{1,9}$`)

// furtherTopic is what all further pages hear of.
const furtherTopic = "further pages"

// Changed tells open further pages that what they show may have changed.
func (d *Desk) Changed() { d.live.tell(furtherTopic) }

// further answers a page besides the conversation. Who is not of the studio is told what everybody is of what is not theirs.
func (d *Desk) further(p Page) func(http.ResponseWriter, *http.Request, seat) {
	return func(w http.ResponseWriter, r *http.Request, s seat) {
		if !s.Studio {
			d.fail(w, http.StatusNotFound, "you have no such page; go back to your list")
			return
		}
		if r.Method == http.MethodPost && !d.proved(w, r, s) {
			return
		}
		v := Visitor{Person: s.person(), Studio: d.o.Studio, Desk: d.Address(), Base: s.base(), Token: d.token(s), Events: s.base() + "events?page=" + p.Name}
		if err := p.Serve(w, r, v); err != nil {
			d.fault(r.Context(), "a page can't be shown", "page", p.Name, "person", s.id(), "err", err)
			d.fail(w, http.StatusInternalServerError, sorryText)
		}
	}
}

// linked are the further pages that the seat's list leads to.
func (d *Desk) linked(s seat) []Page {
	var out []Page
	for _, p := range d.o.Further {
		if s.Studio && p.Title != "" {
			out = append(out, p)
		}
	}
	return out
}

const (
	// toPath begins an address of a page that holds whoever of the studio opens it: of a printed code, say.
	toPath = "/to/"
	// seatName is the cookie of the seat that this browser used last, of those that one signs in to. It proves nothing: the seat's own
	// cookie does.
	seatName = "bb-seat"
)

// byLink reports whether a seat is one that somebody signed in to by a link.
func (d *Desk) byLink(s seat) bool { return s.Secret != "" && slugs.MatchString(s.Slug) }

// remember has the browser say at addresses that are nobody's which seat it used last.
func (d *Desk) remember(w http.ResponseWriter, r *http.Request, s seat) {
	if c, err := r.Cookie(seatName); err == nil && c.Value == s.Slug {
		return
	}
	http.SetCookie(w, &http.Cookie{Name: seatName, Value: s.Slug, Path: "/", MaxAge: int(cookieLasts / time.Second),
		HttpOnly: true, Secure: d.secure(r), SameSite: http.SameSiteLaxMode})
}

// toPage leads to a further page in the seat of the studio that this browser used last. What is asked for along with it stays.
func (d *Desk) toPage(p Page) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		slug := studioSlug
		if c, err := r.Cookie(seatName); err == nil && memberSlugs.MatchString(c.Value) {
			slug = c.Value
		}
		to := url.URL{Path: "/as/" + slug + "/" + p.Name, RawQuery: r.URL.RawQuery}
		http.Redirect(w, r, to.String(), http.StatusSeeOther)
	}
}
