// Package gaugetest is what tests are measured against: files kept in testdata, programs and references that are not ours,
// and what a program printed.
//
// It refuses to be part of a program: only tests and packages of test helpers import it. What always holds: a check that
// has nothing to measure against says "did not run" and why, never that it passed; a difference from a kept file is shown,
// as lines or as pictures side by side; nothing is written into the tree without -update.
package gaugetest

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// The environment of a run of tests.
const (
	strict = "BENCHBELL_STRICT"  // "1": what .ci/run installs must be there
	shared = "BENCHBELL_SHARED"  // the folder of references; where it is set, they must be there
	notRun = "BENCHBELL_NOT_RUN" // a file that takes a line for each check that did not run
	python = "/usr/bin/python3"  // whose modules the system's packages install; another python may come first on the path
)

// Strict says that every program that checks need has to be on this machine.
func Strict() bool { return os.Getenv(strict) == "1" }

// Tool is the path of a program that is not ours. Where it is missing the check did not run, and fails where Strict.
func Tool(t testing.TB, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		missing(t, name+" is not installed")
	}
	return path
}

// Python is the path of a Python that can import the module, as Tool.
func Python(t testing.TB, module string) string {
	t.Helper()
	if err := exec.CommandContext(t.Context(), python, "-c", "import "+module).Run(); err != nil {
		missing(t, fmt.Sprintf("%s cannot import %s", python, module))
	}
	return python
}

func missing(t testing.TB, why string) {
	t.Helper()
	if Strict() {
		t.Fatalf("%s, and %s=1 wants it", why, strict)
	}
	DidNotRun(t, why)
}

// References is the folder of references that lies beside the checkout on machines that have it: the survey, published
// instances, checkers and an interface description, which are not ours to hand on. It is "" where there is none.
func References() string { return os.Getenv(shared) }

// Reference is the path of one of the references. A check did not run where there are none, and fails where there are and
// this one is missing.
func Reference(t testing.TB, parts ...string) string {
	t.Helper()
	name := filepath.Join(parts...)
	if References() == "" {
		DidNotRun(t, fmt.Sprintf("%s names no folder of references, to find %s in", shared, filepath.ToSlash(name)))
	}
	path := filepath.Join(References(), name)
	if _, err := os.Stat(path); err != nil {
		t.Fatalf("the reference is missing: %v", err)
	}
	return path
}

// DidNotRun skips a check that has nothing to measure against, and says so where a run is summed up.
func DidNotRun(t testing.TB, why string) {
	t.Helper()
	Note(t, why)
	t.Skip("did not run: " + why)
}

// Note has the run's summary say that a part of a check did not run.
func Note(t testing.TB, why string) {
	t.Helper()
	file := os.Getenv(notRun)
	if file == "" {
		return
	}
	f, err := os.OpenFile(file, os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o644)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if _, err := fmt.Fprintf(f, "%s %s: %s\n", here(), t.Name(), strings.ReplaceAll(why, "\n", " ")); err != nil {
		t.Fatal(err)
	}
}

// here is the folder of the package that is tested, from the module's root.
func here() string {
	dir, err := os.Getwd()
	if err != nil {
		return "?"
	}
	for root := dir; ; root = filepath.Dir(root) {
		if _, err := os.Stat(filepath.Join(root, "go.mod")); err == nil {
			rel, _ := filepath.Rel(root, dir)
			return filepath.ToSlash(rel)
		}
		if root == filepath.Dir(root) {
			return dir
		}
	}
}
