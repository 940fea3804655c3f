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
	Say        string
	Lines      []string
	Seen       string // to do it all the same; empty: it cannot be done
	Verb       string // what was pressed
}

// of says whether a note is about an operation.
func (n note) of(commission string, operation int) bool {
	return n.Say != "" && n.Commission == commission && n.Operation == operation
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

func (b *Board) note(no *shop.Refusal, commission string, operation int, verb string, who shop.Person) note {
	n := note{Person: string(who.ID), Commission: commission, Operation: operation, Verb: verb}
	f := b.frame(Visit{}, "", no.Commission.ChangedAt)
	id := no.Commission.ID
	if id == "" {
		n.Say = fmt.Sprintf("this cannot be done with %s now; look at the rest of the day", commission)
	}
	switch no.Kind {
	case shop.Hurts:
		n.Say, n.Seen = fmt.Sprintf("Nothing has changed yet. With “%s” begun now, ahead of its place in the plan, a promise would be in danger:", title(no.Operation)), no.Seen
		for _, e := range no.Effects {
			if e.Hurt {
				n.Lines = append(n.Lines, effectWords(e))
			}
		}
	case shop.OpWaits:
		n.Say = fmt.Sprintf("“%s” cannot be begun yet: %s", title(no.Operation), f.waits(*no.Wait))
	case shop.OpDone:
		n.Say = fmt.Sprintf("“%s” of %s was done at %s; take the next", title(no.Operation), id, f.clock(no.Operation.DoneAt))
	case shop.OpRunning:
		n.Say = fmt.Sprintf("“%s” of %s was begun at %s; press Done when it is", title(no.Operation), id, f.clock(no.Operation.StartedAt))
	case shop.NoOperation, shop.NoCommission:
		n.Say = fmt.Sprintf("%s has no such operation any more; look at the day anew", commission)
	case shop.Moved:
		n.Say = fmt.Sprintf("%s has just been changed; press again", id)
	case shop.NotPaid:
		n.Say = fmt.Sprintf("the deposit of %s is not confirmed yet; confirm it first", id)
	case shop.OnlyStudio:
		n.Say = "only the studio can do this; sign in as the studio"
	default:
		if n.Say == "" {
			n.Say = fmt.Sprintf("%s is not at the bench any more; look at the rest of the day", id)
		}
	}
	return n
}
