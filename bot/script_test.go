package main

import (
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

// The program as a person in a shell meets it.
func TestScript(t *testing.T) {
	t.Parallel()
	testscript.Run(t, testscript.Params{Dir: "testdata/script"})
}
