package quote

import "time"

// Notices say when people are told of what happens. They are no part of what a quote depends on. The zero value tells at any
// hour, at once and as often as there is something to tell.
type Notices struct {
	QuietFrom, QuietUntil int  // minutes after midnight between which nobody is told anything that can wait; equal: none
	Batch                 int  // minutes: cures that end within them, and a client's words, are told together
	MostADay              int  // times a day that one person of the studio is told; 0: any
	PaintWaits            bool // what is ready for paint waits for the end of the quiet hours, too
}

// Quiet reports whether t, in the studio's zone, is in the quiet hours.
func (n Notices) Quiet(t time.Time) bool {
	at := t.Hour()*60 + t.Minute()
	if n.QuietFrom <= n.QuietUntil {
		return n.QuietFrom <= at && at < n.QuietUntil
	}
	return at >= n.QuietFrom || at < n.QuietUntil
}

// Decent is t, or the end of the quiet hours that t, in the studio's zone, is in.
func (n Notices) Decent(t time.Time) time.Time {
	if !n.Quiet(t) {
		return t
	}
	end := time.Date(t.Year(), t.Month(), t.Day(), 0, n.QuietUntil, 0, 0, t.Location())
	if !end.After(t) {
		end = time.Date(t.Year(), t.Month(), t.Day()+1, 0, n.QuietUntil, 0, 0, t.Location())
	}
	return end
}

// Together is how long what can be told together waits for the rest of it.
func (n Notices) Together() time.Duration { return time.Duration(n.Batch) * time.Minute }
