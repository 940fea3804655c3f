package browser

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"net/http"
	"strings"
	"time"

	"benchbell/bot/chat"
)

// Calendars says what a link to a calendar shows, for calendar programs, which have no seat: the secret in the link is all there is.
// A secret that shows nothing, or nothing any more, is an error wrapping a *chat.Refusal.
type Calendars func(ctx context.Context, secret string) (body []byte, mime string, err error)

const (
	calendarPath   = "/calendar/"
	calendarEnding = ".ics" // some programs ask for it
)

// CalendarAt is the address of the calendar that a secret shows.
func (d *Desk) CalendarAt(secret string) string {
	return d.Address() + calendarPath + secret + calendarEnding
}

func (d *Desk) calendar(w http.ResponseWriter, r *http.Request) {
	secret, ok := strings.CutSuffix(r.PathValue("file"), calendarEnding)
	if !ok || d.o.Calendars == nil {
		http.Error(w, "there is no such calendar", http.StatusNotFound)
		return
	}
	body, mime, err := d.o.Calendars(r.Context(), secret)
	var no *chat.Refusal
	switch {
	case errors.As(err, &no):
		http.Error(w, no.Say, http.StatusNotFound)
		return
	case err != nil:
		d.fault(r.Context(), "a calendar can't be shown", "err", err)
		http.Error(w, sorryText, http.StatusInternalServerError)
		return
	}
	sum := sha256.Sum256(body)
	h := w.Header()
	h.Set("Content-Type", mime)
	h.Set("Content-Disposition", contentDisposition("inline", "calendar"+calendarEnding))
	h.Set("Cache-Control", "private, no-cache") // a program that has it already asks whether it changed
	h.Set("ETag", `"`+hex.EncodeToString(sum[:16])+`"`)
	http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(body))
}
