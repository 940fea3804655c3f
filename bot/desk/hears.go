package desk

import (
	"slices"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
)

// event is something of which somebody may want to hear.
type event string

// Events, in the order of the work.
const (
	asked       event = "a commission is asked for"
	quoteReady  event = "the quote is ready"
	quoteFailed event = "the quote cannot be worked out"
	holdOver    event = "the date of a quote is held no longer"
	lapsed      event = "the quote has expired"
	approved    event = "the quote is approved"
	overdue     event = "the deposit has not come"
	declined    event = "the quote is declined"
	changeAsked event = "a change is asked for"
	cancelled   event = "the commission is cancelled"
	clientWrote event = "the client writes, or sends pictures"
	inPlan      event = "the deposit is in"
	cuttingOn   event = "cutting has begun"
	stepDone    event = "a step is begun or done"
	cured       event = "a cure ends, the next step can begin"
	readyPaint  event = "a cure ends, ready for paint"
	curedWaits  event = "a cure ends, the next step waits for more"
	curedLast   event = "a cure ends, nothing comes after it"
	closingSoon event = "a recoat window closes soon"
	offered     event = "times for a fitting are offered"
	noTime      event = "no time for a fitting can be offered"
	picked      event = "a time is picked"
	missedIt    event = "nobody came"
	calledOff   event = "a fitting is called off"
	unkept      event = "a time cannot be kept"
	dateTold    event = "another date is told"
	endangered  event = "a promise is in danger"
	safeAgain   event = "a promise can be kept again"
	awayOrBack  event = "a maker goes away, or is back"
	finished    event = "the work is finished"
	handedOver  event = "the commission is handed over"
)

// as is in what form somebody hears.
type as int

// Forms. Pings are posts that notify a person, or, to somebody of the studio, may come with others in one post.
const (
	mute   as = iota
	edited    // of a post that is there: the client's status post, a line of the notice board
	posted    // of its own, which notifies nobody
	pinged
)

// when is at what time.
type when int

// Times.
const (
	atOnce  when = iota // at any hour, and however often
	soon                // together with what comes within minutes; else as decent
	decent              // at once; for the studio in the quiet hours, and past so many a day, when work begins, for a client after them
	inHours             // at once in working hours, however often; else when work begins
)

// hears is in what form and when one listener hears of an event.
type hears struct {
	as   as
	when when
}

// Who may hear: the client in their thread; the member at whom the next step is, or the notice board; the front desk, by a post on the
// notice board that pings its members; and the notice board itself.
type row struct {
	event                    event
	client, next, desk, wall hears
}

// whoHears says of each event who hears of it, in what form, and when. What has no entry hears nothing.
var whoHears = []row{
	{event: asked, client: hears{as: posted}, wall: hears{as: posted}},
	{event: quoteReady, client: hears{as: pinged}, wall: hears{as: edited}},
	{event: quoteFailed, client: hears{as: pinged}, desk: hears{as: pinged, when: inHours}, wall: hears{as: posted}},
	{event: holdOver, client: hears{as: pinged, when: decent}},
	{event: lapsed, client: hears{as: edited}, wall: hears{as: posted}},
	{event: approved, client: hears{as: edited}, desk: hears{as: pinged, when: decent}, wall: hears{as: posted}},
	{event: overdue, desk: hears{as: pinged, when: inHours}, wall: hears{as: posted}},
	{event: declined, client: hears{as: edited}, desk: hears{as: pinged, when: decent}, wall: hears{as: posted}},
	{event: changeAsked, client: hears{as: edited}, desk: hears{as: pinged, when: decent}, wall: hears{as: posted}},
	{event: cancelled, client: hears{as: pinged, when: decent}, desk: hears{as: pinged, when: decent}, wall: hears{as: posted}},
	{event: clientWrote, desk: hears{as: pinged, when: soon}, wall: hears{as: posted, when: soon}},
	{event: inPlan, client: hears{as: pinged, when: soon}, next: hears{as: pinged, when: soon}, wall: hears{as: posted}},
	{event: cuttingOn, client: hears{as: pinged, when: decent}},
	{event: stepDone, client: hears{as: edited}},
	{event: cured, client: hears{as: edited}, next: hears{as: pinged, when: soon}},
	{event: readyPaint, client: hears{as: edited}, next: hears{as: pinged, when: atOnce}},
	{event: curedWaits, client: hears{as: edited}},
	{event: curedLast, client: hears{as: edited}},
	{event: closingSoon, next: hears{as: pinged, when: atOnce}},
	{event: offered, client: hears{as: pinged, when: decent}},
	{event: noTime, client: hears{as: pinged, when: decent}, desk: hears{as: pinged, when: decent}, wall: hears{as: posted}},
	{event: picked, client: hears{as: edited}, wall: hears{as: posted}},
	{event: missedIt, client: hears{as: edited}, wall: hears{as: edited}},
	{event: calledOff, client: hears{as: edited}, wall: hears{as: edited}},
	{event: unkept, desk: hears{as: pinged, when: inHours}, wall: hears{as: posted}},
	{event: dateTold, client: hears{as: pinged, when: decent}, wall: hears{as: edited}},
	{event: endangered, desk: hears{as: pinged, when: inHours}, wall: hears{as: posted}},
	{event: safeAgain, wall: hears{as: edited}},
	{event: awayOrBack, wall: hears{as: posted}},
	{event: finished, client: hears{as: pinged, when: decent}, desk: hears{as: pinged, when: decent}, wall: hears{as: posted}},
	{event: handedOver, client: hears{as: edited}, wall: hears{as: edited}},
}

// of is the row of an event; one that has none is heard by nobody.
func of(e event) row {
	i := slices.IndexFunc(whoHears, func(r row) bool { return r.event == e })
	if i < 0 {
		return row{event: e}
	}
	return whoHears[i]
}

// toClient posts in a client's thread as the table says; who did it themselves is not pinged.
func (p *posting) toClient(e event, c ledger.Commission, post chat.Post) error {
	h := of(e).client
	if h.as == mute {
		return nil
	}
	var from time.Time
	if h.as == pinged && p.by.ID != c.Client {
		post.Mention = []chat.PersonID{c.Client}
		at := p.local(p.at)
		switch h.when {
		case soon:
			from = p.studio.Notices.Decent(at.Add(p.studio.Notices.Together()))
		case decent:
			from = p.studio.Notices.Decent(at)
		}
		if !from.After(p.at) {
			from = time.Time{}
		}
	}
	return p.putFrom(c.ID, post, from)
}

// toStudio posts to the notice boards as the table says. The front desk is pinged by the post itself, or, where it is not the time
// for that, in what it is told when work begins.
func (p *posting) toStudio(e event, c ledger.Commission, n notice) error {
	r := of(e)
	if r.wall.as == mute {
		return nil
	}
	if r.desk.as != pinged {
		return p.notice(n)
	}
	if _, _, err := p.t.Post(n.key + "/" + p.anyScheme()); err == nil {
		return p.notice(n) // an edit pings nobody
	}
	front, err := p.frontDesk()
	if err != nil {
		return err
	}
	for _, m := range front {
		if m == p.by.ID {
			continue
		}
		due, waits, err := p.due(r.desk.when, string(m))
		if err != nil {
			return err
		}
		x := ledger.Notice{Key: n.key, Listener: string(m), Event: string(e), Commission: c.ID, Text: n.text, At: p.at, Due: due, Waits: waits}
		if !waits {
			x.SaidIn = n.key
			n.mention = append(n.mention, m)
		}
		if err := p.t.AddNotice(x); err != nil {
			return err
		}
	}
	return p.notice(n)
}

// toNext tells whoever does the next step, as the table says; last is who did the one before, for a studio that has named nobody.
func (p *posting) toNext(e event, c ledger.Commission, next *ledger.Operation, last chat.PersonID, n notice) error {
	h := of(e).next
	if h.as != pinged || next == nil {
		return nil
	}
	who, err := p.makers(*next)
	if err != nil {
		return err
	}
	if who == nil {
		named, err := p.t.AnyMembers()
		if err != nil {
			return err
		}
		if who = []chat.PersonID{""}; !named {
			who[0] = last
		}
		if who[0] == "" && of(e).wall.as != mute {
			return nil // it stands on the board
		}
	}
	t := h.when
	if e == readyPaint && p.studio.Notices.PaintWaits {
		t = soon
	}
	for _, m := range who {
		due, waits, err := p.due(t, string(m))
		if err != nil {
			return err
		}
		x := ledger.Notice{Key: n.key, Listener: string(m), Event: string(e), Commission: c.ID, Text: n.text, Buttons: n.buttons, At: p.at, Due: due, Waits: waits}
		if err := p.t.AddNotice(x); err != nil {
			return err
		}
	}
	return nil
}

// due is when a listener can be told, and whether that is when work begins.
func (p *posting) due(w when, listener string) (at time.Time, waits bool, err error) {
	now, n := p.local(p.at), p.studio.Notices
	if w == atOnce {
		return p.at, false, nil
	}
	at = now
	if w == soon {
		if at, err = p.together(now); err != nil {
			return at, false, err
		}
	}
	if listener == "" { // nobody is disturbed by what stands on the board
		return at, false, nil
	}
	if w == inHours {
		if p.studio.Calendar.Working(now) {
			return at, false, nil
		}
		return p.studio.Calendar.Begins(now), true, nil
	}
	told := 0
	if n.MostADay > 0 {
		midnight := time.Date(now.Year(), now.Month(), now.Day(), 0, 0, 0, 0, now.Location())
		if told, err = p.t.TimesTold(listener, midnight); err != nil {
			return at, false, err
		}
	}
	if n.Quiet(at) || n.MostADay > 0 && told >= n.MostADay {
		return p.studio.Calendar.Begins(now), true, nil
	}
	return at, false, nil
}

// together is when what happens now can be told with the rest: once the last cure has ended that ends within minutes.
func (p *posting) together(now time.Time) (time.Time, error) {
	at := now
	wait := p.studio.Notices.Together()
	if wait == 0 {
		return at, nil
	}
	bells, err := p.t.DueBells(now.Add(wait))
	for _, b := range bells {
		if b.Due.After(at) {
			at = b.Due
		}
	}
	return at, err
}

// makers are the members at the bench to whom the plan gives an operation.
func (p *posting) makers(o ledger.Operation) (out []chat.PersonID, err error) {
	all, err := p.t.Members()
	for _, m := range all {
		if m.LetGoAt.IsZero() && m.Bench != "" && slices.Contains(o.Resources, m.Bench) {
			out = append(out, m.Person())
		}
	}
	return out, err
}

// frontDesk are the members who talk with clients; where nobody is, the owners.
func (p *posting) frontDesk() (out []chat.PersonID, err error) {
	all, err := p.t.Members()
	for _, role := range []ledger.Role{ledger.FrontDesk, ledger.Owner} {
		for _, m := range all {
			if m.LetGoAt.IsZero() && m.Roles&role != 0 {
				out = append(out, m.Person())
			}
		}
		if len(out) > 0 {
			break
		}
	}
	return out, err
}
