package jobs

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode"

	"benchbell/quote"
)

// maxID bounds a request's ID, which becomes part of the queue's key names.
const maxID = 200

// EncodeRequest encodes r for the wire, or says why a worker would refuse it. A zero Version is filled in.
func EncodeRequest(r Request) ([]byte, error) {
	if r.Version == 0 {
		r.Version = Version
	}
	if err := r.check(); err != nil {
		return nil, err
	}
	return encode("request", r)
}

// DecodeRequest reads what EncodeRequest wrote.
func DecodeRequest(b []byte) (Request, error) {
	var r Request
	if err := decode("request", b, &r); err != nil {
		return Request{}, err
	}
	if err := r.check(); err != nil {
		return Request{}, err
	}
	return r, nil
}

// EncodeAnswer encodes a for the wire. A zero Version is filled in.
func EncodeAnswer(a Answer) ([]byte, error) {
	if a.Version == 0 {
		a.Version = Version
	}
	if err := a.check(); err != nil {
		return nil, err
	}
	return encode("answer", a)
}

// DecodeAnswer reads what EncodeAnswer wrote.
func DecodeAnswer(b []byte) (Answer, error) {
	var a Answer
	if err := decode("answer", b, &a); err != nil {
		return Answer{}, err
	}
	if err := a.check(); err != nil {
		return Answer{}, err
	}
	return a, nil
}

func (r Request) check() error {
	if err := checkVersion("request", r.Version); err != nil {
		return err
	}
	return checkName("request", r.ID, r.Attempt)
}

func (a Answer) check() error {
	if err := checkVersion("answer", a.Version); err != nil {
		return err
	}
	if err := checkName("answer", a.ID, a.Attempt); err != nil {
		return err
	}
	switch a.Kind {
	case Progress:
		if !known(a.Stage) {
			return fmt.Errorf("the answer's stage is %q; it must be one of %s", a.Stage, stageNames())
		}
		// The negation also catches NaN.
		if !(a.Used >= 0 && a.Used <= 1) {
			return fmt.Errorf("the answer's share of foam used is %v; it must be from 0 to 1", a.Used)
		}
		if !(a.Share >= 0 && a.Share <= 1) {
			return fmt.Errorf("the answer's share is %v; it must be from 0 to 1", a.Share)
		}
	case Done:
		if a.Quote == nil {
			return errors.New("the answer says done but has no quote")
		}
	case Failed:
		if a.Say == "" {
			return errors.New("the answer says failed but has no message for the client")
		}
	default:
		return fmt.Errorf("the answer's kind is %q; it must be %q, %q or %q", a.Kind, Progress, Done, Failed)
	}
	return nil
}

func checkVersion(what string, v int) error {
	if v != Version {
		return fmt.Errorf("the %s has message version %d but this program uses version %d; update bot and workers together", what, v, Version)
	}
	return nil
}

func checkName(what string, id RequestID, attempt int) error {
	if id == "" {
		return fmt.Errorf("the %s has no ID", what)
	}
	if len(id) > maxID {
		return fmt.Errorf("the %s's ID has %d bytes; the limit is %d", what, len(id), maxID)
	}
	if strings.ContainsFunc(string(id), func(r rune) bool { return unicode.IsSpace(r) || !unicode.IsPrint(r) }) {
		return fmt.Errorf("the %s's ID %q contains a space or an unprintable character", what, id)
	}
	if attempt < 1 {
		return fmt.Errorf("the %s's attempt is %d; attempts count from 1", what, attempt)
	}
	return nil
}

func known(s quote.Stage) bool {
	for _, k := range quote.Stages {
		if k == s {
			return true
		}
	}
	return false
}

func stageNames() string {
	names := make([]string, len(quote.Stages))
	for i, s := range quote.Stages {
		names[i] = string(s)
	}
	return strings.Join(names, ", ")
}

func encode(what string, v any) ([]byte, error) {
	var buf bytes.Buffer
	enc := json.NewEncoder(&buf)
	enc.SetEscapeHTML(false) // nobody reads it as HTML, and sources full of < would grow by half
	if err := enc.Encode(v); err != nil {
		return nil, fmt.Errorf("the %s cannot be written as JSON: %w", what, err)
	}
	b := bytes.TrimSuffix(buf.Bytes(), []byte("\n"))
	if len(b) > MaxMessage {
		return nil, tooLarge(what, len(b))
	}
	return b, nil
}

func decode(what string, b []byte, v any) error {
	if len(b) > MaxMessage {
		return tooLarge(what, len(b))
	}
	// The version is read first, so that a message of another version is refused because of the version and not because of
	// some field.
	var head struct {
		Version int `json:"version"`
	}
	if err := json.Unmarshal(b, &head); err != nil {
		return fmt.Errorf("the %s is not valid JSON: %w", what, err)
	}
	if err := checkVersion(what, head.Version); err != nil {
		return err
	}
	dec := json.NewDecoder(bytes.NewReader(b))
	dec.DisallowUnknownFields()
	if err := dec.Decode(v); err != nil {
		return fmt.Errorf("the %s does not have the fields of version %d: %w", what, Version, err)
	}
	if _, err := dec.Token(); !errors.Is(err, io.EOF) {
		return fmt.Errorf("the %s is followed by something else", what)
	}
	return nil
}

// ErrTooLarge is wrapped by the error for a message over MaxMessage.
var ErrTooLarge = errors.New("message too large")

func tooLarge(what string, n int) error {
	return fmt.Errorf("the %s has %.1f MB but at most %d MB can be sent; leave out notes or patterns that are not needed: %w",
		what, float64(n)/(1<<20), MaxMessage>>20, ErrTooLarge)
}
