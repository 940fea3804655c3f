package browser

import (
	"context"
	"errors"
	"io"
	"log/slog"
	"net/http"
	"strings"
	"testing"

	"benchbell/bot/chat"
)

// A sensor is heard with its token alone, and told in a sentence what is wrong with what it sends.
func TestSensor(t *testing.T) {
	const token = "0123456789abcdef"
	if _, err := New(Options{Listen: "127.0.0.1:0", Sensor: &Sensor{Token: "short"}}); err == nil {
		t.Error("a token that could be guessed is taken")
	}
	var got [][2]float64
	d, err := New(Options{Listen: "127.0.0.1:0", Log: slog.New(slog.DiscardHandler), Sensor: &Sensor{Token: token, Take: func(_ context.Context, c, h float64) error {
		got = append(got, [2]float64{c, h})
		switch {
		case h > 100:
			return &chat.Refusal{Say: "no workshop is so damp"}
		case c > 50:
			return errors.New("down")
		}
		return nil
	}}})
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() {
		ended <- d.Run(ctx, nil, func(context.Context, chat.Incoming) (chat.Reply, error) { return chat.Reply{}, nil })
	}()
	defer func() {
		stop()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	}()
	post := func(token, body string) (int, string) {
		t.Helper()
		r, err := http.NewRequest(http.MethodPost, d.URL()+"/air", strings.NewReader(body))
		if err != nil {
			t.Fatal(err)
		}
		if token != "" {
			r.Header.Set("Authorization", "Bearer "+token)
		}
		res, err := http.DefaultClient.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		defer res.Body.Close()
		say, err := io.ReadAll(res.Body)
		if err != nil {
			t.Fatal(err)
		}
		return res.StatusCode, string(say)
	}
	const good = `{"celsius": 21.5, "humidity": 48}`
	for _, c := range []struct {
		token, body string
		status      int
		says        string
	}{
		{"", good, http.StatusUnauthorized, "not the sensor's token"},
		{token + "x", good, http.StatusUnauthorized, "not the sensor's token"},
		{token, good, http.StatusNoContent, ""},
		{token, `{"celsius": 21.5}`, http.StatusBadRequest, `{"celsius": 21.5, "humidity": 48}`},
		{token, `21.5`, http.StatusBadRequest, "send what is measured"},
		{token, `{"celsius": 21.5, "humidity": 48` + strings.Repeat(" ", maxMeasured) + `}`, http.StatusBadRequest, "send what is measured"},
		{token, `{"celsius": 21.5, "humidity": 480}`, http.StatusUnprocessableEntity, "so damp"},
		{token, `{"celsius": 55, "humidity": 48}`, http.StatusInternalServerError, "something went wrong"},
	} {
		if status, say := post(c.token, c.body); status != c.status || !strings.Contains(say, c.says) {
			t.Errorf("%.40s with %q: %d %s; want %d", c.body, c.token, status, say, c.status)
		}
	}
	if len(got) != 3 || got[0] != [2]float64{21.5, 48} {
		t.Errorf("taken are %v", got)
	}
}
