package browser

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"sync"

	"benchbell/bot/chat"
)

// Memory is a Store that forgets at the end of the process.
type Memory struct {
	mu      sync.Mutex
	threads map[chat.ThreadID]*Thread
	keys    map[string]chat.ThreadID
	posts   map[string]*Stored
	order   map[chat.ThreadID][]string // post keys in the order first put
	secrets map[string][]byte
}

// NewMemory returns an empty Memory.
func NewMemory() *Memory {
	return &Memory{
		threads: map[chat.ThreadID]*Thread{}, keys: map[string]chat.ThreadID{},
		posts: map[string]*Stored{}, order: map[chat.ThreadID][]string{}, secrets: map[string][]byte{},
	}
}

// PutThread implements Store.
func (m *Memory) PutThread(_ context.Context, t Thread) (Thread, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if id, ok := m.keys[t.Key]; ok {
		return *m.threads[id], nil
	}
	if t.Key == "" || t.ID == "" {
		return Thread{}, fmt.Errorf("a thread needs a key and an id, got %q and %q", t.Key, t.ID)
	}
	if old, ok := m.threads[t.ID]; ok {
		return Thread{}, fmt.Errorf("thread id %q is already kept under key %q", t.ID, old.Key)
	}
	m.keys[t.Key] = t.ID
	m.threads[t.ID] = &t
	return t, nil
}

// Thread implements Store.
func (m *Memory) Thread(_ context.Context, id chat.ThreadID) (Thread, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	t, ok := m.threads[id]
	if !ok {
		return Thread{}, fmt.Errorf("thread %q: %w", id, ErrUnknown)
	}
	return *t, nil
}

// Threads implements Store.
func (m *Memory) Threads(_ context.Context, person chat.PersonID, studio bool) ([]Thread, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	var out []Thread
	for _, t := range m.threads {
		if studio || t.With == person {
			out = append(out, *t)
		}
	}
	slices.SortFunc(out, func(a, b Thread) int {
		return cmp.Or(b.Last.Compare(a.Last), cmp.Compare(a.ID, b.ID))
	})
	return out, nil
}

// PutPost implements Store.
func (m *Memory) PutPost(_ context.Context, s Stored) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	p := copyPost(s.Post)
	t, ok := m.threads[p.Thread]
	if !ok {
		return fmt.Errorf("thread %q: %w", p.Thread, ErrUnknown)
	}
	if p.Key == "" {
		return fmt.Errorf("a post needs a key")
	}
	if old, ok := m.posts[p.Key]; ok {
		if old.Post.Thread != p.Thread {
			return fmt.Errorf("post %q: %w", p.Key, ErrMoved)
		}
		if p.Files == nil {
			p.Files = old.Post.Files
		}
		old.Post, old.Edited = p, s.At
	} else {
		m.posts[p.Key] = &Stored{Post: p, By: s.By, At: s.At}
		m.order[p.Thread] = append(m.order[p.Thread], p.Key)
	}
	if p.Brief != "" {
		t.Brief = p.Brief
	}
	if s.At.After(t.Last) {
		t.Last = s.At
	}
	return nil
}

// Posts implements Store.
func (m *Memory) Posts(_ context.Context, thread chat.ThreadID) ([]Stored, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if _, ok := m.threads[thread]; !ok {
		return nil, fmt.Errorf("thread %q: %w", thread, ErrUnknown)
	}
	var out []Stored
	for _, k := range m.order[thread] {
		s := *m.posts[k]
		s.Post = copyPost(s.Post)
		s.Sizes = make([]int, len(s.Post.Files))
		for i := range s.Post.Files {
			s.Sizes[i] = len(s.Post.Files[i].Data)
			s.Post.Files[i].Data = nil
		}
		out = append(out, s)
	}
	slices.SortStableFunc(out, func(a, b Stored) int { return a.At.Compare(b.At) })
	return out, nil
}

// File implements Store.
func (m *Memory) File(_ context.Context, thread chat.ThreadID, postKey string, n int) (chat.File, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	s, ok := m.posts[postKey]
	if !ok || s.Post.Thread != thread || n < 0 || n >= len(s.Post.Files) {
		return chat.File{}, fmt.Errorf("file %d of post %q: %w", n, postKey, ErrUnknown)
	}
	f := s.Post.Files[n]
	f.Data = slices.Clone(f.Data)
	return f, nil
}

// Secret implements Store.
func (m *Memory) Secret(_ context.Context, name string, fresh []byte) ([]byte, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if _, ok := m.secrets[name]; !ok {
		m.secrets[name] = slices.Clone(fresh)
	}
	return slices.Clone(m.secrets[name]), nil
}

// copyPost copies what a caller could later change in place. File data is shared: nobody writes to it.
func copyPost(p chat.Post) chat.Post {
	p.Files = slices.Clone(p.Files)
	p.Buttons = slices.Clone(p.Buttons)
	p.Menus = slices.Clone(p.Menus)
	for i := range p.Menus {
		p.Menus[i].Options = slices.Clone(p.Menus[i].Options)
	}
	p.Mention = slices.Clone(p.Mention)
	if p.Bar != nil {
		b := *p.Bar
		b.Stages = slices.Clone(b.Stages)
		p.Bar = &b
	}
	return p
}
