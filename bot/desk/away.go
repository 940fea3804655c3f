package desk

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/quote"
	"benchbell/quote/plan"
)

// What is said and posted of makers who are not there.

// readAway reads the command, or the button under what it would do: "away/mara/2026-12-07/2026-12-11/1c0ffee5".
func readAway(r *reading) (shop.GoAway, error) {
	return shop.GoAway{Maker: cmp.Or(r.value("maker"), r.part(1)), From: cmp.Or(r.value("from"), r.part(2)), Until: cmp.Or(r.value("until"), r.part(3)), Seen: r.part(4)}, nil
}

// maker is the name of one of the studio's.
func (w words) maker(id string) string {
	i := slices.IndexFunc(w.studio.Resources, func(r plan.Resource) bool { return r.ID == id })
	if i < 0 {
		return id
	}
	return w.studio.Resources[i].Title
}

func (w words) date(t time.Time) string { return t.In(w.zone).Format(time.DateOnly) }

// lastDay is the last day on which a maker is away.
func (w words) lastDay(a quote.Away) string { return quote.ShortDate(w.date(a.To.Add(-time.Second))) }

// days says when a maker is away.
func (w words) days(a quote.Away) string {
	if w.date(a.From) == w.date(a.To.Add(-time.Second)) {
		return "on " + w.lastDay(a)
	}
	return fmt.Sprintf("from %s until %s", quote.ShortDate(w.date(a.From)), w.lastDay(a))
}

func sayWentAway(a *answer, o shop.WentAway) chat.Reply {
	say := fmt.Sprintf("%s is away %s.", o.Maker, a.days(o.Away))
	if o.Moved > 0 {
		say += fmt.Sprintf(" In the shop plan, %s.", shop.Moves(o.Moved))
	}
	return chat.Reply{Text: say + " " + a.danger("", o.Effects)}
}

// danger names the promises that an act hurts, that of its own commission first, and those that were in danger before.
func (w words) danger(own quote.CommissionID, list []shop.Effect) string {
	var hurt, before []string
	for _, e := range list {
		switch {
		case e.Hurt && e.Commission == own:
			hurt = slices.Insert(hurt, 0, string(own)+" itself")
		case e.Hurt:
			hurt = append(hurt, string(e.Commission))
		case e.After < float64(w.studio.Danger)/100 && !e.Undecided:
			before = append(before, string(e.Commission))
		}
	}
	say := "It puts no promise in danger."
	if len(hurt) > 0 {
		say = "In danger because of it: " + strings.Join(hurt, ", ") + "; see “plan”."
	}
	if len(before) > 0 {
		say += " In danger anyway: " + strings.Join(before, ", ") + "."
	}
	return say
}

func postWentAway(p *posting, o shop.WentAway) error {
	return p.toStudio(awayOrBack, ledger.Commission{}, notice{key: fmt.Sprintf("away/%s/%s", o.Away.Maker, o.Away.From.Format(time.RFC3339)),
		text: fmt.Sprintf("%s is away %s, says %s.", o.Maker, p.days(o.Away), shop.OneLine(p.by.Name))})
}

func sayCameBack(_ *answer, o shop.CameBack) chat.Reply {
	return chat.Reply{Text: o.Maker + " is there again. Use “plan” to see whether a new plan is better now."}
}

func postCameBack(p *posting, o shop.CameBack) error {
	return p.toStudio(awayOrBack, ledger.Commission{}, notice{key: fmt.Sprintf("back/%s/%s", o.Maker, p.at.Format(time.RFC3339)),
		text: fmt.Sprintf("%s is there again, says %s.", o.Maker, shop.OneLine(p.by.Name))})
}
