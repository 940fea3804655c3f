package desk

import (
	"fmt"
	"slices"
	"strings"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
)

// stands says stage, next step and promised date of a commission.
func (w *work) stands(c ledger.Commission) (string, error) {
	next := ""
	switch c.State {
	case ledger.Choosing:
		next = "choose sets and finish, then press Go on"
	case ledger.Measuring:
		all, err := w.wants(c)
		if err != nil {
			return "", err
		}
		next = fmt.Sprintf("%d of %d measurements are missing", len(missing(all)), len(all))
	case ledger.Checking:
		next = "confirm the measurements"
	case ledger.Computing:
		next = fmt.Sprintf("revision %d comes to the thread", c.Revision)
	case ledger.Quoted:
		ends, err := w.t.Expiry(c.ID, c.Revision)
		if err != nil {
			return "", err
		}
		next = fmt.Sprintf("decide on revision %d by %s", c.Revision, w.d.until(ends))
	case ledger.Expired:
		next = "press Quote again under the quote"
	case ledger.Approved:
		next = "the studio confirms the deposit"
	case ledger.Failed:
		next = "press Try again, or Change the order"
	case ledger.Ready:
		next = "collect it"
	case ledger.Working:
		var err error
		if next, err = w.nextAtBench(c); err != nil {
			return "", err
		}
	}
	text := fmt.Sprintf("*%s · %s* is %s.", c.ID, c.ClientName, stateWords[c.State])
	if next != "" {
		text += " Next: " + next + "."
	}
	if c.Promise != "" && slices.Contains([]ledger.State{ledger.Quoted, ledger.Approved, ledger.Working, ledger.Ready}, c.State) {
		text += " Promised for " + dateWords(c.Promise) + "."
	}
	return text, nil
}

func (w *work) nextAtBench(c ledger.Commission) (string, error) {
	s, err := w.shop(c)
	if err != nil {
		return "", err
	}
	done := 0
	var next *ledger.Operation
	for i, o := range s.ops {
		switch {
		case o.State == ledger.Done:
			done++
		case next == nil || o.State == ledger.Running && next.State != ledger.Running:
			next = &s.ops[i]
		}
	}
	of := fmt.Sprintf("%d of %d operations are done", done, len(s.ops))
	if next == nil {
		for _, b := range s.bells {
			if b.RungAt.IsZero() {
				return fmt.Sprintf("the last coat cures until %s (%s)", w.d.when(b.Due), of), nil
			}
		}
		return of, nil
	}
	if next.State == ledger.Running {
		return fmt.Sprintf("“%s” is in hand (%s)", opWords(*next), of), nil
	}
	for _, id := range next.After {
		if e, ok := s.op(id); ok {
			if b, ok := s.bell(e.Seq); ok && b.Due.After(w.now) {
				return fmt.Sprintf("“%s”, once %s has cured on %s (%s)", opWords(*next), e.Cure, w.d.when(b.Due), of), nil
			}
		}
	}
	return fmt.Sprintf("“%s”, planned for %s (%s)", opWords(*next), w.d.when(next.Start), of), nil
}

// where answers a client about the thread's commission or, outside, about all of theirs.
func (w *work) where() (chat.Reply, error) {
	var cs []ledger.Commission
	if w.in.Values["number"] == "" {
		if _, err := w.t.CommissionOfThread(w.in.Thread); err != nil {
			var err error
			if cs, err = w.t.CommissionsOf(w.in.Person.ID); err != nil {
				return chat.Reply{}, err
			}
			if len(cs) == 0 {
				return chat.Reply{}, refuse("you have no commission yet; begin with the command commission")
			}
		}
	}
	if cs == nil {
		c, err := w.named(w.in.Values["number"])
		if err != nil {
			return chat.Reply{}, err
		}
		if err := w.mine(c); err != nil {
			return chat.Reply{}, err
		}
		cs = append(cs, c)
	}
	return w.list(cs)
}

// orders shows the studio every commission, those still open first.
func (w *work) orders() (chat.Reply, error) {
	cs, err := w.t.Commissions()
	if err != nil {
		return chat.Reply{}, err
	}
	if len(cs) == 0 {
		return chat.Reply{Text: "No commission has been asked for yet."}, nil
	}
	slices.SortStableFunc(cs, func(a, b ledger.Commission) int {
		switch x, y := a.State.Closed(), b.State.Closed(); {
		case x == y:
			return 0
		case y:
			return -1
		}
		return 1
	})
	rep, err := w.list(cs)
	for _, c := range cs {
		if c.State == ledger.Approved && len(rep.Buttons) < chat.MaxButtons {
			rep.Buttons = append(rep.Buttons, chat.Button{Action: "deposit/" + string(c.ID), Label: "Deposit of " + string(c.ID) + " received", Tone: chat.Good})
		}
		if c.State == ledger.Ready && len(rep.Buttons) < chat.MaxButtons {
			rep.Buttons = append(rep.Buttons, chat.Button{Action: "handed/" + string(c.ID), Label: string(c.ID) + " handed over", Tone: chat.Good})
		}
	}
	return rep, err
}

// list says where each stands, as many as fit.
func (w *work) list(cs []ledger.Commission) (chat.Reply, error) {
	var b strings.Builder
	for i, c := range cs {
		line, err := w.stands(c)
		if err != nil {
			return chat.Reply{}, err
		}
		if b.Len()+len(line) > chat.MaxText-100 {
			fmt.Fprintf(&b, "… and %d more; ask where with a number.", len(cs)-i)
			break
		}
		b.WriteString(line + "\n")
	}
	return chat.Reply{Text: strings.TrimSpace(b.String())}, nil
}

func (w *work) bindBoard() (chat.Reply, error) {
	if w.in.Thread == "" {
		return chat.Reply{}, refuse("give this command in the thread that shall be the studio's notice board")
	}
	if _, err := w.t.CommissionOfThread(w.in.Thread); err == nil {
		return chat.Reply{}, refuse("this thread belongs to a client's commission; choose one that only the studio reads")
	}
	scheme, _, _ := strings.Cut(string(w.in.Thread), ":")
	if err := w.t.SetBoard(scheme, w.in.Thread); err != nil {
		return chat.Reply{}, err
	}
	if err := w.record(ledger.Commission{Client: w.in.Person.ID}, "notice board", string(w.in.Thread)); err != nil {
		return chat.Reply{}, err
	}
	return chat.Reply{Text: "This thread is the studio's notice board now: new commissions, approvals, failures and bells come here."}, nil
}
