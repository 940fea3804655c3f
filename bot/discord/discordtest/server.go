// Package discordtest is a stand-in for the Discord service: its HTTP interface and its gateway on a loopback socket, and
// people who use them.
//
// It hides the service's state: channels, threads and who is in them, messages, what each person alone sees, forms open
// on their screens. It refuses what the service refuses (texts too long, components too many, an act acknowledged twice or
// later than three seconds), and remembers each such refusal as a Problem, so that a test can demand that there were none.
// What always holds: time is its own and moves only by Advance, so that nothing depends on how fast a machine is.
//
// It was written from memory of the service's public documentation. Request bodies are also held against the service's
// published interface description (OpenAPI, github.com/discord/discord-api-spec) where a copy of it is at hand; see
// Specification.
package discordtest

import (
	"context"
	"encoding/json"
	"fmt"
	"net"
	"net/http"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"
)

// Permissions of people and of the bot.
const (
	ManageServer  = 1 << 5
	ManageThreads = 1 << 34
)

// Kinds of channels.
const (
	textChannel   = 0
	directChannel = 1
	publicThread  = 11
	privateThread = 12
)

// Server is the stand-in. It is safe for concurrent use.
type Server struct {
	t    testing.TB
	spec *specification
	url  string

	mu       sync.Mutex
	changed  chan struct{} // closed and replaced whenever something changes
	now      time.Time
	nextID   int64
	token    string
	bot, app string
	guild    string
	lobby    string
	owner    string
	allowed  botMay
	commands []registered
	channels map[string]*channel
	people   map[string]*Person
	roles    map[string]int64 // permissions by role
	files    map[string][]byte
	acts     map[string]*act // by interaction token
	nonces   map[string]nonce
	sessions map[string]*session
	current  *session
	failures []*Failure
	problems []string
	requests []string
	done     chan struct{}
}

// botMay says what the bot was granted.
type botMay struct {
	privateThreads, publicThreads, content, reactions bool
}

// Failure is one way of failing that the next requests meet.
type Failure struct {
	Method, Path string        // as they begin and contain; empty matches all
	Times        int           // how often
	Status       int           // 429, 500, 502
	RetryAfter   time.Duration // with 429
	Lost         bool          // the request is served and its answer lost: the caller sees Status
}

type channel struct {
	id, name, guild, parent, owner string
	kind                           int
	members                        map[string]bool // of a private thread or of direct messages
	archived                       bool
	messages                       []*Message
}

type nonce struct {
	message *Message
	at      time.Time
}

type registered struct {
	ID          string          `json:"id"`
	Name        string          `json:"name"`
	Description string          `json:"description"`
	Permissions json.RawMessage `json:"default_member_permissions"`
	Contexts    []int           `json:"contexts"`
	Options     []struct {
		Type        int    `json:"type"`
		Name        string `json:"name"`
		Description string `json:"description"`
		Required    bool   `json:"required"`
	} `json:"options"`
	global bool
}

// Attachment is a file of a message.
type Attachment struct {
	ID          string `json:"id"`
	Filename    string `json:"filename"`
	Description string `json:"description,omitempty"`
	ContentType string `json:"content_type,omitempty"`
	Size        int    `json:"size"`
	URL         string `json:"url"`
	ProxyURL    string `json:"proxy_url"`
}

// Message is a message as people see it.
type Message struct {
	ID          string
	Channel     string
	Author      string // user ID
	Content     string
	Components  []Component
	Attachments []Attachment
	Reference   string   // ID of the message it answers
	Pings       []string // who was told: user IDs, or "everyone"
	For         string   // user ID of the only person who sees it; empty: everybody in the channel
	Thinking    bool     // an acknowledgement whose answer is still to come
	Reactions   []string
	raw         json.RawMessage // components
}

// Component is a button, a menu or a field of a form.
type Component struct {
	Type        int         `json:"type"`
	CustomID    string      `json:"custom_id"`
	Label       string      `json:"label"`
	Style       int         `json:"style"`
	Placeholder string      `json:"placeholder"`
	Value       string      `json:"value"`
	Required    *bool       `json:"required"`
	MinValues   *int        `json:"min_values"`
	MaxValues   *int        `json:"max_values"`
	MinLength   int         `json:"min_length"`
	MaxLength   int         `json:"max_length"`
	Options     []Option    `json:"options"`
	Components  []Component `json:"components"`
}

// Option of a menu.
type Option struct {
	Label       string `json:"label"`
	Value       string `json:"value"`
	Description string `json:"description"`
	Default     bool   `json:"default"` // shown as picked
}

// Types of components.
const (
	Row    = 1
	Button = 2
	Menu   = 3
	Field  = 4
)

// New starts a stand-in with one server that has one channel, and ends it with the test.
func New(t testing.TB) *Server {
	t.Helper()
	s := &Server{
		t: t, changed: make(chan struct{}), now: time.Date(2027, 3, 1, 9, 0, 0, 0, time.UTC), nextID: 1_000_000_000_000_000,
		allowed:  botMay{privateThreads: true, publicThreads: true, content: true, reactions: true},
		channels: map[string]*channel{}, people: map[string]*Person{}, roles: map[string]int64{}, files: map[string][]byte{},
		acts: map[string]*act{}, nonces: map[string]nonce{}, sessions: map[string]*session{}, done: make(chan struct{}),
	}
	s.spec = loadSpecification(t)
	s.bot, s.app, s.guild, s.lobby, s.owner = s.id(), s.id(), s.id(), s.id(), s.id()
	s.token = "token-of-" + s.bot
	s.roles[s.guild] = 0
	s.channels[s.lobby] = &channel{id: s.lobby, name: "commissions", guild: s.guild, kind: textChannel}

	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	s.url = "http://" + l.Addr().String()
	web := &http.Server{Handler: s.routes(), ReadHeaderTimeout: 10 * time.Second}
	served := make(chan struct{})
	go func() {
		defer close(served)
		_ = web.Serve(l) // ends with ErrServerClosed
	}()
	t.Cleanup(func() {
		close(s.done)
		s.DropGateway()
		if err := web.Close(); err != nil {
			t.Error(err)
		}
		<-served
	})
	return s
}

// URL is the address that stands for the service's own.
func (s *Server) URL() string { return s.url }

// Token is the bot's.
func (s *Server) Token() string { return s.token }

// Guild is the server's ID, Channel its channel's, Bot the bot's.
func (s *Server) Guild() string { return s.guild }

// Channel is the ID of the server's channel.
func (s *Server) Channel() string { return s.lobby }

// Bot is the bot's user ID.
func (s *Server) Bot() string { return s.bot }

// id is a new ID; call it with mu held or before serving.
func (s *Server) id() string {
	s.nextID++
	return strconv.FormatInt(s.nextID, 10)
}

// Advance moves the service's clock.
func (s *Server) Advance(d time.Duration) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.now = s.now.Add(d)
	s.touch()
}

// Deny takes permissions from the bot: "private threads", "public threads", "message content", "reactions".
func (s *Server) Deny(what ...string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, w := range what {
		switch w {
		case "private threads":
			s.allowed.privateThreads = false
		case "public threads":
			s.allowed.publicThreads = false
		case "message content":
			s.allowed.content = false
		case "reactions":
			s.allowed.reactions = false
		default:
			panic("nothing to deny: " + w)
		}
	}
}

// Fail makes requests fail.
func (s *Server) Fail(f Failure) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.failures = append(s.failures, &f)
}

// Problems are the requests so far that the service would have refused for what they say, in order.
func (s *Server) Problems() []string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return append([]string(nil), s.problems...)
}

// Requests counts the requests whose method and path begin and contain that.
func (s *Server) Requests(method, path string) int {
	s.mu.Lock()
	defer s.mu.Unlock()
	n := 0
	for _, r := range s.requests {
		m, p, _ := strings.Cut(r, " ")
		if m == method && strings.Contains(p, path) {
			n++
		}
	}
	return n
}

// AddRole makes a role and returns its ID.
func (s *Server) AddRole(permissions int64) string {
	s.mu.Lock()
	defer s.mu.Unlock()
	id := s.id()
	s.roles[id] = permissions
	return id
}

// AddPerson makes a member of the server with these roles.
func (s *Server) AddPerson(name string, roles ...string) *Person {
	s.mu.Lock()
	defer s.mu.Unlock()
	p := &Person{s: s, id: s.id(), name: name, roles: roles}
	s.people[p.id] = p
	return p
}

// permissions of a person in the server; call it with mu held.
func (s *Server) permissions(p *Person) int64 {
	all := s.roles[s.guild]
	for _, r := range p.roles {
		all |= s.roles[r]
	}
	return all
}

// sees reports whether a user (a person or the bot) sees the channel; call it with mu held.
func (s *Server) sees(user string, c *channel) bool {
	switch c.kind {
	case directChannel:
		return c.members[user]
	case privateThread:
		if c.members[user] {
			return true
		}
		p := s.people[user]
		return p != nil && s.permissions(p)&ManageThreads != 0
	}
	return true
}

// Members are the user IDs in a thread, in no order.
func (s *Server) Members(thread string) []string {
	s.mu.Lock()
	defer s.mu.Unlock()
	var out []string
	if c := s.channels[thread]; c != nil {
		for m := range c.members {
			out = append(out, m)
		}
	}
	return out
}

// ThreadName is the name of a thread, and whether it is private.
func (s *Server) ThreadName(thread string) (name string, private bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if c := s.channels[thread]; c != nil {
		return c.name, c.kind == privateThread
	}
	return "", false
}

// Archive puts a thread to rest.
func (s *Server) Archive(thread string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.channels[thread].archived = true
}

// Delete removes a message, as a moderator does.
func (s *Server) Delete(channel, message string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if c := s.channels[channel]; c != nil {
		for i, m := range c.messages {
			if m.ID == message {
				c.messages = append(c.messages[:i], c.messages[i+1:]...)
				return
			}
		}
	}
}

// touch tells waiters that something changed; call it with mu held.
func (s *Server) touch() {
	close(s.changed)
	s.changed = make(chan struct{})
}

// Until waits until ok holds, which is called with the state at rest; it fails when ctx ends first.
func (s *Server) until(ctx context.Context, what string, ok func() bool) error {
	for {
		s.mu.Lock()
		if ok() {
			s.mu.Unlock()
			return nil
		}
		changed := s.changed
		s.mu.Unlock()
		select {
		case <-changed:
		case <-ctx.Done():
			return fmt.Errorf("%s did not come about: %w", what, ctx.Err())
		case <-s.done:
			return fmt.Errorf("%s did not come about before the stand-in ended", what)
		}
	}
}

// problem notes what the service refuses; call it with mu held.
func (s *Server) problem(format string, args ...any) {
	s.problems = append(s.problems, fmt.Sprintf(format, args...))
}
