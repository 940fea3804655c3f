package rehearsal

import (
	"container/heap"
	"context"
	"fmt"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/quote"
	"benchbell/quote/engine"
	"benchbell/quote/floor"
	"benchbell/quote/plan"
)

// mostWeeks is how long after the last client the work may take to be done; a studio that needs longer is lost.
const mostWeeks = 60

// patience is how long the shop waits for an answer of the engine; here it always comes.
const patience = 24 * time.Hour

// quarter is one play of one arm.
type quarter struct {
	arm
	world   *world
	weeks   int
	zone    *time.Location
	sets    []shop.Set
	clients []client
	known   *reckoned

	shop   *shop.Shop
	led    *ledger.Ledger
	now    time.Time
	end    time.Time // of the weeks
	coming queue
	acts   int
	plan   int64 // number of the plan so far

	hours  hours
	makers []*maker
	places map[string]plan.Resource
	hands  []*hand    // operations in hand
	shown  shop.Bench // with the last operation begun or done
	// stirred: the bench may be another for the makers than when they last looked.
	stirred bool
	urgent  map[opKey]bool
	wet     map[opKey]time.Time // when what is done has really cured, where that is later than its bell
	books   map[quote.CommissionID]map[string]plan.Operation

	settled time.Time         // when the shop did what was due last
	from    time.Time         // the Monday of the first week; zero: firstMonday
	fill    *filling          // where the quarter leaves a shop to look at; nil: it is to be counted
	told    []shop.Told       // since they were last looked at
	bent    func(*floor.Shop) // what the shop sees of its plan; for tests, which have it see something else
	count
	law
}

// event is something that will happen.
type event struct {
	at time.Time
	n  int // in the order of arranging, which decides between two at once
	do func(context.Context) error
}

type queue struct {
	list []event
	n    int
}

func (q *queue) Len() int { return len(q.list) }
func (q *queue) Less(i, j int) bool {
	if c := q.list[i].at.Compare(q.list[j].at); c != 0 {
		return c < 0
	}
	return q.list[i].n < q.list[j].n
}
func (q *queue) Swap(i, j int) { q.list[i], q.list[j] = q.list[j], q.list[i] }
func (q *queue) Push(x any)    { q.list = append(q.list, x.(event)) }
func (q *queue) Pop() any {
	x := q.list[len(q.list)-1]
	q.list = q.list[:len(q.list)-1]
	return x
}

// arrange has something happen at a time.
func (q *quarter) arrange(at time.Time, do func(context.Context) error) {
	if at.Before(q.now) {
		at = q.now
	}
	q.coming.n++
	heap.Push(&q.coming, event{at, q.coming.n, do})
}

// look has the makers look at the bench at a time.
func (q *quarter) look(at time.Time) {
	q.arrange(at, func(context.Context) error {
		q.stirred = true
		return nil
	})
}

// play plays the weeks, and then until nothing that was promised is open.
func (q *quarter) play(ctx context.Context, path string) error {
	led, err := ledger.OpenScratch(ctx, path)
	if err != nil {
		return err
	}
	defer led.Close()
	return q.playOn(ctx, led)
}

func (q *quarter) playOn(ctx context.Context, led *ledger.Ledger) error {
	q.led = led
	begin := q.first()
	q.now = begin
	if q.fill == nil {
		q.end = begin.AddDate(0, 0, 7*q.weeks)
	}
	last := q.end.AddDate(0, 0, 7*mostWeeks)
	q.urgent, q.wet, q.books, q.places = map[opKey]bool{}, map[opKey]time.Time{}, map[quote.CommissionID]map[string]plan.Operation{}, map[string]plan.Resource{}
	q.count.init()
	q.law.init()
	q.limit = float64(q.studio.Danger) / 100
	q.hours = openHours(q.studio.Calendar, q.zone, begin, last)
	for _, r := range q.studio.Resources {
		if q.places[r.ID] = r; r.Kind == "maker" {
			away := q.world.absences(r.ID, begin, last, q.zone)
			q.makers = append(q.makers, &maker{Resource: r, hours: q.hours.without(away)})
			for _, s := range away {
				if at := q.hours.opens(later(s.From, begin)); at.Before(s.To) {
					q.arrange(at, func(ctx context.Context) error { return q.falls(ctx, r.ID, s.To.Add(-time.Minute)) })
				}
			}
		}
	}
	q.shop = shop.New(shop.Config{Ledger: led, Studio: func() quote.Studio { return q.studio }, Library: q.sets, Now: func() time.Time { return q.now },
		Fits: engine.Fits, Place: q.place, Plan: q.plans, Look: q.looking, WhatIf: unread, Patience: patience})
	q.shop.Listen(q)
	if q.fill != nil {
		if err := q.fill.opens(q); err != nil {
			return err
		}
	}
	for _, c := range q.clients {
		q.arrange(c.at, func(ctx context.Context) error { return q.asks(ctx, c) })
	}
	q.mondays()
	q.mornings()
	for ctx.Err() == nil {
		due, err := q.shop.NextDue(ctx)
		if err != nil {
			return err
		}
		if !due.After(q.now) && q.settled.Equal(q.now) { // the shop has done what it could; what is left waits for somebody
			due = time.Time{}
		}
		if q.fill != nil && !q.next(due).Before(q.end) {
			return q.fills(ctx)
		}
		if q.now.After(q.end) && q.decided() {
			break
		}
		if q.now.After(last) {
			return fmt.Errorf("the work that was promised is not done %d weeks after the last client asked; try a smaller load", mostWeeks)
		}
		if len(q.coming.list) == 0 && due.IsZero() {
			break
		}
		if len(q.coming.list) == 0 || !due.IsZero() && due.Before(q.coming.list[0].at) {
			if due.After(q.now) {
				q.now = due
			}
			q.moment()
			if err := q.settle(ctx); err != nil {
				return err
			}
		} else {
			e := heap.Pop(&q.coming).(event)
			q.now = e.at
			if err := e.do(ctx); err != nil {
				return err
			}
		}
		if err := q.dispatch(ctx); err != nil {
			return err
		}
		if err := q.hourly(ctx); err != nil {
			return err
		}
		if err := q.daily(ctx); err != nil {
			return err
		}
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	return nil
}

// forget lets go of what nobody needs once a quarter is counted.
func (q *quarter) forget() {
	q.sets, q.known, q.shop, q.led, q.coming, q.hands, q.shown, q.books, q.told = nil, nil, nil, nil, queue{}, nil, shop.Bench{}, nil, nil
	q.law.lookups = nil
}

// place is the shop's planner of one quote; alone, nothing else is in its way.
func (q *quarter) place(ctx context.Context, s quote.Snapshot, a quote.Quote, from time.Time, busy []plan.Busy) (plan.Solution, error) {
	if q.alone {
		busy = nil
	}
	return floor.Place(ctx, s, a, from, busy)
}

// plans is the shop's planner; nobody looks at its pictures here.
func (q *quarter) plans(ctx context.Context, open []floor.Open, st quote.Studio, now time.Time, progress func(float64)) (floor.Shop, error) {
	p, err := floor.Plan(ctx, open, st, now, progress)
	return floor.Shop{At: p.At, Plan: p.Plan, Outlooks: p.Outlooks, Moved: p.Moved, Together: p.Together}, err
}

// unread are ways of keeping a promise; nobody here reads them before going ahead.
func unread(context.Context, []floor.Open, quote.Studio, time.Time, quote.CommissionID, string) ([]floor.Choice, error) {
	return nil, nil
}

// mondays is the studio's weekly look at its plan, when it opens for the first time in a week.
func (q *quarter) mondays() {
	for w := 0; w < q.weeks+mostWeeks; w++ {
		at := q.hours.opens(q.first().AddDate(0, 0, 7*w))
		if at.IsZero() || !at.Before(q.first().AddDate(0, 0, 7*(w+1))) {
			continue // closed all week
		}
		q.arrange(at, q.monday)
	}
}

// mornings have the makers look at the bench when the shop opens and when one is back.
func (q *quarter) mornings() {
	for _, m := range q.makers {
		for _, s := range m.hours {
			q.look(s.From)
		}
	}
}

// Tell hears what the shop tells.
func (q *quarter) Tell(_ *ledger.Tx, told shop.Told) error {
	q.told = append(q.told, told)
	return nil
}

// Wake is nothing here: whoever acts looks at what was told.
func (q *quarter) Wake() {}

var studio = chat.Person{ID: "rehearsal:studio", Name: "Studio", Studio: true}

// first is when the quarter begins.
func (q *quarter) first() time.Time {
	if q.from.IsZero() {
		return firstMonday
	}
	return q.from
}

// person is a client at the door.
func (q *quarter) person(n int) chat.Person {
	if q.fill != nil {
		return q.fill.person(n)
	}
	return personOf(n)
}

func personOf(n int) chat.Person {
	return chat.Person{ID: chat.PersonID(fmt.Sprintf("rehearsal:client-%d", n)), Name: fmt.Sprintf("Client %d", n)}
}
