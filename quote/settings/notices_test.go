package settings

import (
	"bytes"
	"strings"
	"testing"

	"benchbell/quote"
)

func TestNotices(t *testing.T) {
	table := DemoTOML[bytes.Index(DemoTOML, []byte("[notice]")):]
	table = table[:bytes.Index(table, []byte("\n\n"))]
	with := func(text string) (quote.Studio, error) {
		return Parse(bytes.Replace(DemoTOML, table, []byte(text), 1))
	}
	documented := Demo().Notices
	s, err := with("")
	if err != nil || s.Notices != documented {
		t.Errorf("left out, the notices are %+v (%v), and documented as %+v", s.Notices, err, documented)
	}
	s, err = with("[notice]\nquiet_from = \"22:15\"\nquiet_until = \"06:00\"\nbatch_minutes = 0\nmost_a_day = 3\npaint_waits = true\n")
	if want := (quote.Notices{QuietFrom: 22*60 + 15, QuietUntil: 360, MostADay: 3, PaintWaits: true}); err != nil || s.Notices != want {
		t.Errorf("%+v (%v), want %+v", s.Notices, err, want)
	}
	_, err = with("[notice]\nquiet_from = \"25:00\"\nquiet_until = \"at six\"\nbatch_minutes = -1\n")
	for _, want := range []string{`notice.quiet_from: is "25:00"; write a time of day as "20:00"`, `notice.quiet_until: is "at six"`, "notice.batch_minutes: is -1"} {
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("the error %v does not say %q", err, want)
		}
	}
}
