package cure

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestLimitsAreRefusedInWords(t *testing.T) {
	for _, c := range []struct {
		key  string
		room Room
		want string
	}{
		{"flexible primer", Room{8, 50}, "10 °C or warmer"},
		{"flexible primer", Room{20, 90}, "85 % or less"},
		{"acrylic paint", Room{38, 40}, "35 °C or cooler"},
		{"polyurethane varnish, water-based", Room{20, 20}, "30 % or more"},
		{"solvent contact cement", Room{20, 84.5}, "dew point"},
		{"polyurethane resin", Room{20, 60}, "50 % or less"},
		{"water-based contact adhesive", Room{10, 84}, "work at 21 °C or warmer or at 69 % humidity or less"},
		{"solvent aerosol enamel", Room{36, 50}, "32 °C or cooler"},
		{"acrylic paint", Room{5, 92}, "10 °C or warmer; and the humidity is 92 %; it must be 85 % or less"},
		{"epoxy resin", Room{math.NaN(), 50}, "-20 to 60"},
		{"epoxy resin", Room{20, 100}, "below 100"},
	} {
		m, _ := Lookup(c.key)
		_, err := m.Times(c.room)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s in %+v: got %v, want words %q", c.key, c.room, err, c.want)
		}
	}
}

// The client sees neither figures nor names of materials, and every reason has a message.
func TestRefusalsForTheClient(t *testing.T) {
	for _, c := range []struct {
		key    string
		room   Room
		reason Reason
		client string
	}{
		{"flexible primer", Room{8, 50}, TooCold, "too cold"},
		{"acrylic paint", Room{38, 40}, TooWarm, "too warm"},
		{"polyurethane varnish, water-based", Room{20, 20}, TooDry, "too dry"},
		{"flexible primer", Room{20, 90}, TooDamp, "too damp"},
		{"solvent contact cement", Room{20, 84.5}, NearDew, "too damp"},
		{"water-based contact adhesive", Room{10, 84}, Shut, "too cold or too damp"},
		{"epoxy resin", Room{math.NaN(), 50}, NoRoom, "not set correctly"},
	} {
		m, _ := Lookup(c.key)
		_, err := m.Times(c.room)
		var refusal *Refusal
		if !errors.As(fmt.Errorf("planning: %w", err), &refusal) {
			t.Errorf("%s in %+v: got %v", c.key, c.room, err)
			continue
		}
		said := refusal.Client()
		if refusal.Reasons[0] != c.reason || !strings.Contains(said, c.client) || !strings.HasSuffix(said, "; the studio has been told") {
			t.Errorf("%s in %+v: %v, %q", c.key, c.room, refusal.Reasons, said)
		}
		if strings.ContainsAny(said, "0123456789%°") || strings.Contains(said, c.key) {
			t.Errorf("the client is told %q", said)
		}
	}
}

// What a refusal recommends works.
func TestAdviceOfRefusalsWorks(t *testing.T) {
	number := regexp.MustCompile(`[0-9.]+`)
	rapid.Check(t, func(t *rapid.T) {
		m := rapid.SampledFrom(Materials()).Draw(t, "material")
		r := Room{float64(rapid.IntRange(0, 45).Draw(t, "celsius")), float64(rapid.IntRange(5, 95).Draw(t, "humidity"))}
		_, err := m.Times(r)
		var refusal *Refusal
		if !errors.As(err, &refusal) || len(refusal.Reasons) != 1 || refusal.Reasons[0] == NoRoom {
			return
		}
		before := "must be "
		switch refusal.Reasons[0] {
		case NearDew:
			before = "at this temperature means "
		case Shut:
			before = "; work "
		}
		_, advice, _ := strings.Cut(refusal.Error(), before)
		for _, way := range strings.Split(advice, "er or ") {
			v, err := strconv.ParseFloat(number.FindString(way), 64)
			if err != nil {
				t.Fatalf("no advice in %q", refusal.Error())
			}
			better := r
			if strings.Contains(way, "°C") {
				better.Celsius = v
			} else {
				better.Humidity = v
			}
			var still *Refusal
			if _, err := m.Times(better); errors.As(err, &still) && slices.Contains(still.Reasons, refusal.Reasons[0]) {
				t.Fatalf("%v\nbut in %+v: %v", refusal, better, err)
			}
		}
	})
}
