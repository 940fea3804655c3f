package board

import (
	"crypto/rand"
	"fmt"
	"strings"
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

	Do                string // the press
	N                 int    // what it was about besides the operation
	Celsius, Humidity string
	Pieces            []string
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

// say words a refusal; lines are the promises that it would hurt, and what else it would break.
func (n note) say(f frame) (say string, lines []string) {
	no, id := n.No, n.Commission
	switch no.Kind {
	case shop.Hurts:
		for _, e := range no.Effects {
			if e.Hurt {
				lines = append(lines, effectWords(e))
			}
		}
		would := "a promise would be in danger:"
		if len(lines) == 0 {
			would = "this would not stay as it was agreed or planned:"
		}
		for _, b := range no.Broken {
			lines = append(lines, f.brokenWords(b))
		}
		how := "begun now, ahead of its place in the plan"
		switch n.Do {
		case "abrade":
			how = "in the plan"
		case "again":
			how = "to be done again"
		}
		return fmt.Sprintf("Nothing has changed yet. With “%s” %s, %s", no.Operation.Words(), how, would), lines
	case shop.OpWaits:
		var all []string
		for _, w := range no.Waits {
			all = append(all, f.waits(w, no.Operation.Group))
		}
		return fmt.Sprintf("“%s” cannot be done yet: %s", no.Operation.Words(), strings.Join(all, "; ")), nil
	case shop.OpPaused:
		return fmt.Sprintf("“%s” of %s was put down at %s; press Go on to take it up again", no.Operation.Words(), id, f.clock(no.Operation.PausedAt)), nil
	case shop.NotInHand:
		return fmt.Sprintf("“%s” of %s is not in hand; start it first", no.Operation.Words(), id), nil
	case shop.RestsOn:
		return fmt.Sprintf("“%s” of %s stays done: %s", no.Operation.Words(), id, f.rests(no)), nil
	case shop.NotDone:
		return fmt.Sprintf("“%s” of %s is not done yet; only what is done can go back", no.Operation.Words(), id), nil
	case shop.NotAgain:
		return fmt.Sprintf("“%s” is a meeting with the client; send back the step that must be done again", no.Operation.Words()), nil
	case shop.NoReason:
		return "say in a few words why it goes back, such as “primer lifted”", nil
	case shop.NoPiece:
		return fmt.Sprintf("“%s” has no piece %q; tick those that go back", no.Operation.Words(), no.Name), nil
	case shop.BadMinutes:
		return fmt.Sprintf("“%s” is not a length of time; write it as 35, 1:20 or 1 h 20 min, at most 24 h", no.Name), nil
	case shop.BadAir:
		return fmt.Sprintf("“%s” is not the air of a workshop: %v", no.Name, no.Cause), nil
	case shop.NotMissed:
		return fmt.Sprintf("no window before “%s” was missed; the coat can go on as it is", no.Operation.Words()), nil
	case shop.AbradedAlready:
		return fmt.Sprintf("“%s” is planned already", no.Operation.Words()), nil
	case shop.NoSpell:
		return "this stretch of work was taken back meanwhile; look at what is left", nil
	case shop.NotYourPart:
		return "this is for " + oneOf(no.Names) + "; ask one of them to press it", nil
	case shop.NotAMember, shop.OnlyStudio:
		return "you are not known as a member of this studio; ask its owner for a sign-in link", nil
	case shop.NotYet:
		return fmt.Sprintf("it is agreed for %s, and the client may still come; wait until then", f.clock(no.Until)), nil
	case shop.NotPicked, shop.AppointmentOver, shop.NoAppointment:
		return "this appointment is over already; look at the day anew", nil
	case shop.NothingToTryOn:
		return fmt.Sprintf("nothing could be tried on: %s; call it off instead, so that the client knows that it is not for them", f.waits(*no.Wait, no.Operation.Group)), nil
	case shop.NothingLeft:
		return "this step has left nothing for the rack; the rest goes there once foam is cut", nil
	case shop.CutWith:
		return fmt.Sprintf("it was cut with %s, and what remained is on the rack already", no.Cutting.ID), nil
	case shop.DoneBefore:
		return "this page is old, and its buttons are used up; look at it anew and press again", nil
	case shop.Closed:
		return fmt.Sprintf("%s is closed; there is nothing to do on it any more", id), nil
	case shop.OpDone:
		return fmt.Sprintf("“%s” of %s was done at %s; take the next", no.Operation.Words(), id, f.clock(no.Operation.DoneAt)), nil
	case shop.OpRunning:
		return fmt.Sprintf("“%s” of %s was begun at %s; press Done when it is", no.Operation.Words(), id, f.clock(no.Operation.StartedAt)), nil
	case shop.NoOperation, shop.NoCommission:
		return fmt.Sprintf("%s has no such operation any more; look at the day anew", id), nil
	case shop.Moved:
		return fmt.Sprintf("%s has just been changed; press again", id), nil
	case shop.NotPaid:
		return fmt.Sprintf("the deposit of %s is not confirmed yet; confirm it first", id), nil
	}
	return fmt.Sprintf("this cannot be done with %s now; look at the rest of the day", id), nil
}

// rests says what rests on an operation that was done.
func (f frame) rests(no *shop.Refusal) string {
	switch {
	case no.Wait != nil:
		return fmt.Sprintf("“%s” was begun after it; take that back first", no.Wait.For.Words())
	case len(no.Names) > 0:
		return "what its sheets left is on the rack (" + strings.Join(no.Names, ", ") + "); throw it away first"
	case no.Appointment.EndedAt.IsZero():
		return fmt.Sprintf("the client comes to collect the finished work on %s; call that off first", f.clock(no.Appointment.At))
	}
	return "the client was there, and that has happened"
}

// oneOf names alternatives: "an owner or a maker".
func oneOf(names []string) string {
	var out []string
	for _, n := range names {
		switch {
		case strings.HasPrefix(n, "o"):
			n = "an " + n
		case n != "front desk":
			n = "a " + n
		default:
			n = "the " + n
		}
		out = append(out, n)
	}
	return strings.Join(out, " or ")
}
