package board_test

import (
	"database/sql"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"benchbell/bot/shop"
)

// copies are made of commissions that came to be by real acts, since acts for ten thousand would take hours: all their rows but the
// trail of acts done, under other numbers and clients, and for what is past without the quotes' text, whose thousands of megabytes no page reads.
type copies struct {
	of    string // the commission that is copied
	n     int
	state string // as copied; empty: as it is
	past  bool
}

// multiply copies rows of the ledger, from a connection of its own.
func (h *house) multiply(list []copies) {
	h.t.Helper()
	db, err := sql.Open("sqlite", "file:"+h.path+"?_pragma=busy_timeout(10000)&_pragma=foreign_keys(1)&_txlock=immediate")
	if err != nil {
		h.t.Fatal(err)
	}
	defer db.Close()
	db.SetMaxOpenConns(1)
	tx, err := db.BeginTx(h.t.Context(), nil)
	if err != nil {
		h.t.Fatal(err)
	}
	defer tx.Rollback()
	columns := func(table string, with map[string]string) (names, values string) {
		rows, err := tx.QueryContext(h.t.Context(), `select name from pragma_table_info(?)`, table)
		if err != nil {
			h.t.Fatal(err)
		}
		defer rows.Close()
		var ns, vs []string
		for rows.Next() {
			var n string
			if err := rows.Scan(&n); err != nil {
				h.t.Fatal(err)
			}
			ns = append(ns, n)
			if v, ok := with[n]; ok {
				vs = append(vs, v)
			} else {
				vs = append(vs, "t."+n)
			}
		}
		if err := rows.Err(); err != nil {
			h.t.Fatal(err)
		}
		return strings.Join(ns, ", "), strings.Join(vs, ", ")
	}
	next := 1000
	for _, c := range list {
		id := fmt.Sprintf("printf('C%%04d', %d + k.n)", next)
		series := fmt.Sprintf("with recursive k(n) as (select 1 union all select n + 1 from k where n < %d) ", c.n)
		copy := func(table, key string, with map[string]string) {
			with[key] = id
			names, values := columns(table, with)
			if table == "events" || table == "messages" { // numbered by the file
				names, values = strings.TrimPrefix(names, "n, "), strings.TrimPrefix(values, "t.n, ")
			}
			q := fmt.Sprintf("%s insert into %s (%s) select %s from k, %s t where t.%s = ?", series, table, names, values, table, key)
			if _, err := tx.ExecContext(h.t.Context(), q, c.of); err != nil {
				h.t.Fatalf("%s: %v", q, err)
			}
		}
		com := map[string]string{"client": fmt.Sprintf("'browser:copy-' || ((%d + k.n) %% 900)", next), "client_name": fmt.Sprintf("'Client ' || ((%d + k.n) %% 900)", next), "thread": "''"}
		ops, rev, bell, says := map[string]string{}, map[string]string{}, map[string]string{"id": id + " || '/' || t.seq"}, map[string]string{}
		if c.state != "" {
			com["state"] = "'" + c.state + "'"
		}
		if c.past {
			com["promise"] = "case t.promise when '' then '' else date('2020-01-01', (k.n / 5) || ' days') end"
			ops["state"], ops["done_at"], rev["quote"], bell["rung_at"], says["answered_at"] = "'done'", "t.start_at", "'{}'", "t.due_at", "t.at"
		}
		copy("commissions", "id", com)
		copy("items", "commission", map[string]string{})
		copy("measurements", "commission", map[string]string{})
		copy("revisions", "commission", rev)
		copy("operations", "commission", ops)
		copy("bells", "commission", bell)
		copy("promises", "commission", map[string]string{})
		copy("appointments", "commission", map[string]string{})
		copy("approvals", "commission", map[string]string{})
		copy("messages", "commission", says)
		copy("events", "commission", map[string]string{})
		next += c.n
	}
	if err := tx.Commit(); err != nil {
		h.t.Fatal(err)
	}
}

// crowded is a shop with 500 open commissions, of which 120 are in work, and so many past ones.
func crowded(t testing.TB, past int) *house {
	h := newHouse(t)
	h.fill(2)
	h.do(h.client(3), shop.Ask{Set: "forearm-cuff"})
	h.do(h.client(4), shop.Ask{Set: "forearm-cuff"})
	of := shop.On("C0004")
	h.do(h.client(4), shop.ChooseFinish{Of: of, Finish: studio().Finishes[0].Key})
	h.do(h.client(4), shop.Measure{Of: of})
	h.do(h.client(4), shop.GiveMeasurements{Of: of, Typed: body})
	h.do(h.client(4), shop.Confirm{Of: of})
	h.answer("C0004")
	h.wait(begun)
	h.work(12)
	h.do(h.client(1), shop.Say{Of: shop.On("C0001"), Words: "Can the edge be darker than in the picture?"})
	h.multiply([]copies{{of: "C0001", n: 60}, {of: "C0002", n: 58}, {of: "C0004", n: 120}, {of: "C0002", n: 40, state: "approved"}, {of: "C0003", n: 218},
		{of: "C0001", n: past * 7 / 10, state: "delivered", past: true}, {of: "C0004", n: past / 10, state: "expired", past: true},
		{of: "C0004", n: past / 10, state: "declined", past: true}, {of: "C0003", n: past / 10, state: "cancelled", past: true}})
	return h
}

// Bars of a page.
const (
	mostTime  = 100 * time.Millisecond // p95, of the server
	mostBytes = 300_000
)

// BenchmarkPages takes the time of each page from request to its last byte with 500 open and 10,000 past commissions.
func BenchmarkPages(b *testing.B) {
	began := time.Now()
	h := crowded(b, 10_000)
	b.Logf("the shop was made in %s", time.Since(began).Round(time.Second))
	p := h.sit("studio", "")
	for _, x := range []struct{ name, path string }{{"orders", "orders"}, {"orders-words", "orders?q=client+77&state=all"}, {"orders-nothing", "orders?q=nobody+so+called&state=all"},
		{"orders-past", "orders?state=delivered&page=40"}, {"orders-maker", "orders?maker=mara&sort=waits"}, {"orders-dates", "orders?state=all&from=2020-03-01&to=2020-04-01&sort=promise"},
		{"messages", "messages"}, {"commission", "commission?of=C0001"}, {"commission-past", "commission?of=C5000"}, {"today", "today"}, {"curing", "curing"}} {
		b.Run(x.name, func(b *testing.B) {
			var took []time.Duration
			size := 0
			for b.Loop() {
				began := time.Now()
				size = len(p.get(p.base+x.path, http.StatusOK))
				took = append(took, time.Since(began))
			}
			slices.Sort(took)
			b.ReportMetric(float64(took[len(took)*95/100].Microseconds())/1000, "p95-ms")
			b.ReportMetric(float64(size)/1000, "kB")
		})
	}
}

// Pages of the lists and of a commission are as fast, and as long, with a thousand past commissions as they must be with ten times as
// many; how long each takes with ten thousand says BenchmarkPages.
func TestPagesAtScale(t *testing.T) {
	if testing.Short() {
		t.Skip("it copies a thousand commissions")
	}
	h := crowded(t, 1000)
	p := h.sit("studio", "")
	for _, path := range []string{"orders", "orders?q=client+77&state=all", "orders?state=delivered&page=4", "messages", "commission?of=C0001", "commission?of=C1500"} {
		var took []time.Duration
		size := 0
		for range 5 {
			began := time.Now()
			size = len(p.get(p.base+path, http.StatusOK))
			took = append(took, time.Since(began))
		}
		slices.Sort(took)
		t.Logf("%s: %s at the median, %d bytes", path, took[2], size)
		if size > mostBytes {
			t.Errorf("%s has %d bytes", path, size)
		}
		if took[0] > mostTime { // the fastest: the machine may be busy
			t.Errorf("%s takes %s", path, took[0])
		}
	}
}
