package calendar

import (
	"bytes"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode"
	"unicode/utf8"

	ical "github.com/emersion/go-ical" // another's reader: it shares nothing with the writer
	"pgregory.net/rapid"

	"benchbell/bot/shop"
	"benchbell/quote"
	"benchbell/quote/gaugetest"
	"benchbell/quote/settings"
)

var (
	berlin = func() *time.Location {
		l, err := time.LoadLocation("Europe/Berlin")
		if err != nil {
			panic(err)
		}
		return l
	}()
	monday = time.Date(2026, 11, 30, 8, 0, 0, 0, time.UTC)
)

func write(t interface{ Fatal(...any) }, c shop.Calendar) []byte {
	st := settings.Demo()
	st.Calendar.Zone = "Europe/Berlin"
	out, err := Write(c, st)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// read is the calendar as another program reads it.
func read(t interface{ Fatal(...any) }, raw []byte) []ical.Event {
	c, err := ical.NewDecoder(bytes.NewReader(raw)).Decode()
	if err != nil {
		t.Fatal(err)
	}
	return c.Events()
}

func text(t interface{ Fatal(...any) }, e ical.Event, name string) string {
	s, err := e.Props.Text(name)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// sound says what RFC 5545 asks of the bytes, whatever they say.
func sound(raw []byte) string {
	lines := strings.Split(string(raw), "\r\n")
	if lines[len(lines)-1] != "" {
		return "the last line has no end (3.1)"
	}
	if strings.ContainsAny(strings.ReplaceAll(string(raw), "\r\n", ""), "\r\n") {
		return "a line ends without CRLF (3.1)"
	}
	for _, l := range lines {
		switch {
		case strings.Count(l, ";VALUE=") > 1:
			return "a property has a parameter twice (3.2): " + l
		case len(l) > 75:
			return "a line is longer than 75 octets (3.1): " + l
		case !utf8.ValidString(l):
			return "a character is cut in two: " + l
		case strings.ContainsFunc(l, unicode.IsControl):
			return "a control stands in a text (3.3.11)"
		}
	}
	return ""
}

// What is written is read by another program as it was meant, whatever the names are.
func TestCalendarIsReadAsItWasMeant(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		awkward := rapid.StringOfN(rapid.OneOf(rapid.Rune(), rapid.SampledFrom([]rune(`;,:\"'<> n`+"\nüß漢😀"))), 0, 120, -1)
		f := shop.Facts{Kind: rapid.SampledFrom([]shop.EventKind{shop.Spell, shop.Meet, shop.Cured}).Draw(t, "kind"), Commission: "C0007",
			From: monday.Add(time.Duration(rapid.IntRange(0, 500*24*60).Draw(t, "at")) * time.Minute), Which: "first fitting",
			Cure: awkward.Draw(t, "cure"), Of: awkward.Draw(t, "of")}
		f.To = f.From.Add(time.Duration(rapid.IntRange(1, 600).Draw(t, "takes")) * time.Minute)
		if f.Kind == shop.Spell {
			f.Steps = []shop.SpellStep{{Commission: "C0007", Title: awkward.Draw(t, "title"), Group: awkward.Draw(t, "group"), From: f.From, To: f.To},
				{Commission: "C0009", Title: "Cut", From: f.From, To: f.To}}
		}
		c := shop.Calendar{Name: awkward.Draw(t, "name") + "M",
			Entries: []shop.CalendarEntry{{Facts: f, UID: "abc", Sequence: rapid.IntRange(0, 9).Draw(t, "sequence"), Made: monday, Changed: f.From.Add(-time.Hour)}}}
		raw := write(t, c)
		if bad := sound(raw); bad != "" {
			t.Fatalf("%s\n%q", bad, raw)
		}
		es := read(t, raw)
		if len(es) != 1 {
			t.Fatalf("%d events are read", len(es))
		}
		title, says := writer{settings.Demo(), berlin}.words(f, false)
		if got, want := text(t, es[0], ical.PropSummary), clean(title); got != want {
			t.Fatalf("the title is read as %q, not %q", got, want)
		}
		if got, want := text(t, es[0], ical.PropDescription), clean(says); got != want {
			t.Fatalf("the text is read as %q, not %q", got, want)
		}
		if at, err := es[0].DateTimeStart(berlin); err != nil || !at.Equal(f.From) {
			t.Fatalf("it is read to begin at %s, not %s: %v", at, f.From, err)
		}
		if end, err := es[0].DateTimeEnd(berlin); err != nil || f.Kind != shop.Cured && !end.Equal(f.To) || f.Kind == shop.Cured && !end.Equal(f.From) {
			t.Fatalf("it is read to end at %s: %v", end, err)
		}
		if again := write(t, c); !bytes.Equal(raw, again) {
			t.Fatal("the same facts give other bytes")
		}
	})
}

// The five kinds of events as a calendar program shows them, and as they were when this was last looked at.
func TestCalendarOfAMaker(t *testing.T) {
	at := func(day, h, m int) time.Time { return time.Date(2026, 10, day, h, m, 0, 0, berlin) }
	entry := func(uid string, f shop.Facts) shop.CalendarEntry {
		return shop.CalendarEntry{Facts: f, UID: uid, Sequence: 2, Made: monday.AddDate(0, -2, 0), Changed: monday.AddDate(0, -2, 1)}
	}
	// On 25 October 2026 the clocks go back: 9 o'clock is 7:00 UTC on the Friday before and 8:00 UTC on the Monday after.
	off := entry("off", shop.Facts{Kind: shop.Meet, Commission: "C0003", Which: "final fitting", From: at(26, 14, 0), To: at(26, 14, 30)})
	off.Off = true
	c := shop.Calendar{Name: "Rolf", Entries: []shop.CalendarEntry{
		entry("spell", shop.Facts{Kind: shop.Spell, From: at(23, 9, 0), To: at(23, 12, 10), Steps: []shop.SpellStep{
			{Commission: "C0007", Title: "Cut 5 mm foam", From: at(23, 9, 0), To: at(23, 10, 0)},
			{Commission: "C0009", Title: "Heat-form", Group: "Shin plates", From: at(23, 10, 10), To: at(23, 12, 10)}}}),
		entry("meet", shop.Facts{Kind: shop.Meet, Commission: "C0007", Which: "first fitting", From: at(26, 9, 0), To: at(26, 9, 30)}),
		entry("cured", shop.Facts{Kind: shop.Cured, Commission: "C0007", Cure: "primer", Of: "Primer, coat 1", Next: "Primer, coat 2", From: at(26, 11, 0), To: at(26, 11, 0), Closes: at(27, 11, 0)}),
		off,
		entry("date", shop.Facts{Kind: shop.DueDate, Commission: "C0007", Day: "2026-10-30", From: at(30, 0, 0), To: at(31, 0, 0)}),
	}}
	raw := write(t, c)
	if bad := sound(raw); bad != "" {
		t.Error(bad)
	}
	gaugetest.Golden(t, "testdata/maker.ics", raw)
	es := read(t, raw)
	start := func(i int) string {
		x, err := es[i].DateTimeStart(berlin)
		if err != nil {
			t.Fatal(err)
		}
		return x.In(berlin).Format("Mon 15:04")
	}
	if len(es) != 5 || start(0) != "Fri 09:00" || start(1) != "Mon 09:00" {
		t.Fatalf("read: %d events, %s, %s", len(es), start(0), start(1))
	}
	if !strings.Contains(string(raw), "DTSTART:20261023T070000Z") || !strings.Contains(string(raw), "DTSTART:20261026T080000Z") {
		t.Error("9 o'clock is the same moment of the day before and after the clocks go back")
	}
	for i, want := range []ical.EventStatus{ical.EventTentative, ical.EventConfirmed, ical.EventTentative, ical.EventCancelled, ical.EventConfirmed} {
		if got, err := es[i].Status(); err != nil || got != want {
			t.Errorf("event %d is %s, want %s: %v", i, got, want, err)
		}
	}
	if p := es[4].Props.Get(ical.PropDateTimeStart); p.ValueType() != ical.ValueDate || p.Value != "20261030" {
		t.Errorf("the promised date is %+v, want the whole day (3.3.4)", p)
	}
	for _, e := range es {
		if e.Props.Get(ical.PropSequence).Value != "2" || e.Props.Get(ical.PropDateTimeStamp).Value != e.Props.Get(ical.PropLastModified).Value {
			t.Errorf("%s has not changed twice", text(t, e, ical.PropUID))
		}
	}
	for _, lacks := range []string{"VTIMEZONE", "TZID", "METHOD"} {
		if strings.Contains(string(raw), lacks) {
			t.Errorf("it has a %s", lacks)
		}
	}
}

// A client reads of their own commission, in words for them.
func TestCalendarOfAClient(t *testing.T) {
	c := shop.Calendar{Commission: "C0007", Entries: []shop.CalendarEntry{{Facts: shop.Facts{Kind: shop.DueDate, Commission: "C0007", Day: "2026-12-18", From: monday, To: monday}, UID: "x", Made: monday, Changed: monday},
		{Facts: shop.Facts{Kind: shop.Meet, Commission: "C0007", Which: "first fitting", From: monday, To: monday.Add(time.Hour)}, UID: "y", Made: monday, Changed: monday}}}
	es := read(t, write(t, c))
	if got := text(t, es[0], ical.PropSummary); got != "C0007 is ready" {
		t.Error(got)
	}
	if got := text(t, es[1], ical.PropLocation); !strings.Contains(got, settings.Demo().Name) {
		t.Errorf("they are to come to %q", got)
	}
	if slices.ContainsFunc(es, func(e ical.Event) bool { return text(t, e, ical.PropUID) == "" }) {
		t.Error("an event has no UID")
	}
	if _, err := Write(c, quote.Studio{Calendar: settings.Demo().Calendar}); err != nil {
		t.Error(err)
	}
}
