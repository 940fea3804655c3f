package jobstest

import (
	"bytes"
	"fmt"
	"net"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"benchbell/quote/gaugetest"
)

// redisStart bounds the start of a server; on an idle machine it takes a tenth of a second.
const redisStart = 20 * time.Second

// Redis starts a real server with an append-only file on a free loopback port, with its files in a test directory, and
// returns its URL. It ends with the test. extra is added to its command line. If the machine has no redis-server the test
// is skipped with a message, or fails if BENCHBELL_STRICT=1.
func Redis(t testing.TB, extra ...string) string {
	t.Helper()
	url, _ := Outage(t, extra...)
	return url
}

// Outage is Redis plus a function that kills the server and returns one that restarts it on the same files.
func Outage(t testing.TB, extra ...string) (url string, kill func() (restart func())) {
	t.Helper()
	args := append([]string{"--bind", "127.0.0.1", "--dir", t.TempDir(),
		"--appendonly", "yes", "--appendfsync", "everysec", "--save", "", "--maxmemory-policy", "noeviction"}, extra...)
	p := start(t, func(port string) []string { return append(args, "--port", port) })
	return "redis://" + p.addr + "/0", func() func() {
		p.kill()
		return func() {
			if said, ok := p.run(t); !ok {
				t.Fatalf("redis-server does not start again: %s", said)
			}
		}
	}
}

// Sentinel starts a sentinel that watches the server at a URL of Redis under the name "bench", and returns the URL that
// finds the server through it.
func Sentinel(t testing.TB, redis string) string {
	t.Helper()
	u, err := url.Parse(redis)
	if err != nil {
		t.Fatal(err)
	}
	p := start(t, func(port string) []string {
		// A sentinel writes what it learns to its configuration file.
		conf := filepath.Join(t.TempDir(), "sentinel.conf")
		text := fmt.Sprintf("port %s\nbind 127.0.0.1\nsentinel monitor bench %s %s 1\n", port, u.Hostname(), u.Port())
		if err := os.WriteFile(conf, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return []string{conf, "--sentinel"}
	})
	return "redis-sentinel://" + p.addr + "?master=bench"
}

// process is a redis-server that can be restarted.
type process struct {
	path, addr string
	args       []string
	kill       func()
}

// start runs redis-server until the end of the test. Another process may take the port between finding it and using it, so
// a few ports are tried.
func start(t testing.TB, args func(port string) []string) *process {
	t.Helper()
	path := gaugetest.Tool(t, "redis-server")
	p := &process{path: path, kill: func() {}}
	t.Cleanup(func() { p.kill() })
	var said string
	for range 5 {
		port := FreePort(t)
		p.addr, p.args = net.JoinHostPort("127.0.0.1", port), args(port)
		var ok bool
		if said, ok = p.run(t); ok {
			return p
		}
	}
	t.Fatalf("redis-server does not start: %s", said)
	return nil
}

// FreePort returns a loopback port that was free a moment ago.
func FreePort(t testing.TB) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	port := l.Addr().(*net.TCPAddr).Port
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	return strconv.Itoa(port)
}

// run starts the process and waits until it answers; if it does not, said is its output.
func (p *process) run(t testing.TB) (said string, ok bool) {
	t.Helper()
	var out bytes.Buffer
	cmd := exec.Command(p.path, p.args...)
	cmd.Stdout, cmd.Stderr = &out, &out
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	gone := make(chan struct{})
	go func() {
		_ = cmd.Wait()
		close(gone)
	}()
	p.kill = func() {
		_ = cmd.Process.Kill()
		<-gone
	}
	for end := time.Now().Add(redisStart); time.Now().Before(end); time.Sleep(10 * time.Millisecond) {
		select {
		case <-gone:
			return out.String(), false
		default:
		}
		if ping(p.addr) {
			return "", true
		}
	}
	p.kill()
	return out.String(), false
}

// ping uses Redis's own inline protocol, so that this package needs no client.
func ping(addr string) bool {
	c, err := net.DialTimeout("tcp", addr, time.Second)
	if err != nil {
		return false
	}
	defer func() { _ = c.Close() }()
	_ = c.SetDeadline(time.Now().Add(time.Second))
	if _, err := c.Write([]byte("PING\r\n")); err != nil {
		return false
	}
	var b [7]byte
	n, _ := c.Read(b[:])
	return string(b[:n]) == "+PONG\r\n"
}
