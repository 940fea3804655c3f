// Package jobstest has the conformance test for queues, a queue in memory that passes it, and a real Redis for queues that
// need one.
package jobstest

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"benchbell/jobs"
)

// again is how long Memory waits before it redelivers a refused answer.
const again = 20 * time.Millisecond

// Memory is a jobs.Queue in memory: the same messages through the same codec, without a server.
type Memory struct {
	mu      sync.Mutex
	changed chan struct{} // closed and replaced at every change
	known   map[string]bool
	pending []memoryTask
	answers [][]byte
	closed  bool
}

type memoryTask struct {
	id   string
	body []byte
}

var _ jobs.Queue = (*Memory)(nil)

// NewMemory returns an empty queue.
func NewMemory() *Memory {
	return &Memory{changed: make(chan struct{}), known: make(map[string]bool)}
}

// change runs f under the lock and wakes all waiters.
func (m *Memory) change(f func()) {
	m.mu.Lock()
	defer m.mu.Unlock()
	f()
	close(m.changed)
	m.changed = make(chan struct{})
}

// Send implements jobs.Queue.
func (m *Memory) Send(ctx context.Context, r jobs.Request) error {
	b, err := jobs.EncodeRequest(r)
	if err != nil {
		return err
	}
	if err := ctx.Err(); err != nil {
		return fmt.Errorf("request %s was not queued: %w", r.TaskID(), err)
	}
	m.change(func() {
		if m.closed {
			err = errors.New("the queue is closed")
			return
		}
		if !m.known[r.TaskID()] {
			m.known[r.TaskID()] = true
			m.pending = append(m.pending, memoryTask{r.TaskID(), b})
		}
	})
	return err
}

// Work implements jobs.Queue; one request at a time.
func (m *Memory) Work(ctx context.Context, c jobs.Computer) error {
	for {
		t, ok := m.wait(ctx)
		if !ok {
			return nil
		}
		r, err := jobs.DecodeRequest(t.body)
		if err == nil {
			err = jobs.Serve(ctx, r, "memory", c, func(_ context.Context, a jobs.Answer) error {
				b, err := jobs.EncodeAnswer(a)
				if err != nil {
					return err
				}
				m.change(func() { m.answers = append(m.answers, b) })
				return nil
			})
		}
		m.change(func() {
			if err != nil {
				m.pending = append([]memoryTask{t}, m.pending...)
			} else {
				delete(m.known, t.id)
			}
		})
		if err != nil && ctx.Err() == nil {
			return err // its own message did not encode or decode: a bug, and a test wants to see it
		}
	}
}

// wait takes the first pending task, waiting for one until ctx ends.
func (m *Memory) wait(ctx context.Context) (memoryTask, bool) {
	for {
		m.mu.Lock()
		if ctx.Err() == nil && len(m.pending) > 0 {
			t := m.pending[0]
			m.pending = m.pending[1:]
			m.mu.Unlock()
			return t, true
		}
		changed := m.changed
		m.mu.Unlock()
		select {
		case <-ctx.Done():
			return memoryTask{}, false
		case <-changed:
		}
	}
}

// Answers implements jobs.Queue.
func (m *Memory) Answers(ctx context.Context, take func(context.Context, jobs.Answer) error) error {
	for {
		m.mu.Lock()
		var b []byte
		if len(m.answers) > 0 {
			b = m.answers[0]
			m.answers = m.answers[1:]
		}
		changed := m.changed
		m.mu.Unlock()
		if ctx.Err() != nil {
			if b != nil {
				m.change(func() { m.answers = append([][]byte{b}, m.answers...) })
			}
			return nil
		}
		if b == nil {
			select {
			case <-ctx.Done():
				return nil
			case <-changed:
			}
			continue
		}
		a, err := jobs.DecodeAnswer(b)
		if err != nil {
			return err
		}
		if take(ctx, a) == nil {
			continue
		}
		m.change(func() { m.answers = append([][]byte{b}, m.answers...) })
		select {
		case <-ctx.Done():
		case <-time.After(again):
		}
	}
}

// Close implements jobs.Queue.
func (m *Memory) Close() error {
	m.change(func() { m.closed = true })
	return nil
}
