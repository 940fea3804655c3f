package desk

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/quote"
)

// What is said and posted of appointments with clients: fittings, and handing over.

// slotLayout is a time in an action, in UTC: "slot/C0007/1/202612031000".
const slotLayout = "200601021504"

// hows are the ways an appointment can be held as they stand in actions.
var hows = map[string]quote.How{"person": quote.InPerson, "pictures": quote.ByPictures, "collect": quote.Collect, "ship": quote.Ship}

// ofAppointment is the appointment that an action is about: "slots/C0007/2".
func (r *reading) ofAppointment() shop.OfAppointment {
	return shop.OfAppointment{Of: r.of(), N: r.number(2)}
}

// slot is the time that an action is about.
func (r *reading) slot() (time.Time, error) {
	at, err := time.Parse(slotLayout, r.part(3))
	if err != nil {
		return at, refuse("this button no longer works; use “where” to see what can be done now")
	}
	return at, nil
}

func onAppointment(verb string, a ledger.Appointment, rest, say string, tone chat.Tone) chat.Button {
	action := fmt.Sprintf("%s/%s/%d", verb, a.Commission, a.N)
	if rest != "" {
		action += "/" + rest
	}
	return chat.Button{Action: action, Label: say, Tone: tone}
}

// slotWords is a time as a button has it.
func (w words) slotWords(t time.Time) string { return w.local(t).Format("Mon 2 Jan, 15:04") }

// slotChoice has the times that can be picked, as many buttons as are in reach and the rest in a menu, and other buttons after them.
// Seen is what a refusal that offers them has; empty: they are offered in the thread.
func (w words) slotChoice(l chat.Limits, a ledger.Appointment, slots []time.Time, seen string, last ...chat.Button) chat.Reply {
	offer := newOffers(l, slotsMenu, "More times", last...)
	if seen != "" {
		seen = "/now/" + seen
	}
	for _, at := range slots {
		offer.add(onAppointment("slot", a, at.UTC().Format(slotLayout)+seen, w.slotWords(at), chat.Plain))
	}
	var out chat.Reply
	offer.put(&out)
	return out
}

// others is a button that asks for other times.
func others(a ledger.Appointment) chat.Button {
	return onAppointment("slots", a, "", "Other times", chat.Plain)
}

// earliest is a button that asks for the first times again.
func earliest(a ledger.Appointment) chat.Button {
	return onAppointment("slots", a, "first", "Earliest times", chat.Plain)
}

// whats name appointments.
var whats = map[ledger.Which]string{ledger.FirstFitting: "First fitting", ledger.FinalFitting: "Final fitting"}

// what names an appointment: "First fitting", "Collection".
func what(a ledger.Appointment) string {
	if s, ok := whats[a.Which]; ok {
		return s
	}
	if a.How == quote.Ship {
		return "Posting"
	}
	return "Collection"
}

// whereHeld completes "First fitting: Thu 3 Dec, 10:00, …".
var whereHeld = map[quote.How]string{quote.InPerson: "in the workshop", quote.ByPictures: "by pictures", quote.Collect: "at the workshop", quote.Ship: "by post"}

// happens says what is done at an appointment.
func happens(a ledger.Appointment) string {
	switch {
	case a.Which == ledger.FirstFitting && a.How == quote.InPerson:
		return "You try the raw parts on in the workshop, before anything is sealed or painted."
	case a.Which == ledger.FirstFitting:
		return "The raw parts come to you; put them on and send pictures from all sides to this thread by then. Nothing is sealed or painted before."
	case a.Which == ledger.FinalFitting && a.How == quote.InPerson:
		return "You try on the finished work, straps and all, before it is packed."
	case a.Which == ledger.FinalFitting:
		return "The studio shows you pictures of the finished work in this thread; say by then what is still to be done. It is packed after that."
	}
	return ""
}

// nobody says that a client did not come, or that nothing came from them.
func nobody(a ledger.Appointment) string {
	switch {
	case a.How == quote.ByPictures && a.Which == ledger.FinalFitting:
		return "no answer came"
	case a.How == quote.ByPictures:
		return "no pictures came"
	}
	return "nobody came"
}

// missed is a button that says so.
func missed(a ledger.Appointment, rest string) chat.Button {
	return onAppointment("missed", a, "", quote.Capital(nobody(a))+rest, chat.Grave)
}

// otherWay is a button for holding an appointment the other way.
func otherWay(a ledger.Appointment) chat.Button {
	switch a.How {
	case quote.InPerson:
		return onAppointment("hold", a, "pictures", "By pictures instead", chat.Plain)
	case quote.ByPictures:
		return onAppointment("hold", a, "person", "In the workshop instead", chat.Plain)
	case quote.Collect:
		return onAppointment("hold", a, "ship", "Post it instead", chat.Plain)
	}
	return onAppointment("hold", a, "collect", "Collect it instead", chat.Plain)
}

// open is what can be done about an appointment that stands; later: there are earlier times than those offered.
func (w words) open(l chat.Limits, a ledger.Appointment, later bool) chat.Reply {
	last := []chat.Button{otherWay(a)}
	if a.How != quote.Ship && a.State != ledger.ApptWanted {
		last = []chat.Button{others(a), otherWay(a)}
	}
	if later {
		last = append([]chat.Button{earliest(a)}, last...)
	}
	if a.State == ledger.ApptWanted {
		a.Slots = nil
	}
	return w.slotChoice(l, a, a.Slots, "", last...)
}

// appointment says of an appointment how it stands, for the client.
func (w words) appointment(c ledger.Commission, a ledger.Appointment, takes time.Duration) string {
	head := func(format string, args ...any) string {
		return "*" + what(a) + " of " + string(c.ID) + fmt.Sprintf(format, args...) + "*"
	}
	long := ""
	if takes > 0 && a.How == quote.InPerson {
		long = " It takes about " + quote.TimeWords(takes) + "."
	}
	switch a.State {
	case ledger.ApptWanted:
		return head(", %s.", whereHeld[a.How]) + " " + happens(a) + " Times to pick from come in a moment."
	case ledger.ApptOffered:
		if len(a.Slots) == 0 {
			return head(", %s.", whereHeld[a.How]) + " " + happens(a) + " No time can be offered just now; the studio will agree one with you here."
		}
		return head(": pick a time.") + " " + happens(a) + long
	case ledger.ApptPicked:
		return head(": %s, %s.", w.when(a.At), whereHeld[a.How]) + " " + happens(a) + long
	case ledger.ApptKept:
		return head(": done on %s.", w.when(a.EndedAt))
	case ledger.ApptMissed:
		return head(", %s: %s.", w.when(a.At), nobody(a)) + " It is planned anew; new times to pick from come in a moment."
	}
	return head(", %s: called off.", w.when(a.At)) + " The studio cannot be ready by then and is sorry. New times to pick from come in a moment."
}

// post posts how an appointment stands: what was posted of it before is edited.
func (p *posting) appointed(c ledger.Commission, a ledger.Appointment, takes time.Duration, mention bool) error {
	if a.Which == ledger.HandingOver {
		return p.readyPost(c, a, mention, false)
	}
	return p.fittingPost(c, a, takes, mention, false)
}

// fittingPost is the post about a fitting; later: there are earlier times than those offered.
func (p *posting) fittingPost(c ledger.Commission, a ledger.Appointment, takes time.Duration, mention, later bool) error {
	post := chat.Post{Key: shop.AppointmentMessage(c.ID, a.N), Text: p.appointment(c, a, takes)}
	if a.EndedAt.IsZero() {
		can := p.open(p.within(c), a, later)
		post.Buttons, post.Menus = can.Buttons, can.Menus
	}
	if a.State == ledger.ApptPicked && len(a.Slots) > 0 {
		post.Text += " You can pick another time."
	}
	if err := p.card(c); err != nil {
		return err
	}
	if !mention {
		return p.put(c.ID, post)
	}
	if a.Which == ledger.FirstFitting { // what both say within minutes is one post
		in, sent, err := p.t.Post(inPlanKey(c.ID))
		if err != nil && !errors.Is(err, ledger.ErrNone) {
			return err
		}
		if err == nil && !sent {
			if err := p.t.TakeBackPost(inPlanKey(c.ID)); err != nil {
				return err
			}
			post.Text = in.Text + "\n" + post.Text
		}
	}
	if a.State == ledger.ApptOffered && len(a.Slots) == 0 {
		return p.toClient(noTime, c, post)
	}
	return p.toClient(offered, c, post)
}

// readyPost says that a commission is finished, what its parcel is like, and how it comes to its client.
func (p *posting) readyPost(c ledger.Commission, a ledger.Appointment, mention, later bool) error {
	rev, err := p.t.Revision(c.ID, c.Revision)
	if err != nil {
		return err
	}
	text := fmt.Sprintf("*%s is finished and ready to collect.*", c.ID)
	if a.How == quote.Ship {
		text = fmt.Sprintf("*%s is finished and ready to post.*", c.ID)
	}
	if rev.Quote.Parcel.Length > 0 {
		text += fmt.Sprintf(" The parcel is %s.", rev.Quote.Parcel.Words())
	}
	switch {
	case a.How == quote.Ship && a.State == ledger.ApptPicked:
		text += fmt.Sprintf(" It will be posted on %s.", p.local(a.At).Format("Mon 2 Jan 2006"))
	case a.State == ledger.ApptPicked:
		text += fmt.Sprintf(" You collect it on %s.", p.when(a.At))
	case a.State == ledger.ApptOffered && len(a.Slots) > 0:
		text += " Pick a time to collect it."
	}
	if a.State == ledger.ApptPicked && len(a.Slots) > 0 {
		text += " You can pick another time."
	}
	can := p.open(p.within(c), a, later)
	post := chat.Post{Key: string(c.ID) + "/ready", Text: text, Buttons: can.Buttons, Menus: can.Menus}
	if err := p.card(c); err != nil {
		return err
	}
	if mention {
		err = p.toClient(finished, c, post)
	} else {
		err = p.put(c.ID, post)
	}
	if err != nil {
		return err
	}
	say := fmt.Sprintf("%s · %s is finished", c.ID, c.ClientName)
	switch {
	case a.How == quote.Ship && a.State == ledger.ApptPicked:
		say += fmt.Sprintf(", to be posted on %s: the parcel is %s.", p.local(a.At).Format("Mon 2 Jan 2006"), rev.Quote.Parcel.Words())
	case a.State == ledger.ApptPicked:
		say += fmt.Sprintf("; the client collects it on %s.", p.when(a.At))
	default:
		say += " and ready to collect."
	}
	buttons := []chat.Button{button("handed", c.ID, "Handed over", chat.Good)}
	if a.State == ledger.ApptPicked && a.How == quote.Collect {
		buttons = append(buttons, missed(a, ""))
	}
	return p.toStudio(finished, c, notice{key: fmt.Sprintf("%s/note/ready", c.ID), text: say, buttons: buttons})
}

// appointmentNote is the key of the notice about an appointment.
func appointmentNote(a ledger.Appointment) string {
	return fmt.Sprintf("%s/note/appointment/%d", a.Commission, a.N)
}

// lateNote is the key of the notice that one cannot be kept.
func lateNote(a ledger.Appointment) string { return appointmentNote(a) + "/late" }

// noted tells the studio of a fitting.
func (p *posting) noted(e event, c ledger.Commission, a ledger.Appointment, say string, buttons ...chat.Button) error {
	if a.Which == ledger.HandingOver {
		return nil // it stands in the notice that the commission is finished
	}
	text := fmt.Sprintf("%s · %s: %s %s.", c.ID, c.ClientName, strings.ToLower(what(a)), say)
	return p.toStudio(e, c, notice{key: appointmentNote(a), text: text, buttons: buttons})
}

// settledLate takes the warning back that an appointment cannot be kept, where there was one.
func (p *posting) settledLate(c ledger.Commission, a ledger.Appointment, say string) error {
	if a.Warned.IsZero() {
		return nil
	}
	return p.note(lateNote(a), fmt.Sprintf("%s · %s: %s %s.", c.ID, c.ClientName, strings.ToLower(what(a)), say))
}

func postSlotsOffered(p *posting, o shop.SlotsOffered) error {
	c, a := o.Commission, o.Appointment
	if a.Which != ledger.HandingOver && len(a.Slots) == 0 {
		if err := p.noted(noTime, c, a, "has no time that the plan allows; agree one with the client in the thread"); err != nil {
			return err
		}
	}
	if a.Which == ledger.HandingOver {
		return p.readyPost(c, a, !o.Again, o.Later)
	}
	return p.fittingPost(c, a, o.Takes, !o.Again && a.State != ledger.ApptPicked, o.Later) // what is picked stays until another time is
}

func saySlotsOffered(a *answer, o shop.SlotsOffered) chat.Reply {
	x := o.Appointment
	if len(x.Slots) == 0 {
		return chat.Reply{Text: "No other time can be offered just now; write what would suit you in the thread."}
	}
	last := []chat.Button{others(x)}
	if o.Later {
		last = []chat.Button{earliest(x), others(x)}
	}
	rep := a.slotChoice(a.limits, x, x.Slots, "", last...)
	rep.Text = what(x) + ": pick a time."
	return rep
}

func postSlotPicked(p *posting, o shop.SlotPicked) error {
	c, a := o.Commission, o.Appointment
	takes := time.Duration(0)
	if !o.Until.IsZero() {
		takes = o.Until.Sub(a.At)
	}
	if err := p.appointed(c, a, takes, false); err != nil {
		return err
	}
	if err := p.settledLate(c, a, "is agreed anew"); err != nil {
		return err
	}
	return p.noted(picked, c, a, fmt.Sprintf("on %s, %s", p.when(a.At), whereHeld[a.How]), missed(a, ""))
}

func saySlotPicked(a *answer, o shop.SlotPicked) chat.Reply {
	x := o.Appointment
	return chat.Reply{Text: fmt.Sprintf("%s: %s, %s.", what(x), a.when(x.At), whereHeld[x.How])}
}

func postHowChosen(p *posting, o shop.HowChosen) error {
	c, a := o.Commission, o.Appointment
	if err := p.noted(picked, c, a, "is wanted "+whereHeld[a.How]); err != nil {
		return err
	}
	return p.appointed(c, a, 0, false)
}

func sayHowChosen(a *answer, o shop.HowChosen) chat.Reply {
	x := o.Appointment
	switch {
	case x.How == quote.Ship && x.State == ledger.ApptPicked:
		return chat.Reply{Text: fmt.Sprintf("It will be posted on %s. Tell the studio the address in the thread, if it has none.", a.local(x.At).Format("Mon 2 Jan 2006"))}
	case x.Which == ledger.HandingOver:
		rep := a.slotChoice(a.limits, x, x.Slots, "", others(x))
		rep.Text = "Collection: pick a time."
		return rep
	}
	return chat.Reply{Text: fmt.Sprintf("%s: %s. Times to pick from come to the thread.", what(x), whereHeld[x.How])}
}

func postSlotMissed(p *posting, o shop.SlotMissed) error {
	c := o.Commission
	if o.Missed.Which == ledger.HandingOver {
		return nil // other times are offered in the same post
	}
	if err := p.appointed(c, o.Missed, 0, false); err != nil {
		return err
	}
	return p.noted(missedIt, c, o.Missed, fmt.Sprintf("on %s: %s; other times are offered", p.when(o.Missed.At), nobody(o.Missed)))
}

func saySlotMissed(_ *answer, o shop.SlotMissed) chat.Reply {
	return chat.Reply{Text: fmt.Sprintf("%s of %s: %s. The client is told, and other times are offered.", what(o.Missed), o.Commission.ID, nobody(o.Missed))}
}

func postCalledOff(p *posting, o shop.CalledOff) error {
	c := o.Commission
	if o.Off.Which == ledger.HandingOver {
		return nil
	}
	if err := p.appointed(c, o.Off, 0, false); err != nil { // other times are offered in a post of their own
		return err
	}
	say := fmt.Sprintf("on %s is called off; other times are offered", p.when(o.Off.At))
	if err := p.settledLate(c, o.Off, say); err != nil {
		return err
	}
	return p.noted(calledOff, c, o.Off, say)
}

func sayCalledOff(_ *answer, o shop.CalledOff) chat.Reply {
	return chat.Reply{Text: fmt.Sprintf("%s of %s is called off. The client is told, and other times are offered.", what(o.Off), o.Commission.ID)}
}

func postAppointmentKept(p *posting, o shop.AppointmentKept) error {
	c, a := o.Commission, o.Appointment
	if a.Which == ledger.HandingOver {
		return nil // handing over says so
	}
	if err := p.settledLate(c, a, "has taken place"); err != nil || a.Message == "" {
		return err
	}
	return p.appointed(c, a, 0, false)
}

func postSlotUnkept(p *posting, o shop.SlotUnkept) error {
	c, a := o.Commission, o.Appointment
	text := fmt.Sprintf("*The %s of %s · %s on %s cannot be kept:* by the plan it would be on %s. The client is told nothing until you press the button.",
		strings.ToLower(what(a)), c.ID, c.ClientName, p.when(a.At), p.when(o.Now))
	return p.toStudio(unkept, c, notice{key: lateNote(a), text: text, buttons: []chat.Button{onAppointment("calloff", a, "", "Call it off and tell the client", chat.Grave)}})
}

func postKeptAgain(p *posting, o shop.KeptAgain) error {
	return p.settledLate(o.Commission, o.Appointment, "on "+p.when(o.Appointment.At)+" can be kept again")
}

// unfit says why a time does not suit.
func (w words) unfit(no *shop.Refusal) string {
	at := w.slotWords(no.Until)
	switch no.Fit {
	case shop.Passed:
		return at + " has passed"
	case shop.Shut:
		return "the workshop is closed on " + at
	case shop.NotReady:
		return "the work before it will not be done by " + at
	case shop.HurtsOthers:
		return at + " would make work promised to others late"
	}
	return "nobody is free on " + at + " any more"
}

// askSlot says why a time does not suit any more, and which do.
func askSlot(a *answer, no *shop.Refusal) chat.Reply {
	return a.otherSlots(no, fmt.Sprintf("*Nothing has changed yet.* %s.", quote.Capital(a.unfit(no))), "These times suit:")
}

// askStale says of a press on an old offer what holds now.
func askStale(a *answer, no *shop.Refusal) chat.Reply {
	x := no.Appointment
	if x.State != ledger.ApptPicked {
		return a.otherSlots(no, fmt.Sprintf("*Nothing has changed yet.* %s is not among the times offered now, and no time is picked.", a.slotWords(no.Until)),
			"Pick one of these:")
	}
	already := ""
	if x.At.Equal(no.Until) {
		already = "already "
	}
	return a.otherSlots(no, fmt.Sprintf("*Nothing has changed.* The %s of %s is %son %s.", strings.ToLower(what(x)), x.Commission, already, a.when(x.At)),
		"To move it, pick one of these times:")
}

func (a *answer) otherSlots(no *shop.Refusal, text, these string) chat.Reply {
	if len(no.Slots) == 0 {
		return chat.Reply{Text: text + " No other time can be offered just now; write what would suit you in the thread."}
	}
	rep := a.slotChoice(a.limits, no.Appointment, no.Slots, no.Seen, others(no.Appointment))
	rep.Text = text + " " + these
	return rep
}

// agreed says of each appointment how it stands, a sentence each.
func (w words) agreed(all []ledger.Appointment) string {
	text := ""
	for _, a := range all {
		switch a.State {
		case ledger.ApptPicked:
			text += fmt.Sprintf(" %s: %s, %s.", what(a), w.when(a.At), whereHeld[a.How])
		case ledger.ApptOffered:
			text += fmt.Sprintf(" %s: no time is picked yet.", what(a))
		}
	}
	return text
}
