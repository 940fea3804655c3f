package counter

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"time"

	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/quote"
)

// when is a moment in the studio's zone: with its year where that is another.
func (f frame) when(t time.Time) string {
	l := t.In(f.zone)
	if l.Year() != f.at.Year() {
		return l.Format("Mon 2 Jan 2006, 15:04")
	}
	return l.Format("Mon 2 Jan, 15:04")
}

// until is the end of a term; midnight belongs to the day before.
func (f frame) until(t time.Time) string {
	l := t.In(f.zone)
	if l.Hour() == 0 && l.Minute() == 0 {
		return "the end of " + l.Add(-time.Minute).Format("Mon 2 Jan 2006")
	}
	return f.when(t)
}

// chance is how often a date is kept, as people say it; empty where it is not known.
func chance(odds float64) string {
	switch n := int(math.Round(10 * odds)); {
	case odds <= 0:
		return ""
	case odds >= 0.95:
		return "more than 9 times in 10"
	default:
		return fmt.Sprintf("about %d times in 10", min(max(n, 1), 9))
	}
}

// what names an appointment.
func what(a ledger.Appointment) string {
	switch {
	case a.Which == ledger.FirstFitting:
		return "First fitting"
	case a.Which == ledger.FinalFitting:
		return "Final fitting"
	case a.How == quote.Ship:
		return "Posting"
	}
	return "Collection"
}

var whereHeld = map[quote.How]string{quote.InPerson: "at the workshop", quote.ByPictures: "by pictures", quote.Collect: "at the workshop", quote.Ship: "by post"}

// happens says what is done at an appointment.
func happens(a ledger.Appointment) string {
	switch {
	case a.Which == ledger.FirstFitting && a.How == quote.InPerson:
		return "You try on the raw parts, before anything is sealed or painted."
	case a.Which == ledger.FirstFitting:
		return "The raw parts come to you. Put them on and send pictures from all sides; nothing is painted before."
	case a.Which == ledger.FinalFitting && a.How == quote.InPerson:
		return "You try on the finished work, straps and all."
	case a.Which == ledger.FinalFitting:
		return "You are shown pictures of the finished work, and say what is still to be done."
	case a.How == quote.Ship:
		return "Tell the studio where to send it, if it does not know."
	}
	return "Your work is finished and waits for you."
}

// otherWay is how else an appointment can be held, and what the button says.
func otherWay(a ledger.Appointment) (quote.How, string) {
	switch a.How {
	case quote.InPerson:
		return quote.ByPictures, "Hold it by pictures"
	case quote.ByPictures:
		return quote.InPerson, "Come to the workshop"
	case quote.Collect:
		return quote.Ship, "Have it posted"
	}
	return quote.Collect, "Collect it instead"
}

// lower makes the first letter a small one.
func lower(s string) string {
	if s == "" {
		return s
	}
	r := []rune(s)
	return strings.ToLower(string(r[:1])) + string(r[1:])
}

// refusalWords are those of the page where the conversation's would lead astray: they speak of what stands on it.
func (c *Counter) refusalWords(f frame, no *shop.Refusal) string {
	switch no.Kind {
	case shop.NoSets:
		return "pick at least one set"
	case shop.NoFinish:
		return "pick a finish that suits what is ordered"
	case shop.Moved:
		return "something has just changed; look, and press again"
	case shop.DoneBefore:
		return "this was done before; below is how it stands now"
	case shop.NeedsMending:
		return fmt.Sprintf("correct what is marked: %s", no.Cause)
	case shop.TooLate, shop.QuotedAlready, shop.NotNow, shop.SetAside, shop.BeingComputed:
		return "this has moved on meanwhile; below is how it stands now"
	case shop.ChooseFirst:
		return "finish choosing first"
	case shop.Incomplete:
		return "a measurement is still missing; give it first"
	case shop.DateMoved:
		return fmt.Sprintf("the date was held until %s, and is %s now; nothing is approved yet", f.until(no.Until), quote.DateWords(no.Name))
	case shop.RunOut:
		return fmt.Sprintf("the quote was valid until %s; ask for today's price and date", f.until(no.Until))
	case shop.SlotHurts:
		return fmt.Sprintf("with %s your work would be ready by %s, after the date promised; pick another, or that one all the same", f.when(no.Until), quote.DateWords(no.Name))
	case shop.SlotGone:
		return f.when(no.Until) + " is not free any more; pick another time"
	case shop.SlotStale:
		return f.when(no.Until) + " is not offered any more; pick one of these"
	case shop.AppointmentOver, shop.NoAppointment:
		return "this appointment is over; below is how it stands"
	case shop.HeldSo:
		return "it is held like this already"
	case shop.Hurts:
		if no.Others(no.Commission.ID) {
			return "held like this, somebody else's date could not be kept; write to the studio, and they will find a way"
		}
		return "held like this, your own date may not be kept; nothing has changed yet"
	}
	return c.o.Say(no)
}

// problemWords say of a field what is wrong with it.
func (c *Counter) problemWords(f frame, x shop.Problem) string {
	if x.Cause != "" {
		return strings.TrimSuffix(x.Cause, ".")
	}
	if x.Kind != "" {
		return c.refusalWords(f, &shop.Refusal{Kind: x.Kind, Name: x.Typed, Names: x.Names, Most: x.Count, Cause: errors.New(x.Typed)})
	}
	return fmt.Sprintf("“%s” is not understood", x.Typed)
}

// parcelWords are how large something is once it is packed.
func parcelWords(p quote.Parcel) string {
	if p.Length <= 0 {
		return ""
	}
	return fmt.Sprintf("packed %.0f × %.0f × %.0f cm", float64(p.Length)/10, float64(p.Width)/10, float64(p.Height)/10)
}
