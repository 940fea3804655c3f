package gaugetest

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/diff"
)

var update = flag.Bool("update", false, "write the files of testdata anew, to be looked at before they are kept")

// Update says that files of testdata are to be written anew.
func Update() bool { return *update }

// Golden compares with the file kept at the path. Under -update it writes that file instead. What differs is shown: of
// words their lines, of SVG and PDF the pictures, side by side in a folder that the failure names.
func Golden(t testing.TB, path string, got []byte) {
	t.Helper()
	if Update() {
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatalf("%v; -update writes it", err)
	}
	if said := difference(t, path, want, got); said != "" {
		t.Errorf("%s is not what is kept; -update writes it anew once this is understood:\n%s", path, said)
	}
}

// difference says how two versions of a file differ, or "".
func difference(t testing.TB, path string, want, got []byte) string {
	t.Helper()
	if bytes.Equal(want, got) {
		return ""
	}
	switch filepath.Ext(path) {
	case ".svg", ".pdf":
		return picturesDiffer(t, filepath.Base(path), want, got)
	}
	return shorten(string(diff.Diff("kept", want, "now", got)))
}

// shorten keeps a difference readable; what follows is mostly the same again.
func shorten(s string) string {
	const most = 60
	lines := strings.SplitAfterN(s, "\n", most+1)
	if len(lines) <= most {
		return s
	}
	return strings.Join(lines[:most], "") + "and more"
}
