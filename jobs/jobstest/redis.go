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
)

// redisStart bounds the start of a server; it takes a tenth of a second on an idle machine.
const redisStart = 20 * time.Second

// Redis starts a real server, append-only file on, on a free loopback port with its files in a directory of the test, and
// gives its URL. It ends with the test. extra is added to its command line. Without a redis-server on the machine the test
// says so and is skipped, or fails where BENCHBELL_STRICT=1.
func Redis(t testing.TB, extra ...string) string {
	t.Helper()
	addr := start(t, func(port string) []string {
		return append([]string{"--port", port, "--bind", "127.0.0.1", "--dir", t.TempDir(),
			"--appendonly", "yes", "--appendfsync", "everysec", "--save", "", "--maxmemory-policy", "noeviction"}, extra...)
	})
	return "redis://" + addr + "/0"
}

// Sentinel starts a sentinel that watches the server at a URL of Redis under the name "bench", and gives the URL by which
// that server is found through it.
func Sentinel(t testing.TB, redis string) string {
	t.Helper()
	u, err := url.Parse(redis)
	if err != nil {
		t.Fatal(err)
	}
	addr := start(t, func(port string) []string {
		// A sentinel writes what it learns into its file.
		conf := filepath.Join(t.TempDir(), "sentinel.conf")
		text := fmt.Sprintf("port %s\nbind 127.0.0.1\nsentinel monitor bench %s %s 1\n", port, u.Hostname(), u.Port())
		if err := os.WriteFile(conf, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return []string{conf, "--sentinel"}
	})
	return "redis-sentinel://" + addr + "?master=bench"
}

// start runs redis-server until the test's end and gives its address. Another process may take the port between its being
// found free and being used, so a few are tried.
func start(t testing.TB, args func(port string) []string) string {
	t.Helper()
	path, err := exec.LookPath("redis-server")
	if err != nil {
		if os.Getenv("BENCHBELL_STRICT") == "1" {
			t.Fatal("redis-server is not installed, and BENCHBELL_STRICT=1 wants it")
		}
		t.Skip("not run on real Redis: redis-server is not installed")
	}
	var said string
	for range 5 {
		port := FreePort(t)
		addr := net.JoinHostPort("127.0.0.1", port)
		var ok bool
		if said, ok = startOn(t, addr, exec.Command(path, args(port)...)); ok {
			return addr
		}
	}
	t.Fatalf("redis-server does not start: %s", said)
	return ""
}

// FreePort gives a loopback port that was free a moment ago.
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

// startOn starts cmd and waits until it answers on addr; if it does not, said is what it said.
func startOn(t testing.TB, addr string, cmd *exec.Cmd) (said string, ok bool) {
	t.Helper()
	var out bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &out
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	gone := make(chan struct{})
	go func() {
		_ = cmd.Wait()
		close(gone)
	}()
	t.Cleanup(func() {
		_ = cmd.Process.Kill()
		<-gone
	})
	for end := time.Now().Add(redisStart); time.Now().Before(end); time.Sleep(10 * time.Millisecond) {
		select {
		case <-gone:
			return out.String(), false
		default:
		}
		if ping(addr) {
			return "", true
		}
	}
	_ = cmd.Process.Kill()
	<-gone
	return out.String(), false
}

// ping asks in Redis's own inline protocol, so that this package needs no client.
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
