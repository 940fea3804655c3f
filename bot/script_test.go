package main

import (
	"path/filepath"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

// The program as a person in a shell meets it.
func TestScript(t *testing.T) {
	t.Parallel()
	testscript.Run(t, testscript.Params{Dir: "testdata/script", Setup: func(env *testscript.Env) error {
		if raceDetector { // the real program, as in botProgram: the demo's full effort would take minutes
			env.Setenv("PATH", filepath.Dir(shared.build(t, "bot", "build"))+string(filepath.ListSeparator)+env.Getenv("PATH"))
		}
		return nil
	}})
}
