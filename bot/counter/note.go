package counter

import (
	"crypto/rand"
	"errors"
	"net/url"
	"sync"

	"benchbell/bot/shop"
)

// note is what somebody was told of a press: why it was not done, or what of it could not be taken. What was typed is kept with it.
type note struct {
	person, of string
	do         string // the press
	no         *shop.Refusal
	problems   []shop.Problem
	say        string // a sentence that needs no refusal
	typed      url.Values
}

const (
	// mostNotes are kept: more than clients are refused within the hour.
	mostNotes = 256
	// mostTyped is how much of what was typed is kept with a note, in bytes; a form of the page has less.
	mostTyped = 64 << 10
)

// notes are shown by a name that nobody can guess, to who was told.
type notes struct {
	mu    sync.Mutex
	by    map[string]note
	order []string
}

func (s *notes) keep(n note) string {
	id, size := rand.Text(), 0
	for key, vs := range n.typed {
		for _, v := range vs {
			size += len(key) + len(v)
		}
	}
	if size > mostTyped {
		n.typed = nil
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if len(s.order) >= mostNotes {
		delete(s.by, s.order[0])
		s.order = s.order[1:]
	}
	s.by[id], s.order = n, append(s.order, id)
	return id
}

func (s *notes) find(id string, v Visit) note {
	s.mu.Lock()
	defer s.mu.Unlock()
	n, ok := s.by[id]
	if !ok || n.person != string(v.Person.ID) || n.of != v.Of {
		return note{}
	}
	return n
}

// value is what was typed into a field that was refused, or what it has otherwise.
func (n note) value(field, otherwise string) string {
	if n.typed.Has(field) {
		return n.typed.Get(field)
	}
	return otherwise
}

// refused is a press that was not done, or of which something could not be taken.
type refused struct{ note }

func (refused) Error() string { return "refused" }

func refusal(err error) (*shop.Refusal, bool) {
	var no *shop.Refusal
	return no, errors.As(err, &no)
}
