// Package queue carries requests and answers over Redis with asynq, and is the only package that knows either.
//
// Requests wait on one asynq queue, answers on a second one served by the bot, because asynq's own results notify nobody.
// Every task's ID is derived from its content, so sending something twice enqueues it once. Delivery is at least once: a
// killed worker's request comes back after 60 to 120 s, which counts as a retry. A request whose lease is lost with its
// Redis may never come back, so the sender must watch its deadline and send the next attempt.
//
// It refuses a server older than Redis 6, whose scripting asynq's scripts cannot use, and messages the codec refuses. It
// warns of a server that keeps nothing on disk or may evict tasks.
package queue

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"strconv"
	"sync/atomic"
	"time"

	"github.com/hibiken/asynq"
	"github.com/redis/go-redis/v9"

	"benchbell/jobs"
)

const (
	// pollRedis is asynq's idle poll on a networked Redis; its default of a second would be noticeable in the chat.
	pollRedis = 100 * time.Millisecond
	// pollEmbedded can be shorter because nobody else is affected.
	pollEmbedded = 20 * time.Millisecond
	// delayedEvery is how often to look for retries that are due.
	delayedEvery = 500 * time.Millisecond
	// requestRetries must not be small: asynq counts a killed worker as a retry, and after the last one the task is lost.
	requestRetries = 5
	// answerRetries, with the cap of answerDelay, retries an answer for about twenty minutes.
	answerRetries   = 25
	progressRetries = 3
	// takeTime bounds how long taking one answer may take.
	takeTime = 2 * time.Minute
	// outage is how long a finished result waits for an absent server: as long as asynq's lease on the request, after which
	// it is computed again anyway.
	outage      = 30 * time.Second
	outageEvery = 500 * time.Millisecond
	// slack is added to a request's deadline so that its worker, and not asynq, reports missing it.
	slack = 2 * time.Minute
	// defaultGrace is how long a computation may continue after its worker was told to stop.
	defaultGrace = 5 * time.Second

	kindRequest = "benchbell:quote"
	kindAnswer  = "benchbell:answer"
)

// Options of a queue; the zero value suits a bot on a Redis of its own.
type Options struct {
	Embedded bool          // the server is the embedded queue's: no version or persistence to check, and a shorter poll
	Workers  int           // computations at once in Work; 0: 1
	Worker   string        // this worker's name in answers
	Poll     time.Duration // idle poll; 0: 100 ms, embedded 20 ms
	Grace    time.Duration // 0: defaultGrace
	Space    string        // prefix of the asynq queues' names, so that two studios can share a Redis
	Log      *slog.Logger  // nil: slog.Default()
}

// Queue implements jobs.Queue.
type Queue struct {
	opts   Options
	rdb    redis.UniversalClient
	client *asynq.Client
	seq    atomic.Uint64 // numbers progress answers
}

var _ jobs.Queue = (*Queue)(nil)

// Open connects to the Redis at url, in any form asynq.ParseRedisURI accepts: redis://, rediss:// (TLS), redis-socket://
// and redis-sentinel:// (for which see parseAddress). It returns once the server has answered and is found usable.
func Open(ctx context.Context, url string, opts Options) (*Queue, error) {
	if opts.Log == nil {
		opts.Log = slog.Default()
	}
	if opts.Workers <= 0 {
		opts.Workers = 1
	}
	if opts.Poll <= 0 {
		opts.Poll = pollRedis
		if opts.Embedded {
			opts.Poll = pollEmbedded
		}
	}
	if opts.Grace <= 0 {
		opts.Grace = defaultGrace
	}
	quietRedis()
	conn, err := parseAddress(url)
	if err != nil {
		return nil, err
	}
	rdb, ok := conn.MakeRedisClient().(redis.UniversalClient)
	if !ok {
		return nil, fmt.Errorf("the Redis address leads to an unknown type of client, %T", conn)
	}
	if err := rdb.Ping(ctx).Err(); err != nil {
		_ = rdb.Close()
		return nil, fmt.Errorf("the Redis server does not answer; check that it is running and that address and password are correct: %w", err)
	}
	if !opts.Embedded {
		if err := checkServer(ctx, rdb, opts.Log); err != nil {
			_ = rdb.Close()
			return nil, err
		}
	}
	return &Queue{opts: opts, rdb: rdb, client: asynq.NewClientFromRedisClient(rdb)}, nil
}

func (q *Queue) requests() string { return q.opts.Space + "quotes" }
func (q *Queue) answers() string  { return q.opts.Space + "answers" }

// Send enqueues r unless a task with its TaskID is already waiting or running.
func (q *Queue) Send(ctx context.Context, r jobs.Request) error {
	b, err := jobs.EncodeRequest(r)
	if err != nil {
		return err
	}
	left := jobs.DefaultTime
	if !r.Deadline.IsZero() {
		left = max(0, time.Until(r.Deadline))
	}
	// A timeout counts from the start of the work, an asynq deadline from now: past an asynq deadline the task would go to
	// the archive without anyone being told.
	err = q.enqueue(ctx, asynq.NewTask(kindRequest, b), asynq.Queue(q.requests()), asynq.TaskID(r.TaskID()),
		asynq.MaxRetry(requestRetries), asynq.Timeout(left+slack))
	if err != nil {
		return fmt.Errorf("request %s could not be queued: %w", r.TaskID(), err)
	}
	return nil
}

func (q *Queue) enqueue(ctx context.Context, t *asynq.Task, opts ...asynq.Option) error {
	_, err := q.client.EnqueueContext(ctx, t, opts...)
	if errors.Is(err, asynq.ErrTaskIDConflict) {
		return nil
	}
	return err
}

// answer enqueues a. Progress is numbered, so that each is a task of its own; the last answer has one ID per attempt.
func (q *Queue) answer(ctx context.Context, r jobs.Request, a jobs.Answer) error {
	b, err := jobs.EncodeAnswer(a)
	if err != nil {
		return err
	}
	id, retries := r.TaskID()+".done", answerRetries
	if a.Kind == jobs.Progress {
		id = r.TaskID() + "." + string(a.Stage) + "." + strconv.FormatUint(q.seq.Add(1), 10)
		retries = progressRetries
	}
	for began := time.Now(); ; time.Sleep(outageEvery) {
		err = q.enqueue(ctx, asynq.NewTask(kindAnswer, b), asynq.Queue(q.answers()), asynq.TaskID(id),
			asynq.MaxRetry(retries), asynq.Timeout(takeTime))
		// A result is worth waiting for while the server restarts; progress would be stale by then.
		if err == nil || a.Kind == jobs.Progress || errors.Is(err, redis.ErrClosed) || time.Since(began) > outage {
			break
		}
	}
	if err != nil {
		return fmt.Errorf("answer to %s could not be queued: %w", r.TaskID(), err)
	}
	return nil
}

// Work serves requests until ctx ends, lets running computations continue for Options.Grace, and hands the rest back.
func (q *Queue) Work(ctx context.Context, c jobs.Computer) error {
	return q.serve(ctx, q.requests(), q.opts.Workers, requestDelay, func(ctx context.Context, t *asynq.Task) error {
		r, err := jobs.DecodeRequest(t.Payload())
		if err != nil {
			return q.again(ctx, err) // perhaps a worker with the sender's version takes it
		}
		return jobs.Serve(ctx, r, q.opts.Worker, c, func(ctx context.Context, a jobs.Answer) error {
			return q.answer(ctx, r, a)
		})
	})
}

// Answers delivers one answer at a time, so that a request's answers stay in order as long as none is redelivered.
func (q *Queue) Answers(ctx context.Context, take func(context.Context, jobs.Answer) error) error {
	return q.serve(ctx, q.answers(), 1, answerDelay, func(ctx context.Context, t *asynq.Task) error {
		a, err := jobs.DecodeAnswer(t.Payload())
		if err == nil {
			err = safely(func() error { return take(ctx, a) })
		}
		if err != nil {
			return q.again(ctx, err)
		}
		return nil
	})
}

// again lets a task be retried, or drops it at its last try: asynq would keep it in its archive for months, PDF and all,
// where nobody looks. The ledger asks again for whatever it is missing.
func (q *Queue) again(ctx context.Context, err error) error {
	n, _ := asynq.GetRetryCount(ctx)
	limit, _ := asynq.GetMaxRetry(ctx)
	if n < limit || ctx.Err() != nil {
		return err
	}
	id, _ := asynq.GetTaskID(ctx)
	q.opts.Log.Error("dropped a message that was refused too often", "task", id, "err", err)
	return nil
}

func safely(f func() error) (err error) {
	defer func() {
		if v := recover(); v != nil {
			err = fmt.Errorf("taking the answer panicked: %v", v)
		}
	}()
	return f()
}

// Close closes the connection; end Work and Answers first.
func (q *Queue) Close() error { return q.rdb.Close() }

// serve runs an asynq server on one queue until ctx ends.
func (q *Queue) serve(ctx context.Context, name string, n int, delay func(int) time.Duration, h asynq.HandlerFunc) error {
	// The handlers' context outlives ctx: asynq counts a task whose context ended as failed and a retry, while one that is
	// still running when the server stops goes back to the head of the queue.
	base, cancel := context.WithCancel(context.WithoutCancel(ctx))
	defer cancel()
	srv := asynq.NewServerFromRedisClient(q.rdb, asynq.Config{
		Concurrency:              n,
		Queues:                   map[string]int{name: 1},
		BaseContext:              func() context.Context { return base },
		TaskCheckInterval:        q.opts.Poll,
		DelayedTaskCheckInterval: delayedEvery,
		ShutdownTimeout:          q.opts.Grace,
		RetryDelayFunc:           func(n int, _ error, _ *asynq.Task) time.Duration { return delay(n) },
		Logger:                   logger{q.opts.Log},
		LogLevel:                 asynq.InfoLevel,
		ErrorHandler: asynq.ErrorHandlerFunc(func(ctx context.Context, t *asynq.Task, err error) {
			id, _ := asynq.GetTaskID(ctx)
			q.opts.Log.Warn("a task comes again", "queue", name, "task", id, "err", err)
		}),
	})
	if err := srv.Start(h); err != nil {
		return fmt.Errorf("the queue %q cannot be served: %w", name, err)
	}
	<-ctx.Done()
	srv.Shutdown()
	return nil
}

// requestDelay grows from 2 s to a minute: a request is retried only if its answer could not be queued.
func requestDelay(n int) time.Duration { return grow(2*time.Second, n, time.Minute) }

// answerDelay grows from 200 ms to a minute: a busy ledger is soon free, but a full disk has to be noticed by someone.
func answerDelay(n int) time.Duration { return grow(200*time.Millisecond, n, time.Minute) }

func grow(d time.Duration, n int, limit time.Duration) time.Duration {
	for ; n > 0 && d < limit; n-- {
		d *= 2
	}
	return min(d, limit)
}
