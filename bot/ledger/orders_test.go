package ledger

import (
	"fmt"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"benchbell/quote"
)

// plans are the steps in which the file would answer a query.
func plans(t *testing.T, l *Ledger, query string, args ...any) []string {
	t.Helper()
	rows, err := l.db.QueryContext(t.Context(), "explain query plan "+query, args...)
	if err != nil {
		t.Fatalf("%s: %v", query, err)
	}
	defer rows.Close()
	var out []string
	for rows.Next() {
		var id, parent, unused int
		var detail string
		if err := rows.Scan(&id, &parent, &unused, &detail); err != nil {
			t.Fatal(err)
		}
		out = append(out, detail)
	}
	if err := rows.Err(); err != nil {
		t.Fatal(err)
	}
	return out
}

// past is a shop with so many commissions that are over, and some that are not.
func past(t *testing.T, l *Ledger, n int) {
	t.Helper()
	for _, q := range []string{
		fmt.Sprintf(`with recursive k(n) as (select 1 union all select n + 1 from k where n < %d)
			insert into commissions (id, client, client_name, scheme, thread, state, promise, opened_at, changed_at)
			select printf('C%%04d', n), 'browser:' || (n %% 700), 'Client ' || (n %% 700), 'browser', 'browser:t' || n,
				case when n %% 20 = 0 then 'working' when n %% 7 = 0 then 'declined' when n %% 5 = 0 then 'expired' else 'delivered' end,
				case when n %% 7 = 0 then '' else date('2020-01-01', (n / 5) || ' days') end, '2020-01-01T00:00:00.000Z', '2020-01-01T00:00:00.000Z' from k`, n),
		`insert into items (commission, line, set_name, count) select id, 1, case when rowid % 3 = 0 then 'sword' else 'forearm-cuff' end, 1 from commissions`,
		`insert into operations (commission, seq, op, title, grp, kind, start_at, end_at, resources, spans, after, state)
			select id, 1, 'cut', 'Cut', '', 'cut', '2020-01-01T00:00:00.000Z', '2020-01-01T00:00:00.000Z', '["mara"]', '[]', '[]', case state when 'working' then 'planned' else 'done' end from commissions`,
		`insert into outlooks (commission, promise, sure, danger, at) select id, promise, promise, 1, '' from commissions where state = 'working' and rowid % 60 = 0`,
		`insert into messages (commission, kind, person, name, at, text, answered_at) select id, 'words', client, client_name, changed_at, 'hello', case state when 'working' then '' else changed_at end from commissions`,
	} {
		if _, err := l.db.ExecContext(t.Context(), q); err != nil {
			t.Fatalf("%s: %v", q, err)
		}
	}
}

// No query of the lists reads all the commissions there ever were: each is found by an index, or an index is walked in the order
// that is wanted until a page is full. Only typed words walk it to the end where few match.
func TestOrdersReadNoWholeTable(t *testing.T) {
	l := open(t, filepath.Join(t.TempDir(), "ledger.db"))
	past(t, l, 10_500)
	sorts := []OrderSort{DangerFirst, PromiseFirst, WaitsLongest, NewestFirst, ByClient}
	var queries []OrderQuery
	for _, s := range sorts {
		queries = append(queries, OrderQuery{Sort: s}, OrderQuery{Sort: s, Open: true}, OrderQuery{Sort: s, Open: true, Maker: "mara"},
			OrderQuery{Sort: s, Client: "browser:5"}, OrderQuery{Sort: s, From: "2026-01-01", To: "2026-02-01"}, OrderQuery{Sort: s, Open: true, From: "2026-01-01"},
			OrderQuery{Sort: s, Words: []OrderWord{{Text: "jorin", Sets: []string{"sword"}}}})
		for _, st := range append([]State{Approved, Working}, pastStates...) {
			queries = append(queries, OrderQuery{Sort: s, State: st})
		}
	}
	for _, q := range queries {
		q.Limit = 51
		text, args := q.sql()
		for _, step := range plans(t, l, text, args...) {
			switch {
			case strings.HasPrefix(step, "SCAN c") && q.Sort == NewestFirst && step == "SCAN c": // the table itself is in that order
			case strings.HasPrefix(step, "SCAN") && !strings.Contains(step, "USING INDEX commissions_"):
				t.Errorf("%+v reads a whole table: %s", q, step)
			case strings.Contains(step, "USE TEMP B-TREE") && !(q.Open || q.Client != "" || q.From != "" || q.State == Working || q.State == Approved):
				t.Errorf("%+v sorts what it has not narrowed: %s", q, step)
			}
		}
	}
	for _, q := range []string{openMessagesSQL, messagesOfSQL, eventsPageSQL, openCountsSQL, bellsOfSQL, revisionHeadsSQL} {
		args := make([]any, strings.Count(q, "?"))
		for _, step := range plans(t, l, q, args...) {
			if strings.HasPrefix(step, "SCAN") && !strings.Contains(step, "messages_open") {
				t.Errorf("%s reads a whole table: %s", q, step)
			}
		}
	}
	began := time.Now()
	in(t, l, func(tx *Tx) error {
		_, err := tx.Orders(OrderQuery{Words: []OrderWord{{Text: "nobody is called so"}}, Sort: DangerFirst, Limit: 51})
		return err
	})
	t.Logf("a word that nothing matches is looked for among 10,500 in %s", time.Since(began))
}

// What is listed is what the whole list has, narrowed and sorted by hand.
func TestOrdersAreThoseOfTheWholeList(t *testing.T) {
	l := open(t, filepath.Join(t.TempDir(), "ledger.db"))
	past(t, l, 300)
	all := func(q OrderQuery) (out []Order) {
		in(t, l, func(tx *Tx) (err error) {
			out, err = tx.Orders(q)
			return err
		})
		return out
	}
	whole := all(OrderQuery{Sort: NewestFirst, Limit: 1000})
	if len(whole) != 300 {
		t.Fatalf("there are %d", len(whole))
	}
	rapid.Check(t, func(rt *rapid.T) {
		q := OrderQuery{Open: rapid.Bool().Draw(rt, "open"), Limit: rapid.IntRange(1, 60).Draw(rt, "limit"), Offset: rapid.IntRange(0, 80).Draw(rt, "offset"),
			State:  rapid.SampledFrom([]State{"", "", Working, Delivered, Declined}).Draw(rt, "state"),
			Maker:  rapid.SampledFrom([]string{"", "", "mara", "jonas"}).Draw(rt, "maker"),
			From:   rapid.SampledFrom([]string{"", "2020-01-10"}).Draw(rt, "from"),
			To:     rapid.SampledFrom([]string{"", "2020-02-10"}).Draw(rt, "to"),
			Sort:   rapid.SampledFrom([]OrderSort{DangerFirst, PromiseFirst, WaitsLongest, NewestFirst, ByClient}).Draw(rt, "sort"),
			Client: "",
		}
		if rapid.Bool().Draw(rt, "words") {
			w := OrderWord{Text: rapid.SampledFrom([]string{"client 1", "CLIENT", "%", "_"}).Draw(rt, "text")}
			if rapid.Bool().Draw(rt, "sets") {
				w.Sets = []string{"sword"}
			}
			q.Words = []OrderWord{w}
		}
		var want []Order
		for _, o := range whole {
			n, err := strconv.Atoi(string(o.ID)[1:])
			if err != nil {
				rt.Fatal(err)
			}
			switch {
			case q.State != "" && o.State != q.State, q.State == "" && q.Open && slices.Contains(pastStates, o.State),
				q.Maker != "" && (q.Maker != "mara" || o.State != Working),
				(q.From != "" || q.To != "") && o.Promise == "", q.From != "" && o.Promise < q.From, q.To != "" && o.Promise > q.To:
				continue
			}
			if len(q.Words) > 0 && !strings.Contains(strings.ToLower(o.ClientName), strings.ToLower(q.Words[0].Text)) && !(q.Words[0].Sets != nil && n%3 == 0) {
				continue
			}
			want = append(want, o)
		}
		slices.Reverse(want) // by number
		due := func(o Order) string {
			if o.Promise == "" {
				return "~"
			}
			return o.Promise
		}
		rank := func(o Order) int {
			switch {
			case o.Past:
				return 2
			case o.Danger:
				return 0
			}
			return 1
		}
		sorting := q.Sort
		if sorting == DangerFirst && slices.Contains(pastStates, q.State) {
			sorting = NewestFirst // all came into their states at once
		}
		switch sorting {
		case DangerFirst:
			slices.SortStableFunc(want, func(a, b Order) int {
				if d := rank(a) - rank(b); d != 0 {
					return d
				}
				return strings.Compare(due(a), due(b))
			})
		case PromiseFirst:
			slices.SortStableFunc(want, func(a, b Order) int { return strings.Compare(due(a), due(b)) })
		case NewestFirst:
			slices.Reverse(want)
		case ByClient:
			slices.SortStableFunc(want, func(a, b Order) int {
				return strings.Compare(strings.ToLower(a.ClientName), strings.ToLower(b.ClientName))
			})
		}
		want = want[min(q.Offset, len(want)):]
		want = want[:min(q.Limit, len(want))]
		var is, should []quote.CommissionID
		for _, o := range all(q) {
			is = append(is, o.ID)
		}
		for _, o := range want {
			should = append(should, o.ID)
		}
		if !slices.Equal(is, should) {
			rt.Fatalf("%+v lists\n%v, want\n%v", q, is, should)
		}
	})
}

// How long something waits is counted from when it came into its state, whatever else is changed of it, and what is in danger is so
// until it is not, or nobody works on it.
func TestOrdersKnowSinceWhen(t *testing.T) {
	l := open(t, filepath.Join(t.TempDir(), "ledger.db"))
	see := func() (o Order) {
		in(t, l, func(tx *Tx) error {
			os, err := tx.Orders(OrderQuery{Limit: 2})
			if len(os) == 1 {
				o = os[0]
			}
			return err
		})
		return o
	}
	var c Commission
	save := func(at time.Time, s State) {
		in(t, l, func(tx *Tx) error {
			c.State, c.ChangedAt = s, at
			return tx.SaveCommission(c)
		})
	}
	in(t, l, func(tx *Tx) (err error) {
		c, err = tx.NewCommission(Commission{State: Choosing, OpenedAt: noon})
		return err
	})
	if !see().Since.Equal(noon) {
		t.Errorf("asked at %s, it waits since %s", noon, see().Since)
	}
	save(noon.Add(time.Hour), Approved)
	save(noon.Add(2*time.Hour), Approved)
	if want := noon.Add(time.Hour); !see().Since.Equal(want) {
		t.Errorf("it waits since %s, want %s", see().Since, want)
	}
	danger := func(is bool) {
		in(t, l, func(tx *Tx) error {
			return tx.SetOutlook(Outlook{Commission: c.ID, Promise: "2026-12-01", Odds: 0.2, Danger: is}, noon)
		})
	}
	danger(true)
	if !see().Danger {
		t.Error("a date in danger is not shown as such")
	}
	danger(false)
	if see().Danger {
		t.Error("a date that is safe again is in danger")
	}
	danger(true)
	save(noon.Add(3*time.Hour), Cancelled)
	if o := see(); o.Danger || !o.Past {
		t.Errorf("what is cancelled is in danger: %t, past: %t", o.Danger, o.Past)
	}
}
