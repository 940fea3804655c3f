package ledger

import (
	"context"
	"errors"
	"fmt"
	"time"

	"benchbell/bot/chat"
)

// ErrMoved says that a post's key was put in another thread before.
var ErrMoved = errors.New("the key belongs to a post in another thread")

// Pages keeps what a transport without a memory of its own has to show: threads, posts, files and its secrets. Puts
// are idempotent by key.
type Pages struct{ l *Ledger }

// Pages of this ledger.
func (l *Ledger) Pages() Pages { return Pages{l} }

// PageThread is a conversation the studio and one person see.
type PageThread struct {
	ID     chat.ThreadID
	Key    string // unique for ever
	Title  string
	With   chat.PersonID
	Opened time.Time
	Last   time.Time // of its latest post or edit
	Brief  string    // the latest that its posts had
}

// PagePost is a post as kept.
type PagePost struct {
	Post   chat.Post
	By     chat.PersonID // empty for the bot
	At     time.Time     // when first put
	Edited time.Time     // when last replaced; zero when never
	Sizes  []int         // bytes of each of Post.Files
}

const pageThreadColumns = `id, key, title, person, opened_at, last_at, brief`

func scanPageThread(s scanner) (t PageThread, err error) {
	return t, s.Scan(&t.ID, &t.Key, &t.Title, &t.With, moment{&t.Opened}, moment{&t.Last}, &t.Brief)
}

// PutThread keeps a thread and returns it as kept; the first put of a key holds. An ID kept under another key is an
// error.
func (p Pages) PutThread(ctx context.Context, th PageThread) (PageThread, error) {
	if th.ID == "" || th.Key == "" {
		return PageThread{}, fmt.Errorf("a thread needs a key and an id, got %q and %q", th.Key, th.ID)
	}
	err := p.l.Tx(ctx, func(t *Tx) error {
		err := t.exec(`insert into page_threads (`+pageThreadColumns+`) values (?, ?, ?, ?, ?, ?, ?) on conflict (key) do nothing`,
			string(th.ID), th.Key, th.Title, string(th.With), stamp(th.Opened), stamp(th.Last), th.Brief)
		if err != nil {
			return fmt.Errorf("thread %q: %w", th.ID, err)
		}
		th, err = one(t, scanPageThread, `select `+pageThreadColumns+` from page_threads where key = ?`, th.Key)
		return err
	})
	return th, err
}

// Thread by its ID, or ErrNone.
func (p Pages) Thread(ctx context.Context, id chat.ThreadID) (th PageThread, err error) {
	err = p.l.Tx(ctx, func(t *Tx) error {
		th, err = t.pageThread(id)
		return err
	})
	return th, err
}

func (t *Tx) pageThread(id chat.ThreadID) (PageThread, error) {
	th, err := one(t, scanPageThread, `select `+pageThreadColumns+` from page_threads where id = ?`, string(id))
	if err != nil {
		return th, fmt.Errorf("thread %q: %w", id, err)
	}
	return th, nil
}

// Threads of a person, or all where everybody is set: latest first, equal ones by ID.
func (p Pages) Threads(ctx context.Context, person chat.PersonID, everybody bool) (ths []PageThread, err error) {
	err = p.l.Tx(ctx, func(t *Tx) error {
		ths, err = all(t, scanPageThread, `select `+pageThreadColumns+` from page_threads where ? or person = ? order by last_at desc, id`,
			everybody, string(person))
		return err
	})
	return ths, err
}

// PutPost keeps a post. Of a key kept before everything is replaced but its time and author; nil files keep the files
// there are, empty ones remove them.
func (p Pages) PutPost(ctx context.Context, s PagePost) error {
	post := s.Post
	if post.Key == "" {
		return errors.New("a post needs a key")
	}
	return p.l.Tx(ctx, func(t *Tx) error {
		if _, err := t.pageThread(post.Thread); err != nil {
			return err
		}
		in, err := one(t, func(s scanner) (th chat.ThreadID, err error) { return th, s.Scan(&th) },
			`select thread from page_posts where key = ?`, post.Key)
		if err != nil && !errors.Is(err, ErrNone) {
			return err
		}
		known := err == nil
		if known && in != post.Thread {
			return fmt.Errorf("post %q: %w", post.Key, ErrMoved)
		}
		bare := post
		bare.Files = nil
		text, err := encode(bare)
		if err != nil {
			return err
		}
		if known {
			err = t.exec(`update page_posts set post = ?, edited_at = ? where key = ?`, text, stamp(s.At), post.Key)
		} else {
			var n int64
			if n, err = t.Next("page post"); err != nil {
				return err
			}
			err = t.exec(`insert into page_posts (key, n, thread, post, by, at) values (?, ?, ?, ?, ?, ?)`,
				post.Key, n, string(post.Thread), text, string(s.By), stamp(s.At))
		}
		if err != nil {
			return err
		}
		if post.Files != nil {
			if err := t.exec(`delete from page_files where key = ?`, post.Key); err != nil {
				return err
			}
		}
		for i, f := range post.Files {
			data := f.Data
			if data == nil {
				data = []byte{}
			}
			if err := t.exec(`insert into page_files (key, n, name, mime, alt, data) values (?, ?, ?, ?, ?, ?)`,
				post.Key, i, f.Name, f.MIME, f.Alt, data); err != nil {
				return err
			}
		}
		return t.exec(`update page_threads set last_at = max(last_at, ?), brief = case ? when '' then brief else ? end where id = ?`,
			stamp(s.At), post.Brief, post.Brief, string(post.Thread))
	})
}

// Posts of a thread by time, equal ones in order of arrival; files come without their bytes.
func (p Pages) Posts(ctx context.Context, thread chat.ThreadID) (posts []PagePost, err error) {
	type file struct {
		key  string
		f    chat.File
		size int
	}
	err = p.l.Tx(ctx, func(t *Tx) error {
		if _, err := t.pageThread(thread); err != nil {
			return err
		}
		posts, err = all(t, func(s scanner) (p PagePost, err error) {
			return p, s.Scan(encoded{&p.Post}, &p.By, moment{&p.At}, moment{&p.Edited})
		}, `select post, by, at, edited_at from page_posts where thread = ? order by at, n`, string(thread))
		if err != nil {
			return err
		}
		files, err := all(t, func(s scanner) (f file, err error) {
			return f, s.Scan(&f.key, &f.f.Name, &f.f.MIME, &f.f.Alt, &f.size)
		}, `select f.key, f.name, f.mime, f.alt, length(f.data) from page_files f join page_posts p on p.key = f.key
			where p.thread = ? order by f.key, f.n`, string(thread))
		if err != nil {
			return err
		}
		at := map[string]int{}
		for i := range posts {
			at[posts[i].Post.Key] = i
		}
		for _, f := range files {
			s := &posts[at[f.key]]
			s.Post.Files = append(s.Post.Files, f.f)
			s.Sizes = append(s.Sizes, f.size)
		}
		return nil
	})
	return posts, err
}

// File n, from 0, of a post in the thread, or ErrNone.
func (p Pages) File(ctx context.Context, thread chat.ThreadID, key string, n int) (f chat.File, err error) {
	err = p.l.Tx(ctx, func(t *Tx) error {
		f, err = one(t, func(s scanner) (f chat.File, err error) { return f, s.Scan(&f.Name, &f.MIME, &f.Alt, &f.Data) },
			`select f.name, f.mime, f.alt, f.data from page_files f join page_posts p on p.key = f.key
			 where p.thread = ? and f.key = ? and f.n = ?`, string(thread), key, n)
		if err != nil {
			return fmt.Errorf("file %d of post %q: %w", n, key, err)
		}
		return nil
	})
	return f, err
}

// Secret kept under the name; where there is none, fresh is kept and returned.
func (p Pages) Secret(ctx context.Context, name string, fresh []byte) (v []byte, err error) {
	err = p.l.Tx(ctx, func(t *Tx) error {
		v, err = t.Secret(name, fresh)
		return err
	})
	return v, err
}

// Secret kept under the name; where there is none, fresh is kept and returned.
func (t *Tx) Secret(name string, fresh []byte) ([]byte, error) {
	if err := t.exec(`insert into secrets (name, value) values (?, ?) on conflict (name) do nothing`, name, fresh); err != nil {
		return nil, err
	}
	return one(t, func(s scanner) (v []byte, err error) { return v, s.Scan(&v) }, `select value from secrets where name = ?`, name)
}
