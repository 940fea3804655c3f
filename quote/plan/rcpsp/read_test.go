package rcpsp

import (
	"reflect"
	"strings"
	"testing"
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
	var first *Instance
	for _, text := range []string{pat2, pat2SM, pat2SCH} {
		in, err := Read([]byte(text))
		if err != nil {
			t.Fatalf("%.20q: %v", text, err)
		}
		if first == nil {
			first = in
		}
		if !reflect.DeepEqual(in, first) {
			t.Errorf("%.20q reads as\n%+v\nnot as\n%+v", text, in, first)
		}
		r, err := Solve(in, Options{Schedules: 200, Seed: 1})
		if err != nil {
			t.Fatal(err)
		}
		if r.Makespan != 7 || r.LowerBound != 7 {
			t.Errorf("%.20q: makespan %d, lower bound %d, want 7 for both", text, r.Makespan, r.LowerBound)
		}
	}
}

// What is wrong is said with the place.
func TestReadRefuses(t *testing.T) {
	for _, c := range []struct{ name, text, says string }{
		{"words", "a project", "neither .sm, .SCH nor .rcp"},
		{"empty", "", "ends before its last job"},
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

// Whatever is read either is refused or can be worked with: no input brings the reader or a short search down.
func FuzzRead(f *testing.F) {
	for _, s := range []string{pat2, pat2SM, pat2SCH, "1 0\n0 0", "2 1 1 1 1 1 2 1 1 0", "1 1\n0 1 1 1 [5]\n"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		in, err := Read(text)
		if err != nil {
			return
		}
		if len(in.Duration) > 30 || in.horizon() > 3000 {
			return
		}
		r, err := Solve(in, Options{Schedules: 3, Seed: 1})
		if err != nil {
			t.Fatal(err)
		}
		if r.Status == Feasible {
			if fault := faults(in, r.Start); fault != "" {
				t.Fatal(fault)
			}
		}
	})
}
