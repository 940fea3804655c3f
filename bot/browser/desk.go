package browser

import (
	"context"
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"html/template"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"runtime/debug"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"benchbell/bot/chat"
)

// StudioID is the person in the studio's seat.
const StudioID chat.PersonID = scheme + ":" + studioSlug

const (
	scheme        = "browser"
	defaultListen = "127.0.0.1:8467"

	// A handler's answer is waited for this long; the engine's heavy work runs elsewhere, so more means it hangs.
	handlerPatience = 60 * time.Second
	// Requests under way get this long to end after Run is told to stop.
	stopPatience = 5 * time.Second
	maxFile      = 8 << 20 // bytes of a file that a person sends: a phone's photograph has up to 6 MB
	maxTyped     = 20_000  // characters typed into one field: some eight printed pages, more than anybody writes

	// A body of four pictures of the largest size takes this long over a slow home network (about 1 MB/s).
	bodyPatience = 60 * time.Second
)

// Options of a desk. The zero value listens on this machine alone, without a passphrase.
type Options struct {
	Listen     string           // host:port; empty means 127.0.0.1:8467
	Hosts      []string         // further host names people reach it by; setting any makes the desk a public one
	Public     string           // the address people reach it by, such as https://desk.example; empty: URL. Its host counts as one of Hosts
	Passphrase string           // names the first owner; required until then, unless only this machine can reach the desk
	Seats      Seats            // who signs in; nil: people sit by a name alone, on a desk that only this machine reaches
	Store      Store            // nil means a new Memory
	Log        *slog.Logger     // nil means slog.Default
	Studio     string           // the studio's name, as pages show it; empty means "Studio desk"
	Now        func() time.Time // nil means time.Now
	Zone       *time.Location   // of the times that pages show; nil means this machine's
	Further    []Page           // pages besides the conversation
	Own        *Own             // a client's page of each of their matters; nil: they have none
	Calendars  Calendars        // what links to calendars show; nil: there are none
	Sensor     *Sensor          // of the air at the bench; nil: none
}

// Desk is the chat.Transport of this package. New makes one.
type Desk struct {
	o        Options
	listener net.Listener
	private  bool            // only this machine reaches it
	named    atomic.Bool     // the studio's people are named, which stays so
	hosts    map[string]bool // host names answered to
	key      []byte          // signs cookies and tokens
	tries    *attempts
	live     *broker
	cards    *cabinet
	pages    *template.Template // with the desk's zone

	mu       sync.RWMutex
	running  bool
	commands []chat.Command
	handler  chat.Handler
	names    map[chat.PersonID]string // as last typed by each person
}

var _ chat.Transport = (*Desk)(nil)

// New opens the desk's socket, so that URL is known; nothing is served before Run. Close ends a desk that is never
// run. A desk that other machines can reach without a passphrase is refused.
func New(o Options) (*Desk, error) {
	if err := o.Sensor.fit(); err != nil {
		return nil, err
	}
	if o.Listen == "" {
		o.Listen = defaultListen
	}
	if o.Store == nil {
		o.Store = NewMemory()
	}
	if o.Log == nil {
		o.Log = slog.Default()
	}
	if o.Studio == "" {
		o.Studio = "Studio desk"
	}
	if o.Zone == nil {
		o.Zone = time.Local
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	host, _, err := net.SplitHostPort(o.Listen)
	if err != nil {
		return nil, fmt.Errorf("the desk's address %q isn't host:port, such as %s: %w", o.Listen, defaultListen, err)
	}
	if o.Public != "" {
		u, err := url.Parse(o.Public)
		if err != nil || u.Host == "" || u.Scheme != "http" && u.Scheme != "https" || strings.Trim(u.Path, "/") != "" || u.RawQuery != "" {
			return nil, fmt.Errorf("the desk's public address %q isn't one such as https://desk.example", o.Public)
		}
		o.Public = u.Scheme + "://" + u.Host
		if !loopback(u.Hostname()) {
			o.Hosts = append(slices.Clone(o.Hosts), u.Hostname())
		}
	}
	d := &Desk{
		o: o, private: loopback(host) && len(o.Hosts) == 0,
		hosts: map[string]bool{"localhost": true},
		live:  newBroker(), cards: newCabinet(), tries: newAttempts(),
		names: map[chat.PersonID]string{StudioID: o.Studio},
	}
	named, err := d.isNamed(context.Background())
	if err != nil {
		return nil, fmt.Errorf("whether the studio's people are named can't be read: %w", err)
	}
	if !d.private && o.Passphrase == "" && !named {
		return nil, fmt.Errorf("the desk on %s can be reached from other machines, so it needs a passphrase; set one, or listen on %s", o.Listen, defaultListen)
	}
	if !d.private && o.Seats == nil {
		return nil, fmt.Errorf("the desk on %s can be reached from other machines, and nobody can sign in to it; listen on %s", o.Listen, defaultListen)
	}
	for _, h := range append([]string{host}, o.Hosts...) {
		if h == "" {
			continue
		}
		d.hosts[strings.ToLower(h)] = true
	}
	d.pages = template.Must(pages.Clone()).Funcs(template.FuncMap{"when": func(t time.Time) string { return t.In(o.Zone).Format("2 Jan 15:04") }})
	fresh := make([]byte, 32)
	rand.Read(fresh)
	secret, err := o.Store.Secret(context.Background(), "desk", fresh)
	if err != nil {
		return nil, fmt.Errorf("the desk's signing key can't be kept: %w", err)
	}
	// A changed passphrase ends every seat taken under the old one.
	mac := hmac.New(sha256.New, secret)
	mac.Write([]byte("passphrase\x00" + o.Passphrase))
	d.key = mac.Sum(nil)
	if d.listener, err = net.Listen("tcp", o.Listen); err != nil {
		return nil, fmt.Errorf("the desk can't listen on %s; free that address or choose another: %w", o.Listen, err)
	}
	return d, nil
}

// loopback reports whether only this machine reaches the host.
func loopback(host string) bool {
	if strings.EqualFold(host, "localhost") {
		return true
	}
	a, err := netip.ParseAddr(host)
	return err == nil && a.Unmap().IsLoopback()
}

// URL is where the desk is, such as http://127.0.0.1:8467.
func (d *Desk) URL() string {
	host, port, _ := net.SplitHostPort(d.listener.Addr().String())
	if a, err := netip.ParseAddr(host); err == nil && a.IsUnspecified() {
		host = "localhost"
	}
	return "http://" + net.JoinHostPort(host, port)
}

// Address is where people reach the desk: its public address, or where it is.
func (d *Desk) Address() string {
	if d.o.Public != "" {
		return d.o.Public
	}
	return d.URL()
}

// Close frees the socket of a desk that isn't running.
func (d *Desk) Close() error { return d.listener.Close() }

// Scheme implements chat.Transport.
func (d *Desk) Scheme() string { return scheme }

// Limits implements chat.Transport. A page shows whatever is put on it; only what people type and send is bounded.
func (d *Desk) Limits() chat.Limits { return chat.Limits{Value: maxTyped, Upload: maxFile} }

// OpenThread implements chat.Transport. The studio's seat sees every thread.
func (d *Desk) OpenThread(ctx context.Context, key, title string, with chat.PersonID) (chat.ThreadID, error) {
	now := d.o.Now()
	sum := sha256.Sum256([]byte(key))
	t, err := d.o.Store.PutThread(ctx, Thread{
		ID:  chat.ThreadID(scheme + ":" + hex.EncodeToString(sum[:8])),
		Key: key, Title: title, With: with, Opened: now, Last: now,
	})
	if err != nil {
		return "", fmt.Errorf("thread %q can't be opened: %w", key, err)
	}
	d.live.tell(listTopic, threadTopic(t.ID))
	return t.ID, nil
}

// Put implements chat.Transport.
func (d *Desk) Put(ctx context.Context, p chat.Post) error {
	return d.put(ctx, Stored{Post: p, At: d.o.Now()})
}

func (d *Desk) put(ctx context.Context, s Stored) error {
	if err := d.o.Store.PutPost(ctx, s); err != nil {
		return fmt.Errorf("post %q can't be shown: %w", s.Post.Key, err)
	}
	d.live.tell(listTopic, threadTopic(s.Post.Thread))
	return nil
}

// Run implements chat.Transport. It returns nil once ctx has ended and the requests under way are answered.
func (d *Desk) Run(ctx context.Context, cmds []chat.Command, h chat.Handler) error {
	d.mu.Lock()
	if d.running {
		d.mu.Unlock()
		return errors.New("the desk has been run already; make another with New")
	}
	d.running, d.commands, d.handler = true, cmds, h
	d.mu.Unlock()

	srv := &http.Server{
		Handler:           d.routes(),
		BaseContext:       func(net.Listener) context.Context { return ctx },
		ReadHeaderTimeout: 10 * time.Second,
		ReadTimeout:       bodyPatience,
		WriteTimeout:      bodyPatience + handlerPatience + 10*time.Second,
		IdleTimeout:       2 * time.Minute,
		MaxHeaderBytes:    32 << 10,
		ErrorLog:          slog.NewLogLogger(d.o.Log.Handler(), slog.LevelDebug),
	}
	served := make(chan error, 1)
	go func() { served <- srv.Serve(d.listener) }()
	d.o.Log.Info("the desk is open", "url", d.URL(), "private", d.private)
	select {
	case err := <-served:
		return fmt.Errorf("the desk stopped serving: %w", err)
	case <-ctx.Done():
	}
	stop, cancel := context.WithTimeout(context.WithoutCancel(ctx), stopPatience)
	defer cancel()
	if err := srv.Shutdown(stop); err != nil {
		srv.Close()
	}
	<-served
	return nil
}

// call asks the handler and turns a panic of it into an error. The act is carried through even when the person's
// browser goes away meanwhile: half an act is worse than an answer nobody reads.
func (d *Desk) call(ctx context.Context, in chat.Incoming) (r chat.Reply, err error) {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), handlerPatience)
	defer cancel()
	defer func() {
		if p := recover(); p != nil {
			r, err = chat.Reply{}, fmt.Errorf("the handler panicked: %v\n%s", p, debug.Stack())
		}
	}()
	return d.handler(ctx, in)
}

// name is how pages call a person.
func (d *Desk) name(id chat.PersonID) string {
	d.mu.RLock()
	n, ok := d.names[id]
	d.mu.RUnlock()
	if ok {
		return n
	}
	if d.o.Seats != nil {
		if n := d.o.Seats.Name(context.Background(), id); n != "" {
			d.learn(id, n)
			return n
		}
	}
	_, rest, ok := strings.Cut(string(id), ":")
	if !ok {
		return string(id)
	}
	return rest
}
