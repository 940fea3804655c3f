package desk

import (
	"errors"
	"fmt"
	"reflect"
	"strings"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/quote"
)

// posting writes the posts about one outcome into its transaction.
type posting struct {
	words
	t   *ledger.Tx
	at  time.Time
	by  chat.Person
	bar *chat.Bar // of a quote being worked out
	say string    // and what is done of it now
}

// posts has an entry for each outcome of the shop: what everybody in the thread and the studio on its notice board read.
var posts map[reflect.Type]func(*posting, any) error

func init() {
	posts = map[reflect.Type]func(*posting, any) error{}
	// Choosing and measuring.
	on(postAsked)
	on(postSetsChosen)
	on(postItemChosen)
	on(func(p *posting, o shop.FinishChosen) error { return p.card(o.Commission) })
	on(func(p *posting, o shop.DetailsGiven) error { return p.card(o.Commission) })
	on(postPicturesAdded)
	on(postBody)
	on(func(p *posting, o shop.ApartSet) error { return postBody(p, o.Body) })
	on(postConfirmed)
	// The quote.
	on(postRequested)
	on(func(p *posting, o shop.TriedAgain) error { return p.waiting(o.Request) })
	on(postProgressed)
	on(postQuoted)
	on(postQuoteFailed)
	on(postApproved)
	on(postDeclined)
	on(postChangeAsked)
	on(postMended)
	on(postCancelled)
	on(postExpired)
	on(postHoldOver)
	on(postDepositOverdue)
	// Between the client and the studio. Words in a thread are shown there by who carries them.
	on(postSaid)
	on(postAnswered)
	on(silent[shop.MarkedRead])
	// The bench.
	on(postPaid)
	on(func(p *posting, o shop.Started) error { return p.stepped(o.Operation) })
	on(func(p *posting, o shop.Ended) error { return p.stepped(o.Operation) })
	on(silent[shop.Paused])
	on(silent[shop.HoursCorrected])
	on(silent[shop.AbradePlanned])
	on(silent[shop.AirSaid])
	on(postTakenBack)
	on(postWentBack)
	on(postRung)
	on(postClosing)
	on(postFinishing)
	on(postHandedOver)
	// Appointments.
	on(postSlotsOffered)
	on(postSlotPicked)
	on(postHowChosen)
	on(postSlotMissed)
	on(postCalledOff)
	on(postAppointmentKept)
	on(postSlotUnkept)
	on(postKeptAgain)
	// The whole shop.
	on(silent[shop.TakenOver])
	on(postWentAway)
	on(postCameBack)
	on(postDateTold)
	on(postEndangered)
	on(postSafe)
	// Cutting and the library.
	on(silent[shop.PlannedTogether])
	on(postWereCut)
	on(silent[shop.OffcutRacked])
	on(silent[shop.ThrownAway])
	on(silent[shop.RestRacked])
	on(silent[shop.PatternChecked])
	on(postShelved)
	on(silent[shop.Withdrawn])
	on(silent[shop.BoardSet])
	// People. What lets somebody in is told to one person and never posted.
	on(silent[shop.OwnerNamed])
	on(silent[shop.MemberAdded])
	on(silent[shop.MemberChanged])
	on(silent[shop.WasLetGo])
	on(silent[shop.SignInMade])
	on(silent[shop.SessionEnded])
	on(silent[shop.CodeMade])
	on(silent[shop.PersonLinked])
	on(silent[shop.PersonNamed])
	on(func(p *posting, o shop.AskedFor) error { return postAsked(p, o.Asked) })
	on(silent[shop.ClientLinkMade])
	on(silent[shop.ClientLinksEnded])
	on(silent[shop.CalendarLinkMade])
	on(silent[shop.CalendarLinksEnded])
	on(silent[shop.ClientCalendarLinkMade])
	on(silent[shop.ClientCalendarLinksEnded])
	on(silent[shop.SignedIn])
	on(silent[shop.Left])
}

func on[O any](f func(*posting, O) error) {
	posts[reflect.TypeFor[O]()] = func(p *posting, o any) error { return f(p, o.(O)) }
}

// silent is an outcome of which nothing is posted.
func silent[O any](*posting, O) error { return nil }

// Tell writes the posts about what happened in the shop into its transaction.
func (d *Desk) Tell(t *ledger.Tx, told shop.Told) error {
	f, ok := posts[reflect.TypeOf(told.Outcome)]
	if !ok {
		return fmt.Errorf("the desk has no words for %T", told.Outcome)
	}
	return f(&posting{words: d.words(), t: t, at: told.At, by: told.By}, told.Outcome)
}

// answer is what an act's reply is made with.
type answer struct {
	words
	in     *reading
	limits chat.Limits // of the transport that carries it
}

// says is a reply that is the same each time.
func says[O any](text string) func(*answer, O) chat.Reply {
	return func(*answer, O) chat.Reply { return chat.Reply{Text: text} }
}

// within are the limits of the transport that carries the commission's thread.
func (p *posting) within(c ledger.Commission) chat.Limits { return p.limits(c.Scheme) }

// about says of a commission what it is and how it stands, for a list: "Forearm cuff, pair: quoted".
func (w words) about(c ledger.Commission, items []quote.Item) string {
	var sets []string
	for _, it := range items {
		sets = append(sets, w.d.shop.Describe(it))
	}
	if len(sets) == 0 {
		return quote.Capital(stateWords[c.State])
	}
	return strings.Join(sets, ", ") + " · " + stateWords[c.State]
}

// postAnswered says an answer in the client's thread, signed.
func postAnswered(p *posting, o shop.Answered) error {
	c, m := o.Commission, o.Message
	text := p.within(c).Clip(fmt.Sprintf("*%s:* %s", m.Answerer, m.Answer))
	return p.put(c.ID, chat.Post{Key: fmt.Sprintf("%s/answer/%d", c.ID, m.N), Text: text, Mention: []chat.PersonID{c.Client}, Signed: m.Answerer})
}

// put posts in the commission's thread.
func (p *posting) put(id quote.CommissionID, post chat.Post) error {
	return p.putFrom(id, post, time.Time{})
}

// putFrom posts in the commission's thread, not before a time.
func (p *posting) putFrom(id quote.CommissionID, post chat.Post, from time.Time) error {
	if id != "" {
		c, err := p.t.Commission(id)
		if err != nil {
			return err
		}
		items, err := p.t.Items(id)
		if err != nil {
			return err
		}
		post.Brief = p.about(c, items)
	}
	if len(post.Mention) == 0 { // what replaces a post before it is shown pings whom that would have pinged
		was, sent, err := p.t.Post(post.Key)
		if err != nil && !errors.Is(err, ledger.ErrNone) {
			return err
		}
		if err == nil && !sent {
			post.Mention = was.Mention
		}
	}
	return p.t.PutPostFrom(id, post, p.at, from)
}

// note posts to every notice board of the studio.
func (p *posting) note(key, text string, buttons ...chat.Button) error {
	return p.notice(notice{key: key, text: text, buttons: buttons})
}

// reach are people as the doors know them, of those who signed something.
func (p *posting) reach(signed []chat.PersonID) ([]chat.PersonID, error) {
	var out []chat.PersonID
	for _, s := range signed {
		ids, err := p.t.Reach(s)
		if err != nil {
			return nil, err
		}
		out = append(out, ids...)
	}
	return out, nil
}

// notice is a post for the studio.
type notice struct {
	key     string
	text    string
	lines   []string // below it
	foot    string   // below these
	buttons []chat.Button
	files   []chat.File
	mention []chat.PersonID
}

func (p *posting) notice(n notice) error {
	boards, err := p.t.Boards()
	if err != nil {
		return err
	}
	mention, err := p.reach(n.mention)
	if err != nil {
		return err
	}
	for _, b := range boards {
		var tell []chat.PersonID
		for _, m := range mention {
			if strings.HasPrefix(string(m), b.Scheme+":") {
				tell = append(tell, m)
			}
		}
		l := p.limits(b.Scheme)
		post := chat.Post{Key: n.key + "/" + b.Scheme, Thread: b.Thread, Text: l.Fit(n.text, n.lines, n.foot, nil), Buttons: n.buttons,
			Files: attach(l, n.files), Mention: tell}
		if err := p.put("", post); err != nil {
			return err
		}
	}
	return nil
}
