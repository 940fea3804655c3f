// Package discord carries the conversation over Discord: slash commands, buttons, menus, forms, and a private thread for
// each commission.
//
// It hides the whole of that service from the rest of the program: the three seconds in which an act must be
// acknowledged, forms that may only be the first answer, messages whose identifiers are chosen by the server, rate
// limits, a gateway that drops, and mentions that must not ring anybody they were not meant for. It refuses posts that
// the service could not show (too many buttons, the same action twice). What always holds: a post's key names at most one
// message of its thread, and a commission's key one thread, also after a restart (see Memory); an act is acknowledged
// whatever its handler does; nobody is mentioned but those in Post.Mention.
//
// In the channels it works in the bot needs the permissions to view them, to create private threads, to send messages in
// threads, to attach files, to read the message history and to add reactions. A private thread holds its client and the
// bot; the studio sees it through the permission to manage threads, which its role needs. Pictures sent as plain messages
// are heard only with the message content intent, which is switched on in the service's developer settings.
package discord

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/url"
	"strings"
	"sync"
	"time"

	"github.com/bwmarrin/discordgo"
	"github.com/gorilla/websocket"

	"benchbell/bot/chat"
)

const scheme = "discord"

// Close codes of the gateway after which trying again in the same way is useless. Source: the service's published list
// of gateway close event codes (from memory).
const (
	closeBadToken   = 4004
	closeBadShard   = 4010
	closeBadVersion = 4012
	closeBadIntents = 4013
	closeNoIntents  = 4014 // the bot asked for a privileged intent that was not switched on for it
)

// Options say which bot speaks where.
type Options struct {
	Token      string // of the bot, with or without "Bot " in front
	Guild      string // ID of the server whose commands are registered; empty registers them everywhere
	StudioRole string // ID of the role in the studio's seat; empty: whoever may manage the server
	Channel    string // ID of the channel commission threads go under when it isn't known where the person wrote; may be empty
	API        string // base address instead of the service's own, for a stand-in: "http://127.0.0.1:8080"
	Memory     Memory // what was posted; nil remembers in this process only
	Log        *slog.Logger
}

// Transport is the conversation on Discord. It is safe for concurrent use.
type Transport struct {
	opts     Options
	log      *slog.Logger
	mem      Memory
	session  *discordgo.Session
	client   *http.Client
	apiHost  string // of the stand-in; empty for the service itself
	patience func() (<-chan time.Time, func() bool)

	locks keyed

	mu       sync.Mutex
	bot      string            // the bot's user ID
	app      string            // the application's ID
	homes    map[string]home   // by user ID: where that person last wrote outside a commission's thread
	threads  map[string]bool   // by channel ID: a commission's thread or not
	parents  map[string]string // by thread's channel ID: the channel it hangs under
	forms    formShelf         // forms waiting behind an "Open the form" button, by its ID
	sheets   formShelf         // forms opened, by their action, to be filled in again when refused
	heard    acts              // acts taken already
	seats    map[string]seat   // by user ID: whether they hold the studio's seat, for a while
	studio   map[string]bool   // by command name: for the studio only
	handle   chat.Handler      // nil until Run
	base     context.Context   // Run's
	busy     sync.WaitGroup    // acts under way
	closing  bool              // Run is ending: take no further acts
	now      func() time.Time  // for caches only
	dropped  chan struct{}     // the gateway was lost
	ready    chan struct{}     // closed by the first READY
	readyOne sync.Once
}

// home is where a person's commissions open.
type home struct {
	channel string
	direct  bool // a direct message channel
}

type seat struct {
	studio bool
	until  time.Time
}

// New prepares a transport; it does not connect. It fails on a missing token and on an API that is no address.
func New(o Options) (*Transport, error) {
	token := strings.TrimSpace(o.Token)
	if token == "" {
		return nil, errors.New("a Discord bot needs a token; set BENCHBELL_DISCORD_TOKEN to the bot's")
	}
	if !strings.HasPrefix(token, "Bot ") {
		token = "Bot " + token
	}
	s, err := discordgo.New(token)
	if err != nil {
		return nil, fmt.Errorf("the Discord session cannot be made: %w", err)
	}
	if o.Log == nil {
		o.Log = slog.New(slog.NewTextHandler(io.Discard, nil))
	}
	if o.Memory == nil {
		o.Memory = newMemory()
	}
	t := &Transport{
		opts: o, log: o.Log, mem: o.Memory, session: s, now: time.Now,
		homes: map[string]home{}, threads: map[string]bool{}, parents: map[string]string{}, seats: map[string]seat{},
		studio: map[string]bool{}, dropped: make(chan struct{}, 1), ready: make(chan struct{}),
	}
	t.patience = func() (<-chan time.Time, func() bool) {
		timer := time.NewTimer(patience)
		return timer.C, timer.Stop
	}
	s.Client = &http.Client{Timeout: 30 * time.Second} // an upload of several files on a slow line
	if o.API != "" {
		u, err := url.Parse(o.API)
		if err != nil {
			return nil, fmt.Errorf("the Discord address %q is no address; leave it empty for the service's own: %w", o.API, err)
		}
		if u.Scheme != "http" && u.Scheme != "https" || u.Host == "" {
			return nil, fmt.Errorf("the Discord address %q is no address; leave it empty for the service's own", o.API)
		}
		t.apiHost = u.Host
		s.Client.Transport = &rewriter{to: u}
	}
	s.Client.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	t.client = s.Client
	s.StateEnabled = false // nothing here reads the library's cache
	s.ShouldReconnectOnError = false
	s.LogLevel = -1
	s.Dialer = &websocket.Dialer{Proxy: http.ProxyFromEnvironment, HandshakeTimeout: 20 * time.Second}
	s.Identify.Intents = discordgo.IntentsGuilds | discordgo.IntentsGuildMessages | discordgo.IntentsDirectMessages | discordgo.IntentMessageContent
	s.AddHandler(func(_ *discordgo.Session, r *discordgo.Ready) { t.onReady(r) })
	s.AddHandler(func(*discordgo.Session, *discordgo.Disconnect) {
		select {
		case t.dropped <- struct{}{}:
		default:
		}
	})
	s.AddHandler(func(_ *discordgo.Session, i *discordgo.InteractionCreate) {
		t.act(func() { t.onInteraction(i.Interaction) })
	})
	s.AddHandler(func(_ *discordgo.Session, m *discordgo.MessageCreate) { t.act(func() { t.onMessage(m.Message) }) })
	return t, nil
}

// Scheme is "discord".
func (t *Transport) Scheme() string { return scheme }

// Run registers the commands and serves until ctx ends, through losses of the gateway. It returns nil when ctx ended, and
// an error when the service refuses the bot for good. It may be called once.
func (t *Transport) Run(ctx context.Context, cmds []chat.Command, h chat.Handler) error {
	t.mu.Lock()
	if t.handle != nil {
		t.mu.Unlock()
		return errors.New("this Discord transport is running already; make another")
	}
	t.handle, t.base = h, ctx
	for _, c := range cmds {
		t.studio[c.Name] = c.Studio
	}
	t.mu.Unlock()

	defer func() {
		t.mu.Lock()
		t.closing = true
		t.mu.Unlock()
		t.busy.Wait()
		// Close says goodbye at once and then sleeps for a second before it hangs up; nothing waits for that.
		go t.session.Close()
	}()
	if err := t.connect(ctx); err != nil {
		return ended(ctx, err)
	}
	select {
	case <-t.ready:
	case <-ctx.Done():
		return nil
	}
	if err := t.registerAtLast(ctx, cmds); err != nil {
		return ended(ctx, err)
	}
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-t.dropped:
			t.log.Warn("the Discord gateway was lost; connecting again")
			if err := t.connect(ctx); err != nil {
				return ended(ctx, err)
			}
		}
	}
}

// ended turns an error into nil when it only says that ctx is over.
func ended(ctx context.Context, err error) error {
	if ctx.Err() != nil {
		return nil
	}
	return err
}

// connect opens the gateway, again and again with growing pauses, until it is open, ctx ends, or the service says that it
// never will.
func (t *Transport) connect(ctx context.Context) error {
	for pause := 250 * time.Millisecond; ; pause = min(2*pause, time.Minute) {
		opened := make(chan error, 1)
		go func() { opened <- t.session.Open() }() // it knows no context; left behind, its connection is closed after it
		var err error
		select {
		case err = <-opened:
		case <-ctx.Done():
			return ctx.Err()
		}
		if err == nil || errors.Is(err, discordgo.ErrWSAlreadyOpen) {
			return nil
		}
		var closed *websocket.CloseError
		if errors.As(err, &closed) {
			switch closed.Code {
			case closeNoIntents:
				if t.session.Identify.Intents&discordgo.IntentMessageContent != 0 {
					t.session.Identify.Intents &^= discordgo.IntentMessageContent
					t.log.Warn("the bot may not read messages, so pictures sent into a thread go unseen; switch on its message content intent, or send pictures with a command")
					continue
				}
				return fmt.Errorf("the gateway of Discord refuses what the bot asks to hear; allow its intents in the developer settings: %w", err)
			case closeBadToken:
				return fmt.Errorf("the Discord token is not valid; set BENCHBELL_DISCORD_TOKEN to the bot's: %w", err)
			case closeBadShard, closeBadVersion, closeBadIntents:
				return fmt.Errorf("the Discord gateway does not take this version of the bot: %w", err)
			}
		}
		if permanent(err) {
			return fmt.Errorf("the Discord gateway refuses the bot: %w", err)
		}
		t.log.Warn("the Discord gateway cannot be reached; trying again", "err", err, "in", pause)
		if err := sleep(ctx, pause); err != nil {
			return err
		}
	}
}

func (t *Transport) onReady(r *discordgo.Ready) {
	t.mu.Lock()
	if r.User != nil {
		t.bot = r.User.ID
	}
	if r.Application != nil {
		t.app = r.Application.ID
	}
	t.mu.Unlock()
	t.readyOne.Do(func() { close(t.ready) })
}

// act runs f as an act under way, unless Run is ending; a panic is logged and ends only that act.
func (t *Transport) act(f func()) {
	t.mu.Lock()
	if t.closing || t.handle == nil {
		t.mu.Unlock()
		return
	}
	t.busy.Add(1)
	t.mu.Unlock()
	defer t.busy.Done()
	defer func() {
		if p := recover(); p != nil {
			t.log.Error("an act on Discord panicked", "panic", p)
		}
	}()
	f()
}

// registerAtLast registers the commands, through failures of the service; those offered before stand meanwhile.
func (t *Transport) registerAtLast(ctx context.Context, cmds []chat.Command) error {
	for pause := time.Second; ; pause = min(2*pause, time.Minute) {
		err := t.register(ctx, cmds)
		if err == nil || ctx.Err() != nil || permanent(err) {
			return err
		}
		t.log.Warn("the commands could not be registered; trying again", "err", err, "in", pause)
		if err := sleep(ctx, pause); err != nil {
			return err
		}
	}
}

// register replaces the bot's commands by cmds.
func (t *Transport) register(ctx context.Context, cmds []chat.Command) error {
	list := make([]slash, 0, len(cmds))
	for _, c := range cmds {
		list = append(list, t.command(c))
	}
	_, app, err := t.self(ctx)
	if err != nil {
		return err
	}
	where := discordgo.EndpointApplicationGlobalCommands(app)
	if t.opts.Guild != "" {
		where = discordgo.EndpointApplicationGuildCommands(app, t.opts.Guild)
	}
	if err := t.call(ctx, request{method: http.MethodPut, url: where, body: list}, nil); err != nil {
		return fmt.Errorf("the commands are not taken by Discord; check that the bot was invited to the server with applications.commands: %w", err)
	}
	return nil
}

// self is the bot's user ID and its application's ID.
func (t *Transport) self(ctx context.Context) (bot, app string, err error) {
	t.mu.Lock()
	bot, app = t.bot, t.app
	t.mu.Unlock()
	if bot != "" && app != "" {
		return bot, app, nil
	}
	var u discordgo.User
	if err := t.call(ctx, request{method: http.MethodGet, url: discordgo.EndpointUser("@me")}, &u); err != nil {
		return "", "", fmt.Errorf("the bot cannot ask Discord who it is: %w", err)
	}
	t.mu.Lock()
	defer t.mu.Unlock()
	t.bot = u.ID
	if t.app == "" {
		t.app = u.ID // the same for every application made since 2016 or so (from memory); READY corrects it
	}
	return t.bot, t.app, nil
}
