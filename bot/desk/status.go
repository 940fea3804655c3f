package desk

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/quote"
)

// The first post of a commission's thread, which is edited and tells nobody: the order while it is put together, and from then on how
// it stands, what comes next and what dries.

func cardKey(id quote.CommissionID) string { return string(id) + "/card" }

// status edits the first post of a commission's thread where what it says has changed.
func (p *posting) status(id quote.CommissionID) error {
	c, err := p.t.Commission(id)
	if err != nil {
		return err
	}
	return p.card(c)
}

// card edits it for a commission as given.
func (p *posting) card(c ledger.Commission) error {
	post, err := p.cardPost(c)
	if err != nil {
		return err
	}
	was, _, err := p.t.Post(post.Key)
	switch {
	case errors.Is(err, ledger.ErrNone):
	case err != nil:
		return err
	case p.bar == nil && was.Bar == nil && was.Text == post.Text && !shop.Drafting(c.State) && len(was.Buttons)+len(was.Menus) == 0:
		return nil // as it stands there
	}
	return p.put(c.ID, post)
}

// cardPost is the post: what is ordered, with menus to choose with while that is open.
func (p *posting) cardPost(c ledger.Commission) (chat.Post, error) {
	items, err := p.t.Items(c.ID)
	if err != nil {
		return chat.Post{}, err
	}
	pics, err := p.t.PictureCount(c.ID)
	if err != nil {
		return chat.Post{}, err
	}
	l := p.within(c)
	post := chat.Post{Key: cardKey(c.ID)}
	head := fmt.Sprintf("*%s · %s*", c.ID, c.ClientName)
	if shop.Drafting(c.State) {
		head += "\nPick one or more pattern sets and a finish, add details, then give your measurements. You can send reference pictures in this thread at any time."
		post.Buttons = []chat.Button{button("details", c.ID, "Details", chat.Plain), button("measure", c.ID, "Go on", chat.Good),
			button("cancel", c.ID, "Cancel", chat.Grave)}
		sets := p.setMenus(l, c, items)
		post.Menus = withRoom(l, len(post.Buttons), sets, append(p.finishMenus(l, c, items), p.itemMenu(l, c, items)...))
		head += p.beyondMenus(l, sets)
	} else {
		lines, err := p.stage(c)
		if err != nil {
			return post, err
		}
		head += "\n" + strings.Join(lines, "\n")
		post.Bar = p.bar
	}
	post.Text = l.Fit(head+"\n", p.brief(l, c, items, pics), "", nil)
	return post, nil
}

// beyondMenus says how to come to sets for which the menus have no room.
func (w words) beyondMenus(l chat.Limits, menus []chat.Menu) string {
	there, in := 0, 0
	for i, m := range menus {
		if there += len(m.Options); i < len(beside(l, inReach, menus)) {
			in += len(m.Options)
		}
	}
	if in >= there {
		return ""
	}
	return fmt.Sprintf(" The menus hold the first %d sets; to start with another, give its name with “commission”.", in)
}

// stage says how a commission stands that is not being put together any more, and what comes next.
func (p *posting) stage(c ledger.Commission) ([]string, error) {
	switch c.State {
	case ledger.Computing:
		if p.say != "" {
			return []string{fmt.Sprintf("*The quote is being worked out:* %s.", p.say)}, nil
		}
		return []string{"*The quote is being worked out.*"}, nil
	case ledger.Failed:
		return []string{"*The quote could not be worked out.* See below."}, nil
	case ledger.Quoted:
		rev, err := p.t.Revision(c.ID, c.Revision)
		if err != nil {
			return nil, err
		}
		return []string{fmt.Sprintf("*Quoted.* Next: your decision on revision %d, by %s.", c.Revision, p.until(rev.ExpiresAt))}, nil
	case ledger.Expired:
		return []string{"*The quote has expired.* Press Quote again under it for a new one."}, nil
	case ledger.Approved:
		return []string{"*Approved.* Next: the deposit.", promised(c)}, nil
	case ledger.Working:
		return p.making(c)
	case ledger.Ready:
		lines, err := p.meetings(c)
		return append([]string{"*Ready.*"}, lines...), err
	case ledger.Delivered:
		return []string{"*Handed over.* Thank you."}, nil
	}
	return []string{"*" + quote.Capital(stateWords[c.State]) + ".*"}, nil
}

func promised(c ledger.Commission) string {
	return fmt.Sprintf("Promised for %s.", quote.DateWords(c.Promise))
}

// making says of work at the bench how far it is, what dries and when the client is met. When a step is planned is not told: the
// plan moves.
func (p *posting) making(c ledger.Commission) ([]string, error) {
	ops, err := p.t.Operations(c.ID)
	if err != nil {
		return nil, err
	}
	bells, err := p.t.Bells(c.ID)
	if err != nil {
		return nil, err
	}
	done, begun := 0, false
	for _, o := range ops {
		if o.State == ledger.Done {
			done++
		}
		begun = begun || o.State != ledger.Planned
	}
	head := "*In the plan.* Next: cutting."
	if begun {
		head = fmt.Sprintf("*Being made.* Steps done: %d of %d. Next: %s.", done, len(ops), nextMilestone(ops))
	}
	lines := []string{head}
	var dries []string
	for _, b := range bells {
		i := slices.IndexFunc(ops, func(o ledger.Operation) bool { return o.Seq == b.Seq })
		if i >= 0 && b.RungAt.IsZero() && b.Due.After(p.at) {
			what := ops[i].Group
			if what == "" {
				what = ops[i].Title
			}
			dries = append(dries, fmt.Sprintf("%s, %s until %s", what, ops[i].Cure, p.slotWords(b.Due)))
		}
	}
	if len(dries) > 0 {
		if n := len(dries); n > driesShown {
			dries = append(dries[:driesShown], fmt.Sprintf("and %d more", n-driesShown))
		}
		lines = append(lines, "Drying now: "+strings.Join(dries, "; ")+".")
	}
	met, err := p.meetings(c)
	return append(append(lines, met...), promised(c)), err
}

// driesShown is how many pieces that dry a client is told of.
const driesShown = 3

// nextMilestone is what of the work left a client notices first.
func nextMilestone(ops []ledger.Operation) string {
	left := func(is func(ledger.Operation) bool) bool {
		return slices.ContainsFunc(ops, func(o ledger.Operation) bool { return o.State != ledger.Done && is(o) })
	}
	switch {
	case left(func(o ledger.Operation) bool { return o.Op == quote.FirstFitting }):
		return "the first fitting"
	case left(func(o ledger.Operation) bool { return slices.Contains(coats, o.Kind) }):
		return "priming and paint"
	case left(func(o ledger.Operation) bool { return o.Op == quote.FinalFitting }):
		return "the final fitting"
	}
	if left(func(ledger.Operation) bool { return true }) {
		return "packing"
	}
	return "it is ready once dry"
}

// meetings says of each appointment with a client how it stands, a line each; of one that nobody was asked for yet nothing.
func (p *posting) meetings(c ledger.Commission) ([]string, error) {
	all, err := p.t.Standing(c.ID)
	var out []string
	for _, a := range all {
		if s := strings.TrimSpace(p.agreed([]ledger.Appointment{a})); s != "" {
			out = append(out, s)
		}
	}
	return out, err
}
