package jobs_test

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"testing"
	"time"

	"benchbell/jobs"
	"benchbell/quote"
)

// TestServeHandsBackWhenStopped: no answer is sent for unfinished work, so that another worker's answer is the only one.
func TestServeHandsBackWhenStopped(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	err := jobs.Serve(ctx, request(), "w", func(ctx context.Context, _ jobs.Request, _ quote.Progress) (quote.Quote, error) {
		cancel()
		<-ctx.Done()
		return quote.Quote{}, ctx.Err()
	}, func(_ context.Context, a jobs.Answer) error {
		t.Errorf("sent %+v", a)
		return nil
	})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("error is %v", err)
	}
}

// TestServeKeepsWhatIsFinished: a result that was ready when the worker was stopped is still sent.
func TestServeKeepsWhatIsFinished(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	var got jobs.Answer
	err := jobs.Serve(ctx, request(), "w", func(context.Context, jobs.Request, quote.Progress) (quote.Quote, error) {
		cancel()
		return quote.Quote{Commission: "C0001"}, nil
	}, func(ctx context.Context, a jobs.Answer) error {
		got = a
		return ctx.Err()
	})
	if err != nil || got.Kind != jobs.Done {
		t.Errorf("answer %+v, error %v", got, err)
	}
}

// TestServeReportsAnAnswerNotSent: the queue must bring the request again.
func TestServeReportsAnAnswerNotSent(t *testing.T) {
	down := errors.New("the queue is down")
	err := jobs.Serve(context.Background(), request(), "w", func(context.Context, jobs.Request, quote.Progress) (quote.Quote, error) {
		return quote.Quote{}, nil
	}, func(context.Context, jobs.Answer) error { return down })
	if !errors.Is(err, down) {
		t.Errorf("error is %v", err)
	}
}

// TestServeProgress: slow sending neither slows the work nor outlives it, the newest progress wins, and shares are kept
// within 0..1.
func TestServeProgress(t *testing.T) {
	var mu sync.Mutex
	var sent []jobs.Answer
	sending := make(chan struct{}, 1)
	release := make(chan struct{})
	err := jobs.Serve(context.Background(), request(), "w", func(_ context.Context, _ jobs.Request, tell quote.Progress) (quote.Quote, error) {
		tell.At(quote.Scaling, 0)
		<-sending // the first is being sent, slowly
		for i := range 1000 {
			tell.At(quote.Nesting, float64(i)) // more than the whole
		}
		close(release)
		time.Sleep(300 * time.Millisecond)
		return quote.Quote{}, nil
	}, func(_ context.Context, a jobs.Answer) error {
		if _, err := jobs.EncodeAnswer(a); err != nil {
			t.Errorf("sent what cannot be encoded: %v", err)
		}
		if a.Kind == jobs.Progress && a.Stage == quote.Scaling {
			sending <- struct{}{}
			<-release
		}
		mu.Lock()
		defer mu.Unlock()
		sent = append(sent, a)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	mu.Lock()
	defer mu.Unlock()
	if len(sent) < 2 || len(sent) > 3 || sent[0].Stage != quote.Scaling || sent[len(sent)-1].Kind != jobs.Done {
		t.Errorf("sent %d answers: %+v", len(sent), sent)
	}
	if len(sent) == 3 && (sent[1].Stage != quote.Nesting || sent[1].Share != 1) {
		t.Errorf("the middle one is %+v", sent[1])
	}
}

type inOwnWords struct{ error }

func (inOwnWords) Client() string { return "the workshop is too cold" }

// TestWordsForTheClient: an error with a message for the client is told in those words; its cause goes to the studio.
func TestWordsForTheClient(t *testing.T) {
	cause := fmt.Errorf("item 2: %w", inOwnWords{error: errors.New("8 °C is below the 10 °C of the data sheet")})
	var got jobs.Answer
	err := jobs.Serve(context.Background(), request(), "w", func(context.Context, jobs.Request, quote.Progress) (quote.Quote, error) {
		return quote.Quote{}, cause
	}, func(_ context.Context, a jobs.Answer) error {
		got = a
		return nil
	})
	if err != nil || got.Say != "the quote could not be computed: the workshop is too cold" || got.Cause != cause.Error() {
		t.Errorf("answer %+v, error %v", got, err)
	}
}
