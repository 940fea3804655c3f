package jobs_test

import (
	"bytes"
	"math"
	"reflect"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"benchbell/jobs"
	"benchbell/quote"
)

func request() jobs.Request {
	return jobs.Request{Version: jobs.Version, ID: "C0007-2", Attempt: 1, Snapshot: quote.Snapshot{Version: quote.Version, Client: "Ζωή <&>"}}
}

func TestRequestComesBackWhole(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := jobs.Request{
			Version:  jobs.Version,
			ID:       jobs.RequestID(rapid.StringMatching(`[A-Z0-9-]{1,20}`).Draw(t, "id")),
			Attempt:  rapid.IntRange(1, 1000).Draw(t, "attempt"),
			Deadline: time.Unix(rapid.Int64Range(0, 4e9).Draw(t, "deadline"), 0).UTC(),
			Snapshot: quote.Snapshot{
				Version: quote.Version, Notes: rapid.String().Draw(t, "notes"), Seed: rapid.Uint64().Draw(t, "seed"),
				Patterns: map[string]quote.PatternSource{"cuff": {Drawing: rapid.String().Draw(t, "drawing")}},
				Body:     []quote.Taken{{Key: "wrist", Value: 171.4, Typed: `6 3/4"`}},
				At:       time.Unix(1e9, 0).UTC(),
			},
		}
		b, err := jobs.EncodeRequest(r)
		if err != nil {
			t.Fatal(err)
		}
		got, err := jobs.DecodeRequest(b)
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(got, r) {
			t.Fatalf("got %+v\nwant %+v", got, r)
		}
	})
}

func TestRefusals(t *testing.T) {
	encode := func(f func(*jobs.Request)) error {
		r := request()
		f(&r)
		_, err := jobs.EncodeRequest(r)
		return err
	}
	answer := func(a jobs.Answer) error {
		a.ID, a.Attempt = "C0007-2", 1
		_, err := jobs.EncodeAnswer(a)
		return err
	}
	decode := func(s string) error {
		_, err := jobs.DecodeRequest([]byte(s))
		return err
	}
	for _, c := range []struct {
		name string
		err  error
		want string
	}{
		{"version", encode(func(r *jobs.Request) { r.Version = 2 }), "update bot and workers together"},
		{"no ID", encode(func(r *jobs.Request) { r.ID = "" }), "has no ID"},
		{"space in ID", encode(func(r *jobs.Request) { r.ID = "a b" }), "contains a space"},
		{"long ID", encode(func(r *jobs.Request) { r.ID = jobs.RequestID(strings.Repeat("a", 201)) }), "the limit is 200"},
		{"attempt", encode(func(r *jobs.Request) { r.Attempt = 0 }), "count from 1"},
		{"not a number", encode(func(r *jobs.Request) { r.Snapshot.Studio.FoamK = math.NaN() }), "cannot be written as JSON"},
		{"empty", decode(""), "not valid JSON"},
		{"later version with fields unknown", decode(`{"version":9,"new":1}`), "message version 9"},
		{"unknown field", decode(`{"version":1,"id":"a","attempt":1,"new":1}`), `unknown field "new"`},
		{"kind", answer(jobs.Answer{Kind: "maybe"}), `kind is "maybe"`},
		{"stage", answer(jobs.Answer{Kind: jobs.Progress, Stage: "sewing"}), `stage is "sewing"`},
		{"share", answer(jobs.Answer{Kind: jobs.Progress, Stage: quote.Nesting, Share: 1.5}), "from 0 to 1"},
		{"share that is no number", answer(jobs.Answer{Kind: jobs.Progress, Stage: quote.Nesting, Share: math.NaN()}), "from 0 to 1"},
		{"foam used", answer(jobs.Answer{Kind: jobs.Progress, Stage: quote.Nesting, Used: math.NaN()}), "from 0 to 1"},
		{"done", answer(jobs.Answer{Kind: jobs.Done}), "has no quote"},
		{"failed", answer(jobs.Answer{Kind: jobs.Failed}), "has no message"},
	} {
		if c.err == nil || !strings.Contains(c.err.Error(), c.want) {
			t.Errorf("%s: error is %v, want %q", c.name, c.err, c.want)
		}
	}
	for _, share := range []float64{0, 1} {
		if err := answer(jobs.Answer{Kind: jobs.Progress, Stage: quote.Nesting, Share: share, Used: share}); err != nil {
			t.Errorf("a share of %v: %v", share, err)
		}
	}
}

func FuzzDecodeRequest(f *testing.F) {
	b, err := jobs.EncodeRequest(request())
	if err != nil {
		f.Fatal(err)
	}
	f.Add(b)
	f.Add([]byte(`{"version":1,"id":"a","attempt":1,"deadline":"2026-01-01T00:00:00+01:00"}`))
	f.Add([]byte(`{"version":1}{}`))
	f.Fuzz(func(t *testing.T, b []byte) {
		r, err := jobs.DecodeRequest(b)
		if err != nil {
			return
		}
		one, err := jobs.EncodeRequest(r)
		if err != nil {
			t.Fatalf("read but cannot be written: %v", err)
		}
		again, err := jobs.DecodeRequest(one)
		if err != nil {
			t.Fatalf("written but cannot be read: %v", err)
		}
		if two, err := jobs.EncodeRequest(again); err != nil || !bytes.Equal(one, two) {
			t.Fatalf("%s\nbecomes\n%s (%v)", one, two, err)
		}
	})
}

func FuzzDecodeAnswer(f *testing.F) {
	for _, a := range []jobs.Answer{
		{Kind: jobs.Progress, Stage: quote.Nesting, Share: 0.25},
		{Kind: jobs.Failed, Say: "ask again", Cause: "no <foam>", Took: time.Second},
		{Kind: jobs.Done, Quote: &quote.Quote{Commission: "C0001", PDF: []byte("%PDF")}},
	} {
		a.ID, a.Attempt = "C0001-1", 1
		b, err := jobs.EncodeAnswer(a)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(b)
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		a, err := jobs.DecodeAnswer(b)
		if err != nil {
			return
		}
		one, err := jobs.EncodeAnswer(a)
		if err != nil {
			t.Fatalf("read but cannot be written: %v", err)
		}
		again, err := jobs.DecodeAnswer(one)
		if err != nil {
			t.Fatalf("written but cannot be read: %v", err)
		}
		if two, err := jobs.EncodeAnswer(again); err != nil || !bytes.Equal(one, two) {
			t.Fatalf("%s\nbecomes\n%s (%v)", one, two, err)
		}
	})
}
