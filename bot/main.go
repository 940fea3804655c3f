// Command bot is the studio's desk: it takes commissions in chat, has quotes computed, and tells the bench what is ready.
//
// Without configuration it serves a browser desk on this machine and computes in its own process, over a queue server
// of its own. It refuses to start on settings it cannot read, on a ledger of a later version, and beyond this machine
// without a passphrase. What always holds: the ledger is the truth; whatever dies, a new start goes on from it.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"time"

	"golang.org/x/sync/errgroup"

	"benchbell/bot/browser"
	"benchbell/bot/chat"
	"benchbell/bot/desk"
	"benchbell/bot/discord"
	"benchbell/bot/ledger"
	"benchbell/deploy/process"
	"benchbell/jobs"
	"benchbell/jobs/embedded"
	"benchbell/jobs/queue"
	"benchbell/quote"
	"benchbell/quote/engine"
	"benchbell/quote/settings"
	"benchbell/worker/compute"
)

const help = `bot takes commissions for foam armour and props, quotes them, and keeps the bench's plan.

  bot                  serve the browser desk on this machine (and Discord, with a token)
  bot demo [-out DIR]  run one invented commission of the demo studio from first message to handover; results go to ./demo-out
  bot rehearse -weeks N -seed N -out DIR [-studio FILE]
                       play a quarter before it happens, with clients, makers and delays that are made up: how many dates would be
                       kept, and what a third maker would change; see bot rehearse -h
  bot fill -commissions N -seed N -data DIR [-until DATE] [-studio FILE]
                       leave a made-up shop in a folder, with commissions in every state, to look at its pages; see bot fill -h
  bot sign-in [NAME]   print a link that signs a member of the studio in, the owner without a name; for who has lost theirs
  bot studio           print the documented example of studio.toml
  bot help             this text

Environment variables, all optional:
  BENCHBELL_STUDIO           path of studio.toml (default: the invented demo studio)
  BENCHBELL_DATA             folder of the ledger (default ./benchbell-data)
  BENCHBELL_LISTEN           address of the browser desk (default 127.0.0.1:8467; "off" for none)
  BENCHBELL_DESK_URL         the address people reach the desk by, such as https://desk.example; links begin with it
  BENCHBELL_DESK_PASSPHRASE  names the first owner; needed until then when other machines can reach the desk
  BENCHBELL_AIR_TOKEN        token by which a sensor posts the air at the bench to /air of the desk
  BENCHBELL_DESK_HOSTS       other host names that people use for the desk, separated by commas
  BENCHBELL_DISCORD_TOKEN    bot token; the same conversation then runs on Discord too
  BENCHBELL_DISCORD_CHANNEL  the channel for commission threads when no other is known
  BENCHBELL_DISCORD_GUILD    the server's ID
  BENCHBELL_DISCORD_STUDIO_ROLE  the role whose members act as the studio
  BENCHBELL_REDIS_URL        a Redis 6 or later; separate worker processes then do the computing
`

// The desk's clock and how long it waits for a word from a worker, 0 for as long as usual. Only tests set them, because
// a cure takes hours.
var (
	clock    = time.Now
	patience time.Duration
)

func main() { process.Main("bot", run) }

// run is the program without its process.
func run(ctx context.Context, args []string, env func(string) string, stdout, stderr io.Writer) error {
	if len(args) == 0 {
		return serve(ctx, env, stdout, stderr)
	}
	switch args[0] {
	case "demo":
		fs := flag.NewFlagSet("demo", flag.ContinueOnError)
		fs.SetOutput(stderr)
		out := fs.String("out", "demo-out", "folder for the results")
		if err := fs.Parse(args[1:]); err != nil {
			if errors.Is(err, flag.ErrHelp) {
				return nil
			}
			return fmt.Errorf("the flags of demo were not understood; see bot help: %w", err)
		}
		if fs.NArg() > 0 {
			return fmt.Errorf("demo takes no %q; see bot help", fs.Arg(0))
		}
		return demo(ctx, *out, stdout)
	case "rehearse":
		return rehearse(ctx, args[1:], stdout, stderr)
	case "fill":
		return fill(ctx, args[1:], stdout, stderr)
	case "sign-in":
		return linkFor(ctx, args[1:], env, stdout, stderr)
	case "studio":
		_, err := stdout.Write(settings.DemoTOML)
		return err
	case "help", "-h", "-help", "--help":
		_, err := io.WriteString(stdout, help)
		return err
	}
	return fmt.Errorf("there is no command %q; bot help lists them", args[0])
}

// serve runs the desk until ctx ends.
func serve(ctx context.Context, env func(string) string, stdout, stderr io.Writer) error {
	log := slog.New(slog.NewTextHandler(stderr, nil))
	studio, err := studioNow(env)
	if err != nil {
		return err
	}
	data := dataFolder(env)
	if err := os.MkdirAll(data, 0o700); err != nil {
		return fmt.Errorf("the data folder %s cannot be made; set BENCHBELL_DATA to one that can: %w", data, err)
	}
	led, err := ledger.Open(ctx, filepath.Join(data, "ledger.db"))
	if err != nil {
		return err
	}
	defer led.Close()
	if kept, err := led.KeepWork(ctx, engine.Breakdown); err != nil {
		log.Error("some quotes are without their work; their commissions cannot be planned", "err", err)
	} else if kept > 0 {
		log.Info("quotes made before were given their work breakdown", "quotes", kept)
	}

	g, ctx := errgroup.WithContext(ctx)
	var transports []chat.Transport
	var boards []chat.PersonID
	var at string
	var sitting *seats
	var onDesk *boarded
	var atDesk *browser.Desk
	if listen := env("BENCHBELL_LISTEN"); listen != "off" {
		zone, err := time.LoadLocation(studio.Calendar.Zone) // as the texts have it
		if err != nil {
			return fmt.Errorf("the studio's time zone %q is not known: %w", studio.Calendar.Zone, err)
		}
		sitting = &seats{led: led, log: log}
		o := browser.Options{Listen: listen, Public: env("BENCHBELL_DESK_URL"), Passphrase: env("BENCHBELL_DESK_PASSPHRASE"), Seats: sitting, Store: shelf{led.Pages()}, Log: log, Studio: studio.Name, Zone: zone}
		for _, h := range strings.Split(env("BENCHBELL_DESK_HOSTS"), ",") {
			if h = strings.TrimSpace(h); h != "" {
				o.Hosts = append(o.Hosts, h)
			}
		}
		onDesk = &boarded{}
		o.Further, o.Own, o.Calendars, o.Sensor = onDesk.pages(), onDesk.own(), sitting.calendar, onDesk.sensor(env("BENCHBELL_AIR_TOKEN"))
		b, err := browser.New(o)
		if err != nil {
			return err
		}
		defer b.Close()
		at, atDesk, sitting.recheck = b.Address(), b, b.Recheck
		onDesk.desk = b
		transports = append(transports, b)
		boards = append(boards, browser.StudioID)
	}
	if token := env("BENCHBELL_DISCORD_TOKEN"); token != "" {
		d, err := discord.New(discord.Options{Token: token, Guild: env("BENCHBELL_DISCORD_GUILD"), StudioRole: env("BENCHBELL_DISCORD_STUDIO_ROLE"), Channel: env("BENCHBELL_DISCORD_CHANNEL"), API: env("BENCHBELL_DISCORD_API"), Memory: led.Marks(), Log: log})
		if err != nil {
			return err
		}
		transports = append(transports, d)
	}
	if len(transports) == 0 {
		return errors.New("there is nowhere to talk: BENCHBELL_LISTEN is off and no BENCHBELL_DISCORD_TOKEN is set; set one of them")
	}
	// After all that may be refused: a queue server in this process does not end without a word.
	q, err := openQueue(ctx, g, env, log)
	if err != nil {
		return err
	}
	defer q.Close()
	o, err := newOffice(led, q, transports, studio)
	if err != nil {
		return err
	}
	o.logged(log)
	o.timed(clock)
	o.desk.Boards, o.shop.Patience = boards, patience
	o.board = onDesk
	_, o.desk.QueueEmbedded = q.(embeddedQueue)
	if atDesk != nil {
		o.seats, o.desk.Link, o.desk.SignsIn = sitting, atDesk.LinkTo, atDesk.Scheme()
		o.desk.CalendarAt, o.desk.Address = atDesk.CalendarAt, atDesk.Address()
	}
	if at != "" {
		fmt.Fprintf(stdout, "the desk is at %s\n", at)
	}
	return converse(ctx, g, o.open(), transports)
}

// converse runs the desk and its transports until ctx ends or one of them fails.
func converse(ctx context.Context, g *errgroup.Group, d *desk.Desk, transports []chat.Transport) error {
	g.Go(func() error { return d.Run(ctx) })
	for _, t := range transports {
		g.Go(func() error { return t.Run(ctx, d.Commands(), d.Handle) })
	}
	if err := g.Wait(); err != nil && !errors.Is(err, context.Canceled) {
		return err
	}
	return nil
}

// embeddedQueue is a queue with its server, which runs in this process and is closed last: what still serves the queue needs it.
type embeddedQueue struct {
	*queue.Queue
	srv *embedded.Embedded
}

func (e embeddedQueue) Close() error { return errors.Join(e.Queue.Close(), e.srv.Close()) }

// openQueue connects to Redis, or starts a queue server and a worker in this process.
func openQueue(ctx context.Context, g *errgroup.Group, env func(string) string, log *slog.Logger) (jobs.Queue, error) {
	if url := env("BENCHBELL_REDIS_URL"); url != "" {
		return queue.Open(ctx, url, queue.Options{Log: log})
	}
	srv, err := embedded.Start(ctx)
	if err != nil {
		return nil, err
	}
	q, err := queue.Open(ctx, srv.URL(), queue.Options{Embedded: true, Worker: "bot", Log: log})
	if err != nil {
		return nil, errors.Join(err, srv.Close())
	}
	g.Go(func() error { return q.Work(ctx, compute.New()) })
	return embeddedQueue{q, srv}, nil
}

// studioNow reads studio.toml, or takes the demo studio's.
func studioNow(env func(string) string) (quote.Studio, error) {
	return studioFrom(env("BENCHBELL_STUDIO"), "set BENCHBELL_STUDIO to a studio.toml")
}

// studioFrom reads the settings in a file, or takes the demo studio's where none is named. right is what would be right.
func studioFrom(path, right string) (quote.Studio, error) {
	if path == "" {
		return settings.Demo(), nil
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return quote.Studio{}, fmt.Errorf("the settings %s cannot be read; %s: %w", path, right, err)
	}
	return settings.Parse(data)
}
