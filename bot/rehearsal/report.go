package rehearsal

import (
	"bytes"
	"cmp"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"benchbell/quote"
	"benchbell/quote/price"
)

// Report is what came of the quarters.
type Report struct {
	settings Settings
	aWeek    float64
	zone     *time.Location
	quarters [][]*quarter // by seed and arm
}

// tally is what is counted of an arm over all its quarters. A promise counts when it was approved and its deposit came in time; it
// is kept when the work was ready by the end of the date first given, whatever was told later. Every one is waited for.
type tally struct {
	Promises       int     `json:"promises"`
	Kept           int     `json:"kept"`
	StatedPercent  float64 `json:"stated_percent"` // the studio's setting
	ToldAgain      int     `json:"told_again"`     // of these, whose client was told another date later, by neither's cause
	Contradictions int     `json:"contradictions"`
	BellsEarly     int     `json:"bells_early"`
	BellsLost      int     `json:"bells_lost"`
	MovedStarts    int     `json:"moved_starts"`

	ToldByClient int `json:"told_again_by_client"` // who paid after the date was held no longer
	ToldByStudio int `json:"told_again_by_studio"` // which was slower than its rates, had a maker away or did work again

	KeptPercent float64 `json:"kept_percent"`
	OddsPercent float64 `json:"odds_percent"` // mean of the odds told with the dates
	MeanLate    float64 `json:"mean_days_late"`
	MostLate    int     `json:"most_days_late"`
	MeanWait    float64 `json:"mean_days_to_promise"` // from approval
	MeanReady   float64 `json:"mean_days_to_ready"`
	Dangers     int     `json:"danger_notices"`
	Quiet       int     `json:"dangers_between_looks"` // that the board did not say, as no act made the shop look

	LateDeposits     int `json:"late_deposits"` // promises that do not count, and how many were kept all the same
	LateDepositsKept int `json:"late_deposits_kept"`
	Anew             int `json:"dates_shown_anew"` // approved after the date was held no longer, for the date as it was then
	Hurts            int `json:"deposits_that_hurt"`
	Replanned        int `json:"replanned"` // acts that may move starts
	Bells            int `json:"bells"`
	Reworked         int `json:"reworked"`

	MakersPercent float64            `json:"makers_percent"` // of their hours, once the shop has filled
	PlacesPercent map[string]float64 `json:"places_percent"` // of the opening hours
	Net           float64            `json:"net"`            // of what was made, in the currency
	Material      float64            `json:"material"`
	Hours         float64            `json:"hours"` // worked in all

	Broken map[string]int `json:"broken"` // laws, by name
	ByOdds []band         `json:"by_odds"`

	name string
	days []int // from the promised date to ready, of those that count
}

// band is what became of the promises whose odds were told within bounds.
type band struct {
	From     int `json:"from_percent"`
	Promises int `json:"promises"`
	Kept     int `json:"kept"`
}

// bands of odds, in percent.
var bands = []int{0, 60, 80, 85, 90, 95}

// fillsUp is how long a shop that begins empty takes to be as full as it will be.
const fillsUp = 3 * 7 * 24 * time.Hour

// days from one date to another.
func daysBetween(from, to string) int {
	a, err := time.Parse(time.DateOnly, from)
	if err != nil {
		return 0
	}
	b, err := time.Parse(time.DateOnly, to)
	if err != nil {
		return 0
	}
	return int(math.Round(b.Sub(a).Hours() / 24))
}

// of counts an arm.
func (r *Report) of(arm int) tally {
	t := tally{Broken: map[string]int{}, PlacesPercent: map[string]float64{}, StatedPercent: float64(r.settings.Studio.Confidence)}
	for _, from := range bands {
		t.ByOdds = append(t.ByOdds, band{From: from})
	}
	digits, err := price.Digits(r.settings.Studio.Prices.Currency)
	if err != nil {
		digits = 0 // settings that were read have one
	}
	unit := math.Pow10(digits)
	var worked, open, late, odds, wait, ready float64
	used := map[string]float64{}
	for _, arms := range r.quarters {
		q := arms[arm]
		t.name = q.name
		for _, id := range q.ids() {
			x := q.commissions[id]
			if x.promised == "" {
				continue
			}
			t.Dangers += x.danger
			if x.anew {
				t.Anew++
			}
			if x.ready.IsZero() {
				continue // never paid for
			}
			t.Net += float64(x.estimate.Net) / unit
			for _, l := range x.estimate.Lines {
				if l.Section != price.Labour {
					t.Material += float64(l.Amount) / unit
				}
			}
			d := daysBetween(x.promised, r.date(x.ready))
			if x.late {
				t.LateDeposits++
				if d <= 0 {
					t.LateDepositsKept++
				}
				continue
			}
			t.Promises++
			t.days = append(t.days, d)
			b := 0
			for b+1 < len(bands) && x.odds >= float64(bands[b+1])/100 {
				b++
			}
			t.ByOdds[b].Promises++
			odds += x.odds
			wait += float64(daysBetween(r.date(x.approved), x.promised))
			ready += float64(daysBetween(r.date(x.approved), r.date(x.ready)))
			if d <= 0 {
				t.Kept++
				t.ByOdds[b].Kept++
			} else {
				late += float64(d)
				t.MostLate = max(t.MostLate, d)
			}
			switch x.cause {
			case clients:
				t.ToldByClient++
			case studios:
				t.ToldByStudio++
			case nobodys:
				t.ToldAgain++
			}
		}
		for what, n := range q.broken {
			t.Broken[what] += n
			t.Contradictions += n
		}
		t.BellsEarly, t.BellsLost, t.Bells = t.BellsEarly+q.early, t.BellsLost+q.lost(), t.Bells+q.rung
		t.MovedStarts, t.Replanned = t.MovedStarts+q.moved, t.Replanned+q.replanned
		t.Quiet += q.quiet
		t.Hurts, t.Reworked = t.Hurts+q.hurts, t.Reworked+q.reworked
		for _, m := range q.makers {
			worked += m.worked.Hours()
			t.Hours += m.all.Hours()
		}
		h := q.hours.between(q.full(), q.end).Hours()
		open += h * float64(len(q.makers))
		for _, p := range q.studio.Resources {
			if p.Kind != "maker" {
				used[p.Title] += q.used[p.ID].Hours()
				t.PlacesPercent[p.Title] += 100 * h * float64(p.Capacity)
			}
		}
	}
	n := float64(t.Promises)
	t.KeptPercent, t.OddsPercent = rounded(100*share(float64(t.Kept), n)), rounded(100*share(odds, n))
	t.MeanLate, t.MeanWait, t.MeanReady = rounded(share(late, n-float64(t.Kept))), rounded(share(wait, n)), rounded(share(ready, n))
	t.MakersPercent = rounded(100 * share(worked, open))
	for k, h := range t.PlacesPercent {
		t.PlacesPercent[k] = rounded(100 * share(100*used[k], h))
	}
	t.Net, t.Material, t.Hours = rounded(t.Net), rounded(t.Material), rounded(t.Hours)
	return t
}

// full is when the load of a quarter is measured from.
func (q *quarter) full() time.Time {
	if at := q.first().Add(fillsUp); at.Before(q.end) {
		return at
	}
	return q.first()
}

func share(a, b float64) float64 {
	if b <= 0 {
		return 0
	}
	return a / b
}

func rounded(x float64) float64 { return math.Round(x*10) / 10 }

func (r *Report) date(t time.Time) string { return t.In(r.zone).Format(time.DateOnly) }

func (r *Report) tallies() (out []tally) {
	for k := range r.quarters[0] {
		out = append(out, r.of(k))
	}
	return out
}

// File is one of the report's files.
type File struct {
	Name string
	Data []byte
}

// Files are rehearsal.json, with the counts of the promised arm at its top level and those of the others under their names, a table of
// all commissions and one of all quarters, and a picture.
func (r *Report) Files() ([]File, error) {
	all := r.tallies()
	type top struct {
		Studio string  `json:"studio"`
		Weeks  int     `json:"weeks"`
		Seed   uint64  `json:"seed"`
		Seeds  int     `json:"seeds"`
		Load   int     `json:"load_percent"`
		AWeek  float64 `json:"clients_a_week"`
		tally
		Alone   tally  `json:"as_if_alone"`
		OneMore *tally `json:"one_more_maker,omitempty"`
	}
	s := r.settings
	x := top{Studio: s.Studio.Name, Weeks: s.Weeks, Seed: s.Seed, Seeds: s.Seeds, Load: s.Load, AWeek: rounded(r.aWeek), tally: all[0], Alone: all[1]}
	if len(all) > 2 {
		x.OneMore = &all[2]
	}
	text, err := json.MarshalIndent(x, "", "  ")
	if err != nil {
		return nil, err
	}
	scene := picture(s.Studio.Name, s.span(), all)
	png, err := scene.PNG(pixels)
	if err != nil {
		return nil, fmt.Errorf("the picture could not be painted: %w", err)
	}
	commissions, err := r.commissionsCSV()
	if err != nil {
		return nil, err
	}
	quarters, err := r.quartersCSV()
	return []File{{"rehearsal.json", append(text, '\n')}, {"commissions.csv", commissions}, {"quarters.csv", quarters}, {"rehearsal.png", png}}, err
}

func (r *Report) commissionsCSV() ([]byte, error) {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	rows := [][]string{{"seed", "arm", "commission", "asked", "approved", "promised", "odds", "deposit", "deposit_late", "ready", "days_late", "told_again", "cause", "danger_notices", "net"}}
	for n, arms := range r.quarters {
		for _, q := range arms {
			for _, id := range q.ids() {
				x := q.commissions[id]
				row := []string{fmt.Sprint(r.settings.Seed + uint64(n)), q.name, string(id), r.date(x.asked), "", x.promised, "", "", "", "", "", strings.Join(x.told, " "), string(x.cause), strconv.Itoa(x.danger), ""}
				if x.promised != "" {
					row[4], row[6], row[8] = r.date(x.approved), strconv.FormatFloat(x.odds, 'f', 3, 64), strconv.FormatBool(x.late)
					row[14] = x.estimate.Net.Format(x.estimate.Currency)
				}
				if !x.paid.IsZero() {
					row[7] = r.date(x.paid)
				}
				if !x.ready.IsZero() {
					row[9] = r.date(x.ready)
					row[10] = strconv.Itoa(daysBetween(x.promised, r.date(x.ready)))
				}
				rows = append(rows, row)
			}
		}
	}
	err := w.WriteAll(rows)
	return b.Bytes(), err
}

func (r *Report) quartersCSV() ([]byte, error) {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	rows := [][]string{{"seed", "arm", "real_time_over_book", "clients", "promises", "kept", "told_again", "contradictions", "bells_early", "bells_lost", "moved_starts", "makers_percent"}}
	for n, arms := range r.quarters {
		for k, q := range arms {
			t := (&Report{settings: r.settings, zone: r.zone, quarters: [][]*quarter{arms}}).of(k)
			rows = append(rows, []string{fmt.Sprint(r.settings.Seed + uint64(n)), q.name, strconv.FormatFloat(q.world.rates, 'f', 3, 64), strconv.Itoa(len(q.clients)), strconv.Itoa(t.Promises),
				strconv.Itoa(t.Kept), strconv.Itoa(t.ToldAgain), strconv.Itoa(t.Contradictions), strconv.Itoa(t.BellsEarly), strconv.Itoa(t.BellsLost), strconv.Itoa(t.MovedStarts),
				strconv.FormatFloat(t.MakersPercent, 'f', 1, 64)})
		}
	}
	err := w.WriteAll(rows)
	return b.Bytes(), err
}

// span says what was played: "13 weeks, seeds 1 to 3".
func (s Settings) span() string {
	seeds := fmt.Sprintf("seed %d", s.Seed)
	if s.Seeds > 1 {
		seeds = fmt.Sprintf("seeds %d to %d", s.Seed, s.Seed+uint64(s.Seeds)-1)
	}
	return price.Counted(s.Weeks, "week") + ", " + seeds
}

// short reports whether the weeks are too few for the load of a full shop to be measured.
func (s Settings) short() bool { return time.Duration(s.Weeks)*7*24*time.Hour < 2*fillsUp }

// Table is the report in words and numbers.
func (r *Report) Table() string {
	var b strings.Builder
	s, all := r.settings, r.tallies()
	fmt.Fprintf(&b, "%s, rehearsed for %s; %.1f clients ask in a week\n\n", s.Studio.Name, s.span(), r.aWeek)
	line := func(name string, f func(t tally) string) {
		fmt.Fprintf(&b, "%-46s", name)
		for _, t := range all {
			fmt.Fprintf(&b, "%16s", f(t))
		}
		b.WriteString("\n")
	}
	percent := func(n, of int) string {
		return fmt.Sprintf("%d = %.1f %%", n, 100*share(float64(n), float64(of)))
	}
	line("", func(t tally) string { return t.name })
	line("promises", func(t tally) string { return strconv.Itoa(t.Promises) })
	line(fmt.Sprintf("kept (%d %% are wanted)", s.Studio.Confidence), func(t tally) string { return percent(t.Kept, t.Promises) })
	line("odds told, mean", func(t tally) string { return fmt.Sprintf("%.1f %%", t.OddsPercent) })
	for k, from := range bands {
		if !slices.ContainsFunc(all, func(t tally) bool { return t.ByOdds[k].Promises > 0 }) {
			continue
		}
		to := "100"
		if k+1 < len(bands) {
			to = strconv.Itoa(bands[k+1])
		}
		line(fmt.Sprintf("  kept of those told with %d to %s %%", from, to), func(t tally) string {
			return fmt.Sprintf("%d of %d", t.ByOdds[k].Kept, t.ByOdds[k].Promises)
		})
	}
	line("days late, mean of those; most", func(t tally) string { return fmt.Sprintf("%.1f; %d", t.MeanLate, t.MostLate) })
	line("days from approval to the date; to ready", func(t tally) string { return fmt.Sprintf("%.1f; %.1f", t.MeanWait, t.MeanReady) })
	line("told a second date, by nobody's cause", func(t tally) string { return percent(t.ToldAgain, t.Promises) })
	line("  by the client's (paid after hold); studio's", func(t tally) string { return fmt.Sprintf("%d; %d", t.ToldByClient, t.ToldByStudio) })
	line("danger notices", func(t tally) string { return strconv.Itoa(t.Dangers) })
	line("in danger by time passing, not on the board", func(t tally) string { return strconv.Itoa(t.Quiet) })
	line("deposit too late, does not count; kept", func(t tally) string { return fmt.Sprintf("%d; %d", t.LateDeposits, t.LateDepositsKept) })
	line("approved late, for the date as it was then", func(t tally) string { return strconv.Itoa(t.Anew) })
	line("deposits that hurt a promise", func(t tally) string { return strconv.Itoa(t.Hurts) })
	line("starts moved; in each plan", func(t tally) string {
		return fmt.Sprintf("%d; %.0f", t.MovedStarts, share(float64(t.MovedStarts), float64(t.Replanned)))
	})
	line("contradictions", func(t tally) string { return strconv.Itoa(t.Contradictions) })
	for _, what := range []string{wrongPromise, wrongOdds, disagree, falseDanger, saidTwice, unsaid} {
		if slices.ContainsFunc(all, func(t tally) bool { return t.Broken[what] > 0 }) {
			line("  "+what, func(t tally) string { return strconv.Itoa(t.Broken[what]) })
		}
	}
	line("bells; early; lost", func(t tally) string { return fmt.Sprintf("%d; %d; %d", t.Bells, t.BellsEarly, t.BellsLost) })
	load := func(share float64) string {
		if s.short() {
			return "too few weeks"
		}
		return fmt.Sprintf("%.1f %%", share)
	}
	line("makers at work, of their hours", func(t tally) string { return load(t.MakersPercent) })
	for _, p := range places(s.Studio) {
		line(strings.ToLower(p[:1])+p[1:]+" in use", func(t tally) string { return load(t.PlacesPercent[p]) })
	}
	line("operations done again", func(t tally) string { return strconv.Itoa(t.Reworked) })
	line("net, material in it, "+s.Studio.Prices.Currency, func(t tally) string { return fmt.Sprintf("%.0f; %.0f", t.Net, t.Material) })
	line("hours worked; each earns, "+s.Studio.Prices.Currency, func(t tally) string {
		return fmt.Sprintf("%.0f; %.2f", t.Hours, share(t.Net-t.Material, t.Hours))
	})
	if len(all) > 2 {
		b.WriteString("\n" + r.oneMore(all[0], all[2]) + "\n")
	}
	return b.String()
}

// oneMore says what one more maker would change for the same clients, and what they would have to bring.
func (r *Report) oneMore(was, is tally) string {
	s := r.settings.Studio
	if r.settings.short() {
		return fmt.Sprintf("One more maker for the same clients: dates are %.1f days earlier, and %.1f %% are kept instead of %.1f %%. What they would cost and bring is not said of so few weeks.",
			was.MeanWait-is.MeanWait, is.KeptPercent, was.KeptPercent)
	}
	h := openHours(s.Calendar, r.zone, firstMonday, firstMonday.AddDate(0, 0, 7*r.settings.Weeks))
	hours := h.between(firstMonday, firstMonday.AddDate(0, 0, 7*r.settings.Weeks)).Hours() / float64(r.settings.Weeks)
	earns := share(was.Net-was.Material, was.Hours)
	n := float64(len(makersOf(s)))
	return fmt.Sprintf("One more maker for the same clients: dates are %.1f days earlier, %.1f %% are kept instead of %.1f %%, and makers are at work %.0f %% of their hours instead of %.0f %%. "+
		"They are paid for %.0f hours a week. As full as now they would bring %.0f %s a week in work, for which %.1f more clients a week would have to ask.",
		was.MeanWait-is.MeanWait, is.KeptPercent, was.KeptPercent, is.MakersPercent, was.MakersPercent,
		hours, hours*was.MakersPercent/100*earns, s.Prices.Currency, share(r.aWeek, n))
}

// places are the titles of what is no maker, each once, in the order of the settings.
func places(st quote.Studio) (out []string) {
	for _, r := range st.Resources {
		if r.Kind != "maker" && r.Title != "" && !slices.Contains(out, r.Title) {
			out = append(out, r.Title)
		}
	}
	slices.SortStableFunc(out, cmp.Compare[string])
	return out
}

// Broken are examples of contradictions, a few of each quarter.
func (r *Report) Broken() []string {
	var out []string
	for n, arms := range r.quarters {
		for _, q := range arms {
			for _, e := range q.examples {
				out = append(out, fmt.Sprintf("seed %d, %s: %s", r.settings.Seed+uint64(n), q.name, e))
			}
		}
	}
	return out
}
