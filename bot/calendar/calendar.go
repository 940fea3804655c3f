// Package calendar words what a link to a calendar shows and writes it as iCalendar (RFC 5545), for the calendar programs of makers
// and clients. The events are facts of the shop, which remembers how each was told.
//
// It refuses nothing. What always holds: the same facts give the same bytes; moments are in UTC, which no change of the clocks moves
// (section 3.3.5, form 2); an event keeps its UID and counts its changes in SEQUENCE (3.8.7.4); without a METHOD, DTSTAMP is when the
// event last changed (3.8.7.2); no line is longer than 75 octets (3.1); nothing says who a client is or what they measure.
package calendar

import (
	"fmt"
	"strings"
	"time"
	"unicode"

	ics "github.com/arran4/golang-ical"

	"benchbell/bot/shop"
	"benchbell/quote"
)

// MIME is the media type of what Write returns (RFC 5545, section 8.1).
const MIME = "text/calendar; charset=utf-8"

// lookAgain is how often a program is asked to fetch a calendar (RFC 7986, section 5.7): a plan moves a few times a day.
const lookAgain = "PT30M"

// Write is the calendar as iCalendar. Places and times within a text are the studio's.
func Write(c shop.Calendar, st quote.Studio) ([]byte, error) {
	zone, err := time.LoadLocation(st.Calendar.Zone)
	if err != nil {
		return nil, fmt.Errorf("time zone %q is not known: %w", st.Calendar.Zone, err)
	}
	w := writer{st, zone}
	out := ics.NewCalendar()
	out.SetProductId("-//Benchbell//EN")
	name := c.Name + " at " + st.Name
	if c.Name == "" {
		name = string(c.Commission) + " at " + st.Name
	}
	out.SetName(clean(name))
	out.SetRefreshInterval(lookAgain)
	for _, e := range c.Entries {
		out.Components = append(out.Components, w.event(e, c.Name == ""))
	}
	var b strings.Builder
	if err := out.SerializeTo(&b, ics.WithNewLine("\r\n")); err != nil {
		return nil, fmt.Errorf("the calendar of %s cannot be written: %w", name, err)
	}
	return []byte(b.String()), nil
}

type writer struct {
	st   quote.Studio
	zone *time.Location
}

func (w writer) event(e shop.CalendarEntry, client bool) *ics.VEvent {
	v := ics.NewEvent(e.UID)
	v.SetDtStampTime(e.Changed)
	v.SetCreatedTime(e.Made)
	v.SetModifiedAt(e.Changed)
	v.SetSequence(e.Sequence)
	summary, text := w.words(e.Facts, client)
	v.SetSummary(clean(summary))
	if text != "" {
		v.SetDescription(clean(text))
	}
	switch e.Kind {
	case shop.DueDate:
		day, _ := time.Parse(time.DateOnly, e.Day) // the shop has looked at it
		v.SetAllDayStartAt(day)
		v.SetAllDayEndAt(day.AddDate(0, 0, 1)) // the end is not part of it (3.6.1)
		v.SetTimeTransparency(ics.TransparencyTransparent)
	case shop.Cured: // without an end it takes no time (3.6.1)
		v.SetStartAt(e.From)
		v.SetTimeTransparency(ics.TransparencyTransparent)
	default:
		v.SetStartAt(e.From)
		v.SetEndAt(e.To)
		if e.Kind == shop.Meet && len(w.st.Address) > 0 {
			v.SetLocation(clean(strings.Join(append([]string{w.st.Name}, w.st.Address...), ", ")))
		}
	}
	switch {
	case e.Off:
		v.SetStatus(ics.ObjectStatusCancelled)
	case e.Kind == shop.Meet, e.Kind == shop.DueDate:
		v.SetStatus(ics.ObjectStatusConfirmed)
	default:
		v.SetStatus(ics.ObjectStatusTentative) // a plan
	}
	return v
}

// words are the title of an event and what it says.
func (w writer) words(f shop.Facts, client bool) (title, text string) {
	switch f.Kind {
	case shop.Spell:
		var of []string
		seen := map[quote.CommissionID]bool{}
		var lines []string
		for _, s := range f.Steps {
			if !seen[s.Commission] {
				seen[s.Commission] = true
				of = append(of, string(s.Commission))
			}
			line := fmt.Sprintf("%s to %s · %s · %s", w.clock(s.From), w.clock(s.To), s.Commission, s.Title)
			if s.Group != "" && !strings.Contains(strings.ToLower(s.Title), strings.ToLower(s.Group)) {
				line += ", " + s.Group
			}
			lines = append(lines, line)
		}
		title = "At the bench: " + strings.Join(of, ", ")
		if len(f.Steps) == 1 {
			title = f.Steps[0].Title + ", " + of[0]
		}
		return title, strings.Join(lines, "\n")
	case shop.Meet:
		return quote.Capital(f.Which) + ", " + string(f.Commission), ""
	case shop.Cured:
		title = fmt.Sprintf("%s cured: %s", quote.Capital(f.Cure), f.Commission)
		text = fmt.Sprintf("“%s” has cured.", f.Of)
		if f.Next != "" {
			text += fmt.Sprintf(" Next: “%s”.", f.Next)
		}
		if !f.Closes.IsZero() {
			text += fmt.Sprintf(" The next coat must be on by %s.", f.Closes.In(w.zone).Format("Mon 2 Jan, 15:04"))
		}
		return title, text
	}
	if client {
		return fmt.Sprintf("%s is ready", f.Commission), "The date that you were told. It moves only if the studio tells you so."
	}
	return fmt.Sprintf("%s promised", f.Commission), ""
}

func (w writer) clock(t time.Time) string { return t.In(w.zone).Format("15:04") }

// clean leaves out what no text of a calendar may have: controls other than the line break (RFC 5545, section 3.3.11), and what is no
// character.
func clean(s string) string {
	return strings.Map(func(r rune) rune {
		if r != '\n' && unicode.IsControl(r) {
			return -1
		}
		return r
	}, strings.ToValidUTF8(strings.ReplaceAll(s, "\r\n", "\n"), "\uFFFD"))
}
