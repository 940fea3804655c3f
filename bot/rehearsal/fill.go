package rehearsal

import (
	"context"
	"fmt"
	"math"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/quote"
)

// Filling says what shop is left to be looked at.
type Filling struct {
	Studio      quote.Studio
	Commissions int // 1 to MaxFilled
	Seed        uint64
	// Until is the moment at which the shop is left.
	Until  time.Time
	Ledger *ledger.Ledger // empty; it is written to
	// Door is how clients come in, such as "browser".
	Door string
	// Listen adds who hears of what happens, with the clock that does not wait; nil: nobody.
	Listen func(s *shop.Shop, now func() time.Time) error
	// Daily is called once for each day that passes; nil: nothing is.
	Daily func(context.Context) error
}

// MaxFilled is the most commissions that a shop is filled with: real acts of more take hours.
const MaxFilled = 2000

// What a filled shop's quotes try less than rehearsed ones: its dates are looked at, not counted.
const (
	fillEffort    = 60
	fillDraws     = 20
	fillSchedules = 8
	// fillLoad is less than a full shop has, since each look at the plan takes as long as there is work in it.
	fillLoad = 60
	// inPerson of so many clients is fitted in person, one; each time that is offered is tried with a look at the plan.
	inPerson = 4
)

// stop says where a client of a filled shop stops, so that there are commissions in every state.
type stop string

const (
	stopsChoosing   stop = "choosing"
	stopsMeasuring  stop = "measuring"
	stopsChecking   stop = "checking"
	stopsFailing    stop = "failing"
	stopsCancelling stop = "cancelling"
)

// stops are all of them; each is so many of a filled shop's clients, in percent and at least one.
var stops = []stop{stopsChoosing, stopsMeasuring, stopsChecking, stopsFailing, stopsCancelling}

const stopShare = 2

// stopsWithin is how long before the end those come who stop: whoever stopped earlier would have been asked.
const stopsWithin = 12 * 24 * time.Hour

// leftToCollect is how long before the end half of the clients do not come any more for what is ready.
const leftToCollect = 10 * 24 * time.Hour

// tooLong is why a made-up quote fails.
const tooLong = "one piece is longer than any sheet that the studio buys"

// Clients write to the studio, and the studio answers most of it within two days (assumptions).
const (
	writeShare  = 0.5
	answerShare = 0.8
	writeWithin = 20 * 24 * time.Hour
	answerIn    = 2 * 24 * time.Hour
)

// written is what made-up clients write, and answered what the studio says.
var (
	written = []string{"Can the edge be darker than in the picture?", "I move house in spring; can it be sent instead?", "Is there room for a padded jacket under it?",
		"I measured my wrist again and it is 4 mm more.", "Could the strap close on the inside?", "How heavy will it be?"}
	answers = []string{"Yes, it can.", "We note it with your commission.", "There is; you will see at the first fitting.", "We will write as soon as we know."}
)

// filling is a quarter that leaves a shop.
type filling struct {
	Filling
	day string
}

// Fill plays clients and makers until a moment and leaves the shop as it stands then, with commissions in every state, messages that
// wait for an answer, and a date in danger where the studio has given any.
func Fill(ctx context.Context, f Filling) error {
	if f.Commissions < 1 || f.Commissions > MaxFilled {
		return fmt.Errorf("a shop is filled with 1 to %d commissions, not with %d", MaxFilled, f.Commissions)
	}
	s := Settings{Studio: f.Studio, Weeks: 1, Seed: f.Seed, Seeds: 1, Load: fillLoad}
	if err := s.check(); err != nil {
		return err
	}
	s.Studio.Evaluations, s.Studio.Runs, s.Studio.Schedules = min(s.Studio.Evaluations, fillEffort), min(s.Studio.Runs, fillDraws), min(s.Studio.Schedules, fillSchedules)
	sets, err := shop.Library()
	if err != nil {
		return err
	}
	x, err := newWares(sets, s.Studio)
	if err != nil {
		return err
	}
	aWeek, err := s.arrivals(ctx, x)
	if err != nil {
		return err
	}
	q := &quarter{arm: arm{name: asPromised, studio: s.Studio}, world: newWorld(f.Seed, s.Studio), zone: s.zone(), sets: sets, known: &reckoned{}, fill: &filling{Filling: f}}
	q.end = f.Until.Truncate(time.Minute)
	q.clients, q.from = q.world.crowd(x, q.end, aWeek, f.Commissions)
	defer q.forget()
	if err := q.playOn(ctx, f.Ledger); err != nil {
		return fmt.Errorf("the shop could be filled until %s: %w", q.now.In(q.zone).Format("2 Jan 2006, 15:04"), err)
	}
	return nil
}

// crowd is so many clients who come until a moment, the last of them shortly before it, and the Monday before the first.
func (w *world) crowd(x wares, end time.Time, aWeek float64, n int) (out []client, begin time.Time) {
	stopping := 0
	if n > len(stops) {
		stopping = len(stops) * max(1, n*stopShare/100)
	}
	going := n - stopping
	const week = 7 * 24 * time.Hour
	ref := time.Date(2000, 1, 3, 0, 0, 0, 0, time.UTC)
	for weeks := int(math.Ceil(float64(going)/aWeek)) + 1; len(out) < going; weeks *= 2 {
		out = w.clients(x, ref, ref.Add(time.Duration(weeks)*week), aWeek)
	}
	out = out[:going]
	shift := end.Add(-time.Hour).Sub(out[going-1].at)
	for i := range out {
		out[i].at = out[i].at.Add(shift)
	}
	begin = out[0].at
	for i := range stopping {
		r := w.of("stops", i)
		c := client{number: going + i + 1, at: end.Add(-time.Duration(r.Float64() * float64(stopsWithin))), stops: stops[i%len(stops)], measures: 20 * time.Minute, decides: time.Hour}
		c.items, c.finish, c.typed = x.order(r)
		c.at = earlier(c.at, end.Add(-3*time.Hour))
		begin = earlier(begin, c.at)
		out = append(out, c)
	}
	begin = begin.UTC().Truncate(24 * time.Hour)
	return out, begin.AddDate(0, 0, -(int(begin.Weekday())+6)%7)
}

// given and family names of made-up clients.
var (
	given  = []string{"Ada", "Bela", "Cora", "Dario", "Edda", "Falk", "Gesa", "Hanno", "Ilka", "Jorin", "Kaja", "Levin", "Mina", "Nils", "Oda", "Pelle", "Runa", "Silas", "Tilda", "Uwe"}
	family = []string{"Ahlers", "Brandt", "Cremer", "Dorn", "Ehlert", "Falke", "Grote", "Hagen", "Imhof", "Jansen", "Kolb", "Lohse", "Moll", "Nolte", "Otten", "Pohl", "Quast", "Rohde", "Stolz"}
)

func (f *filling) person(n int) chat.Person {
	return chat.Person{ID: chat.PersonID(fmt.Sprintf("%s:client-%d", f.Door, n)), Name: given[n%len(given)] + " " + family[n%len(family)]}
}

// opens has others hear of what happens.
func (f *filling) opens(q *quarter) error {
	if f.Listen == nil {
		return nil
	}
	return f.Listen(q.shop, func() time.Time { return q.now })
}

// asked arranges what a client writes, and whether the studio answers.
func (f *filling) asked(q *quarter, c client, id quote.CommissionID) {
	if f == nil {
		return
	}
	r := q.world.of("words", c.number)
	if r.Float64() >= writeShare {
		return
	}
	words, at, says := written[r.IntN(len(written))], q.now.Add(time.Duration(r.Float64()*float64(writeWithin))), answers[r.IntN(len(answers))]
	answers, in := r.Float64() < answerShare, time.Duration(r.Float64()*float64(answerIn))
	q.arrange(at, func(ctx context.Context) error {
		o, err := q.do(ctx, q.person(c.number), shop.Say{Of: shop.On(id), Words: words})
		if err != nil || !answers {
			return err
		}
		n := o.(shop.Said).Message.N
		q.arrange(q.hours.opens(q.now.Add(in)), func(ctx context.Context) error {
			_, err := q.do(ctx, studio, shop.Answer{Message: n, Words: says})
			return err
		})
		return nil
	})
}

// next is when something happens next: the end, where nothing does before.
func (q *quarter) next(due time.Time) time.Time {
	at := q.end
	if len(q.coming.list) > 0 {
		at = earlier(at, q.coming.list[0].at)
	}
	if !due.IsZero() {
		at = earlier(at, due)
	}
	return later(at, q.now)
}

// daily lets happen what happens once a day.
func (q *quarter) daily(ctx context.Context) error {
	if q.fill == nil || q.fill.Daily == nil || q.fill.day == q.now.Format(time.DateOnly) {
		return nil
	}
	q.fill.day = q.now.Format(time.DateOnly)
	return q.fill.Daily(ctx)
}

// longAway is how long a maker is away at the end where no date is in danger otherwise: longer than any date has to spare.
const longAway = 21

// fills leaves the shop as it stands at the end. Where no date is in danger, a maker falls ill for weeks.
func (q *quarter) fills(ctx context.Context) error {
	q.now = q.end
	if err := q.settle(ctx); err != nil {
		return err
	}
	o, err := q.shop.See(ctx, studio, shop.FindOrders{})
	if err != nil {
		return err
	}
	working, danger := 0, 0
	for _, c := range o.(shop.OrderList).Counts {
		if danger += c.Danger; c.State == ledger.Working {
			working = c.N
		}
	}
	if working > 0 && danger == 0 {
		if err := q.falls(ctx, q.makers[0].ID, q.now.AddDate(0, 0, longAway)); err != nil && refusal(err) == "" {
			return err
		}
	}
	if q.fill.Daily != nil {
		return q.fill.Daily(ctx)
	}
	return ctx.Err()
}
