package browser

import (
	"errors"
	"net/http"
	"strings"
	"time"

	"benchbell/bot/chat"
)

// Roster is the people of the studio, as one of them may see them.
type Roster struct {
	Owner   bool     // who looks may change it
	Makers  []string // whom a member can be at the bench
	Members []RosterMember
}

// RosterMember is one of them. Of others than oneself, who is no owner sees neither devices nor links.
type RosterMember struct {
	ID, Name, Roles         string
	Owner, Maker, FrontDesk bool
	Bench                   string   // whom they are at the bench; empty: nobody
	Known                   []string // who they are at other doors
	Me, Own                 bool     // who looks; whose links and devices may be seen and ended
	Until                   time.Time
	Devices                 []Device
}

// Device is where somebody is signed in.
type Device struct {
	Number, Name string
	Since, Seen  time.Time
	This         bool // the one that is looked at
}

type peopleView struct {
	pageView
	Roster
	Rows []rosterRow
	New  rosterRow // to be filled in
}

type rosterRow struct {
	C      pageContext `json:"-"`
	Rev    string      `json:"-"`
	Owner  bool
	Makers []string
	RosterMember
}

// peoplePage shows who belongs to the studio, and on which devices they are signed in.
func (d *Desk) peoplePage(w http.ResponseWriter, r *http.Request, s seat) {
	if !s.Studio || s.As.ID == "" {
		d.fail(w, http.StatusNotFound, "there is no such page; go back to the start")
		return
	}
	all, err := d.o.Seats.People(r.Context(), s.person(), s.Nonce)
	if err != nil {
		var no *chat.Refusal
		if errors.As(err, &no) {
			d.fail(w, http.StatusForbidden, no.Say)
			return
		}
		d.fault(r.Context(), "the studio's people can't be read", "person", s.id(), "err", err)
		d.fail(w, http.StatusInternalServerError, sorryText)
		return
	}
	v := peopleView{pageView: d.page(s, "", "People"), Roster: all}
	v.C.Page = peopleName
	v.New = rosterRow{Makers: all.Makers}
	for i := range v.Cards {
		v.Cards[i].C.Page = peopleName
	}
	for _, m := range all.Members {
		row := rosterRow{C: v.C, Owner: all.Owner, Makers: all.Makers, RosterMember: m}
		row.Rev = revision(row)
		v.Rows = append(v.Rows, row)
	}
	d.render(w, http.StatusOK, "people", v)
}

// peopleName is the page's, as its forms say it, so that what is done on it is answered on it.
const peopleName = "people"

// onPage is the address on the page that the form was on.
func onPage(r *http.Request, s seat, to string) string {
	base := s.base()
	if of, ok := strings.CutPrefix(r.PostForm.Get("page"), ownWord+" "); ok && !s.Studio && !strings.HasSuffix(to, "#say") {
		return ownPath(s, of) + "#messages" // but for what was refused, which stands in the thread with what was written
	}
	if r.PostForm.Get("page") == peopleName && len(to) >= len(base) && to[:len(base)] == base && (len(to) == len(base) || to[len(base)] == '#') {
		return base + peopleName + to[len(base):]
	}
	return to
}
