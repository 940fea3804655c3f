// Package browser is the local desk: a chat of our own over HTTP, for a studio and its clients on one machine or one
// network, with no account anywhere.
//
// It is a chat.Transport. Every act works without JavaScript (post, redirect, get); with it, pages follow what others
// do without a reload and without touching half-typed answers. People take seats: the studio's, or a client's by
// name. Several seats may be open in one browser at once, since the seat is part of every address. What was chosen beside a
// button isn't lost when the button is pressed: answers are sent before it, everything else is shown again.
//
// It refuses requests for hosts it isn't known by, posts from other sites, acts without the seat's token, and to
// listen beyond this machine without a passphrase.
package browser

import (
	"context"
	"errors"
	"time"

	"benchbell/bot/chat"
)

// ErrUnknown is wrapped by a Store's errors when the thread, post or file asked for was never put.
var ErrUnknown = errors.New("not known here")

// ErrMoved is wrapped by PutPost's error when the key was put in another thread before.
var ErrMoved = errors.New("the key belongs to a post in another thread")

// Store keeps what the desk shows: threads and their posts. Puts are idempotent by key, so a caller that doesn't know
// whether its last put arrived puts again. Package storetest holds the laws; every implementation passes them.
//
// Methods are called from many goroutines at once.
type Store interface {
	// PutThread keeps t and returns it as kept. When t.Key was put before, the thread kept then is returned
	// unchanged (its first ID, title, person and time), and t is otherwise ignored. An ID kept under another key is
	// an error.
	PutThread(ctx context.Context, t Thread) (Thread, error)

	// Thread returns the thread by its ID, or an error wrapping ErrUnknown.
	Thread(ctx context.Context, id chat.ThreadID) (Thread, error)

	// Threads returns the person's threads, or every thread when studio is set: latest Last first, equal ones by ID.
	Threads(ctx context.Context, person chat.PersonID, studio bool) ([]Thread, error)

	// PutPost keeps s.Post. For a Post.Key kept before it replaces everything of the post, except that At and By stay
	// as first put, and that nil Files keep the files there are (empty, non-nil Files remove them). Edited becomes
	// s.At on a replacement. Thread.Last becomes the later of itself and s.At, Thread.Brief
	// becomes s.Post.Brief where that is not empty. s.Edited and s.Sizes are ignored.
	// Times are kept to the millisecond or better. An unknown thread is an error wrapping ErrUnknown; a key kept in
	// another thread is one wrapping ErrMoved.
	PutPost(ctx context.Context, s Stored) error

	// Posts returns a thread's posts by At, equal ones in the order first put. Files come with Name, MIME and Alt but
	// without Data; Sizes says how long each is. An unknown thread is an error wrapping ErrUnknown.
	Posts(ctx context.Context, thread chat.ThreadID) ([]Stored, error)

	// File returns file n, from 0, of the post with its Data. When that post has no such file or isn't in that
	// thread the error wraps ErrUnknown.
	File(ctx context.Context, thread chat.ThreadID, postKey string, n int) (chat.File, error)

	// Secret returns the secret kept under the name; when there is none it keeps fresh and returns that. Of two
	// callers at once, both get the same.
	Secret(ctx context.Context, name string, fresh []byte) ([]byte, error)
}

// Thread is a conversation the studio and one person see.
type Thread struct {
	ID     chat.ThreadID
	Key    string // what it was opened by; unique for ever
	Title  string
	With   chat.PersonID
	Opened time.Time
	Last   time.Time // of its latest post or edit; set it to Opened on PutThread
	Brief  string    // the latest Post.Brief of its posts that was not empty
}

// Stored is a post as kept.
type Stored struct {
	Post   chat.Post
	By     chat.PersonID // who posted it; empty for the bot
	At     time.Time     // when first put
	Edited time.Time     // when last replaced; zero when never
	Sizes  []int         // bytes of each of Post.Files; set by Posts
}
