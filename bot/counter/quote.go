package counter

import (
	"fmt"
	"slices"
	"strings"

	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/quote"
	"benchbell/quote/plan"
	"benchbell/quote/price"
)

// quoteView is a quote to be decided on.
type quoteView struct {
	Revision          int
	Made              []string
	Finish            string
	Total             string
	Money             []line // of what the price is made up
	Deposit, Balance  string
	Date, Odds        string
	Late              string // the date asked for, where it is missed
	Held              string // until when the date is held; empty: it is not any more
	Valid             string
	Expired           bool
	Meetings          []line
	Parcel            string
	Differs           []string // from the quote before
	Terms, Cautions   []string
	PDF, PDFSize      string
	Anew              string // the date as it is now, to be approved with
	AskChange, Refuse bool   // what the press before was about
}

var sections = []struct {
	of   price.Section
	says string
}{{price.Foam, "Foam"}, {price.Consumables, "Glue and paint"}, {price.Fittings, "Straps and fittings"}, {price.Labour, "Work"}}

func (p *looking) quoted() (stage, error) {
	rev, c := p.o.Quote, p.o.Commission
	q := rev.Quote
	s := stage{Kind: "quote", Title: "Your quote", Cancel: false}
	if rev.Revision == 0 {
		return s, fmt.Errorf("%s is %s and has no quote", c.ID, c.State)
	}
	e := q.Estimate
	v := &quoteView{Revision: rev.Revision, Total: e.Total.Format(e.Currency), Deposit: e.Deposit.Format(e.Currency), Balance: e.Balance.Format(e.Currency),
		Date: quote.DateWords(c.Promise), Odds: chance(q.Odds), Valid: p.until(rev.ExpiresAt), Expired: c.State == ledger.Expired,
		Terms: rev.Snapshot.Studio.Terms, Cautions: rev.Snapshot.Studio.Cautions, PDF: fmt.Sprintf("%s/quote/%d.pdf", p.Path, rev.Revision)}
	if p.o.Promise.Odds > 0 {
		v.Odds = chance(p.o.Promise.Odds)
	}
	for _, it := range rev.Snapshot.Items {
		v.Made = append(v.Made, p.Counter.o.Rules.Describe(it))
	}
	v.Finish = p.finishTitle(rev.Snapshot.Finish)
	v.Money = moneyLines(e)
	if q.Late {
		v.Late = quote.DateWords(rev.Snapshot.Wanted)
	}
	if p.o.Promise.HeldUntil.After(p.Counter.o.Now()) && !v.Expired {
		v.Held = p.until(p.o.Promise.HeldUntil)
	}
	v.Meetings = p.planned(q)
	v.Parcel = parcelWords(q.Parcel)
	if was := p.o.Before; was.Revision > 0 {
		v.Differs = append(v.Differs, rev.Snapshot.Changes...)
		v.Differs = append(v.Differs, priceWords(was.Quote.Estimate, e))
		if was.Quote.Promise != q.Promise {
			v.Differs = append(v.Differs, fmt.Sprintf("ready by %s instead of %s", quote.DateWords(q.Promise), quote.DateWords(was.Quote.Promise)))
		}
	}
	if no := p.n.no; no != nil && no.Kind == shop.DateMoved {
		v.Anew = no.Name
	}
	if v.Expired {
		s.Title, s.Lead = "Your quote has run out", "Its price and date do not hold any more. Have it worked out again, or decline it."
	}
	s.Quote = v
	return s, nil
}

// moneyLines sum a price up by what it is for.
func moneyLines(e price.Estimate) []line {
	var out []line
	for _, sec := range sections {
		sum, any := price.Money(0), false
		for _, l := range e.Lines {
			if l.Section == sec.of {
				sum, any = sum+l.Amount, true
			}
		}
		if any {
			out = append(out, line{Name: sec.says, Says: sum.Format(e.Currency)})
		}
	}
	if e.Discount != 0 {
		out = append(out, line{Name: "Discount", Says: (-e.Discount).Format(e.Currency)})
	}
	if e.Tax != 0 {
		out = append(out, line{Name: fmt.Sprintf("%s %s", e.TaxName, e.TaxRate), Says: e.Tax.Format(e.Currency)})
	}
	return out
}

func priceWords(was, is price.Estimate) string {
	switch d := is.Total - was.Total; {
	case was.Currency != is.Currency:
		return fmt.Sprintf("the price was %s", was.Total.Format(was.Currency))
	case d > 0:
		return fmt.Sprintf("%s more than before", d.Format(is.Currency))
	case d < 0:
		return fmt.Sprintf("%s less than before", (-d).Format(is.Currency))
	}
	return "the same price as before"
}

// planned are the fittings of a quote as its plan has them: about when, and for how long.
func (p *looking) planned(q quote.Quote) []line {
	var out []line
	for _, x := range []struct {
		op   string
		says string
	}{{quote.FirstFitting, "First fitting"}, {quote.FinalFitting, "Final fitting"}} {
		i := slices.IndexFunc(q.Plan.Operations, func(o plan.Scheduled) bool { return o.ID == x.op })
		if i < 0 {
			continue
		}
		o := q.Plan.Operations[i]
		says := "about " + o.Start.In(p.zone).Format("Mon 2 Jan")
		if took := plan.Worked(o.Start, o.End, o.Spans); took > 0 {
			says += ", " + quote.TimeWords(took)
		}
		out = append(out, line{Name: x.says, Says: says})
	}
	return out
}

// changeView is a change being asked for.
type changeView struct {
	Revision     int
	Items        []changeItem
	Others       []setView // of the library, to be added
	Finish       []option
	FinishWrong  string
	Wanted, What field
	Again        bool
	Held         string
}

type changeItem struct {
	itemView
	In bool
}

func (p *looking) changing() (stage, error) {
	c := p.o.Commission
	s := stage{Kind: "change", Title: "What should change?", Lead: "You get a new quote. Your measurements stay."}
	v := &changeView{Revision: c.Revision}
	n := p.n
	if n.do == "" && p.o.Change != nil { // as it was typed before, perhaps in the thread
		n.typed = map[string][]string{"what": {p.o.Change[shop.ChangeWhat]}, "wanted": {p.o.Change[shop.ChangeWanted]}}
	}
	in := func(set string, otherwise bool) bool {
		if n.do == "change" {
			return slices.Contains(n.typed["set"], set)
		}
		return otherwise
	}
	for _, it := range p.o.Items {
		v.Items = append(v.Items, changeItem{p.item(it), in(it.Set, true)})
	}
	from := p.beginAt()
	for _, x := range p.Counter.o.Rules.Offered() {
		if slices.ContainsFunc(p.o.Items, func(it quote.Item) bool { return it.Set == x.Name }) {
			continue
		}
		v.Others = append(v.Others, setView{Name: x.Name, Title: x.Title, From: from[x.Name].price, Chosen: in(x.Name, false)})
	}
	finish := n.value("finish", c.Finish)
	for _, f := range p.Counter.o.Studio().Finishes {
		v.Finish = append(v.Finish, option{f.Key, f.Title, f.Key == finish})
	}
	wrong := map[string]string{}
	for _, x := range n.problems {
		wrong[x.What] = p.problemWords(p.frame, x)
	}
	v.FinishWrong = wrong[shop.ChangeFinish]
	v.Wanted = field{n.value("wanted", c.WantedTyped), wrong[shop.ChangeWanted]}
	v.What = field{n.value("what", ""), wrong[shop.ChangeWhat]}
	v.Again = strings.EqualFold(n.value("again", ""), "yes")
	if p.o.Promise.HeldUntil.After(p.Counter.o.Now()) {
		v.Held = quote.DateWords(p.o.Promise.Date)
	}
	s.Change = v
	return s, nil
}
