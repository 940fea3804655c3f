// Package settings reads the studio's settings file, studio.toml, and contains that of the invented demo studio, which
// documents every field.
//
// It refuses unknown keys, values out of range, finishes and adhesives not in the cure table, and kinds of work nobody can
// do. It reports all mistakes at once, each with line and field. What always holds: settings it returns can be used to
// quote.
package settings

import (
	"cmp"
	_ "embed"
	"errors"
	"fmt"
	"math"
	"regexp"
	"slices"
	"sort"
	"strconv"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"

	"benchbell/quote"
	"benchbell/quote/cure"
	"benchbell/quote/foam"
	"benchbell/quote/geom"
	"benchbell/quote/labour"
	"benchbell/quote/measure"
	"benchbell/quote/paper"
	"benchbell/quote/plan"
	"benchbell/quote/plan/schedule"
	"benchbell/quote/price"
)

// DemoTOML is the settings file of the invented demo studio; it documents every field.
//
//go:embed studio.toml
var DemoTOML []byte

// maxStudio bounds studio.toml: a real one has a few hundred lines.
const maxStudio = 1 << 20

// Demo is the demo studio's settings.
func Demo() quote.Studio {
	s, err := Parse(DemoTOML)
	if err != nil {
		panic("the built-in studio.toml does not parse: " + err.Error()) // a test parses it
	}
	return s
}

type studioFile struct {
	Name         string   `toml:"name"`
	Address      []string `toml:"address"`
	Contact      string   `toml:"contact"`
	TaxNumber    string   `toml:"tax_number"`
	Paper        string   `toml:"paper"`
	ValidityDays int      `toml:"validity_days"`
	DepositDays  *int     `toml:"deposit_days"`
	HoldDays     *int     `toml:"hold_days"`
	Terms        []string `toml:"terms"`
	Cautions     []string `toml:"cautions"`
	Shop         struct {
		Zone       string    `toml:"zone"`
		StartAfter *int      `toml:"start_after_days"`
		Promise    *int      `toml:"promise_percent"`
		Danger     *int      `toml:"danger_percent"`
		Bias       *float64  `toml:"rates_bias_percent"`
		Rates      *float64  `toml:"rates_spread_percent"`
		Commission *float64  `toml:"commission_spread_percent"`
		Sick       *float64  `toml:"sick_days"`
		Before     []float64 `toml:"quotes_before"`
		Frozen     *int      `toml:"frozen_days"`
		Overtime   *int      `toml:"overtime_percent"`
		Celsius    float64   `toml:"temperature_c"`
		Humidity   float64   `toml:"humidity_percent"`
		Between    []float64 `toml:"humidity_between"`
		Hours      []string  `toml:"hours"`
		Closed     []string  `toml:"closed"`
		Order      []string  `toml:"order"`
	} `toml:"shop"`
	Place []struct {
		ID       string   `toml:"id"`
		Title    string   `toml:"title"`
		Kind     string   `toml:"kind"`
		Capacity *int     `toml:"capacity"`
		Skills   []string `toml:"skills"`
	} `toml:"place"`
	Foam struct {
		NeutralLine *float64 `toml:"neutral_line"`
		Gap         float64  `toml:"gap_mm"`
		Margin      float64  `toml:"margin_mm"`
		Adhesive    string   `toml:"adhesive"`
	} `toml:"foam"`
	Bench struct {
		Tools   []string `toml:"tools"`
		Kerf    float64  `toml:"kerf_mm"`
		Paper   string   `toml:"pattern_paper"`
		Overlap *float64 `toml:"pattern_overlap_mm"`
		Border  *float64 `toml:"printer_border_mm"`
		Padding *float64 `toml:"padding_mm"`
		Packing *float64 `toml:"packing_grams"`
	} `toml:"bench"`
	Appointment struct {
		Fittings    string `toml:"fittings"`
		Notice      *int   `toml:"notice_days"`
		Pictures    *int   `toml:"pictures_days"`
		HandingOver string `toml:"handing_over"`
	} `toml:"appointment"`
	Notice noticesFile `toml:"notice"`
	Money  struct {
		Currency string  `toml:"currency"`
		Rate     string  `toml:"hourly_rate"`
		Markup   float64 `toml:"markup_percent"`
		Waste    float64 `toml:"waste_percent"`
		Discount float64 `toml:"discount_percent"`
		TaxName  string  `toml:"tax_name"`
		Tax      float64 `toml:"tax_percent"`
		TaxRule  string  `toml:"tax_rounding"`
		Deposit  float64 `toml:"deposit_percent"`
		Sheets   string  `toml:"sheets"`
	} `toml:"money"`
	Effort struct {
		Evaluations *int `toml:"evaluations"`
		Schedules   *int `toml:"schedules"`
		Runs        *int `toml:"runs"`
	} `toml:"effort"`
	Sheet []struct {
		Key       string  `toml:"key"`
		Thickness float64 `toml:"thickness_mm"`
		Width     float64 `toml:"width_mm"`
		Height    float64 `toml:"height_mm"`
		Density   float64 `toml:"density_kg_m3"`
		Price     string  `toml:"price"`
	} `toml:"sheet"`
	Liquid []struct {
		Key      string  `toml:"key"`
		Title    string  `toml:"title"`
		PerLitre string  `toml:"per_litre"`
		Spread   float64 `toml:"spread_m2_per_l"`
		Faces    *int    `toml:"faces"`
	} `toml:"liquid"`
	Hardware []struct {
		Key      string  `toml:"key"`
		Title    string  `toml:"title"`
		Each     string  `toml:"each"`
		PerMetre string  `toml:"per_metre"`
		Grams    float64 `toml:"grams"`
	} `toml:"hardware"`
	Finish []struct {
		Key   string `toml:"key"`
		Title string `toml:"title"`
		Note  string `toml:"note"`
		Coats []struct {
			Op       string `toml:"op"`
			Material string `toml:"material"`
			Coats    int    `toml:"coats"`
		} `toml:"coats"`
	} `toml:"finish"`
	Rate []struct {
		Op      string  `toml:"op"`
		Title   string  `toml:"title"`
		Unit    string  `toml:"unit"`
		SetUp   float64 `toml:"set_up_min"`
		PerUnit float64 `toml:"per_unit_min"`
		PerMM   float64 `toml:"per_mm_min"`
		Low     float64 `toml:"low"`
		High    float64 `toml:"high"`
	} `toml:"rate"`
}

// Parse reads studio.toml. An error names the line and the field and says what would be right; all mistakes other than TOML
// syntax errors are reported at once, joined.
func Parse(data []byte) (quote.Studio, error) {
	if len(data) > maxStudio {
		return quote.Studio{}, fmt.Errorf("studio.toml has %d bytes; the limit is %d", len(data), maxStudio)
	}
	var f studioFile
	dec := toml.NewDecoder(strings.NewReader(string(data)))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&f); err != nil {
		return quote.Studio{}, tomlError(err)
	}
	r := studioReader{lines: keyLines(data)}
	s := r.studio(f)
	if len(r.faults) > 0 {
		return quote.Studio{}, errors.Join(r.faults...)
	}
	return s, nil
}

func tomlError(err error) error {
	var strict *toml.StrictMissingError
	if errors.As(err, &strict) && len(strict.Errors) > 0 {
		e := strict.Errors[0]
		line, _ := e.Position()
		return fmt.Errorf("studio.toml line %d: there is no field %q; the documented example lists all fields", line, strings.Join(e.Key(), "."))
	}
	var bad *toml.DecodeError
	if errors.As(err, &bad) {
		line, _ := bad.Position()
		if k := strings.Join(bad.Key(), "."); k != "" {
			if m := mismatch.FindStringSubmatch(bad.Error()); m != nil {
				return fmt.Errorf("studio.toml line %d: field %s is %s, but it must be %s", line, k, named(m[1]), named(m[2]))
			}
			return fmt.Errorf("studio.toml line %d: field %s: %s", line, k, strings.TrimPrefix(bad.Error(), "toml: "))
		}
		say := strings.TrimPrefix(bad.Error(), "toml: ")
		if strings.Contains(say, "at start of value") {
			say += "; give a number, true or false, a text in quotes, or a list in brackets"
		}
		return fmt.Errorf("studio.toml line %d: %s", line, say)
	}
	return fmt.Errorf("studio.toml: %w", err)
}

// mismatch is how the library says that a value is of one type and its field of another.
var mismatch = regexp.MustCompile(`cannot decode TOML (\w+) into .*?([\[\]\w]+)$`)

// named is a type of TOML or Go as the file's author would call it.
func named(kind string) string {
	base := strings.TrimPrefix(kind, "[]")
	name, ok := map[string]string{
		"string": "a text in quotes", "integer": "a whole number", "int": "a whole number", "int64": "a whole number", "float": "a number",
		"float64": "a number", "boolean": "true or false", "bool": "true or false", "array": "a list", "table": "a table",
	}[base]
	switch {
	case !ok:
		return kind
	case base != kind:
		return "a list of " + map[string]string{"a text in quotes": "texts in quotes", "a whole number": "whole numbers", "a number": "numbers"}[name]
	}
	return name
}

// keyLines maps every key path to its line; the n-th element of an array of tables is "sheet.2.price".
func keyLines(data []byte) map[string]int {
	lines := map[string]int{}
	var p unstable.Parser
	p.Reset(data)
	prefix := ""
	counts := map[string]int{}
	path := func(n *unstable.Node) (string, int) {
		var parts []string
		line := 0
		for it := n.Key(); it.Next(); {
			k := it.Node()
			if line == 0 {
				line = p.Shape(k.Raw).Start.Line
			}
			parts = append(parts, string(k.Data))
		}
		return strings.Join(parts, "."), line
	}
	for p.NextExpression() {
		e := p.Expression()
		k, line := path(e)
		switch e.Kind {
		case unstable.Table:
			prefix = k + "."
			lines[k] = line
		case unstable.ArrayTable:
			counts[k]++
			prefix = k + "." + strconv.Itoa(counts[k]) + "."
			lines[strings.TrimSuffix(prefix, ".")] = line
		case unstable.KeyValue:
			lines[prefix+k] = line
		}
	}
	return lines
}

type studioReader struct {
	lines  map[string]int
	faults []error
}

// fault records what is wrong with a field. A missing field is reported at its table.
func (r *studioReader) fault(field, format string, args ...any) {
	line, at := 0, field
	for at != "" && line == 0 {
		line = r.lines[at]
		if i := strings.LastIndexByte(at, '.'); i >= 0 {
			at = at[:i]
		} else {
			at = ""
		}
	}
	if line == 0 {
		line = 1
	}
	r.faults = append(r.faults, fmt.Errorf("studio.toml line %d: field %s: %s", line, field, fmt.Sprintf(format, args...)))
}

func (r *studioReader) text(field, v string) string {
	if strings.TrimSpace(v) == "" {
		r.fault(field, "is missing; give a text")
	}
	return v
}

func (r *studioReader) within(field string, v, low, high float64) float64 {
	if !(v >= low && v <= high) {
		r.fault(field, "is %v; give a number from %v to %v", v, low, high)
	}
	return v
}

func (r *studioReader) orElse(field string, v *float64, def, low, high float64) float64 {
	if v == nil {
		return def
	}
	return r.within(field, *v, low, high)
}

func (r *studioReader) whole(field string, v *int, def, low, high int) int {
	if v == nil {
		return def
	}
	if *v < low || *v > high {
		r.fault(field, "is %d; give a whole number from %d to %d", *v, low, high)
	}
	return *v
}

func (r *studioReader) percent(field string, v, high float64) price.Percent {
	r.within(field, v, 0, high)
	return price.Percent(math.Round(v * 100))
}

func (r *studioReader) money(field, v, currency string) price.Money {
	m, err := price.ParseMoney(v, currency)
	switch {
	case err != nil:
		r.fault(field, "%v", err)
	case m < 0:
		r.fault(field, "is negative; give an amount of zero or more")
	}
	return m
}

func (r *studioReader) unique(field, key string, seen map[string]bool) {
	r.text(field, key)
	if seen[key] {
		r.fault(field, "%q is used twice; give each entry its own key", key)
	}
	seen[key] = true
}

func (r *studioReader) studio(f studioFile) quote.Studio {
	s := quote.Studio{
		Name: r.text("name", f.Name), Address: f.Address, Contact: f.Contact, TaxNumber: f.TaxNumber, Paper: f.Paper,
		Terms: f.Terms, Cautions: f.Cautions,
		Validity:    r.whole("validity_days", &f.ValidityDays, 0, 1, 365),
		DepositDays: r.whole("deposit_days", f.DepositDays, 7, 1, 365),
		Hold:        r.whole("hold_days", f.HoldDays, min(defaultHold, max(1, f.ValidityDays)), 1, 365),
		StartAfter:  r.whole("shop.start_after_days", f.Shop.StartAfter, 3, 0, 60),
		Confidence:  r.whole("shop.promise_percent", f.Shop.Promise, 80, 50, 95),
		Danger:      r.whole("shop.danger_percent", f.Shop.Danger, 60, 1, 95),
		Frozen:      r.whole("shop.frozen_days", f.Shop.Frozen, 2, 0, 60),
		Before:      r.before(f.Shop.Before),
		Spread: plan.Spread{
			Bias:    r.orElse("shop.rates_bias_percent", f.Shop.Bias, 3, -30, 80) / 100,
			Rates:   r.orElse("shop.rates_spread_percent", f.Shop.Rates, 17, 0, 80) / 100,
			Project: r.orElse("shop.commission_spread_percent", f.Shop.Commission, 10, 0, 80) / 100,
			Away:    r.orElse("shop.sick_days", f.Shop.Sick, 7, 0, 100),
		},
		Overtime: r.whole("shop.overtime_percent", f.Shop.Overtime, 50, 0, 500),
		Room: cure.Room{
			Celsius:  r.within("shop.temperature_c", f.Shop.Celsius, -20, 60),
			Humidity: r.within("shop.humidity_percent", f.Shop.Humidity, 1, 99),
		},
		FoamK:       0.5,
		Gap:         geom.MM(r.within("foam.gap_mm", f.Foam.Gap, 0, 100)),
		Margin:      geom.MM(r.within("foam.margin_mm", f.Foam.Margin, 0, 100)),
		Evaluations: r.whole("effort.evaluations", f.Effort.Evaluations, 100000, 0, 100_000_000),
		Schedules:   r.whole("effort.schedules", f.Effort.Schedules, 1500, 1, 1_000_000),
		Runs:        r.whole("effort.runs", f.Effort.Runs, 400, 20, 100_000),
	}
	if s.Paper == "" {
		s.Paper = "A4"
	}
	if s.Paper != "A4" && s.Paper != "Letter" {
		r.fault("paper", "is %q; give \"A4\" or \"Letter\"", s.Paper)
	}
	if s.Confidence != 50 && s.Confidence != 80 && s.Confidence != 95 {
		r.fault("shop.promise_percent", "is %d; give 50, 80 or 95", s.Confidence)
	}
	if s.Hold > s.Validity {
		r.fault("hold_days", "is %d, longer than the quote is valid, validity_days = %d; hold the date at most that long", s.Hold, s.Validity)
	}
	if s.Danger > s.Confidence {
		r.fault("shop.danger_percent", "is %d, more than promise_percent = %d: every promise would be in danger as soon as it is given; give less", s.Danger, s.Confidence)
	}
	if f.Foam.NeutralLine != nil {
		s.FoamK = r.within("foam.neutral_line", *f.Foam.NeutralLine, 0.3, 1)
	}
	r.bench(f, &s)
	s.Appointments = r.appointments(f)
	s.Notices = r.notices(f.Notice)
	s.Calendar = r.calendar(f)
	s.Order = r.order(f)
	kinds, unknown := map[string]bool{}, false
	seen := map[string]bool{}
	for i, p := range f.Place {
		at := fmt.Sprintf("place.%d", i+1)
		r.unique(at+".id", p.ID, seen)
		if p.Kind != "maker" && p.Kind != "bench" && p.Kind != "booth" && p.Kind != "rack" {
			r.fault(at+".kind", "is %q; give \"maker\", \"bench\", \"booth\" or \"rack\"", p.Kind)
			unknown = true
		}
		if len(p.Skills) > 0 && p.Kind != "maker" {
			r.fault(at+".skills", "only makers have skills; leave it out")
		}
		kinds[p.Kind] = true
		s.Resources = append(s.Resources, plan.Resource{ID: p.ID, Title: r.text(at+".title", p.Title), Kind: p.Kind, Capacity: r.whole(at+".capacity", p.Capacity, 1, 1, 100), Skills: p.Skills})
	}
	s.Air = r.air(f)
	for _, k := range []string{"maker", "bench", "booth"} {
		if !kinds[k] && !unknown { // else it is the one that is misnamed
			r.fault("place", "there is no %s; add a [[place]] with kind = %q", k, k)
		}
	}
	r.prices(f, &s)
	r.finishes(f, &s)
	r.skills(&s)
	return s
}

// appointments reads how the studio meets its clients. A fitting is never on the day of cutting, so notice is a day at least.
// Defaults are common practice, no source: two days to take a morning off; a parcel there, an evening, pictures back.
func (r *studioReader) appointments(f studioFile) quote.Appointments {
	a := quote.Appointments{Fittings: quote.How(cmp.Or(f.Appointment.Fittings, string(quote.InPerson))),
		HandingOver: quote.How(cmp.Or(f.Appointment.HandingOver, string(quote.Collect))),
		Notice:      r.whole("appointment.notice_days", f.Appointment.Notice, 2, 1, 30),
		Pictures:    r.whole("appointment.pictures_days", f.Appointment.Pictures, 4, 0, 30)}
	if a.Fittings != quote.InPerson && a.Fittings != quote.ByPictures {
		r.fault("appointment.fittings", "is %q; give %q or %q", a.Fittings, quote.InPerson, quote.ByPictures)
	}
	if a.HandingOver != quote.Collect && a.HandingOver != quote.Ship {
		r.fault("appointment.handing_over", "is %q; give %q or %q", a.HandingOver, quote.Collect, quote.Ship)
	}
	return a
}

// defaultHold is for how many days a quote's date is held: a weekend to think it over and a transfer of money (common
// practice, no source).
const defaultHold = 7

// before is what is believed of quotes before any were counted; without it every share of accepted ones is as likely.
func (r *studioReader) before(b []float64) plan.Chance {
	if b == nil {
		return plan.Chance{Accepted: 1, Lapsed: 1}
	}
	const most = 1000
	if len(b) != 2 || !(b[0] > 0 && b[0] <= most && b[1] > 0 && b[1] <= most) {
		r.fault("shop.quotes_before", "is %v; give how many of earlier quotes were accepted and how many came to nothing, above 0 and at most %d each, such as [6, 4], or [12, 0.5] where none was lost", b, most)
		return plan.Chance{Accepted: 1, Lapsed: 1}
	}
	return plan.Chance{Accepted: b[0], Lapsed: b[1]}
}

// order is what the shop's plan is to be good in, first things first; empty where the file leaves it out.
func (r *studioReader) order(f studioFile) []string {
	if f.Shop.Order == nil {
		return nil
	}
	order, err := schedule.FullOrder(f.Shop.Order)
	if err != nil {
		r.fault("shop.order", "%v", err)
	}
	return order
}

// air is how much shorter and longer water-borne cures get with the day's humidity: at a given temperature they take 1/(1 −
// RH) (package cure).
func (r *studioReader) air(f studioFile) *plan.Air {
	b := f.Shop.Between
	if b == nil {
		return nil
	}
	if len(b) != 2 || !(b[0] > 0 && b[0] <= f.Shop.Humidity && f.Shop.Humidity <= b[1] && b[1] < 100) {
		r.fault("shop.humidity_between", "is %v; give the humidity of the driest and the dampest usual day, on either side of humidity_percent, such as [40, 65]", b)
		return nil
	}
	dry := func(percent float64) float64 { return 1 - percent/100 }
	usual := dry(f.Shop.Humidity)
	return &plan.Air{Low: math.Max(leastAir, usual/dry(b[0])), High: math.Min(mostAir, usual/dry(b[1]))}
}

// Bounds of package plan on the factors of a day's humidity.
const (
	leastAir = 0.1
	mostAir  = 10
)

// skills gives all skills to makers who name none, if others name some, and checks that somebody can do each kind of work.
func (r *studioReader) skills(s *quote.Studio) {
	if !s.Specialists() {
		return
	}
	var ops []string
	for _, x := range s.Rates {
		if x.Op != labour.Final && x.Op != labour.Pictures { // who can do the first fitting can do these
			ops = append(ops, x.Op)
		}
	}
	have := map[string]bool{}
	for i := range s.Resources {
		p := &s.Resources[i]
		if p.Kind != "maker" {
			continue
		}
		if len(p.Skills) == 0 {
			p.Skills = ops
		}
		for _, k := range p.Skills {
			have[k] = true
			if !slices.Contains(ops, k) {
				r.fault(fmt.Sprintf("place.%d.skills", i+1), "%q is not a kind of work; use some of: %s", k, strings.Join(ops, ", "))
			}
		}
	}
	for _, op := range ops {
		if !have[op] {
			r.fault("place", "nobody can do %q; add it to a maker's skills", op)
		}
	}
}

// bench reads what the studio has for cutting and packing; every field may be left out.
func (r *studioReader) bench(f studioFile, s *quote.Studio) {
	or := func(field string, v *float64, def, low, high float64) float64 {
		if v == nil {
			return def
		}
		return r.within("bench."+field, *v, low, high)
	}
	s.Bench = quote.Bench{
		Kerf: geom.MM(r.within("bench.kerf_mm", f.Bench.Kerf, 0, 10)), Paper: f.Bench.Paper,
		Overlap: geom.MM(or("pattern_overlap_mm", f.Bench.Overlap, 10, 8, 40)), Border: geom.MM(or("printer_border_mm", f.Bench.Border, 6, 0, 20)),
		Padding: geom.MM(or("padding_mm", f.Bench.Padding, 40, 0, 200)), Packing: or("packing_grams", f.Bench.Packing, 400, 0, 50_000),
	}
	if s.Bench.Paper == "" {
		s.Bench.Paper = strings.ToLower(s.Paper)
	}
	if _, err := paper.Lookup(s.Bench.Paper); err != nil {
		r.fault("bench.pattern_paper", "%v", err)
	}
	if len(f.Bench.Tools) > maxTools {
		r.fault("bench.tools", "lists %d tools; the limit is %d", len(f.Bench.Tools), maxTools)
		return
	}
	for _, name := range f.Bench.Tools {
		d, err := measure.Parse(name, measure.NoUnit)
		if err != nil || d < 0.5 || d > 50 {
			r.fault("bench.tools", "%q is not a drill or punch size; write it as \"5 mm\" or \"3/16 in\", from 0.5 to 50 mm", name)
			continue
		}
		s.Bench.Tools = append(s.Bench.Tools, foam.Tool{Name: name, Diameter: d})
	}
}

// maxTools is more than any drill cabinet holds.
const maxTools = 200

func (r *studioReader) calendar(f studioFile) plan.Calendar {
	c := plan.Calendar{Zone: f.Shop.Zone, Closed: f.Shop.Closed}
	if _, err := time.LoadLocation(f.Shop.Zone); err != nil || f.Shop.Zone == "" || f.Shop.Zone == "Local" {
		r.fault("shop.zone", "%q is not a time zone; give an IANA name such as \"Europe/Berlin\"", f.Shop.Zone)
	}
	for _, h := range f.Shop.Hours {
		shifts, err := parseHours(h)
		if err != nil {
			r.fault("shop.hours", "%v", err)
			continue
		}
		c.Shifts = append(c.Shifts, shifts...)
	}
	if len(f.Shop.Hours) == 0 {
		r.fault("shop.hours", "is missing; give working hours such as [\"mon-fri 09:00-17:00\"]")
	}
	sort.SliceStable(c.Shifts, func(i, j int) bool {
		a, b := c.Shifts[i], c.Shifts[j]
		if a.Weekday != b.Weekday {
			return a.Weekday < b.Weekday
		}
		return a.From < b.From
	})
	var twice []string
	for i := 1; i < len(c.Shifts); i++ {
		if a, b := c.Shifts[i-1], c.Shifts[i]; a.Weekday == b.Weekday && b.From < a.To && !slices.Contains(twice, a.Weekday.String()) {
			twice = append(twice, a.Weekday.String())
		}
	}
	if len(twice) > 0 {
		r.fault("shop.hours", "two shifts on %s overlap; end one before the next begins", strings.Join(twice, ", "))
	}
	for _, d := range f.Shop.Closed {
		if _, err := time.Parse(time.DateOnly, d); err != nil {
			r.fault("shop.closed", "%q is not a date; write it as \"2026-12-24\"", d)
		}
	}
	return c
}

var weekdays = map[string]time.Weekday{"sun": 0, "mon": 1, "tue": 2, "wed": 3, "thu": 4, "fri": 5, "sat": 6}

// parseHours reads "mon-thu 09:00-12:30" or "sat 10:00-14:00".
func parseHours(text string) ([]plan.Shift, error) {
	wrong := fmt.Errorf("%q is not understood; write days and hours as \"mon-fri 09:00-17:00\"", text)
	days, hours, ok := strings.Cut(strings.TrimSpace(text), " ")
	if !ok {
		return nil, wrong
	}
	first, last, span := strings.Cut(days, "-")
	a, ok1 := weekdays[first]
	b, ok2 := a, true
	if span {
		b, ok2 = weekdays[last]
	}
	from, to, ok3 := strings.Cut(strings.TrimSpace(hours), "-")
	t0, err0 := time.Parse("15:04", from)
	t1, err1 := time.Parse("15:04", to)
	end := t1.Hour()*60 + t1.Minute()
	if to == "24:00" {
		end, err1 = 24*60, nil
	}
	start := t0.Hour()*60 + t0.Minute()
	switch {
	case !ok1 || !ok2 || !ok3 || err0 != nil || err1 != nil:
		return nil, wrong
	case end <= start:
		return nil, fmt.Errorf("%q does not end after it begins; a shift ends on its own day, at 24:00 at the latest", text)
	}
	var out []plan.Shift
	for d := a; ; d = (d + 1) % 7 {
		out = append(out, plan.Shift{Weekday: d, From: start, To: end})
		if d == b {
			return out, nil
		}
	}
}

func (r *studioReader) prices(f studioFile, s *quote.Studio) {
	m := f.Money
	if _, err := price.Digits(m.Currency); err != nil {
		r.fault("money.currency", "%v", err)
		return // no amount can be read without it
	}
	s.Prices = price.Book{
		Currency: m.Currency, Rate: r.money("money.hourly_rate", m.Rate, m.Currency),
		Markup: r.percent("money.markup_percent", m.Markup, 1000), Waste: r.percent("money.waste_percent", m.Waste, 500),
		Discount: r.percent("money.discount_percent", m.Discount, 100), Tax: r.percent("money.tax_percent", m.Tax, 100),
		TaxName: m.TaxName, TaxRule: price.TaxRule(m.TaxRule), Deposit: r.percent("money.deposit_percent", m.Deposit, 100),
		SheetRule: price.SheetRule(m.Sheets),
	}
	if s.Prices.TaxRule != price.TaxPerLine && s.Prices.TaxRule != price.TaxPerInvoice {
		r.fault("money.tax_rounding", "is %q; give \"line\" or \"invoice\"", m.TaxRule)
	}
	if s.Prices.SheetRule != price.WholeSheets && s.Prices.SheetRule != price.SharedSheet {
		r.fault("money.sheets", "is %q; give \"whole\" or \"share\"", m.Sheets)
	}
	seen := map[string]bool{}
	for i, h := range f.Sheet {
		at := fmt.Sprintf("sheet.%d", i+1)
		r.unique(at+".key", h.Key, seen)
		s.Prices.Sheets = append(s.Prices.Sheets, price.Sheet{
			Key: h.Key, Thickness: geom.MM(r.within(at+".thickness_mm", h.Thickness, 0.5, 100)),
			Width: geom.MM(r.within(at+".width_mm", h.Width, 50, 20000)), Height: geom.MM(r.within(at+".height_mm", h.Height, 50, 20000)),
			Density: r.within(at+".density_kg_m3", h.Density, 5, 2000), Price: r.money(at+".price", h.Price, m.Currency),
		})
	}
	seen = map[string]bool{}
	for i, l := range f.Liquid {
		at := fmt.Sprintf("liquid.%d", i+1)
		r.unique(at+".key", l.Key, seen)
		if _, ok := cure.Lookup(l.Key); l.Key != "" && !ok {
			r.fault(at+".key", "%q is not in the cure table; use one of: %s", l.Key, cureKeys())
		}
		s.Prices.Liquids = append(s.Prices.Liquids, price.Liquid{
			Key: l.Key, Title: r.text(at+".title", l.Title), PerLitre: r.money(at+".per_litre", l.PerLitre, m.Currency),
			Spread: r.within(at+".spread_m2_per_l", l.Spread, 0.1, 100), Faces: r.whole(at+".faces", l.Faces, 1, 1, 2),
		})
	}
	if !seen[f.Foam.Adhesive] {
		r.fault("foam.adhesive", "%q has no [[liquid]] entry; add one, or use one that is listed", f.Foam.Adhesive)
	}
	s.Adhesive = f.Foam.Adhesive
	seen = map[string]bool{}
	for i, h := range f.Hardware {
		at := fmt.Sprintf("hardware.%d", i+1)
		r.unique(at+".key", h.Key, seen)
		hw := price.Hardware{Key: h.Key, Title: r.text(at+".title", h.Title), Grams: r.within(at+".grams", h.Grams, 0, 100000)}
		switch {
		case (h.Each == "") == (h.PerMetre == ""):
			r.fault(at+".each", "give either each or per_metre")
		case h.Each != "":
			hw.Each = r.money(at+".each", h.Each, m.Currency)
		default:
			hw.PerMetre = r.money(at+".per_metre", h.PerMetre, m.Currency)
		}
		s.Prices.Hardware = append(s.Prices.Hardware, hw)
	}
}

func (r *studioReader) finishes(f studioFile, s *quote.Studio) {
	priced := map[string]bool{}
	for _, l := range s.Prices.Liquids {
		priced[l.Key] = true
	}
	seen := map[string]bool{}
	for i, x := range f.Finish {
		at := fmt.Sprintf("finish.%d", i+1)
		r.unique(at+".key", x.Key, seen)
		fin := quote.Finish{Key: x.Key, Title: r.text(at+".title", x.Title), Note: x.Note}
		for _, c := range x.Coats {
			if !priced[c.Material] {
				r.fault(at+".coats", "%q has no [[liquid]] entry; add one, or use one that is listed", c.Material)
			}
			r.within(at+".coats", float64(c.Coats), 1, 20)
			fin.Coats = append(fin.Coats, quote.Coat{Op: c.Op, Material: c.Material, Coats: c.Coats})
		}
		s.Finishes = append(s.Finishes, fin)
	}
	if len(f.Finish) == 0 {
		r.fault("finish", "there is no finish; add a [[finish]]")
	}
	rates := labour.DefaultRates()
	for i, x := range f.Rate {
		rate := labour.Rate{Op: x.Op, Title: x.Title, Unit: labour.Unit(x.Unit), SetUp: x.SetUp, PerUnit: x.PerUnit, PerMM: x.PerMM, Low: x.Low, High: x.High}
		if err := (labour.Rates{rate}).Validate(); err != nil {
			r.fault(fmt.Sprintf("rate.%d", i+1), "%v", err)
			continue
		}
		replaced := false
		for j := range rates {
			if rates[j].Op == rate.Op {
				rates[j], replaced = rate, true
			}
		}
		if !replaced {
			rates = append(rates, rate)
		}
	}
	s.Rates = rates
	known := map[string]bool{}
	for _, x := range rates {
		known[x.Op] = true
	}
	for i, fin := range s.Finishes {
		for _, c := range fin.Coats {
			if !known[c.Op] {
				r.fault(fmt.Sprintf("finish.%d.coats", i+1), "there is no labour rate for %q; add a [[rate]], or use one of the built-in ops", c.Op)
			}
		}
	}
}

func cureKeys() string {
	var keys []string
	for _, m := range cure.Materials() {
		keys = append(keys, m.Key)
	}
	return strings.Join(keys, "; ")
}
