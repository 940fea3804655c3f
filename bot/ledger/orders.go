package ledger

import (
	"slices"
	"strings"
	"time"

	"benchbell/bot/chat"
	"benchbell/quote"
)

// OrderSort says what comes first in a list of commissions.
type OrderSort string

// Sorts.
const (
	DangerFirst  OrderSort = "danger"  // then what is promised first
	PromiseFirst OrderSort = "promise" // what is promised first
	WaitsLongest OrderSort = "waits"   // what is in its state for longest
	NewestFirst  OrderSort = "newest"
	ByClient     OrderSort = "client"
)

// Ranks of a commission among all; the file works them out.
const (
	rankDanger = 0
	rankPast   = 2 // nobody has anything to do any more, unless it is asked for again
)

// pastStates are those in which nobody has anything to do.
var pastStates = []State{Delivered, Declined, Cancelled, Expired}

// OrderWord is a word that was typed. A commission matches with its number, its client's name, or one of the sets it has.
type OrderWord struct {
	Number quote.CommissionID // empty: it is none
	Text   string             // part of the name
	Sets   []string
}

// OrderQuery says which commissions are listed. What is zero does not narrow.
type OrderQuery struct {
	Words  []OrderWord // every one must match
	Open   bool        // without those that are past
	State  State
	Client chat.PersonID
	Maker  string // of the plan, who has work left on it
	// From and To are dates: promised then, both included.
	From, To      string
	Sort          OrderSort
	Limit, Offset int
}

// Order is a commission as it stands in a list.
type Order struct {
	Commission
	Since  time.Time // in its state
	Danger bool      // of the date promised
	Odds   float64   // of the date promised as they were last looked at, or UnknownOdds
	Past   bool
}

var orderSelect = `select c.` + strings.Join(strings.Fields(strings.ReplaceAll(commissionColumns, ",", " ")), ", c.") +
	`, c.state_at, c.rank, coalesce(l.odds, -1) from commissions c left join outlooks l on l.commission = c.id and l.promise = c.promise`

func scanOrder(s scanner) (o Order, err error) {
	var rank int
	err = s.Scan(append(o.Commission.columns(), moment{&o.Since}, &rank, &o.Odds)...)
	o.Danger, o.Past = rank == rankDanger, rank == rankPast
	return o, err
}

// orderBy walks an index of each sort. Of one state that is past, what came into it last comes first where danger would.
func (q OrderQuery) orderBy() string {
	switch q.Sort {
	case PromiseFirst:
		return "c.due, c.rowid"
	case WaitsLongest:
		return "c.state_at, c.rowid"
	case NewestFirst:
		return "c.rowid desc"
	case ByClient:
		return "c.client_name collate nocase, c.rowid"
	}
	if slices.Contains(pastStates, q.State) {
		return "c.state_at desc, c.rowid desc"
	}
	return "c.rank, c.due, c.rowid"
}

// likely escapes what means something in a pattern.
var likely = strings.NewReplacer(`\`, `\\`, `%`, `\%`, `_`, `\_`)

// sql is the query with its arguments. The words are looked for while the index of the sort is walked: names are matched anywhere
// in them, for which no index helps, and ten thousand of them are read in a few milliseconds.
func (q OrderQuery) sql() (text string, args []any) {
	var where []string
	and := func(cond string, v ...any) { where, args = append(where, cond), append(args, v...) }
	if q.State != "" {
		and("c.state = ?", string(q.State))
	} else if q.Open {
		and("c.rank < ?", rankPast)
	}
	if q.Client != "" {
		and("c.client = ?", string(q.Client))
	}
	if q.Maker != "" {
		and(`exists (select 1 from operations o where o.commission = c.id and o.state <> 'done' and instr(o.resources, ?) > 0)`, `"`+q.Maker+`"`)
		and("c.state = 'working'") // places held for quotes are nobody's work yet
	}
	switch {
	case q.From != "" && q.To != "":
		and("c.due between ? and ?", q.From, q.To)
	case q.From != "":
		and("c.due >= ? and c.due < '~'", q.From)
	case q.To != "":
		and("c.due <= ?", q.To)
	}
	for _, w := range q.Words {
		var or []string
		if w.Number != "" {
			or, args = append(or, "c.id = ?"), append(args, string(w.Number))
		}
		or, args = append(or, `c.client_name like ? escape '\'`), append(args, "%"+likely.Replace(w.Text)+"%")
		if len(w.Sets) > 0 {
			or = append(or, `exists (select 1 from items i where i.commission = c.id and i.set_name in (?`+strings.Repeat(",?", len(w.Sets)-1)+`))`)
			for _, s := range w.Sets {
				args = append(args, s)
			}
		}
		and("(" + strings.Join(or, " or ") + ")")
	}
	text = orderSelect
	if len(where) > 0 {
		text += " where " + strings.Join(where, " and ")
	}
	return text + " order by " + q.orderBy() + " limit ? offset ?", append(args, q.Limit, q.Offset)
}

// Orders are the commissions of a query, at most its limit.
func (t *Tx) Orders(q OrderQuery) ([]Order, error) {
	text, args := q.sql()
	return all(t, scanOrder, text, args...)
}

// OpenCount is how many commissions are in a state that is not past, and of how many of them the date is in danger.
type OpenCount struct {
	State     State
	N, Danger int
}

const openCountsSQL = `select state, count(*), count(*) filter (where rank = ?) from commissions indexed by commissions_rank where rank < ? group by state order by state`

// OpenCounts has an entry for each state in which there is one.
func (t *Tx) OpenCounts() ([]OpenCount, error) {
	return all(t, func(s scanner) (o OpenCount, err error) { return o, s.Scan(&o.State, &o.N, &o.Danger) },
		openCountsSQL, rankDanger, rankPast)
}

// Left is the work of a commission that is not done: how much, and what comes first of it.
type Left struct {
	Done, All int
	First     Operation // in hand, or else planned first; zero: all is done
}

// Left of a commission.
func (t *Tx) Left(id quote.CommissionID) (Left, error) {
	ops, err := t.Operations(id)
	l := Left{All: len(ops)}
	for _, o := range ops {
		switch {
		case o.State == Done:
			l.Done++
		case l.First.Op == "", o.State == Running && l.First.State != Running, o.State == l.First.State && o.Start.Before(l.First.Start):
			l.First = o
		}
	}
	return l, err
}

// DriesUntil is when the last cure of a commission ends that still runs; zero where none does.
func (t *Tx) DriesUntil(id quote.CommissionID, now time.Time) (time.Time, error) {
	return one(t, func(s scanner) (at time.Time, err error) { return at, s.Scan(moment{&at}) },
		`select coalesce(max(due_at), '') from bells where commission = ? and due_at > ?`, string(id), stamp(now))
}

// Order is one commission as it stands in a list.
func (t *Tx) Order(id quote.CommissionID) (Order, error) {
	return one(t, scanOrder, orderSelect+` where c.id = ?`, string(id))
}
