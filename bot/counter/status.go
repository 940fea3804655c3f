package counter

import (
	"fmt"
	"time"

	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/quote"
)

// statusView is an approved commission as it stands.
type statusView struct {
	Next       string // what happens next, or is wanted of the client
	Waits      string // what it waits for
	Done, Of   int
	Percent    int
	Date       string
	Odds       string
	Meetings   []meetingView
	Money      []line
	Photos     []string
	Made       []line
	PDF        string
	CanPicture bool
}

// meetingView is an appointment, with the times that can be picked.
type meetingView struct {
	N            int
	What, Where  string
	Happens, At  string
	State        string
	Slots        []slotView
	Picked       bool
	Other        string // what holding it another way is called
	How          string
	Told         string
	Seen         string // with the slots: of the refusal that offered them
	Anyway       string // the time that is taken anyway
	AnywaySays   string
	HowSeen      string // of holding it another way all the same
	None, Wanted bool
	Later        bool
	Asks         bool // others can be asked for
}

type slotView struct{ Value, Says string }

func (p *looking) standing() (stage, error) {
	c := p.o.Commission
	s := stage{Kind: "status"}
	v := &statusView{Made: p.chosen(false)}
	e := p.o.Quote.Quote.Estimate
	if p.o.Quote.Revision > 0 {
		v.PDF = fmt.Sprintf("%s/quote/%d.pdf", p.Path, p.o.Quote.Revision)
	}
	ended := c.State == ledger.Declined || c.State == ledger.Cancelled
	if c.Promise != "" && !ended {
		v.Date = quote.DateWords(c.Promise)
		v.Odds = chance(p.o.Promise.Odds)
	}
	due := quote.EndOf(p.o.Approval.At.In(p.zone), p.Counter.o.Studio().DepositDays)
	switch c.State {
	case ledger.Approved:
		s.Title, s.Cancel = "Approved", true
		v.Next = fmt.Sprintf("The studio waits for the deposit, %s, by %s. Your place in the shop is kept until then.", e.Deposit.Format(e.Currency), p.until(due))
	case ledger.Working:
		s.Title = "Your work is being made"
		if b := p.o.Bench; b != nil {
			v.Done, v.Of = b.Done, b.Of
			if b.Of > 0 {
				v.Percent = 100 * b.Done / b.Of
			}
			if b.Next != nil {
				v.Next = "Next: " + lower(b.Next.Title) + "."
				if b.Done == 0 && b.Next.StartedAt.IsZero() {
					s.Title, v.Next = "Your work is in the plan", fmt.Sprintf("It begins about %s, with this: %s.", b.Next.Start.In(p.zone).Format("Mon 2 Jan"), lower(b.Next.Title))
				}
			}
			if b.Cure != nil && !b.Cure.Until.IsZero() && b.Cure.Until.After(p.Counter.o.Now()) {
				v.Waits = fmt.Sprintf("%s dries until %s.", quote.Capital(b.Cure.For.Cure), p.when(b.Cure.Until))
			}
		}
	case ledger.Ready:
		s.Title = "Your work is finished"
	case ledger.Delivered:
		s.Title, s.Lead = "Handed over", fmt.Sprintf("On %s. Thank you; wear it well.", p.when(c.ChangedAt))
	case ledger.Declined:
		s.Title, s.Lead = "You declined the quote", "Nothing is made and nothing is owed. You can ask for another commission at any time."
	case ledger.Cancelled:
		s.Title, s.Lead = "Cancelled", fmt.Sprintf("On %s. Nothing more is made.", p.when(c.ChangedAt))
		if !c.DepositAt.IsZero() {
			s.Lead += " What becomes of your deposit, the studio tells you in the thread."
		}
	}
	if p.o.Approval.Revision > 0 {
		paid := "due by " + p.until(due)
		if !c.DepositAt.IsZero() {
			paid = "paid " + c.DepositAt.In(p.zone).Format("Mon 2 Jan")
		}
		v.Money = []line{{Name: "Price", Says: e.Total.Format(e.Currency)}, {Name: "Deposit, " + paid, Says: e.Deposit.Format(e.Currency)},
			{Name: "When you get it", Says: e.Balance.Format(e.Currency)}}
		switch {
		case ended && c.DepositAt.IsZero():
			v.Money = nil
		case ended:
			v.Money = v.Money[1:2]
		}
	}
	for _, a := range p.o.Appointments {
		v.Meetings = append(v.Meetings, p.meeting(a))
	}
	for n := 1; n <= p.o.Pictures; n++ {
		v.Photos = append(v.Photos, fmt.Sprintf("%s/photo/%d", p.Path, n))
	}
	v.CanPicture = !c.State.Closed() && p.Thread != ""
	s.Status = v
	for _, m := range v.Meetings {
		s.Sorted = s.Sorted || m.Told != ""
	}
	return s, nil
}

// meeting is an appointment as the client sees it; what was refused of it stands in it, with what can be had instead.
func (p *looking) meeting(a ledger.Appointment) meetingView {
	v := meetingView{N: a.N, What: what(a), Where: whereHeld[a.How], Happens: happens(a), Picked: a.State == ledger.ApptPicked, Wanted: a.State == ledger.ApptWanted,
		Asks: a.How != quote.Ship && a.State != ledger.ApptWanted, Later: p.at == "later"}
	how, says := otherWay(a)
	v.How, v.Other = string(how), says
	if v.Picked {
		v.At = p.when(a.At)
	}
	slots := a.Slots
	if v.Wanted {
		slots = nil
	}
	if p.n.of == p.Of && p.n.typed.Get("appointment") == fmt.Sprint(a.N) {
		v.Told = p.told()
		if no := p.n.no; no != nil {
			switch no.Kind {
			case shop.SlotGone, shop.SlotStale:
				slots, v.Seen = no.Slots, no.Seen
			case shop.SlotHurts:
				v.Seen, v.Anyway, v.AnywaySays = no.Seen, no.Until.Format(time.RFC3339), p.when(no.Until)
			case shop.Hurts:
				if !no.Others(p.o.Commission.ID) {
					v.HowSeen = no.Seen
				}
			}
		}
	}
	for _, at := range slots {
		if !at.Equal(a.At) {
			v.Slots = append(v.Slots, slotView{at.UTC().Format(time.RFC3339), p.when(at)})
		}
	}
	v.None = !v.Wanted && !v.Picked && len(v.Slots) == 0
	return v
}
