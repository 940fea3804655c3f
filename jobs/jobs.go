// Package jobs defines what bot and workers say to each other: task kinds, the versioned request and its answers, their
// codec and limits. It knows no queue; package queue carries the messages over Redis, package jobstest in memory.
//
// A request carries a full snapshot, so a worker needs nothing else. An answer is progress, a result or a failure, and
// names the request and attempt it belongs to. Delivery is at least once in both directions, so receivers must be
// idempotent. Serve is one attempt at a request, from its first progress to its one last answer, the same for every queue.
//
// It refuses messages that are over the size limit, have another version or do not decode, and says which.
package jobs

import (
	"context"
	"fmt"
	"time"

	"benchbell/quote"
)

// Version of the messages. A worker refuses a request with another version instead of guessing.
const Version = 1

// MaxMessage bounds one encoded message: a PDF and a few pictures fit many times over.
const MaxMessage = 24 << 20

// RequestID names a computation that the ledger wants; all attempts at it share the ID.
type RequestID string

// Request asks for a quote.
type Request struct {
	Version  int            `json:"version"`
	ID       RequestID      `json:"id"`
	Attempt  int            `json:"attempt"` // 1, 2, …
	Deadline time.Time      `json:"deadline"`
	Snapshot quote.Snapshot `json:"snapshot"`
}

// TaskID is the queue's name for this attempt; sending it twice enqueues it once.
func (r Request) TaskID() string { return fmt.Sprintf("%s.%d", r.ID, r.Attempt) }

// AnswerKind says what an Answer is.
type AnswerKind string

// Answer kinds.
const (
	Progress AnswerKind = "progress"
	Done     AnswerKind = "done"
	Failed   AnswerKind = "failed"
)

// Answer is what a worker sends back.
type Answer struct {
	Version int           `json:"version"`
	ID      RequestID     `json:"id"`
	Attempt int           `json:"attempt"`
	Kind    AnswerKind    `json:"kind"`
	Stage   quote.Stage   `json:"stage,omitempty"` // Progress
	Share   float64       `json:"share,omitempty"` // Progress: of the stage, 0..1
	Used    float64       `json:"used,omitempty"`  // Progress: share of the foam the best layout so far uses, 0..1; 0: not known
	Quote   *quote.Quote  `json:"quote,omitempty"` // Done
	Say     string        `json:"say,omitempty"`   // Failed: tells the person what to do
	Cause   string        `json:"cause,omitempty"` // Failed: for the owner
	Worker  string        `json:"worker,omitempty"`
	Took    time.Duration `json:"took,omitempty"`
}

// Computer does the work; package worker/compute has one.
type Computer func(ctx context.Context, r Request, progress quote.Progress) (quote.Quote, error)

// Queue carries requests to workers and answers back. Implementations must pass jobstest.Conformance.
type Queue interface {
	// Send enqueues a request; a TaskID already known is neither an error nor a second task.
	Send(ctx context.Context, r Request) error
	// Work serves requests with c until ctx ends, then hands back what it could not finish.
	Work(ctx context.Context, c Computer) error
	// Answers delivers answers to take until ctx ends; an answer for which take returns an error is delivered again.
	Answers(ctx context.Context, take func(context.Context, Answer) error) error
	Close() error
}
