package gaugetest

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
	"testing"
	"time"
)

// witness is a test that is itself looked at.
type witness struct {
	testing.TB
	said            strings.Builder
	failed, skipped bool
}

func (w *witness) Helper() {}
func (w *witness) Errorf(format string, args ...any) {
	w.failed = true
	fmt.Fprintf(&w.said, format, args...)
}
func (w *witness) Fatalf(format string, args ...any) { w.Errorf(format, args...); runtime.Goexit() }
func (w *witness) Fatal(args ...any)                 { w.Errorf("%s", fmt.Sprint(args...)); runtime.Goexit() }
func (w *witness) Skip(args ...any) {
	w.skipped = true
	fmt.Fprint(&w.said, args...)
	runtime.Goexit()
}

func watch(t *testing.T, f func(testing.TB)) *witness {
	t.Helper()
	w := &witness{TB: t}
	done := make(chan struct{})
	go func() {
		defer close(done)
		f(w)
	}()
	<-done
	return w
}

func TestGoldenShowsLines(t *testing.T) {
	if Update() {
		t.Skip("nothing here is kept")
	}
	path := filepath.Join(t.TempDir(), "kept.txt")
	if err := os.WriteFile(path, []byte("one\ntwo\nthree\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	if w := watch(t, func(tb testing.TB) { Golden(tb, path, []byte("one\ntwo\nthree\n")) }); w.failed {
		t.Errorf("the same words failed: %s", &w.said)
	}
	w := watch(t, func(tb testing.TB) { Golden(tb, path, []byte("one\n2\nthree\n")) })
	if !w.failed || !strings.Contains(w.said.String(), "-two\n+2\n") {
		t.Errorf("failed %v, said %s", w.failed, &w.said)
	}
	if w := watch(t, func(tb testing.TB) { Golden(tb, path+".gone", nil) }); !w.failed {
		t.Error("a file that is not kept passed")
	}
}

func TestGoldenShowsPictures(t *testing.T) {
	if Update() {
		t.Skip("nothing here is kept")
	}
	Tool(t, "rsvg-convert")
	t.Setenv("TMPDIR", t.TempDir())
	const svg = `<svg xmlns="http://www.w3.org/2000/svg" width="25.4mm" height="25.4mm" viewBox="0 0 100 100"><rect x="%d" y="20" width="10" height="30"/></svg>`
	path := filepath.Join(t.TempDir(), "kept.svg")
	if err := os.WriteFile(path, fmt.Appendf(nil, svg, 10), 0o644); err != nil {
		t.Fatal(err)
	}
	w := watch(t, func(tb testing.TB) { Golden(tb, path, fmt.Appendf(nil, svg, 40)) })
	found := regexp.MustCompile(`6 % of its 100 × 100 dots differ, from \(10,20\) to \(50,50\): (\S+)`).FindStringSubmatch(w.said.String())
	if !w.failed || found == nil {
		t.Fatalf("failed %v, said %s", w.failed, &w.said)
	}
	if info, err := os.Stat(found[1]); err != nil || info.Size() == 0 {
		t.Errorf("the pictures are not where they are said to be: %v", err)
	}
	w = watch(t, func(tb testing.TB) { Golden(tb, path, append(fmt.Appendf(nil, svg, 10), ' ')) })
	if !w.failed || !strings.Contains(w.said.String(), "paints the same") {
		t.Errorf("other bytes that paint the same: failed %v, said %s", w.failed, &w.said)
	}
}

func TestSideBySide(t *testing.T) {
	a, b := image.NewGray(image.Rect(0, 0, 4, 3)), image.NewGray(image.Rect(0, 0, 5, 3))
	b.SetGray(2, 1, color.Gray{Y: 1})
	// One dot of another colour, and a column of three that only one side has.
	if _, n, where := sideBySide(a, b); n != 4 || where != image.Rect(2, 0, 5, 3) {
		t.Errorf("%d dots within %v", n, where)
	}
	if _, n, _ := sideBySide(a, a); n != 0 {
		t.Errorf("a picture differs from itself in %d dots", n)
	}
}

func TestWhatDidNotRunIsSaid(t *testing.T) {
	said := filepath.Join(t.TempDir(), "not-run")
	t.Setenv(notRun, said)
	t.Setenv(strict, "")
	t.Setenv(shared, "")
	if w := watch(t, func(tb testing.TB) { Tool(tb, "no-such-program") }); !w.skipped || w.failed {
		t.Errorf("a missing tool: skipped %v, failed %v", w.skipped, w.failed)
	}
	if w := watch(t, func(tb testing.TB) { Python(tb, "no_such_module") }); !w.skipped || w.failed {
		t.Errorf("a missing module: skipped %v, failed %v", w.skipped, w.failed)
	}
	// A stranger can have no references, strict or not.
	t.Setenv(strict, "1")
	if w := watch(t, func(tb testing.TB) { Reference(tb, "facts", "survey.csv") }); !w.skipped || w.failed {
		t.Errorf("no references: skipped %v, failed %v", w.skipped, w.failed)
	}
	got, err := os.ReadFile(said)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"quote/gaugetest TestWhatDidNotRunIsSaid: no-such-program is not installed\n", "no_such_module\n", "facts/survey.csv in\n"} {
		if !bytes.Contains(got, []byte(want)) {
			t.Errorf("%q is not among what did not run:\n%s", want, got)
		}
	}
	// Where they lie, one that is missing is a failure, and so is a tool in a strict run.
	t.Setenv(shared, t.TempDir())
	if w := watch(t, func(tb testing.TB) { Reference(tb, "facts", "survey.csv") }); !w.failed {
		t.Error("a missing reference passed")
	}
	if w := watch(t, func(tb testing.TB) { Tool(tb, "no-such-program") }); !w.failed {
		t.Error("a missing tool passed a strict run")
	}
}

func TestLogAwaits(t *testing.T) {
	var l Log
	go func() {
		for i := range 20 {
			fmt.Fprintf(&l, "line %d\n", i)
			time.Sleep(time.Millisecond)
		}
	}()
	if got := l.Await(t, regexp.MustCompile(`line (19)`)); got != "19" {
		t.Errorf("awaited %q", got)
	}
}
