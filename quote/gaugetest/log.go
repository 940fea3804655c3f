package gaugetest

import (
	"bytes"
	"regexp"
	"sync"
	"testing"
	"time"
)

// patience bounds the wait for words of a program; a machine under load needs seconds where another needs milliseconds.
const patience = time.Minute

// Log keeps what a program prints while it still runs. The zero value is ready, and safe for several writers and readers.
type Log struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (l *Log) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *Log) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}

// Await waits until what matches was printed, and gives its last group.
func (l *Log) Await(t testing.TB, re *regexp.Regexp) string {
	t.Helper()
	for end := time.Now().Add(patience); time.Now().Before(end); time.Sleep(5 * time.Millisecond) {
		if m := re.FindStringSubmatch(l.String()); m != nil {
			return m[len(m)-1]
		}
	}
	t.Fatalf("%v was never printed, but\n%s", re, l)
	return ""
}
