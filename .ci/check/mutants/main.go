// Command mutants breaks the program on purpose, one place at a time, and says whether the tests nearest to it notice. Nothing
// in the tree is touched: each change is laid over it (go test -overlay). A mutation in the list is four lines,
//
//	file: quote/price/money.go
//	old: text that stands there once
//	new: what stands there instead
//	test: ./quote/price -run Round
//
// and a blank one; "test" is what go test is given. It fails when a mutation does not apply any more, when one does not
// compile, and when fewer are noticed than -least says.
package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"log"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"
)

type mutation struct {
	file, old, new, test string
	line                 int
}

func main() {
	log.SetFlags(0)
	list := flag.String("list", ".ci/check/mutants/list.txt", "file of mutations")
	only := flag.String("only", "", "only mutations of files with this in their path")
	limit := flag.Duration("limit", 5*time.Minute, "a test that takes longer has noticed: it hangs")
	least := flag.Float64("least", 1, "share that has to be noticed")
	flag.Parse()
	all, err := read(*list)
	if err != nil {
		log.Fatal(err)
	}
	tried, noticed, broken := 0, 0, 0
	for _, m := range all {
		if !strings.Contains(m.file, *only) {
			continue
		}
		begin := time.Now()
		said, err := try(m, *limit)
		switch {
		case err != nil:
			broken++
			said = "is no mutation: " + err.Error()
		default:
			tried++
			if said != "unnoticed" {
				noticed++
			}
		}
		fmt.Printf("%-9s %s:%d  %s => %s  (%s, %.0fs)\n", said, filepath.Base(*list), m.line, m.old, m.new, m.file, time.Since(begin).Seconds())
	}
	share := float64(noticed) / float64(max(1, tried))
	fmt.Printf("%d of %d mutations noticed, %.0f %%\n", noticed, tried, 100*share)
	if tried == 0 || broken > 0 || share < *least {
		os.Exit(1)
	}
}

// try says "noticed", "hangs" or "unnoticed".
func try(m mutation, limit time.Duration) (string, error) {
	src, err := os.ReadFile(m.file)
	if err != nil {
		return "", err
	}
	if n := strings.Count(string(src), m.old); n != 1 {
		return "", fmt.Errorf("the old text stands there %d times", n)
	}
	dir, err := os.MkdirTemp("", "mutant-")
	if err != nil {
		return "", err
	}
	defer os.RemoveAll(dir)
	file, err := filepath.Abs(m.file)
	if err != nil {
		return "", err
	}
	mutant, overlay := filepath.Join(dir, "mutant.go"), filepath.Join(dir, "overlay.json")
	plan, err := json.Marshal(map[string]map[string]string{"Replace": {file: mutant}})
	if err != nil {
		return "", err
	}
	err = errors.Join(os.WriteFile(mutant, bytes.Replace(src, []byte(m.old), []byte(m.new), 1), 0o600), os.WriteFile(overlay, plan, 0o600))
	if err != nil {
		return "", err
	}
	args := strings.Fields(m.test)
	if out, err := exec.Command("go", "build", "-overlay", overlay, args[0]).CombinedOutput(); err != nil {
		return "", fmt.Errorf("it does not compile: %s", out)
	}
	ctx, cancel := context.WithTimeout(context.Background(), limit)
	defer cancel()
	cmd := exec.CommandContext(ctx, "go", append([]string{"test", "-count=1", "-failfast", "-overlay", overlay}, args...)...)
	cmd.Env = append(os.Environ(), "RAPID_NOFAILFILE=true")
	cmd.WaitDelay = 10 * time.Second
	switch err := cmd.Run(); {
	case ctx.Err() != nil:
		return "hangs", nil
	case err != nil:
		return "noticed", nil
	}
	return "unnoticed", nil
}

func read(name string) ([]mutation, error) {
	data, err := os.ReadFile(name)
	if err != nil {
		return nil, err
	}
	var out []mutation
	var m mutation
	for i, l := range strings.Split(string(data)+"\n\n", "\n") {
		key, v, ok := strings.Cut(l, ": ")
		switch {
		case strings.HasPrefix(l, "#"):
		case key == "file":
			m.file, m.line = v, i+1
		case key == "old":
			m.old = v
		case key == "new" || l == "new:":
			m.new = v
		case key == "test":
			m.test = v
		case l == "" && m == (mutation{}):
		case l == "" && m.file != "" && m.old != "" && m.test != "":
			out = append(out, m)
			m = mutation{}
		default:
			return nil, fmt.Errorf("%s:%d: %q is no line of a mutation (%v)", name, i+1, l, ok)
		}
	}
	return out, nil
}
