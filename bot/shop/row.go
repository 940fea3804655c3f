package shop

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"slices"

	"benchbell/bot/ledger"
	"benchbell/quote"
)

// Who may do something. The studio's owner may do everything that the studio may.
type Who string

// Who.
const (
	Anybody   Who = "anybody"
	Comers    Who = "anybody but by a link"
	Owner     Who = "client or front desk" // the client whose commission it is, and the front desk for them
	Shown     Who = "client or studio"     // the client whose commission it is, and every member of the studio
	Studio    Who = "studio"               // every member of the studio
	Makers    Who = "maker"
	FrontDesk Who = "front desk"
	Head      Who = "owner"
	Self      Who = "oneself or owner" // a member in what is their own, and the owner for them
)

// parts are the roles of which a member needs one, besides the owner.
var parts = map[Who]ledger.Role{Anybody: ledger.AllRoles, Comers: ledger.AllRoles, Owner: ledger.FrontDesk, Shown: ledger.AllRoles, Studio: ledger.AllRoles,
	Makers: ledger.Maker, FrontDesk: ledger.FrontDesk, Self: ledger.AllRoles}

// Row is what the table says of an act or a question, apart from its types and its doing.
type Row struct {
	Name  string // in the shop's words
	Who   Who
	Reads bool // a question: changes nothing
	// From are the states of the commission it can be done in; nil: any, or it is about no commission.
	From []ledger.State
	// Else says what refuses in each other state; where it has no entry, NotNow does.
	Else map[ledger.State]Kind
	// Alone: it plans, and each plan must see the one before.
	Alone bool
	// Shelves: it changes which sets the library has.
	Shelves bool
	// Page: it is done, or asked, on pages alone; the conversation has no way to it.
	Page bool
	// Door: it is done in coming in or leaving, and there is no talk in which it could be done.
	Door bool
}

// entry is a row with its types hidden.
type entry interface {
	head() *Row
	takes() reflect.Type
	gives() reflect.Type
	run(ctx context.Context, s *Shop, c Call) (Outcome, error)
}

// rule is a row for acts A, with P prepared before the transaction, and outcomes O. For a question O is what there is to see.
type rule[A, P, O any] struct {
	Row
	// of says whose commission it is about; nil: none.
	of func(A) quote.CommissionID
	// first refuses what is to be refused before the state is looked at.
	first func(*job, ledger.Commission, A) error
	// prepare computes what the transaction needs and is too slow for it. It reads the ledger within read, which refuses as
	// the transaction would.
	prepare func(ctx context.Context, s *Shop, c Call, a A, read reading) (P, error)
	// world is what prepare was computed for, in any words; the act is refused as Moved where it differs in the transaction.
	world func(*job, ledger.Commission, A) (string, error)
	// do does it within the transaction.
	do func(*job, ledger.Commission, A, P) (O, error)
}

// reading runs f in a transaction in which the act could be done.
type reading func(f func(*job, ledger.Commission) error) error

// errAnswered ends a preparation for an act that was done already.
var errAnswered = errors.New("done already")

func (r *rule[A, P, O]) head() *Row          { return &r.Row }
func (r *rule[A, P, O]) takes() reflect.Type { return reflect.TypeFor[A]() }
func (r *rule[A, P, O]) gives() reflect.Type { return reflect.TypeFor[O]() }

// allow refuses by role, owner and state, and finds the commission.
func (r *rule[A, P, O]) allow(j *job, a A) (ledger.Commission, error) {
	var c ledger.Commission
	j.clients = r.Who == Owner
	if r.of == nil {
		return c, j.entitled(r.Who, c)
	}
	if r.Who != Owner && r.Who != Shown { // before it says whether there is such a commission
		if err := j.entitled(r.Who, c); err != nil {
			return c, err
		}
	}
	c, err := j.commission(r.of(a))
	if err != nil {
		return c, err
	}
	if err := j.entitled(r.Who, c); err != nil {
		return c, err
	}
	if r.first != nil {
		if err := r.first(j, c, a); err != nil {
			return c, err
		}
	}
	return c, r.Row.refuse(c)
}

// refuse says by the table what refuses in the commission's state.
func (r *Row) refuse(c ledger.Commission) error {
	if r.From == nil || slices.Contains(r.From, c.State) {
		return nil
	}
	kind, ok := r.Else[c.State]
	if !ok {
		kind = NotNow
	}
	return &Refusal{Kind: kind, Commission: c, Revision: c.Revision}
}

// before looks up what came of the act where it was done already.
func (r *rule[A, P, O]) before(j *job, key string) (o O, ok bool, err error) {
	if key == "" {
		return o, false, nil
	}
	text, ok, err := j.t.Act(key)
	if err != nil || !ok {
		return o, false, err
	}
	var was answered
	if err := json.Unmarshal(text, &was); err != nil {
		return o, false, fmt.Errorf("what came of the act %s cannot be read: %w", key, err)
	}
	if was.Act != r.Name { // the ID was another act's, or the act was done by an earlier program
		return o, false, &Refusal{Kind: DoneBefore}
	}
	return o, true, json.Unmarshal(was.Outcome, &o)
}

func (r *rule[A, P, O]) run(ctx context.Context, s *Shop, c Call) (Outcome, error) {
	a := c.Act.(A)
	now := s.cfg.Now()
	key := ""
	if c.ID != "" && !r.Reads {
		key = string(c.Person.ID) + " " + c.ID // nobody is answered with what somebody else was told
	}
	if r.Alone {
		s.planning.Lock()
		defer s.planning.Unlock()
	}
	var out O
	var ready P
	seen := ""
	if r.prepare != nil {
		var err error
		ready, err = r.prepare(ctx, s, c, a, func(f func(*job, ledger.Commission) error) error {
			return s.inTx(ctx, now, c.Person, func(j *job) error {
				was, ok, err := r.before(j, key)
				if err != nil {
					return err
				}
				if ok {
					out = was
					return errAnswered
				}
				com, err := r.allow(j, a)
				if err != nil {
					return err
				}
				if r.world != nil {
					if seen, err = r.world(j, com, a); err != nil {
						return err
					}
				}
				return f(j, com)
			})
		})
		if errors.Is(err, errAnswered) {
			return out, nil
		}
		if err != nil {
			return nil, err
		}
	}
	err := s.inTx(ctx, now, c.Person, func(j *job) error {
		was, ok, err := r.before(j, key)
		if err != nil || ok {
			out = was
			return err
		}
		com, err := r.allow(j, a)
		if err != nil {
			return err
		}
		if r.world != nil {
			is, err := r.world(j, com, a)
			if err != nil {
				return err
			}
			if is != seen {
				return &Refusal{Kind: Moved, Commission: com}
			}
		}
		if out, err = r.do(j, com, a, ready); err != nil || r.Reads {
			return err
		}
		if err := j.tell(out); err != nil {
			return err
		}
		if key == "" || !j.t.Changed() {
			return nil
		}
		text, err := json.Marshal(out)
		if err != nil {
			return err
		}
		if text, err = json.Marshal(answered{Act: r.Name, Outcome: text}); err != nil {
			return err
		}
		return j.t.SaveAct(key, c.Person.ID, now, text)
	})
	if err != nil {
		return nil, err
	}
	if r.Shelves {
		if err := s.readShelf(ctx); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// none is what an act prepares that prepares nothing.
type none struct{}

// row is a rule for an act on a commission that needs nothing prepared.
func row[A interface{ of() quote.CommissionID }, O any](head Row, do func(*job, ledger.Commission, A) (O, error)) *rule[A, none, O] {
	return &rule[A, none, O]{Row: head, of: func(a A) quote.CommissionID { return a.of() },
		do: func(j *job, c ledger.Commission, a A, _ none) (O, error) { return do(j, c, a) }}
}

// decision is a row for an act on a revision of a quote.
func decision[A interface {
	of() quote.CommissionID
	revision() int
}, O any](head Row, do func(*job, ledger.Commission, A) (O, error)) *rule[A, none, O] {
	r := row(head, do)
	r.From, r.Else = quoted, quotedElse
	r.first = func(j *job, c ledger.Commission, a A) error { return decidable(j, c, a.revision()) }
	return r
}

// free is a rule for an act about no commission that needs nothing prepared.
func free[A, O any](head Row, do func(*job, A) (O, error)) *rule[A, none, O] {
	return &rule[A, none, O]{Row: head, do: func(j *job, _ ledger.Commission, a A, _ none) (O, error) { return do(j, a) }}
}

func (o Of) of() quote.CommissionID { return o.Commission }

// OfRevision says which revision of whose quote an act is about.
type OfRevision struct {
	Of
	Revision int
}

// OnRevision is short for OfRevision{On(id), n}.
func OnRevision(id quote.CommissionID, n int) OfRevision { return OfRevision{On(id), n} }

func (o OfRevision) revision() int { return o.Revision }

// rowOf finds the row of an act or a question by its type.
func rowOf(a Act) (entry, bool) {
	t := reflect.TypeOf(a)
	i := slices.IndexFunc(table, func(e entry) bool { return e.takes() == t })
	if i < 0 {
		return nil, false
	}
	return table[i], true
}

// Listed is a row as others may read it.
type Listed struct {
	Row
	Act, Outcome reflect.Type
}

// For reports whether somebody with these roles may do it, be it for a client or for the studio.
func (r Row) For(roles ledger.Role) bool { return roles&(parts[r.Who]|ledger.Owner) != 0 }

// Table is every row, in the order of the work.
func Table() []Listed {
	var out []Listed
	for _, e := range table {
		out = append(out, Listed{Row: *e.head(), Act: e.takes(), Outcome: e.gives()})
	}
	return out
}
