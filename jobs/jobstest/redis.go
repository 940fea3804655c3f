package jobstest

import (
	"bytes"
	"fmt"
	"net"
	"os"
	"os/exec"
	"strconv"
	"testing"
	"time"
)

// redisStart bounds the start of a server; it takes a tenth of a second on an idle machine.
const redisStart = 20 * time.Second

// Redis starts a real server, append-only file on, on a free loopback port with its files in a directory of the test, and
// gives its URL. It ends with the test. Without a redis-server on the machine the test says so and is skipped, or fails
// where BENCHBELL_STRICT=1.
func Redis(t testing.TB) string {
	t.Helper()
	path, err := exec.LookPath("redis-server")
	if err != nil {
		if os.Getenv("BENCHBELL_STRICT") == "1" {
			t.Fatal("redis-server is not installed, and BENCHBELL_STRICT=1 wants it")
		}
		t.Log("not run on real Redis: redis-server is not installed")
		t.SkipNow()
	}
	// Another process may take the port between its being found free and being used, so a few are tried.
	var out string
	for range 5 {
		addr, said, ok := startRedis(t, path)
		if ok {
			return "redis://" + addr + "/0"
		}
		out = said
	}
	t.Fatalf("redis-server does not start: %s", out)
	return ""
}

func startRedis(t testing.TB, path string) (addr, said string, ok bool) {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	port := l.Addr().(*net.TCPAddr).Port
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	cmd := exec.Command(path, "--port", strconv.Itoa(port), "--bind", "127.0.0.1", "--dir", t.TempDir(),
		"--appendonly", "yes", "--appendfsync", "everysec", "--save", "", "--maxmemory-policy", "noeviction", "--daemonize", "no")
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
	addr = fmt.Sprintf("127.0.0.1:%d", port)
	for end := time.Now().Add(redisStart); time.Now().Before(end); time.Sleep(10 * time.Millisecond) {
		select {
		case <-gone:
			return "", out.String(), false
		default:
		}
		if ping(addr) {
			return addr, "", true
		}
	}
	_ = cmd.Process.Kill()
	<-gone
	return "", out.String(), false
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
