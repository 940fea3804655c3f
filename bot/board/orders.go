package board

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"benchbell/bot/shop"
	"benchbell/quote"
)

// Values of the filter by state that are no states.
const (
	openStates = "" // what somebody has to do something about
	allStates  = "all"
)

// stateNames are the states as a list of orders has them, in the words of who looks for what waits.
var stateNames = map[shop.State]string{
	"choosing": "choosing", "measuring": "measuring", "checking": "checking", "computing": "being quoted", "failed": "quote failed", "quoted": "quoted",
	"expired": "quote ran out", "approved": "approved", "working": "in work", "ready": "ready", "delivered": "handed over", "declined": "declined", "cancelled": "cancelled",
}

// orderSorts are what a list can begin with, in the order offered.
var orderSorts = []choice{{Value: "danger", Says: "In danger first"}, {Value: "promise", Says: "Promised first"}, {Value: "waits", Says: "Waiting longest first"},
	{Value: "newest", Says: "Newest first"}, {Value: "client", Says: "By client"}}

// choice is one of several in a list to choose from.
type choice struct {
	Value, Says string
	Chosen      bool
}

func chosen(list []choice, value string) []choice {
	out := slices.Clone(list)
	for i := range out {
		out[i].Chosen = out[i].Value == value
	}
	return out
}

// order is a row of the list.
type order struct {
	ID, Rev            string
	Path, Thread       string
	Client, ClientPath string
	Sets               string
	Danger, Past       bool
	Waits              string // what for, and since when
	Promised, Odds     string
}

// chip is a filter by one press, with how many it has.
type chip struct {
	Says, Path string
	N          int
	Here       bool
}

type ordersView struct {
	frame
	Query      shop.FindOrders
	StateTyped string
	Chips      []chip
	States     []choice
	Makers     []choice
	Sorts      []choice
	Narrowed   bool // by more than words and state
	OfClient   string
	Without    string // the path without the client
	Orders     []order
	ListRev    string
	From, To   int // numbers of the rows shown, from 1
	Prev, Next string
	PastToo    string // the path that looks among what is past, too
}

// Orders answers the page of all commissions.
func (b *Board) Orders(w http.ResponseWriter, r *http.Request, v Visit) error {
	q := r.URL.Query()
	find := shop.FindOrders{Words: q.Get("q"), Client: shop.PersonID(q.Get("client")), Maker: q.Get("maker"), From: q.Get("from"), To: q.Get("to"),
		Sort: shop.OrderSort(q.Get("sort")), Page: pageNumber(q)}
	switch s := q.Get("state"); {
	case s == allStates:
		find.All = true
	case slices.Contains(shop.OrderStates(), shop.State(s)):
		find.State = shop.State(s)
	}
	l, err := see[shop.OrderList](r.Context(), b, v, find)
	if err != nil {
		return err
	}
	return render(w, "orders", b.ordersView(v, q, find, l))
}

// mostPages bounds what is turned to by hand: beyond it the filter is the way.
const mostPages = 10_000

// pageNumber is the page of a list that an address names, from 0.
func pageNumber(q url.Values) int {
	n, err := strconv.Atoi(q.Get("page"))
	if err != nil || n < 1 || n > mostPages {
		return 0
	}
	return n - 1
}

// with is an address with one thing of its query as given; an empty one is left out, and the list begins at its first page.
func with(path string, q url.Values, key, value string) string {
	next := url.Values{}
	for k, v := range q {
		if k != "page" && k != key && len(v) > 0 && v[0] != "" {
			next.Set(k, v[0])
		}
	}
	if value != "" {
		next.Set(key, value)
	}
	if len(next) == 0 {
		return path
	}
	return path + "?" + next.Encode()
}

func (b *Board) ordersView(v Visit, q url.Values, find shop.FindOrders, l shop.OrderList) ordersView {
	o := ordersView{frame: b.frame(v, "Orders", l.At), Query: find, OfClient: l.Client}
	o.StateTyped = string(find.State)
	if find.All {
		o.StateTyped = allStates
	}
	path := o.Base + "orders"
	open, danger := 0, 0
	counted := map[shop.State]int{}
	for _, c := range l.Counts {
		counted[c.State] = c.N
		open += c.N
		danger += c.Danger
	}
	o.Chips = append(o.Chips, chip{Says: "Open", Path: with(path, q, "state", openStates), N: open, Here: o.StateTyped == openStates})
	o.States = []choice{{Value: openStates, Says: "Open"}, {Value: allStates, Says: "All, past ones too"}}
	for _, s := range shop.OrderStates() {
		o.States = append(o.States, choice{Value: string(s), Says: quote.Capital(stateNames[s])})
		if counted[s] > 0 {
			o.Chips = append(o.Chips, chip{Says: quote.Capital(stateNames[s]), Path: with(path, q, "state", string(s)), N: counted[s], Here: find.State == s})
		}
	}
	o.States = chosen(o.States, o.StateTyped)
	o.Makers = append(o.Makers, choice{Says: "Anybody"})
	for _, r := range b.studio().Resources {
		if r.Kind == "maker" {
			o.Makers = append(o.Makers, choice{Value: r.ID, Says: r.Title})
		}
	}
	o.Makers = chosen(o.Makers, find.Maker)
	o.Sorts = chosen(orderSorts, string(find.Sort))
	o.Narrowed = find.Maker != "" || find.From != "" || find.To != "" || find.Sort != ""
	o.Without = with(path, q, "client", "")
	for _, x := range l.Orders {
		o.Orders = append(o.Orders, o.order(x, path))
	}
	o.From, o.To = find.Page*shop.OrdersPage+1, find.Page*shop.OrdersPage+len(o.Orders)
	turn := func(n int) string {
		to := with(path, q, "", "")
		if strings.Contains(to, "?") {
			return to + "&page=" + strconv.Itoa(n+1)
		}
		return to + "?page=" + strconv.Itoa(n+1)
	}
	if find.Page > 0 {
		o.Prev = turn(find.Page - 1)
	}
	if l.More {
		o.Next = turn(find.Page + 1)
	}
	if o.StateTyped == openStates && (find.Words != "" || find.Client != "" || find.From+find.To != "") {
		o.PastToo = with(path, q, "state", allStates)
	}
	o.ListRev = fmt.Sprint(len(o.Orders), o.Next, o.Prev, o.PastToo)
	return o
}

func (f frame) order(x shop.Order, path string) order {
	v := order{ID: "o-" + string(x.ID), Path: f.commissionPath(string(x.ID)), Thread: f.threadPath(string(x.Thread)), Client: x.ClientName,
		ClientPath: path + "?" + url.Values{"client": {string(x.Client)}, "state": {allStates}}.Encode(), Sets: strings.Join(x.Sets, ", "), Danger: x.Danger, Past: x.Past}
	if v.Sets == "" {
		v.Sets = "no set chosen yet"
	}
	v.Waits = f.waitsFor(x)
	if x.Promise != "" {
		v.Promised = f.promised(x.Promise)
		if x.Odds >= 0 && !x.Past && x.State != "ready" {
			v.Odds = fmt.Sprintf("%d of 100", shop.Of100(x.Odds))
		}
	}
	v.Rev = revision(v)
	return v
}

// waitsFor says since when a commission is in its state, and what it waits for: "approved 3 days ago, waits for the deposit".
func (f frame) waitsFor(x shop.Order) string {
	since := f.ago(x.Since)
	picks := ""
	if x.Picks != nil {
		picks = "; the client is to pick a time for the " + string(*x.Picks)
	}
	switch x.State {
	case "choosing":
		return "asked " + since + ", waits for the client to choose"
	case "measuring":
		return "chosen " + since + ", waits for measurements"
	case "checking":
		return "measured " + since + ", waits for the client to confirm the measurements"
	case "computing":
		return "quote asked for " + since + ", is being worked out"
	case "failed":
		return "quote failed " + since + ", waits for the studio"
	case "quoted":
		return "quoted " + since + ", waits for the client's answer" + f.until(", runs out ", x.Ends)
	case "approved":
		return "approved " + since + ", waits for the deposit" + f.until(", due by ", x.Due)
	case "working":
		done := fmt.Sprintf("%d of %d done, ", x.Work.Done, x.Work.All)
		switch n := x.Work.First; {
		case n.State == "running":
			return done + "in hand: " + n.Title + picks
		case n.Op == "":
			return done + "waits for the last coat to dry" + f.until(", ", x.Dries) + picks
		case !x.Dries.IsZero() && x.Dries.After(n.Start):
			return done + "dries until " + f.clock(x.Dries) + picks
		default:
			return done + "next: " + n.Title + ", " + f.clock(n.Start) + picks
		}
	case "ready":
		if picks == "" {
			picks = ", waits to be collected"
		}
		return "finished " + since + picks
	case "expired":
		return "quote ran out " + since
	}
	return stateNames[x.State] + " " + since
}

// until is a moment with words before it; nothing where there is none.
func (f frame) until(words string, t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return words + f.date(t)
}
