package rcpsp

import (
	"bytes"
	"fmt"
	"strconv"
	"strings"
)

// maxText bounds what Read takes, in bytes: fifty times the largest published instance.
const maxText = 8 << 20

// Read reads a single-mode instance in one of the open formats, told apart by content: .sm of PSPLIB (it has headings),
// .SCH of ProGen/max (its lags stand in brackets) and .rcp of Patterson (numbers alone).
func Read(text []byte) (*Instance, error) {
	if len(text) > maxText {
		return nil, fmt.Errorf("the instance has more than %d MB, which no project has", maxText>>20)
	}
	var in *Instance
	var err error
	switch s := string(text); {
	case bytes.Contains(text, []byte("REQUESTS/DURATIONS")), bytes.Contains(text, []byte("PRECEDENCE RELATIONS")):
		in, err = readSM(s)
	case bytes.ContainsRune(text, '['):
		in, err = readSCH(s)
	default:
		in, err = readRCP(s)
	}
	if err != nil {
		return nil, err
	}
	if err := in.validate(); err != nil {
		return nil, err
	}
	return in, nil
}

// numbers are the whole numbers of a line.
func numbers(line string) ([]int, error) {
	words := strings.Fields(line)
	v := make([]int, len(words))
	for i, w := range words {
		x, err := strconv.ParseInt(w, 10, 32)
		if err != nil {
			return nil, fmt.Errorf("%.40q is no whole number of a sensible size", w)
		}
		v[i] = int(x)
	}
	return v, nil
}

// newInstance has room for n activities and m resources, within the limits.
func newInstance(n, m int) (*Instance, error) {
	if n < 1 || n > maxActivities || m < 0 || m > maxResources {
		return nil, fmt.Errorf("the project says it has %d jobs and %d resources, give 1 to %d and 0 to %d", n, m, maxActivities, maxResources)
	}
	return &Instance{Duration: make([]int, n), Demand: make([][]int, n)}, nil
}

// readSM reads PSPLIB's single-mode format (Kolisch & Sprecher 1996).
func readSM(s string) (*Instance, error) {
	var rows [3][][]int // precedence, requests, availabilities
	section := -1
	for line := range strings.Lines(s) {
		line = strings.TrimSpace(line)
		switch {
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
				return nil, fmt.Errorf("the line %.60q: %w", line, err)
			}
			rows[section] = append(rows[section], v)
		}
	}
	n := len(rows[1])
	if n == 0 || len(rows[2]) != 1 {
		return nil, fmt.Errorf("the .sm file has %d rows of requests and %d of availabilities, give one for each job and one for the resources", n, len(rows[2]))
	}
	in, err := newInstance(n, len(rows[2][0]))
	if err != nil {
		return nil, err
	}
	in.Capacity = rows[2][0]
	for i, v := range rows[1] {
		if len(v) != 3+len(in.Capacity) || v[0] != i+1 || v[1] != 1 {
			return nil, fmt.Errorf("row %d of the requests must be job, mode 1, duration and %d demands (one mode only)", i+1, len(in.Capacity))
		}
		in.Duration[i], in.Demand[i] = v[2], v[3:]
	}
	if len(rows[0]) != n {
		return nil, fmt.Errorf("the .sm file has %d rows of precedence for %d jobs, give one for each", len(rows[0]), n)
	}
	for i, v := range rows[0] {
		if len(v) < 3 || v[0] != i+1 || v[1] != 1 || v[2] != len(v)-3 {
			return nil, fmt.Errorf("row %d of the precedences must be job, 1 mode, number of successors and the successors", i+1)
		}
		for _, to := range v[3:] {
			in.Arcs = append(in.Arcs, Arc{i, to - 1, in.Duration[i]})
		}
	}
	return in, nil
}

// readSCH reads ProGen/max's format (Schwindt 1998): jobs from 0, start-to-start lags in brackets.
func readSCH(s string) (*Instance, error) {
	var rows [][]int
	brackets := strings.NewReplacer("[", " ", "]", " ")
	for line := range strings.Lines(s) {
		v, err := numbers(brackets.Replace(line))
		if err != nil {
			return nil, fmt.Errorf("the line %.60q: %w", strings.TrimSpace(line), err)
		}
		if len(v) > 0 {
			rows = append(rows, v)
		}
	}
	if len(rows) == 0 || len(rows[0]) < 2 {
		return nil, fmt.Errorf("the .SCH file must begin with the numbers of jobs and resources")
	}
	n, m := rows[0][0]+2, rows[0][1]
	in, err := newInstance(n, m)
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
			in.Arcs = append(in.Arcs, Arc{i, v[3+k], v[3+v[2]+k]})
		}
	}
	for i, v := range rows[1+n : 1+2*n] {
		if len(v) != 3+m || v[0] != i || v[1] != 1 {
			return nil, fmt.Errorf("row %d of the demands must be job %d, mode 1, duration and %d demands", i+1, i, m)
		}
		in.Duration[i], in.Demand[i] = v[2], v[3:]
	}
	if in.Capacity = rows[1+2*n]; len(in.Capacity) != m {
		return nil, fmt.Errorf("the last line has %d capacities for %d resources", len(in.Capacity), m)
	}
	return in, nil
}

// readRCP reads Patterson's format (Patterson 1984): numbers alone, in lines broken anywhere.
func readRCP(s string) (*Instance, error) {
	v, err := numbers(s)
	if err != nil {
		return nil, fmt.Errorf("the file is neither .sm, .SCH nor .rcp: %w", err)
	}
	short := fmt.Errorf("the .rcp file ends before its last job, or its numbers are out of step")
	if len(v) < 2 {
		return nil, short
	}
	n, m := v[0], v[1]
	in, err := newInstance(n, m)
	if err != nil {
		return nil, err
	}
	if v = v[2:]; len(v) < m {
		return nil, short
	}
	in.Capacity, v = v[:m:m], v[m:]
	for i := range n {
		if len(v) < 2+m || v[1+m] < 0 || len(v) < 2+m+v[1+m] {
			return nil, short
		}
		in.Duration[i], in.Demand[i] = v[0], v[1:1+m:1+m]
		k := v[1+m]
		for _, to := range v[2+m : 2+m+k] {
			in.Arcs = append(in.Arcs, Arc{i, to - 1, v[0]})
		}
		v = v[2+m+k:]
	}
	if len(v) > 0 {
		return nil, fmt.Errorf("the .rcp file has %d numbers after its last job", len(v))
	}
	return in, nil
}
