package browser

import (
	"context"
	"errors"
	"io/fs"
	"net/http"
	"net/url"
	"strings"
	"time"

	"benchbell/bot/chat"
)

// Own is the page that a client has of each matter of theirs, besides its thread. Who is at a client's seat reaches that of their
// own matters, who came by a private link that of the one it opens, and the studio's seat none.
type Own struct {
	Title  string // of the links to it
	Assets fs.FS  // its style and script, served at Guest.Assets to whoever asks: nothing of anybody is in them
	// Serve answers it. What is posted is parsed, and proved to come from a page of the guest's own. An error that wraps ErrUnknown says
	// that there is no such page; any other is a fault, and nothing must be written before either.
	Serve func(http.ResponseWriter, *http.Request, Guest) error
}

// Guest is who opens a page of their own, and what the page needs to be one of the desk's.
type Guest struct {
	Person chat.Person
	Studio string // the studio's name
	Of     string // the matter: what its thread was opened by
	Part   string // what is asked for of the page, such as a picture; empty: the page
	Base   string // address of the seat, with a slash at its end
	Path   string // address of the page; parts follow a slash
	Assets string // address of the page's files, with a slash at its end
	Token  string // goes into every form as "token"; what is posted without it does not reach the page
	Events string // stream of "changed" events
	Thread chat.ThreadID
	Words  string // address of the thread; empty, as Thread: they write elsewhere
	// Said is what people last wrote in the thread, the newest last.
	Said func(ctx context.Context, most int) ([]Said, error)
}

// Said is something that somebody wrote in a thread.
type Said struct {
	By    string // their name
	Own   bool   // the guest's
	At    time.Time
	Text  string
	Files int
}

const (
	ownPart   = "order/" // of its address within a seat, before the matter
	ownAssets = "/static/order/"
	ownWord   = "order" // of the form field that says where an act leads back to
)

// ownPath is the address of a matter's page.
func ownPath(s seat, of string) string { return s.base() + ownPart + url.PathEscape(of) }

// mine finds a matter of who sits there, with its thread where they write here. Another's and one that is not there are the same.
func (d *Desk) mine(ctx context.Context, s seat, of string) (Thread, bool) {
	if s.Studio || of == "" {
		return Thread{}, false
	}
	ths, err := d.threads(ctx, s)
	if err != nil {
		d.fault(ctx, "threads can't be read", "person", s.id(), "err", err)
	}
	for _, t := range ths {
		if t.Key == of {
			return t, true
		}
	}
	return Thread{}, s.As.Only == of
}

// own answers the page of a matter.
func (d *Desk) own(w http.ResponseWriter, r *http.Request, s seat) {
	of := r.PathValue("of")
	t, ok := d.mine(r.Context(), s, of)
	if d.o.Own == nil || !ok {
		d.fail(w, http.StatusNotFound, noOwnText)
		return
	}
	if r.Method == http.MethodPost && !d.proved(w, r, s) {
		return
	}
	if r.MultipartForm != nil {
		defer func() {
			if err := r.MultipartForm.RemoveAll(); err != nil {
				d.fault(r.Context(), "files sent to a client's page can't be taken away", "err", err)
			}
		}()
	}
	g := Guest{Person: s.person(), Studio: d.o.Studio, Of: of, Part: r.PathValue("part"), Base: s.base(), Path: ownPath(s, of), Assets: ownAssets,
		Token: d.token(s), Events: s.base() + "events", Thread: t.ID, Said: func(ctx context.Context, most int) ([]Said, error) { return d.said(ctx, s, t.ID, most) }}
	if t.ID != "" {
		g.Words, g.Events = threadPath(s, t.ID), g.Events+"?thread="+url.QueryEscape(string(t.ID))
	}
	err := d.o.Own.Serve(w, r, g)
	switch {
	case errors.Is(err, ErrUnknown):
		d.fail(w, http.StatusNotFound, noOwnText)
	case err != nil:
		d.fault(r.Context(), "a client's page can't be shown", "of", of, "person", s.id(), "err", err)
		d.fail(w, http.StatusInternalServerError, sorryText)
	}
}

const noOwnText = "you have no such page; go back to your list"

// said is what people last wrote in a thread.
func (d *Desk) said(ctx context.Context, s seat, thread chat.ThreadID, most int) ([]Said, error) {
	if thread == "" {
		return nil, nil
	}
	posts, err := d.o.Store.Posts(ctx, thread)
	var out []Said
	for _, p := range posts {
		switch who := p.Post.Signed; {
		case who != "":
			out = append(out, Said{By: who, At: p.At, Text: strings.TrimPrefix(p.Post.Text, "*"+who+":* ")})
		case p.By != "":
			out = append(out, Said{By: d.name(p.By), Own: p.By == s.id(), At: p.At, Text: p.Post.Text, Files: len(p.Post.Files)})
		}
	}
	return out[max(0, len(out)-most):], err
}
