package drawing

import (
	"flag"
	"os"
	"testing"
)

var update = flag.Bool("update", false, "write the golden files")

// golden compares with a file, or writes it under -update.
func golden(t *testing.T, path, got string) {
	t.Helper()
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatalf("%v; write it with -update", err)
	}
	if got != string(want) {
		t.Errorf("%s differs; compare, then write it with -update\ngot:\n%s", path, got)
	}
}
