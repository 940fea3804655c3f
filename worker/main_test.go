package main

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"encoding/json"
	"encoding/pem"
	"fmt"
	"log/slog"
	"math/big"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"benchbell/jobs"
	"benchbell/jobs/jobstest"
	"benchbell/jobs/queue"
	"benchbell/quote"
	"benchbell/quote/gaugetest"
	"benchbell/quote/settings"
	"benchbell/templates"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"worker": main})
}

// TestScripts runs the whole program, in processes of its own.
func TestScripts(t *testing.T) {
	var redis, secure, cert string
	if _, err := exec.LookPath("redis-server"); err == nil || gaugetest.Strict() {
		port := jobstest.FreePort(t)
		var key string
		cert, key = certificate(t)
		redis = jobstest.Redis(t, "--tls-port", port, "--tls-cert-file", cert, "--tls-key-file", key, "--tls-ca-cert-file", cert, "--tls-auth-clients", "no")
		secure = "rediss://127.0.0.1:" + port + "/1"
	} else {
		gaugetest.Note(t, "scripts that need redis-server, which is not installed")
	}
	drawing, err := filepath.Abs("testdata/knee-plate.svg")
	if err != nil {
		t.Fatal(err)
	}
	testscript.Run(t, testscript.Params{
		Dir: "testdata/script",
		Setup: func(e *testscript.Env) error {
			e.Setenv("BENCHBELL_REDIS_URL", "")
			e.Setenv("BENCHBELL_WORKERS", "")
			e.Setenv("REDIS", redis)
			// A different database, because an asker takes all answers for itself.
			e.Setenv("REDIS_TLS", secure)
			e.Setenv("REDIS_TLS_PLAIN", strings.TrimSuffix(redis, "/0")+"/1")
			e.Setenv("CERT", cert)
			// Drawn by hand in Inkscape 1.2 and saved there, unchanged except for its name.
			e.Setenv("DRAWING", drawing)
			return nil
		},
		Condition: func(cond string) (bool, error) {
			if cond == "redis" {
				return redis != "", nil
			}
			return false, fmt.Errorf("no condition %q", cond)
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"snapshot": writeSnapshot,
			"ask":      ask,
		},
	})
}

// certificate writes a self-signed certificate for 127.0.0.1 and its key.
func certificate(t *testing.T) (cert, key string) {
	t.Helper()
	private, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	c := &x509.Certificate{
		SerialNumber: big.NewInt(1), IsCA: true, BasicConstraintsValid: true,
		KeyUsage:    x509.KeyUsageDigitalSignature | x509.KeyUsageCertSign,
		ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		NotBefore:   time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour),
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)},
	}
	der, err := x509.CreateCertificate(rand.Reader, c, c, &private.PublicKey, private)
	if err != nil {
		t.Fatal(err)
	}
	secret, err := x509.MarshalPKCS8PrivateKey(private)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	save := func(name, kind string, b []byte) string {
		name = filepath.Join(dir, name)
		if err := os.WriteFile(name, pem.EncodeToMemory(&pem.Block{Type: kind, Bytes: b}), 0o600); err != nil {
			t.Fatal(err)
		}
		return name
	}
	return save("cert.pem", "CERTIFICATE", der), save("key.pem", "PRIVATE KEY", secret)
}

// snapshot is a small commission of the demo studio: one short sword, which needs no measurement.
func snapshot(t interface{ Fatalf(string, ...any) }) quote.Snapshot {
	svg, toml, err := templates.Source("short-sword")
	if err != nil {
		t.Fatalf("%v", err)
	}
	studio := settings.Demo()
	studio.Evaluations, studio.Schedules, studio.Runs = 2000, 20, 50 // a test needs a quote, not the best one
	return quote.Snapshot{
		Version: quote.Version, Commission: "C0007", Revision: 1, Client: "Zoë Ωμέγα",
		Items:    []quote.Item{{Set: "short-sword", Count: 1}},
		Finish:   studio.Finishes[0].Key,
		Patterns: map[string]quote.PatternSource{"short-sword": {Drawing: string(svg), TOML: string(toml)}},
		Studio:   studio,
		At:       time.Date(2026, 11, 2, 9, 30, 0, 0, time.UTC),
		Seed:     7,
	}
}

// writeSnapshot is the script command "snapshot FILE".
func writeSnapshot(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: snapshot FILE")
	}
	b, err := json.Marshal(snapshot(ts))
	ts.Check(err)
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), b, 0o644))
}

// ask is the script command "ask ID URL": it sends the snapshot over the real queue like a bot and waits for the quote.
func ask(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: ask ID URL")
	}
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	q, err := queue.Open(ctx, args[1], queue.Options{Log: slog.New(slog.DiscardHandler)})
	ts.Check(err)
	defer func() { ts.Check(q.Close()) }()
	r := jobs.Request{Version: jobs.Version, ID: jobs.RequestID(args[0]), Attempt: 1, Deadline: time.Now().Add(time.Minute), Snapshot: snapshot(ts)}
	ts.Check(q.Send(ctx, r))
	var last jobs.Answer
	ts.Check(q.Answers(ctx, func(_ context.Context, a jobs.Answer) error {
		if a.ID == r.ID && a.Kind != jobs.Progress {
			last = a
			cancel()
		}
		return nil
	}))
	switch {
	case last.Kind != jobs.Done:
		ts.Fatalf("answer is %q: %s %s", last.Kind, last.Say, last.Cause)
	case last.Worker == "":
		ts.Fatalf("the answer does not say which worker gave it")
	case len(last.Quote.PDF) == 0 || last.Quote.Promise == "":
		ts.Fatalf("the quote has a PDF of %d bytes and promises %q", len(last.Quote.PDF), last.Quote.Promise)
	}
}

func TestWorkers(t *testing.T) {
	for s, want := range map[string]int{"1": 1, "16": 16, "0": 0, "-1": 0, "two": 0, "1e3": 0, "5000": 0} {
		n, err := workers(s)
		if n != want || (err == nil) != (want > 0) {
			t.Errorf("workers(%q) = %d, %v", s, n, err)
		}
	}
	if n, err := workers(""); err != nil || n < 1 {
		t.Errorf("by default %d, %v", n, err)
	}
}
