package board

import (
	"crypto/rand"
	"fmt"
	"sync"

	"benchbell/bot/shop"
)

// note is what somebody was told of a press that did nothing: why, or what it would do.
type note struct {
	Person     string
	Commission string
	Operation  int
	Message    int64  // that it is about instead
	Typed      string // that was refused
	No         *shop.Refusal
}

// of says whether a note is about an operation.
func (n note) of(commission string, operation int) bool {
	return n.No != nil && n.Commission == commission && n.Operation == operation
}

// mostNotes are kept: more than a studio is refused within the hour.
const mostNotes = 256

// notes are shown by a name that nobody can guess, to who was told.
type notes struct {
	mu    sync.Mutex
	by    map[string]note
	order []string
}

func (s *notes) keep(n note) string {
	id := rand.Text()
	s.mu.Lock()
	defer s.mu.Unlock()
	if len(s.order) >= mostNotes {
		delete(s.by, s.order[0])
		s.order = s.order[1:]
	}
	s.by[id], s.order = n, append(s.order, id)
	return id
}

func (s *notes) find(id string, who shop.Person) (note, bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	n, ok := s.by[id]
	if !ok || n.Person != string(who.ID) {
		return note{}, false
	}
	return n, true
}

// say words a refusal; lines are the promises that it would hurt.
func (n note) say(f frame) (say string, lines []string) {
	no, id := n.No, n.Commission
	switch no.Kind {
	case shop.Hurts:
		for _, e := range no.Effects {
			if e.Hurt {
				lines = append(lines, effectWords(e))
			}
		}
		const ask = "Nothing has changed yet. With “%s” begun now, ahead of its place in the plan, a promise would be in danger:"
		return fmt.Sprintf(ask, title(no.Operation)), lines
	case shop.OpWaits:
		return fmt.Sprintf("“%s” cannot be done yet: %s", title(no.Operation), f.waits(*no.Wait)), nil
	case shop.OpDone:
		return fmt.Sprintf("“%s” of %s was done at %s; take the next", title(no.Operation), id, f.clock(no.Operation.DoneAt)), nil
	case shop.OpRunning:
		return fmt.Sprintf("“%s” of %s was begun at %s; press Done when it is", title(no.Operation), id, f.clock(no.Operation.StartedAt)), nil
	case shop.NoOperation, shop.NoCommission:
		return fmt.Sprintf("%s has no such operation any more; look at the day anew", id), nil
	case shop.Moved:
		return fmt.Sprintf("%s has just been changed; press again", id), nil
	case shop.NotPaid:
		return fmt.Sprintf("the deposit of %s is not confirmed yet; confirm it first", id), nil
	}
	return fmt.Sprintf("this cannot be done with %s now; look at the rest of the day", id), nil
}
