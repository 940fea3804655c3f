package discord

import (
	"context"
	"sync"
)

// Memory remembers which message of the service carries a key, and which thread a commission has. Keys begin with
// "post/", "thread/", "direct/" or "home/"; values are IDs of the service. A persistent one (a table of two columns)
// spares the search described at Put and OpenThread, and is needed for commissions in direct messages to be recognised
// after a restart; without one everything else is found again by searching.
type Memory interface {
	// Get returns the value last put under key, and whether there is one.
	Get(ctx context.Context, key string) (value string, ok bool, err error)
	// Put remembers value under key, in place of what was there.
	Put(ctx context.Context, key, value string) error
}

type memory struct {
	mu sync.Mutex
	m  map[string]string
}

// newMemory remembers for as long as the process lives.
func newMemory() Memory { return &memory{m: map[string]string{}} }

func (m *memory) Get(_ context.Context, key string) (string, bool, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	v, ok := m.m[key]
	return v, ok, nil
}

func (m *memory) Put(_ context.Context, key, value string) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.m[key] = value
	return nil
}

// keyed is a set of locks by name; a name nobody holds takes no room.
type keyed struct {
	mu sync.Mutex
	m  map[string]*heldLock
}

type heldLock struct {
	mu   sync.Mutex
	refs int
}

// lock takes the lock of that name and returns what gives it back.
func (k *keyed) lock(name string) (unlock func()) {
	k.mu.Lock()
	if k.m == nil {
		k.m = map[string]*heldLock{}
	}
	l := k.m[name]
	if l == nil {
		l = &heldLock{}
		k.m[name] = l
	}
	l.refs++
	k.mu.Unlock()
	l.mu.Lock()
	return func() {
		l.mu.Unlock()
		k.mu.Lock()
		if l.refs--; l.refs == 0 {
			delete(k.m, name)
		}
		k.mu.Unlock()
	}
}
