package shop

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/quote"
)

// Names by which doors that know no ledger say what they look for, and what they are told.
type (
	State     = ledger.State
	OrderSort = ledger.OrderSort
	Message   = ledger.Message
	PersonID  = chat.PersonID
)

// OrdersPage is how many commissions a page of them has.
const OrdersPage = 50

// maxWords are looked for of what was typed; more are a sentence.
const maxWords = 6

// FindOrders looks for commissions. What is empty does not narrow.
type FindOrders struct {
	Words  string // numbers, parts of the client's name, titles of sets: each must match
	All    bool   // those that are past among them
	State  State
	Client PersonID
	Maker  string // who has work left on it
	// From and To are dates: promised then, both included. One that is none does not narrow.
	From, To string
	Sort     OrderSort // empty: what is in danger first
	Page     int       // from 0
}

// OrderList is a page of commissions.
type OrderList struct {
	At     time.Time
	Orders []Order
	More   bool // there is a page after it
	Counts []ledger.OpenCount
	Client string // the name of the client asked for
}

// Order is a commission with what it waits for.
type Order struct {
	ledger.Order
	Sets  []string
	Ends  time.Time     // of a quote
	Due   time.Time     // of a deposit
	Work  ledger.Left   // of one in work
	Dries time.Time     // the last cure of it that runs; zero: none
	Picks *ledger.Which // the client is to pick a time for it; nil: for nothing
}

// OrderStates are all states a commission can be in, in the order of its life.
func OrderStates() []State { return slices.Clone(states) }

func findOrders(j *job, a FindOrders) (OrderList, error) {
	o := OrderList{At: j.now}
	q := ledger.OrderQuery{Words: j.s.words(a.Words), Open: !a.All, State: a.State, Client: a.Client, Maker: a.Maker, From: date(a.From), To: date(a.To),
		Sort: a.Sort, Limit: OrdersPage + 1, Offset: max(a.Page, 0) * OrdersPage}
	found, err := j.t.Orders(q)
	if err != nil {
		return o, err
	}
	if o.More = len(found) > OrdersPage; o.More {
		found = found[:OrdersPage]
	}
	for _, x := range found {
		v, err := j.order(x)
		if err != nil {
			return o, err
		}
		o.Orders = append(o.Orders, v)
	}
	if a.Client != "" && len(found) > 0 {
		o.Client = found[0].ClientName
	}
	o.Counts, err = j.t.OpenCounts()
	return o, err
}

// order is what a commission waits for.
func (j *job) order(x ledger.Order) (Order, error) {
	o := Order{Order: x}
	items, err := j.t.Items(x.ID)
	if err != nil {
		return o, err
	}
	for _, it := range items {
		o.Sets = append(o.Sets, j.s.Describe(it))
	}
	switch x.State {
	case ledger.Quoted:
		o.Ends, err = j.t.Expiry(x.ID, x.Revision)
	case ledger.Approved:
		o.Due, err = j.awaited(x.Commission)
	case ledger.Working:
		if o.Work, err = j.t.Left(x.ID); err != nil {
			return o, err
		}
		o.Dries, err = j.t.DriesUntil(x.ID, j.now)
	}
	if err != nil || x.State != ledger.Working && x.State != ledger.Ready {
		return o, err
	}
	as, err := j.t.Standing(x.ID)
	i := slices.IndexFunc(as, func(a ledger.Appointment) bool { return a.State == ledger.ApptOffered })
	if i >= 0 {
		o.Picks = &as[i].Which
	}
	return o, err
}

// words reads what was typed to look for commissions.
func (s *Shop) words(typed string) (out []ledger.OrderWord) {
	for _, w := range strings.Fields(OneLine(typed)) {
		if len(out) == maxWords {
			break
		}
		x := ledger.OrderWord{Text: w}
		digits := strings.TrimPrefix(strings.ToUpper(w), "C")
		if n, err := strconv.Atoi(digits); err == nil && n > 0 {
			x.Number = quote.CommissionID(fmt.Sprintf("C%04d", n))
		}
		for _, set := range s.Known() {
			if strings.Contains(strings.ToLower(set.Title), strings.ToLower(w)) {
				x.Sets = append(x.Sets, set.Name)
			}
		}
		out = append(out, x)
	}
	return out
}

// date is a date as it is; what is none is empty.
func date(s string) string {
	if _, err := time.Parse(time.DateOnly, s); err != nil {
		return ""
	}
	return s
}
