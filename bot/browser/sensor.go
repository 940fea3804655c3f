package browser

import (
	"context"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strings"

	"benchbell/bot/chat"
)

// Sensor is who measures the air at the bench and posts it to /air: {"celsius": 21.5, "humidity": 48}, with the token as
// "Authorization: Bearer …". It is answered with 204, or with one sentence of what is wrong.
type Sensor struct {
	Token string // at least leastToken characters
	// Take is given what was measured. A *chat.Refusal is said to the sensor, any other error is a fault.
	Take func(ctx context.Context, celsius, humidity float64) error
}

// leastToken is how many characters a sensor's token has at least: it does not change, and nobody types it.
const leastToken = 16

// maxMeasured is the most that a sensor posts.
const maxMeasured = 4 << 10

// measured takes what a sensor posts.
func (d *Desk) measured(w http.ResponseWriter, r *http.Request) {
	say := func(status int, text string) {
		w.Header().Set("Content-Type", "text/plain; charset=utf-8")
		w.WriteHeader(status)
		io.WriteString(w, text+"\n") // fails where the sensor has gone away
	}
	token, _ := strings.CutPrefix(r.Header.Get("Authorization"), "Bearer ")
	got, want := sha256.Sum256([]byte(token)), sha256.Sum256([]byte(d.o.Sensor.Token)) // of one length, however long the guess
	if subtle.ConstantTimeCompare(got[:], want[:]) != 1 {
		w.Header().Set("WWW-Authenticate", "Bearer")
		say(http.StatusUnauthorized, "this is not the sensor's token; send it as Authorization: Bearer")
		return
	}
	var m struct {
		Celsius  *float64 `json:"celsius"`
		Humidity *float64 `json:"humidity"`
	}
	if err := json.NewDecoder(http.MaxBytesReader(w, r.Body, maxMeasured)).Decode(&m); err != nil || m.Celsius == nil || m.Humidity == nil {
		say(http.StatusBadRequest, `send what is measured as {"celsius": 21.5, "humidity": 48}`)
		return
	}
	err := d.o.Sensor.Take(r.Context(), *m.Celsius, *m.Humidity)
	var no *chat.Refusal
	switch {
	case errors.As(err, &no):
		say(http.StatusUnprocessableEntity, no.Say)
	case err != nil:
		d.fault(r.Context(), "what a sensor measured is not kept", "err", err)
		say(http.StatusInternalServerError, "something went wrong; send it again later")
	default:
		w.WriteHeader(http.StatusNoContent)
	}
}

// fit refuses a token that could be guessed.
func (s *Sensor) fit() error {
	if s != nil && len(s.Token) < leastToken {
		return fmt.Errorf("the sensor's token has %d characters; give it at least %d", len(s.Token), leastToken)
	}
	return nil
}
