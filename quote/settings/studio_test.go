package settings

import (
	"strconv"
	"strings"
	"testing"

	"benchbell/quote"
	"benchbell/quote/floor"
	"benchbell/quote/plan"
)

func TestDemoStudio(t *testing.T) {
	s, err := Parse(DemoTOML)
	if err != nil {
		t.Fatal(err)
	}
	if s.Prices.Rate != 3400 || s.Prices.Tax != 1900 || len(s.Resources) != 4 || len(s.Calendar.Shifts) != 9 {
		t.Errorf("read as %+v", s)
	}
}

// The order of objectives is a setting; left out, it is the shop's own, and the file says which that is.
func TestOrderIsASetting(t *testing.T) {
	s, err := Parse([]byte(strings.Replace(string(DemoTOML), `# order = [`, `order = ["evenings", "moves"] # [`, 1)))
	if err != nil || len(s.Order) != len(floor.Order()) || s.Order[0] != plan.Evenings || s.Order[1] != plan.Moves {
		t.Errorf("the order is read as %v, %v", s.Order, err)
	}
	if s, err = Parse(DemoTOML); err != nil || s.Order != nil {
		t.Errorf("left out, the order is %v, %v", s.Order, err)
	}
	if said := `order = ["` + strings.Join(floor.Order(), `", "`) + `"]`; !strings.Contains(string(DemoTOML), said) {
		t.Errorf("the file does not say that the default is %s", said)
	}
}

// How clients are met can be left out, and who can do the first fitting can do every fitting.
func TestAppointmentsAreSettings(t *testing.T) {
	table := strings.Index(string(DemoTOML), "[appointment]")
	left := string(DemoTOML)[:table] + string(DemoTOML)[table+strings.Index(string(DemoTOML)[table:], "[money]"):]
	s, err := Parse([]byte(left))
	if want := (quote.Appointments{Fittings: quote.InPerson, Notice: 2, Pictures: 4, HandingOver: quote.Collect}); err != nil || s.Appointments != want {
		t.Errorf("left out, clients are met as %+v, %v", s.Appointments, err)
	}
	all := `skills = ["cut", "bevel", "score", "form", "glue", "layer", "punch", "seal", "prime", "paint", "wash", "clear", "hardware", "fit", "pack"] #`
	if _, err := Parse([]byte(strings.Replace(string(DemoTOML), "# skills", all, 1))); err != nil {
		t.Errorf("a maker who can do all there was before final fittings cannot do it all: %v", err)
	}
}

// Every mistake is reported with its line and field.
func TestStudioFaults(t *testing.T) {
	for _, c := range []struct{ was, is, want string }{
		{`hourly_rate = "34.00"`, `hourly_rate = "thirty"`, "field money.hourly_rate"},
		{`hourly_rate = "34.00"`, `hourly_rate = "-3"`, "negative"},
		{`currency = "EUR"`, `currency = "XQQ"`, "field money.currency"},
		{`tax_rounding = "invoice"`, `tax_rounding = "up"`, `give "line" or "invoice"`},
		{`zone = "Europe/Berlin"`, `zone = "Here"`, "field shop.zone"},
		{`"fri 09:00-14:00"`, `"fri 14:00-09:00"`, "field shop.hours"},
		{`"fri 09:00-14:00"`, `"fri 14:00-09:00"`, "does not end after it begins"},
		{`"fri 09:00-14:00"`, `"thu 09:00-14:00"`, "overlap"},
		{`"fri 09:00-14:00"`, `"mon-thu 09:00-14:00"`, "two shifts on Monday, Tuesday, Wednesday, Thursday overlap"},
		{`start_after_days = 3 `, `start_after_days = 300 `, "a whole number from 0 to 60"},
		{`rates_bias_percent = 3 `, `rates_bias_percent = -50 `, "a number from -30 to 80"},
		{`# quotes_before = [6, 4]`, `quotes_before = [12, 0]`, "or [12, 0.5] where none was lost"},
		{`# order = ["promises", "lateness"`, `order = "moves" #`, "it must be a list of texts in quotes"},
		{`validity_days = 21`, `validity_days = x`, "give a number, true or false, a text in quotes"},
		{`validity_days = 21`, `validity_days = 0`, "field validity_days"},
		{`validity_days = 21`, `validty_days = 21`, `no field "validty_days"`},
		{`temperature_c = 20`, `temperature_c = "warm"`, "field shop.temperature_c is a text in quotes, but it must be a number"},
		{`validity_days = 21`, `validity_days = 2.5`, "field validity_days is a number, but it must be a whole number"},
		{`validity_days = 21`, `validity_days = [21]`, "field validity_days"},
		{`currency = "EUR"`, `currency = 978`, "field money.currency is a whole number, but it must be a text in quotes"},
		{`promise_percent = 80`, `promise_percent = 70`, "50, 80 or 95"},
		{`kind = "booth"`, `kind = "cellar"`, "field place.4.kind"},
		{`# humidity_between = [40, 65]`, `humidity_between = [55, 65]`, "field shop.humidity_between"},
		{`# order = ["promises", "lateness"`, `order = ["promises", "beauty"`, `field shop.order: there is no objective "beauty", use some of: lateness, promises,`},
		{`# order = ["promises", "lateness"`, `order = ["moves", "lateness"`, `the objective "moves" is named twice`},
		{`# skills = ["prime", "paint", "clear"]`, `skills = ["knit"]`, "not a kind of work"},
		{`kind = "booth"`, "kind = \"booth\"\nskills = [\"paint\"]", "only makers have skills"},
		{`pattern_paper = "a4"`, `pattern_paper = "napkin"`, "field bench.pattern_paper"},
		{`tools = ["2 mm"`, `tools = ["two"`, "field bench.tools"},
		{`key = "eva-5-1500x1000"`, `key = "eva-5-1000x500"`, "used twice"},
		{`{ op = "wash", material = "acrylic wash", coats = 1 }`, `{ op = "wash", material = "ink", coats = 1 }`, "field finish.3.coats"},
		{`{ op = "wash", material = "acrylic wash", coats = 1 }`, `{ op = "gild", material = "acrylic wash", coats = 1 }`, "no labour rate"},
		{`each = "0.85"`, ``, "either each or per_metre"},
		{`fittings = "in person"`, `fittings = "by phone"`, `field appointment.fittings: is "by phone"; give "in person" or "pictures"`},
		{`notice_days = 2`, `notice_days = 0`, "field appointment.notice_days: is 0; give a whole number from 1 to 30"},
		{`pictures_days = 4`, `pictures_days = -1`, "field appointment.pictures_days"},
		{`handing_over = "collect"`, `handing_over = "drone"`, `field appointment.handing_over: is "drone"; give "collect" or "ship"`},
		{`name = "Harbour`, `name = Harbour`, "line 5"},
	} {
		text := strings.Replace(string(DemoTOML), c.was, c.is, 1)
		if text == string(DemoTOML) {
			t.Fatalf("%q is not in the file", c.was)
		}
		_, err := Parse([]byte(text))
		if err == nil || !strings.Contains(err.Error(), c.want) || !strings.Contains(err.Error(), "line ") {
			t.Errorf("%s: error %v does not say %q with its line", c.is, err, c.want)
		}
	}
	_, misnamed := Parse([]byte(strings.Replace(string(DemoTOML), `kind = "booth"`, `kind = "oven"`, 1)))
	if misnamed == nil || strings.Contains(misnamed.Error(), "there is no booth") {
		t.Errorf("a place that is misnamed is said to be missing, too: %v", misnamed)
	}
	line := 1 + strings.Count(strings.SplitN(string(DemoTOML), "hourly_rate", 2)[0], "\n")
	_, err := Parse([]byte(strings.Replace(string(DemoTOML), `"34.00"`, `"x"`, 1)))
	if want := "line " + strconv.Itoa(line) + ":"; err == nil || !strings.Contains(err.Error(), want) {
		t.Errorf("error %v does not name %s", err, want)
	}
}

func FuzzParseStudio(f *testing.F) {
	f.Add(DemoTOML)
	f.Add([]byte("name = 1\n[[sheet]]\n[[sheet]]\nkey='a'\n[x.y]\nz={a=1}"))
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := Parse(data)
		if err == nil && (s.Name == "" || len(s.Finishes) == 0) {
			t.Errorf("accepted without a name or a finish: %q", data)
		}
	})
}
