package ledger

import "time"

// CalendarEvent is how an event was last told in somebody's calendar.
type CalendarEvent struct {
	Whose     string // M1 or C0007
	Key       string // what it is the event of
	UID       string
	SHA256    string // of the facts
	Facts     []byte // JSON
	Off       bool   // told as cancelled
	Sequence  int    // how often it has changed
	MadeAt    time.Time
	ChangedAt time.Time
	EndsAt    time.Time
}

const calendarColumns = `whose, key, uid, sha256, facts, off, sequence, made_at, changed_at, ends_at`

func scanCalendarEvent(s scanner) (e CalendarEvent, err error) {
	var facts string
	err = s.Scan(&e.Whose, &e.Key, &e.UID, &e.SHA256, &facts, &e.Off, &e.Sequence, moment{&e.MadeAt}, moment{&e.ChangedAt}, moment{&e.EndsAt})
	e.Facts = []byte(facts)
	return e, err
}

// CalendarEvents are all that somebody's calendar was last told with.
func (t *Tx) CalendarEvents(whose string) ([]CalendarEvent, error) {
	return all(t, scanCalendarEvent, `select `+calendarColumns+` from calendar_events where whose = ? order by key`, whose)
}

// TellCalendarEvent keeps how an event is told from now on.
func (t *Tx) TellCalendarEvent(e CalendarEvent) error {
	return t.exec(`insert into calendar_events (`+calendarColumns+`) values (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
		on conflict (whose, key) do update set sha256 = excluded.sha256, facts = excluded.facts, off = excluded.off, sequence = excluded.sequence,
			changed_at = excluded.changed_at, ends_at = excluded.ends_at`,
		e.Whose, e.Key, e.UID, e.SHA256, string(e.Facts), e.Off, e.Sequence, stamp(e.MadeAt), stamp(e.ChangedAt), stamp(e.EndsAt))
}

// ForgetCalendarEvent forgets an event that is told no more.
func (t *Tx) ForgetCalendarEvent(whose, key string) error {
	return t.exec(`delete from calendar_events where whose = ? and key = ?`, whose, key)
}
