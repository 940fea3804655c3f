package discord

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"time"

	"github.com/bwmarrin/discordgo"

	"benchbell/bot/chat"
)

// Error codes of the service, from its published list of JSON error codes (from memory).
const (
	codeUnknownChannel     = 10003
	codeUnknownMessage     = 10008
	codeUnknownInteraction = 10062
	codeAcknowledged       = 40060
	codeMissingAccess      = 50001
	codeMissingPermission  = 50013
	codeThreadArchived     = 50083
)

// A request that fails on the server's side is tried this often, with growing pauses between.
const tries = 4

// rewriter sends what is meant for the service to a stand-in instead.
type rewriter struct{ to *url.URL }

func (r *rewriter) RoundTrip(req *http.Request) (*http.Response, error) {
	if h := req.URL.Hostname(); h == "discord.com" || h == "cdn.discordapp.com" {
		req = req.Clone(req.Context())
		req.URL.Scheme, req.URL.Host = r.to.Scheme, r.to.Host
		req.Host = r.to.Host
	}
	return http.DefaultTransport.RoundTrip(req)
}

// request is one call of the service. files go beside body as a multipart form.
type request struct {
	method, url string
	bucket      string // for rate limits; empty: the address
	body        any
	files       []chat.File
}

// call makes the request and decodes the answer into out, unless that is nil. It waits out rate limits and tries again
// on the server's failures; ctx ends either. discordgo would sleep through a rate limit whatever ctx says, and retries no
// failure but 502, hence the loop here.
func (t *Transport) call(ctx context.Context, r request, out any) error {
	contentType, body := "application/json", []byte(nil)
	var err error
	switch {
	case len(r.files) > 0:
		files := make([]*discordgo.File, len(r.files))
		for i, f := range r.files {
			files[i] = &discordgo.File{Name: f.Name, ContentType: f.MIME, Reader: bytes.NewReader(f.Data)}
		}
		contentType, body, err = discordgo.MultipartBodyWithJSON(r.body, files)
	case r.body != nil:
		body, err = discordgo.Marshal(r.body)
	}
	if err != nil {
		return fmt.Errorf("the request cannot be encoded: %w", err)
	}
	pause := 200 * time.Millisecond
	for try := 1; ; try++ {
		answer, err := t.session.RequestRaw(r.method, r.url, contentType, body, r.bucket, 0,
			discordgo.WithContext(ctx), discordgo.WithRetryOnRatelimit(false), discordgo.WithRestRetries(0))
		if err == nil {
			if out == nil {
				return nil
			}
			if err := discordgo.Unmarshal(answer, out); err != nil {
				return fmt.Errorf("the answer of %s is not understood: %w", r.method, err)
			}
			return nil
		}
		if ctx.Err() != nil {
			return ctx.Err()
		}
		wait := pause
		var limited *discordgo.RateLimitError
		switch {
		case errors.As(err, &limited):
			wait = limited.RetryAfter
			try-- // being told to wait is no failure
		case permanent(err) || try == tries:
			return err
		default:
			pause *= 2
		}
		if err := sleep(ctx, wait); err != nil {
			return err
		}
	}
}

// permanent reports whether the service understood the request and refused it.
func permanent(err error) bool {
	var rest *discordgo.RESTError
	return errors.As(err, &rest) && rest.Response != nil && rest.Response.StatusCode < 500
}

// is reports whether err carries one of the service's codes.
func is(err error, codes ...int) bool {
	var rest *discordgo.RESTError
	if !errors.As(err, &rest) || rest.Message == nil {
		return false
	}
	for _, c := range codes {
		if rest.Message.Code == c {
			return true
		}
	}
	return false
}

// sleep waits for d or for the end of ctx.
func sleep(ctx context.Context, d time.Duration) error {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-timer.C:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// download fetches what a person attached. The address comes from the service; only its own hosts are fetched from, so
// that a forged event can't make the bot read addresses of its network.
func (t *Transport) download(ctx context.Context, a *discordgo.MessageAttachment) (chat.File, error) {
	tooLarge := &chat.Refusal{Say: fmt.Sprintf("the file %s is larger than %d MB; send a smaller one", a.Filename, limits.Upload>>20)}
	if a.Size > limits.Upload {
		return chat.File{}, tooLarge
	}
	u, err := url.Parse(a.URL)
	if err != nil {
		return chat.File{}, fmt.Errorf("the attachment's address is not understood: %w", err)
	}
	own := u.Scheme == "https" && (u.Host == "cdn.discordapp.com" || u.Host == "media.discordapp.net")
	if !own && (t.apiHost == "" || u.Host != t.apiHost) {
		return chat.File{}, fmt.Errorf("the attachment's host %q is not the service's", u.Host)
	}
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, a.URL, nil)
	if err != nil {
		return chat.File{}, fmt.Errorf("the attachment's address is not understood: %w", err)
	}
	resp, err := t.client.Do(req)
	if err != nil {
		return chat.File{}, fmt.Errorf("the attachment %s cannot be fetched: %w", a.Filename, err)
	}
	defer resp.Body.Close()
	if resp.StatusCode != http.StatusOK {
		return chat.File{}, fmt.Errorf("the attachment %s cannot be fetched: %s", a.Filename, resp.Status)
	}
	data, err := io.ReadAll(io.LimitReader(resp.Body, int64(limits.Upload)+1))
	if err != nil {
		return chat.File{}, fmt.Errorf("the attachment %s cannot be fetched: %w", a.Filename, err)
	}
	if len(data) > limits.Upload {
		return chat.File{}, tooLarge
	}
	return chat.File{Name: a.Filename, MIME: a.ContentType, Data: data}, nil
}
