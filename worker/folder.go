package main

import (
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// instances lists the files of a folder with one of the endings, which are compared in lower case, and makes the folder for
// what comes of them.
func instances(in, out string, endings ...string) ([]string, error) {
	entries, err := os.ReadDir(in)
	if err != nil {
		return nil, fmt.Errorf("the folder could not be read: %w", err)
	}
	if info, err := os.Stat(out); err == nil && !info.IsDir() {
		return nil, fmt.Errorf("%s is a file; give a folder for -out, since -in is one", out)
	}
	if err := os.MkdirAll(out, 0o755); err != nil {
		return nil, fmt.Errorf("the folder for the results could not be created: %w", err)
	}
	var names []string
	from := map[string]string{}
	for _, e := range entries {
		if e.IsDir() || !slices.Contains(endings, strings.ToLower(filepath.Ext(e.Name()))) {
			continue
		}
		to := resultOf(e.Name())
		if other, double := from[to]; double {
			return nil, fmt.Errorf("%s and %s would both be written to %s; rename one", other, e.Name(), to)
		}
		from[to] = e.Name()
		names = append(names, e.Name())
	}
	if len(names) == 0 {
		last := len(endings) - 1
		return nil, fmt.Errorf("%s has no %s or %s files; put the instances there", in, strings.Join(endings[:last], ", "), endings[last])
	}
	return names, nil
}

// resultOf is the name of the file that an instance's result is written to.
func resultOf(name string) string { return strings.TrimSuffix(name, filepath.Ext(name)) + ".json" }

// writeSummary writes the table of a folder's outcomes, head first, beside the results.
func writeSummary(out string, rows [][]string) error {
	var table strings.Builder
	if err := csv.NewWriter(&table).WriteAll(rows); err != nil {
		return fmt.Errorf("the summary could not be written: %w", err)
	}
	return write(filepath.Join(out, "summary.csv"), []byte(table.String()))
}
