package main

import (
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

// shared is the worker program, built once for all tests that run it as a process of its own.
var shared struct {
	once sync.Once
	dir  string
	err  error
	said []byte
}

func workerProgram(t testing.TB) string {
	t.Helper()
	shared.once.Do(func() {
		if shared.dir, shared.err = os.MkdirTemp("", "benchbell-worker-"); shared.err != nil {
			return
		}
		shared.said, shared.err = exec.Command("go", "build", "-o", filepath.Join(shared.dir, "worker"), "benchbell/worker").CombinedOutput()
	})
	if shared.err != nil {
		t.Fatalf("the worker cannot be built: %v\n%s", shared.err, shared.said)
	}
	return filepath.Join(shared.dir, "worker")
}

// hurriedStudio is the demo studio with an effort that computes a quote in a moment.
func hurriedStudio(t testing.TB) string {
	t.Helper()
	text := string(settings.DemoTOML)
	for _, r := range [][2]string{{"evaluations = 100000 ", "evaluations = 600 "}, {"schedules = 150 ", "schedules = 8 "}, {"runs = 400 ", "runs = 40 "}} {
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
