package main

import (
	"bytes"
	"strings"
	"testing"
)

// A refusal to start is one sentence, not buried under what a queue server says that was started before it.
func TestRefusalsToStartAreQuiet(t *testing.T) {
	for listen, want := range map[string]string{"off": "nowhere to talk", "0.0.0.0:0": "passphrase"} {
		var stdout, stderr bytes.Buffer
		env := map[string]string{"BENCHBELL_LISTEN": listen, "BENCHBELL_DATA": t.TempDir()}
		err := run(t.Context(), nil, func(k string) string { return env[k] }, &stdout, &stderr)
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("listening on %q: error %v, want one about %q", listen, err, want)
		}
		if stdout.Len() > 0 || stderr.Len() > 0 {
			t.Errorf("listening on %q, besides the refusal: %s%s", listen, stdout.String(), stderr.String())
		}
	}
}
