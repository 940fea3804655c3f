package desk

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/quote"
)

// words say things in the studio's zone and with its library.
type words struct {
	d      *Desk
	studio quote.Studio
	zone   *time.Location
}

func (d *Desk) words() words {
	st := d.cfg.Studio()
	loc, err := time.LoadLocation(st.Calendar.Zone)
	if err != nil {
		loc = time.UTC
	}
	return words{d: d, studio: st, zone: loc}
}

func (w words) local(t time.Time) time.Time { return t.In(w.zone) }

// when is a moment in words.
func (w words) when(t time.Time) string { return w.local(t).Format("Mon 2 Jan 2006, 15:04") }

// fromTo is from when to when something is planned, with the day once where it ends on the day it begins.
func (w words) fromTo(from, to time.Time) string {
	const moment = "Mon 2 Jan 15:04"
	a, b := w.local(from), w.local(to)
	if a.Format(time.DateOnly) == b.Format(time.DateOnly) {
		return a.Format(moment) + " to " + b.Format("15:04")
	}
	return a.Format(moment) + " to " + b.Format(moment)
}

// until is the end of a validity in words; midnight belongs to the day before.
func (w words) until(t time.Time) string {
	l := w.local(t)
	if l.Hour() == 0 && l.Minute() == 0 {
		return "the end of " + l.Add(-time.Minute).Format("Mon 2 Jan 2006")
	}
	return w.when(t)
}

// finish is the title of a finish.
func (w words) finish(key string) string {
	for _, f := range w.studio.Finishes {
		if f.Key == key {
			return f.Title
		}
	}
	return key
}

// stateWords complete "C0007 is …".
var stateWords = map[ledger.State]string{
	ledger.Choosing:  "being put together",
	ledger.Measuring: "waiting for measurements",
	ledger.Checking:  "waiting for its measurements to be confirmed",
	ledger.Computing: "being worked out",
	ledger.Quoted:    "quoted",
	ledger.Approved:  "approved",
	ledger.Working:   "being made",
	ledger.Ready:     "ready to collect",
	ledger.Delivered: "handed over",
	ledger.Declined:  "declined",
	ledger.Cancelled: "cancelled",
	ledger.Expired:   "expired",
	ledger.Failed:    "stopped: the quote could not be worked out",
}

// limits are those of the transport that a scheme names.
func (w words) limits(scheme string) chat.Limits { return chat.LimitsOf(w.d.cfg.Transports, scheme) }

// attach is as many of the files as a message holds.
func attach(l chat.Limits, files []chat.File) []chat.File {
	return files[:chat.Within(l.Files, len(files))]
}

// shortName is room for a client's name within a line.
const shortName = 40

func orNone(list []string) string {
	if len(list) == 0 {
		return "nothing"
	}
	return strings.Join(list, ", ")
}

// waits says what an operation still waits for.
func (w words) waits(x shop.Wait) string {
	if x.Until.IsZero() {
		return fmt.Sprintf("“%s” must be done first", x.For.Words())
	}
	return fmt.Sprintf("%s after “%s” cures until %s, another %s", x.For.Cure, x.For.Words(), w.when(x.Until), quote.TimeWords(x.Left))
}

// offcutWords of an offcut whose thickness is said already.
func offcutWords(o ledger.Offcut) string {
	width, height := o.Size()
	s := fmt.Sprintf("%s, %.0f × %.0f mm", o.ID, float64(width), float64(height))
	if len(o.Outline) != 4 || float64(width)*float64(height)-float64(o.Outline.Area()) > 1 {
		s += fmt.Sprintf(" at most, %.0f cm²", float64(o.Outline.Area())/100)
	}
	if from, sheet, ok := strings.Cut(o.Origin, "/"); ok {
		s += fmt.Sprintf(", from %s sheet %s", from, sheet)
	}
	return s
}

func offcutLines(list []ledger.Offcut) []string {
	var out []string
	for _, o := range list {
		out = append(out, fmt.Sprintf("• %s: %s", o.Thickness, offcutWords(o)))
	}
	return out
}

// pictured is a picture of the engine's as it goes into a message.
func pictured(p quote.Picture) chat.File {
	return chat.File{Name: p.Name, MIME: p.MIME, Alt: p.Alt, Data: p.Data}
}

// attached is a file of the engine's as it goes into a message.
func attached(f quote.File) chat.File {
	return chat.File{Name: f.Name, MIME: f.MIME, Alt: f.Name, Data: f.Data}
}

// button does an action on a commission.
func button(verb string, id quote.CommissionID, say string, tone chat.Tone) chat.Button {
	return chat.Button{Action: verb + "/" + string(id), Label: say, Tone: tone}
}

// inReach is how many buttons a list offers before the rest goes into a menu: on a phone more are a wall.
const inReach = 5

// offers is what a list offers: buttons for what comes first, menus for the rest.
type offers struct {
	limits  chat.Limits
	buttons []chat.Button
	last    []chat.Button // after those
	menu    chat.Menu
}

// newOffers keeps room for the last buttons, and has a menu of that name for what finds none.
func newOffers(l chat.Limits, menu, say string, last ...chat.Button) *offers {
	return &offers{limits: l, last: last, menu: chat.Menu{Action: menu, Label: say, Min: 1, Max: 1}}
}

func (o *offers) add(b chat.Button) {
	if len(o.buttons) < min(inReach, o.limits.Room(1))-len(o.last) {
		b.Label = chat.Clip(b.Label, o.limits.Label)
		o.buttons = append(o.buttons, b)
		return
	}
	o.menu.Options = append(o.menu.Options, chat.Option{Value: b.Action, Label: chat.Clip(b.Label, o.limits.Line)})
}

// put has a reply offer it.
func (o *offers) put(rep *chat.Reply) {
	rep.Buttons = append(o.buttons, o.last...)
	if len(o.menu.Options) > 0 {
		rep.Menus = beside(o.limits, len(rep.Buttons), o.limits.Pages(o.menu))
	}
}

// withRoom is some menus and others after them: where a message does not hold all beside that many buttons, the last of the
// first give way.
func withRoom(l chat.Limits, buttons int, first, others []chat.Menu) []chat.Menu {
	n := len(beside(l, buttons, append(slices.Clone(others), first...)))
	return append(first[:max(n-len(others), 0):max(n-len(others), 0)], others[:min(n, len(others))]...)
}

// beside is as many of the menus as a message holds beside that many buttons.
func beside(l chat.Limits, buttons int, menus []chat.Menu) []chat.Menu {
	n := len(menus)
	if l.Menus > 0 {
		n = min(n, l.Menus)
	}
	if l.Rows > 0 {
		n = min(n, l.Rows)
	}
	for n > 0 && l.Room(n) < buttons {
		n--
	}
	return menus[:n]
}

// listed writes a list as people say it: "Mara, Jonas and Bench".
func listed(names []string) string {
	if n := len(names); n > 2 {
		return strings.Join(names[:n-1], ", ") + " and " + names[n-1]
	}
	return strings.Join(names, " and ")
}
