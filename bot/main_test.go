package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"benchbell/quote/settings"
)

// The test binary is also the bot: to scripts under its name, to tests that kill it with childEnv set.
const (
	childEnv  = "BENCHBELL_TEST_CHILD"
	offsetEnv = "BENCHBELL_TEST_OFFSET" // file with a duration the child's clock is ahead by
)

func TestMain(m *testing.M) {
	if os.Getenv(childEnv) == "bot" {
		clock, patience = offsetClock(os.Getenv(offsetEnv)), childPatience
		main()
		os.Exit(0)
	}
	testscript.Main(tidy{m}, map[string]func(){"bot": main})
}

// offsetClock is the machine's clock put forward by what the file says when it is read.
func offsetClock(file string) func() time.Time {
	return func() time.Time {
		ahead := time.Duration(0)
		if b, err := os.ReadFile(file); err == nil {
			ahead, _ = time.ParseDuration(strings.TrimSpace(string(b)))
		}
		return time.Now().Add(ahead)
	}
}

// tidy removes what tests share when all have run.
type tidy struct{ m *testing.M }

func (t tidy) Run() int {
	code := t.m.Run()
	if shared.dir != "" {
		os.RemoveAll(shared.dir)
	}
	return code
}

// shared are the programs that tests run as processes of their own, each built once.
var shared programs

type programs struct {
	mu   sync.Mutex
	dir  string
	said map[string]error
}

// build makes the program of a folder, as what go is told to make of it: "build", or "test -c" for its test program.
func (p *programs) build(t testing.TB, name string, args ...string) string {
	t.Helper()
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.said == nil {
		dir, err := os.MkdirTemp("", "benchbell-programs-")
		if err != nil {
			t.Fatal(err)
		}
		p.dir, p.said = dir, map[string]error{}
	}
	path := filepath.Join(p.dir, strings.Join(args, ""), name)
	err, done := p.said[path]
	if !done {
		var said []byte
		if said, err = exec.Command("go", append(args, "-o", path, "benchbell/"+name)...).CombinedOutput(); err != nil {
			err = fmt.Errorf("%w\n%s", err, said)
		}
		p.said[path] = err
	}
	if err != nil {
		t.Fatalf("the %s cannot be built: %v", name, err)
	}
	return path
}

func workerProgram(t testing.TB) string {
	t.Helper()
	return shared.build(t, "worker", "build")
}

// botProgram is this test program, which is the bot when childEnv says so, without the race detector.
func botProgram(t testing.TB) string {
	t.Helper()
	if raceDetector {
		return shared.build(t, "bot", "test", "-c")
	}
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	return self
}

// hurriedStudio is the demo studio with an effort that computes a quote in a moment.
func hurriedStudio(t testing.TB) string {
	t.Helper()
	text := string(settings.DemoTOML)
	for _, r := range [][2]string{{"evaluations = 100000 ", "evaluations = 600 "}, {"schedules = 1500 ", "schedules = 8 "}, {"runs = 400 ", "runs = 40 "}} {
		if !strings.Contains(text, r[0]) {
			t.Fatalf("the demo studio does not say %q any more", r[0])
		}
		text = strings.Replace(text, r[0], r[1], 1)
	}
	path := filepath.Join(t.TempDir(), "studio.toml")
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}
