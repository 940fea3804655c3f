// Package deploy_test checks the deployment files against the programs.
package deploy_test

import (
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

var variable = regexp.MustCompile(`BENCHBELL_[A-Z_]*[A-Z]`)

// TestEveryVariableIsInTheExample also checks that nothing else is, so that the file can be trusted.
func TestEveryVariableIsInTheExample(t *testing.T) {
	read := map[string]string{} // variable to a file that names it
	for _, dir := range []string{"../bot", "../worker"} {
		err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
			if err == nil && d.Name() == "discordtest" {
				return filepath.SkipDir // for tests only
			}
			if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
				return err
			}
			b, err := os.ReadFile(path)
			if err != nil {
				return err
			}
			for _, v := range variable.FindAllString(string(b), -1) {
				read[v] = path
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	b, err := os.ReadFile("benchbell.env.example")
	if err != nil {
		t.Fatal(err)
	}
	var documented []string
	for _, m := range regexp.MustCompile(`(?m)^#(BENCHBELL_[A-Z_]+)=`).FindAllStringSubmatch(string(b), -1) {
		documented = append(documented, m[1])
	}
	for v, path := range read {
		if !slices.Contains(documented, v) {
			t.Errorf("%s names %s, which the example doesn't document", path, v)
		}
	}
	for _, v := range documented {
		if read[v] == "" {
			t.Errorf("the example documents %s, which no program reads", v)
		}
	}
}

// TestFilesNameOnlyKnownVariables catches a misspelt variable in a unit, the compose file or the container file.
func TestFilesNameOnlyKnownVariables(t *testing.T) {
	example, err := os.ReadFile("benchbell.env.example")
	if err != nil {
		t.Fatal(err)
	}
	entries, err := os.ReadDir(".")
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if e.IsDir() || strings.HasSuffix(e.Name(), ".go") {
			continue
		}
		b, err := os.ReadFile(e.Name())
		if err != nil {
			t.Fatal(err)
		}
		for _, v := range variable.FindAllString(string(b), -1) {
			if !strings.Contains(string(example), "#"+v+"=") {
				t.Errorf("%s names %s, which is no variable of bot or worker", e.Name(), v)
			}
		}
	}
}
