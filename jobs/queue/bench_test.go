package queue_test

import (
	"context"
	"fmt"
	"log/slog"
	"sync/atomic"
	"testing"
	"time"

	"github.com/hibiken/asynq"

	"benchbell/jobs"
	"benchbell/jobs/embedded"
	"benchbell/jobs/jobstest"
	"benchbell/jobs/queue"
)

// benchWorkers is asynq's concurrency in both benchmarks, so that they differ only in what we add.
const benchWorkers = 8

// onServers runs a benchmark on the embedded server and on a real Redis.
func onServers(b *testing.B, run func(b *testing.B, url string, embedded bool)) {
	b.Run("embedded", func(b *testing.B) {
		e, err := embedded.Start(context.Background())
		if err != nil {
			b.Fatal(err)
		}
		defer func() { _ = e.Close() }()
		run(b, e.URL(), true)
	})
	b.Run("redis", func(b *testing.B) { run(b, jobstest.Redis(b), false) })
}

// BenchmarkQueue measures requests answered per second by a computer that does nothing: request out, work, answer back and
// taken.
func BenchmarkQueue(b *testing.B) {
	onServers(b, func(b *testing.B, url string, emb bool) {
		q := open(b, url, queue.Options{Embedded: emb, Workers: benchWorkers})
		ctx, cancel := context.WithCancel(context.Background())
		ended := make(chan error, 2)
		all := make(chan struct{})
		var n atomic.Int64
		go func() { ended <- q.Work(ctx, jobstest.Echo) }()
		go func() {
			ended <- q.Answers(ctx, func(context.Context, jobs.Answer) error {
				if n.Add(1) == int64(b.N) {
					close(all)
				}
				return nil
			})
		}()
		b.ResetTimer()
		for i := range b.N {
			if err := q.Send(ctx, jobstest.Request(fmt.Sprintf("b%d", i))); err != nil {
				b.Fatal(err)
			}
		}
		<-all
		b.StopTimer()
		b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "requests/s")
		cancel()
		for range 2 {
			if err := <-ended; err != nil {
				b.Error(err)
			}
		}
		if err := q.Close(); err != nil {
			b.Error(err)
		}
	})
}

// BenchmarkBareAsynq is the same round trip without our code: a task of the same size out, a task back, both handled.
func BenchmarkBareAsynq(b *testing.B) {
	onServers(b, func(b *testing.B, url string, _ bool) {
		conn, err := asynq.ParseRedisURI(url)
		if err != nil {
			b.Fatal(err)
		}
		body, err := jobs.EncodeRequest(jobstest.Request("bare"))
		if err != nil {
			b.Fatal(err)
		}
		client := asynq.NewClient(conn)
		all := make(chan struct{})
		var n atomic.Int64
		start := func(name string, workers int, h asynq.HandlerFunc) *asynq.Server {
			srv := asynq.NewServer(conn, asynq.Config{
				Concurrency: workers, Queues: map[string]int{name: 1}, TaskCheckInterval: 20 * time.Millisecond, ShutdownTimeout: grace,
				Logger: quietLogger{}, LogLevel: asynq.ErrorLevel,
			})
			if err := srv.Start(h); err != nil {
				b.Fatal(err)
			}
			return srv
		}
		there := start("there", benchWorkers, func(ctx context.Context, t *asynq.Task) error {
			_, err := client.EnqueueContext(ctx, asynq.NewTask("back", t.Payload()), asynq.Queue("back"))
			return err
		})
		back := start("back", 1, func(context.Context, *asynq.Task) error {
			if n.Add(1) == int64(b.N) {
				close(all)
			}
			return nil
		})
		b.ResetTimer()
		for range b.N {
			if _, err := client.Enqueue(asynq.NewTask("there", body), asynq.Queue("there")); err != nil {
				b.Fatal(err)
			}
		}
		<-all
		b.StopTimer()
		b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "requests/s")
		there.Shutdown()
		back.Shutdown()
		if err := client.Close(); err != nil {
			b.Error(err)
		}
	})
}

// quietLogger keeps asynq's start and stop lines out of the figures.
type quietLogger struct{}

func (quietLogger) Debug(args ...any) { slog.Debug(fmt.Sprint(args...)) }
func (quietLogger) Info(args ...any)  { slog.Debug(fmt.Sprint(args...)) }
func (quietLogger) Warn(args ...any)  { slog.Warn(fmt.Sprint(args...)) }
func (quietLogger) Error(args ...any) { slog.Error(fmt.Sprint(args...)) }
func (quietLogger) Fatal(args ...any) { slog.Error(fmt.Sprint(args...)) }
