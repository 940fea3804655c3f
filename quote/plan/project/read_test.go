package project

import (
	"errors"
	"reflect"
	"strings"
	"testing"

	"benchbell/quote/plan"
	"benchbell/quote/plan/schedule"
)

// pat2 is the second of Patterson's instances. Source: Patterson, Management Science 30 (1984), as collected in
// kobe-rcpsp; optimum 7 from the same collection.
const pat2 = `7 3
5 5 3
0 0 0 0 2 2 3
1 2 2 1 2 4 5
2 0 2 1 1 6
2 3 3 3 1 7
3 2 1 3 1 6
2 1 1 0 1 7
0 0 0 0 0
`

// The same project in the two other formats, written by hand from it.
const (
	pat2SM = `PRECEDENCE RELATIONS:
jobnr.    #modes  #successors   successors
   1        1          2           2   3
   2        1          2           4   5
   3        1          1           6
   4        1          1           7
   5        1          1           6
   6        1          1           7
   7        1          0
************************************************************************
REQUESTS/DURATIONS:
jobnr. mode duration  R 1  R 2  R 3
------------------------------------------------------------------------
  1      1     0       0    0    0
  2      1     1       2    2    1
  3      1     2       0    2    1
  4      1     2       3    3    3
  5      1     3       2    1    3
  6      1     2       1    1    0
  7      1     0       0    0    0
************************************************************************
RESOURCEAVAILABILITIES:
  R 1  R 2  R 3
    5    5    3
************************************************************************
`
	pat2SCH = "5\t3\t0\t0\r\n" +
		"0 1 2 1 2 [0] [0]\n1 1 2 3 4 [1] [ 1 ]\n2 1 1 5 [2]\n3 1 1 6 [2]\n4 1 1 5 [3]\n5 1 1 6 [2]\n6 1 0\n" +
		"0 1 0 0 0 0\n1 1 1 2 2 1\n2 1 2 0 2 1\n3 1 2 3 3 3\n4 1 3 2 1 3\n5 1 2 1 1 0\n6 1 0 0 0 0\n5 5 3\n"
)

// Three formats of one project say the same, and Patterson's optimum is found and proved.
func TestFormats(t *testing.T) {
	var first plan.Problem
	for k, text := range []string{pat2, pat2SM, pat2SCH} {
		p, err := Read([]byte(text))
		if err != nil {
			t.Fatalf("%.20q: %v", text, err)
		}
		if k == 0 {
			first = p
		}
		if !reflect.DeepEqual(p, first) {
			t.Errorf("%.20q reads as\n%+v\nnot as\n%+v", text, p, first)
		}
		p.Schedules, p.Seed = 200, 1
		s, err := schedule.Solve(t.Context(), p, nil)
		if err != nil {
			t.Fatal(err)
		}
		if _, makespan := Starts(p, s); makespan != 7 || Periods(p, s.LowerBound) != 7 {
			t.Errorf("%.20q: makespan %d, lower bound %d, want 7 for both", text, makespan, Periods(p, s.LowerBound))
		}
	}
}

// A lag that is no precedence is an offset between starts, one of at least a duration a lag of the shop.
func TestOffsets(t *testing.T) {
	p, err := Read([]byte("2 1 0 0\n0 1 1 1 [0]\n1 1 1 2 [5]\n2 1 2 1 3 [-4] [2]\n3 1 0\n0 1 0 0\n1 1 3 1\n2 1 2 1\n3 1 0 0\n1\n"))
	if err != nil {
		t.Fatal(err)
	}
	want := [][]any{
		{[]plan.Lag(nil), []plan.Offset(nil)},
		{[]plan.Lag(nil), []plan.Offset{{From: "job 1"}, {From: "job 3", Least: -4 * plan.Grid}}},
		{[]plan.Lag{{After: "job 2", Min: 2 * plan.Grid}}, []plan.Offset(nil)},
		{[]plan.Lag{{After: "job 3"}}, []plan.Offset(nil)},
	}
	for i, o := range p.Operations {
		if !reflect.DeepEqual([]any{o.After, o.Offsets}, want[i]) {
			t.Errorf("job %d waits for %+v and %+v, want %+v", i+1, o.After, o.Offsets, want[i])
		}
	}
}

// What is wrong is said with the place.
func TestReadRefuses(t *testing.T) {
	for _, c := range []struct{ name, text, says string }{
		{"words", "a project", "neither .sm, .SCH nor .rcp"},
		{"empty", " \n", "the file is empty"},
		{"a word", strings.Replace(pat2, "2 3 3 3 1 7", "2 x 3 3 1 7", 1), `"x" is not a whole number`},
		{"too large", strings.Replace(pat2, "2 3 3 3 1 7", "2 99999999999 3 3 1 7", 1), `"99999999999" is too large a number`},
		{"a line of a .SCH file", strings.Replace(pat2SCH, "5 5 3", "5 5 x", 1), `line 16: "x" is not a whole number`},
		{"a heading", "jobs (incl. supersource/sink ):  999999999\n" + pat2SM, "says that it has 999999999 jobs, but it has 7 rows"},
		{"short", strings.TrimSuffix(pat2, "0 0 0 0 0\n"), "ends before its last job"},
		{"long", pat2 + "9", "1 numbers after its last job"},
		{"huge", "99999999 3 1 1 1", "give 1 to"},
		{"unknown successor", strings.Replace(pat2, "1 7\n", "1 8\n", 1), "jobs are numbered 1 to 7"},
		{"negative duration", strings.Replace(pat2, "2 3 3 3 1 7", "-2 3 3 3 1 7", 1), "job 4 takes -2"},
		{"two modes", strings.Replace(pat2SM, "  4      1     2", "  4      2     2", 1), "row 4 of the requests"},
		{"no capacities", pat2SM[:strings.Index(pat2SM, "RESOURCEAV")], "0 of availabilities"},
		{"a lag less", strings.Replace(pat2SCH, "[ 1 ]", "", 1), "row 2 of the lags"},
		{"a line less", pat2SCH[:strings.LastIndex(pat2SCH, "5 5 3")], "it must have 16"},
	} {
		_, err := Read([]byte(c.text))
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v, want something with %q", c.name, err, c.says)
		}
	}
}

// What no plan can keep is said in the file's own units.
func TestClash(t *testing.T) {
	for _, c := range []struct{ name, text, says string }{
		{"kept", pat2, ""}, {"kept", pat2SCH, ""}, {"not a project", "x", ""},
		{"demand", strings.Replace(pat2, "2 3 3 3 1 7", "2 3 9 3 1 7", 1), "job 4 needs 9 of resource 2 at once, and there are 5"},
		{"a milestone", strings.Replace(pat2, "0 0 0 0 2 2 3", "0 9 0 0 2 2 3", 1), ""},
		{"circle", strings.Replace(pat2, "2 1 1 0 1 7", "2 1 1 0 1 3", 1), "in a circle that takes 4: "},
		{"window", strings.NewReplacer("4 1 1 5 [3]", "4 1 1 1 [-2]", "[ 1 ]", "[5]").Replace(pat2SCH), "in a circle that takes 3: "},
	} {
		if got := Clash([]byte(c.text)); !strings.Contains(got, c.says) || (c.says == "") != (got == "") {
			t.Errorf("%s: %q, want something with %q", c.name, got, c.says)
		}
	}
	if got := Clash([]byte(strings.Replace(pat2, "2 1 1 0 1 7", "2 1 1 0 1 3", 1))); !strings.Contains(got, "job 6 starts at least 2 after job 3") ||
		!strings.Contains(got, "job 3 starts at least 2 after job 6") {
		t.Errorf("the circle is %s", got)
	}
}

// Whatever is read either is refused or can be planned: no input brings the reader or a short search down, and the planner takes
// whatever the reader does.
func FuzzRead(f *testing.F) {
	for _, s := range []string{pat2, pat2SM, pat2SCH, "1 0\n0 0", "2 1 1 1 1 1 2 1 1 0", "1 1\n0 1 1 1 [5]\n", "0 0 0 0\n0 1 1 0 [3]\n1 1 0\n0 1 2\n1 1 0\n\n"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		p, err := Read(text)
		if err != nil {
			return
		}
		var work plan.Minutes
		for _, o := range p.Operations {
			work += o.Duration
		}
		if len(p.Operations) > 30 || work > 3000*plan.Grid {
			return
		}
		p.Schedules, p.Seed = 3, 1
		_, err = schedule.Solve(t.Context(), p, nil)
		var no *schedule.Impossible
		if err != nil && !errors.As(err, &no) && !errors.Is(err, schedule.ErrNotFound) {
			t.Fatal(err)
		}
	})
}
