// Package project reads published projects as problems of the shop: resource-constrained projects (RCPSP), also with minimum and
// maximum time lags (RCPSP/max), in the open formats .sm, .SCH and .rcp.
//
// A period of the file is a step of the plan's grid in a shop that is open day and night; a job is an operation, one without
// duration a milestone; a resource is a kind of its own and a unit of it a need; a precedence is a lag of the shop, and what ties
// starts otherwise an offset. It refuses what is not written in one of these formats and what is larger than any published
// project, saying where. What it reads is a problem that Starts can write a plan of back in the file's own unit.
//
// Sources: Patterson, Management Science 30 (1984); Kolisch & Sprecher, EJOR 96 (1996); Schwindt, Generation of
// resource-constrained project scheduling problems with minimal and maximal time lags, Karlsruhe (1996).
package project

import (
	"bytes"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"benchbell/quote/plan"
)

// maxText bounds what Read takes, in bytes: fifty times the largest published instance.
const maxText = 8 << 20

// Read reads a single-mode project in one of the open formats, told apart by content: .sm of PSPLIB (it has headings),
// .SCH of ProGen/max (its lags stand in brackets) and .rcp of Patterson (numbers alone). The problem has no budget yet.
func Read(text []byte) (plan.Problem, error) {
	f, err := parse(text)
	if err != nil {
		return plan.Problem{}, err
	}
	return f.problem(), nil
}

// Clash says, in the file's own units, what no plan of a project can keep: a job that asks for more than there is, or times that
// go round in a circle. It is empty where neither is so, and where Read refuses the text.
func Clash(text []byte) string {
	f, err := parse(text)
	if err != nil {
		return ""
	}
	if say := f.excess(); say != "" {
		return say
	}
	return f.circle()
}

func parse(text []byte) (*file, error) {
	if len(text) > maxText {
		return nil, fmt.Errorf("the project has more than %d MB, which no project has", maxText>>20)
	}
	if len(bytes.TrimSpace(text)) == 0 {
		return nil, errors.New("the file is empty; give a project in the format .sm, .SCH or .rcp")
	}
	var f *file
	var err error
	switch s := string(text); {
	case bytes.Contains(text, []byte("REQUESTS/DURATIONS")), bytes.Contains(text, []byte("PRECEDENCE RELATIONS")):
		f, err = readSM(s)
	case bytes.ContainsRune(text, '['):
		f, err = readSCH(s)
	default:
		f, err = readRCP(s)
	}
	if err == nil {
		err = f.validate()
	}
	return f, err
}

// numbers are the whole numbers of a line.
func numbers(line string) ([]int, error) {
	words := strings.Fields(line)
	v := make([]int, len(words))
	for i, w := range words {
		x, err := strconv.ParseInt(w, 10, 32)
		switch {
		case errors.Is(err, strconv.ErrRange):
			return nil, fmt.Errorf("%.20q is too large a number", w)
		case err != nil:
			return nil, fmt.Errorf("%.20q is not a whole number", w)
		}
		v[i] = int(x)
	}
	return v, nil
}

// newFile has room for n activities and m resources, within the limits.
func newFile(n, m int) (*file, error) {
	if n < 1 || n > maxJobs || m < 0 || m > maxResources {
		return nil, fmt.Errorf("the project says it has %d jobs and %d resources, give 1 to %d and 0 to %d", n, m, maxJobs, maxResources)
	}
	return &file{duration: make([]int, n), demand: make([][]int, n)}, nil
}

// readSM reads PSPLIB's single-mode format (Kolisch & Sprecher 1996).
func readSM(s string) (*file, error) {
	var rows [3][][]int // precedence, requests, availabilities
	section, said, at := -1, 0, 0
	for line := range strings.Lines(s) {
		line = strings.TrimSpace(line)
		at++
		switch {
		case section < 0 && strings.HasPrefix(line, "jobs"):
			if _, n, ok := strings.Cut(line, ":"); ok {
				if v, err := numbers(n); err != nil || len(v) != 1 || v[0] < 1 {
					return nil, fmt.Errorf("line %d: the number of jobs must be a whole number above 0", at)
				} else {
					said = v[0]
				}
			}
		case strings.HasPrefix(line, "PRECEDENCE RELATIONS"):
			section = 0
		case strings.HasPrefix(line, "REQUESTS/DURATIONS"):
			section = 1
		case strings.HasPrefix(line, "RESOURCEAVAILABILITIES"):
			section = 2
		case strings.HasPrefix(line, "*"):
			section = -1
		case section < 0, line == "", line[0] < '0' || line[0] > '9': // headings and rulers
		default:
			v, err := numbers(line)
			if err != nil {
				return nil, fmt.Errorf("line %d: %w", at, err)
			}
			rows[section] = append(rows[section], v)
		}
	}
	n := len(rows[1])
	if n == 0 || len(rows[2]) != 1 {
		return nil, fmt.Errorf("the .sm file has %d rows of requests and %d of availabilities, give one for each job and one for the resources", n, len(rows[2]))
	}
	if said != 0 && said != n {
		return nil, fmt.Errorf("the .sm file says that it has %d jobs, but it has %d rows of requests; give one for each job", said, n)
	}
	f, err := newFile(n, len(rows[2][0]))
	if err != nil {
		return nil, err
	}
	f.capacity = rows[2][0]
	for i, v := range rows[1] {
		if len(v) != 3+len(f.capacity) || v[0] != i+1 || v[1] != 1 {
			return nil, fmt.Errorf("row %d of the requests must be job, mode 1, duration and %d demands (one mode only)", i+1, len(f.capacity))
		}
		f.duration[i], f.demand[i] = v[2], v[3:]
	}
	if len(rows[0]) != n {
		return nil, fmt.Errorf("the .sm file has %d rows of precedence for %d jobs, give one for each", len(rows[0]), n)
	}
	for i, v := range rows[0] {
		if len(v) < 3 || v[0] != i+1 || v[1] != 1 || v[2] != len(v)-3 {
			return nil, fmt.Errorf("row %d of the precedences must be job, 1 mode, number of successors and the successors", i+1)
		}
		for _, to := range v[3:] {
			f.arcs = append(f.arcs, arc{i, to - 1, f.duration[i]})
		}
	}
	return f, nil
}

// readSCH reads ProGen/max's format (Schwindt 1998): jobs from 0, start-to-start lags in brackets.
func readSCH(s string) (*file, error) {
	var rows [][]int
	brackets, at := strings.NewReplacer("[", " ", "]", " "), 0
	for line := range strings.Lines(s) {
		at++
		v, err := numbers(brackets.Replace(line))
		if err != nil {
			return nil, fmt.Errorf("line %d: %w", at, err)
		}
		if len(v) > 0 {
			rows = append(rows, v)
		}
	}
	if len(rows) == 0 || len(rows[0]) < 2 {
		return nil, fmt.Errorf("the .SCH file must begin with the numbers of jobs and resources")
	}
	n, m := rows[0][0]+2, rows[0][1]
	f, err := newFile(n, m)
	if err != nil {
		return nil, err
	}
	if len(rows) != 2+2*n {
		return nil, fmt.Errorf("the .SCH file has %d lines, for %d jobs with source and sink it must have %d", len(rows), n-2, 2+2*n)
	}
	for i, v := range rows[1 : 1+n] {
		if len(v) < 3 || v[0] != i || v[1] != 1 || v[2] < 0 || len(v) != 3+2*v[2] {
			return nil, fmt.Errorf("row %d of the lags must be job %d, 1 mode, number of successors, the successors and their lags in brackets", i+1, i)
		}
		for k := range v[2] {
			f.arcs = append(f.arcs, arc{i, v[3+k], v[3+v[2]+k]})
		}
	}
	for i, v := range rows[1+n : 1+2*n] {
		if len(v) != 3+m || v[0] != i || v[1] != 1 {
			return nil, fmt.Errorf("row %d of the demands must be job %d, mode 1, duration and %d demands", i+1, i, m)
		}
		f.duration[i], f.demand[i] = v[2], v[3:]
	}
	if f.capacity = rows[1+2*n]; len(f.capacity) != m {
		return nil, fmt.Errorf("the last line has %d capacities for %d resources", len(f.capacity), m)
	}
	return f, nil
}

// readRCP reads Patterson's format (Patterson 1984): numbers alone, in lines broken anywhere.
func readRCP(s string) (*file, error) {
	v, err := numbers(s)
	if err != nil {
		return nil, fmt.Errorf("the file is neither .sm, .SCH nor .rcp: %w", err)
	}
	short := fmt.Errorf("the .rcp file ends before its last job, or its numbers are out of step")
	if len(v) < 2 {
		return nil, short
	}
	n, m := v[0], v[1]
	f, err := newFile(n, m)
	if err != nil {
		return nil, err
	}
	if v = v[2:]; len(v) < m {
		return nil, short
	}
	f.capacity, v = v[:m:m], v[m:]
	for i := range n {
		if len(v) < 2+m || v[1+m] < 0 || len(v) < 2+m+v[1+m] {
			return nil, short
		}
		f.duration[i], f.demand[i] = v[0], v[1:1+m:1+m]
		k := v[1+m]
		for _, to := range v[2+m : 2+m+k] {
			f.arcs = append(f.arcs, arc{i, to - 1, v[0]})
		}
		v = v[2+m+k:]
	}
	if len(v) > 0 {
		return nil, fmt.Errorf("the .rcp file has %d numbers after its last job", len(v))
	}
	return f, nil
}
