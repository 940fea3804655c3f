package settings

import (
	"strconv"
	"strings"
	"time"

	"benchbell/quote"
)

// noticesFile is when people are told; every field may be left out.
type noticesFile struct {
	From       *string `toml:"quiet_from"`
	Until      *string `toml:"quiet_until"`
	Batch      *int    `toml:"batch_minutes"`
	MostADay   *int    `toml:"most_a_day"`
	PaintWaits bool    `toml:"paint_waits"`
}

// Defaults are common practice, no source: an evening and a night without work; what a maker can do in one go to the rack; about one
// ping in the half hour of a working day.
const (
	quietFrom  = "20:00"
	quietUntil = "07:30"
	batch      = 10
	mostADay   = 16
)

// notices reads when people are told.
func (r *studioReader) notices(f noticesFile) quote.Notices {
	return quote.Notices{
		QuietFrom: r.clock("notice.quiet_from", f.From, quietFrom), QuietUntil: r.clock("notice.quiet_until", f.Until, quietUntil),
		Batch: r.whole("notice.batch_minutes", f.Batch, batch, 0, 120), MostADay: r.whole("notice.most_a_day", f.MostADay, mostADay, 0, 1000),
		PaintWaits: f.PaintWaits,
	}
}

// clock is a time of day in minutes after midnight.
func (r *studioReader) clock(field string, v *string, def string) int {
	text := def
	if v != nil {
		text = strings.TrimSpace(*v)
	}
	t, err := time.Parse("15:04", text)
	if err != nil {
		r.fault(field, "is %s; write a time of day as %s", strconv.Quote(text), strconv.Quote(def))
	}
	return t.Hour()*60 + t.Minute()
}
