package desk

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/quote"
)

// stateWords complete "C0007 is …".
var stateWords = map[ledger.State]string{
	ledger.Choosing:  "being put together",
	ledger.Measuring: "waiting for measurements",
	ledger.Checking:  "waiting for its measurements to be confirmed",
	ledger.Computing: "being worked out",
	ledger.Quoted:    "quoted",
	ledger.Approved:  "approved",
	ledger.Working:   "in work",
	ledger.Ready:     "ready to collect",
	ledger.Delivered: "handed over",
	ledger.Declined:  "declined",
	ledger.Cancelled: "cancelled",
	ledger.Expired:   "expired",
	ledger.Failed:    "stopped: the quote could not be worked out",
}

// clip shortens text to n characters, with a mark that it was.
func clip(s string, n int) string {
	r := []rune(s)
	if len(r) <= n {
		return s
	}
	return string(r[:n-1]) + "…"
}

// oneLine takes line breaks and outer blanks off what a person typed.
func oneLine(s string) string {
	return clip(strings.Join(strings.Fields(s), " "), 200)
}

// many counts things: "1 picture", "2 pictures".
func many(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}

// capital makes the first letter one.
func capital(s string) string {
	if s == "" {
		return s
	}
	r := []rune(s)
	return strings.ToUpper(string(r[0])) + string(r[1:])
}

// number is the n-th part of an action as a number; -1 where it is none.
func number(path []string, n int) int {
	if n >= len(path) {
		return -1
	}
	v, err := strconv.Atoi(path[n])
	if err != nil {
		return -1
	}
	return v
}

// zone is the studio's time zone; UTC where its name is not known.
func (d *Desk) zone() *time.Location {
	loc, err := time.LoadLocation(d.cfg.Studio().Calendar.Zone)
	if err != nil {
		return time.UTC
	}
	return loc
}

func (d *Desk) local(t time.Time) time.Time { return t.In(d.zone()) }

// when is a moment in words, in the studio's zone.
func (d *Desk) when(t time.Time) string { return d.local(t).Format("Mon 2 Jan 2006, 15:04") }

// until is the end of a validity in words; midnight belongs to the day before.
func (d *Desk) until(t time.Time) string {
	l := d.local(t)
	if l.Hour() == 0 && l.Minute() == 0 {
		return "the end of " + l.Add(-time.Minute).Format("Mon 2 Jan 2006")
	}
	return d.when(t)
}

// dateWords is "2027-03-01" as "Mon 1 Mar 2027".
func dateWords(date string) string {
	t, err := time.Parse(time.DateOnly, date)
	if err != nil {
		return date
	}
	return t.Format("Mon 2 Jan 2006")
}

// span is a duration in words a person would use.
func span(d time.Duration) string {
	m := int((d + time.Minute - 1) / time.Minute)
	switch {
	case m < 60:
		return fmt.Sprintf("%d min", m)
	case m < 48*60:
		if m%60 == 0 {
			return fmt.Sprintf("%d h", m/60)
		}
		return fmt.Sprintf("%d h %d min", m/60, m%60)
	}
	return fmt.Sprintf("%d days", (m+12*60)/(24*60))
}

// note posts to every notice board of the studio.
func (w *work) note(key, text string, buttons []chat.Button, files []chat.File) error {
	return w.noteTo(key, text, buttons, files, nil)
}

func (w *work) noteTo(key, text string, buttons []chat.Button, files []chat.File, mention []chat.PersonID) error {
	boards, err := w.t.Boards()
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
		p := chat.Post{Key: key + "/" + b.Scheme, Thread: b.Thread, Text: clip(text, chat.MaxText), Buttons: buttons, Files: files, Mention: tell}
		if err := w.t.PutPost("", p, w.now); err != nil {
			return err
		}
	}
	return nil
}

// pictured is a picture of the engine's as it goes into a message.
func pictured(p quote.Picture) chat.File {
	return chat.File{Name: p.Name, MIME: p.MIME, Alt: p.Alt, Data: p.Data}
}

// attached is a file of the engine's as it goes into a message.
func attached(f quote.File) chat.File {
	return chat.File{Name: f.Name, MIME: f.MIME, Alt: f.Name, Data: f.Data}
}
