package main

import (
	"cmp"
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"log/slog"
	"net"
	"path/filepath"
	"strconv"
	"strings"
	"sync/atomic"
	"time"

	"benchbell/bot/browser"
	"benchbell/bot/calendar"
	"benchbell/bot/chat"
	"benchbell/bot/desk"
	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/quote"
)

// seats are who sits at the browser's desk by the shop's rules, since neither package knows the other. It hears of what is
// done in the shop, so that who is signed out elsewhere is so on every open page at once.
type seats struct {
	led     *ledger.Ledger
	log     *slog.Logger
	shop    *shop.Shop
	desk    *desk.Desk
	studio  func() quote.Studio
	recheck func()
	ended   atomic.Bool // somebody was signed out, in a transaction that is kept or not
}

var (
	_ browser.Seats = (*seats)(nil)
	_ shop.Teller   = (*seats)(nil)
)

// Tell implements shop.Teller.
func (s *seats) Tell(_ *ledger.Tx, told shop.Told) error {
	switch told.Outcome.(type) {
	case shop.MemberAdded, shop.WasLetGo, shop.SessionEnded, shop.ClientLinksEnded, shop.SignedIn, shop.Left, shop.OwnerNamed, shop.MemberChanged, shop.PersonLinked, shop.PersonNamed:
		s.ended.Store(true)
	}
	return nil
}

// Wake implements shop.Teller.
func (s *seats) Wake() {
	if s.recheck != nil && s.ended.Swap(false) {
		s.recheck()
	}
}

// said has the desk word what the shop refused.
func (s *seats) said(err error) error {
	var no *shop.Refusal
	if errors.As(err, &no) {
		return &chat.Refusal{Say: s.desk.Say(no)}
	}
	return err
}

func (s *seats) Named(ctx context.Context) (is bool, err error) {
	err = s.led.Tx(ctx, func(t *ledger.Tx) error { // asked before there is a shop, too
		is, err = t.AnyMembers()
		return err
	})
	return is, err
}

func (s *seats) NameOwner(ctx context.Context, name string) (string, error) {
	o, err := s.shop.Do(ctx, shop.Call{Person: chat.Person{ID: browser.StudioID, Name: name, Studio: true}, Act: shop.BecomeOwner{Name: name}})
	if err != nil {
		return "", s.said(err)
	}
	return o.(shop.OwnerNamed).Secret, nil
}

func (s *seats) Opens(ctx context.Context, secret string) (browser.Entrance, error) {
	m, c, err := s.shop.Opens(ctx, secret)
	if err != nil {
		return browser.Entrance{}, s.said(err)
	}
	if c.ID != "" {
		return browser.Entrance{Name: c.ClientName, To: string(c.ID)}, nil
	}
	return browser.Entrance{Name: m.Name}, nil
}

func (s *seats) SignIn(ctx context.Context, secret, device string) (string, error) {
	o, err := s.shop.Do(ctx, shop.Call{Act: shop.SignIn{Secret: secret, Device: device}})
	if err != nil {
		return "", s.said(err)
	}
	return o.(shop.SignedIn).Secret, nil
}

func (s *seats) Seated(ctx context.Context, session string) (browser.Sitting, error) {
	x, err := s.shop.Seated(ctx, session)
	if err != nil {
		return browser.Sitting{}, s.said(err)
	}
	n := strconv.FormatInt(x.Session.N, 10)
	if c := x.Commission; c.ID != "" {
		return browser.Sitting{Person: chat.Person{ID: c.Client, Name: c.ClientName, Only: string(c.ID)}, Slug: string(c.ID), Number: n}, nil
	}
	return browser.Sitting{Person: chat.Person{ID: chat.PersonID("browser:" + x.Member.ID), Name: x.Member.Name, Studio: true}, Slug: x.Member.ID, Number: n,
		NotFor: s.desk.NotFor(x.Member.Roles)}, nil
}

func (s *seats) Leave(ctx context.Context, session string) error {
	_, err := s.shop.Do(ctx, shop.Call{Act: shop.Leave{Secret: session}})
	return s.said(err)
}

func (s *seats) People(ctx context.Context, who chat.Person, session string) (browser.Roster, error) {
	o, err := s.shop.See(ctx, who, shop.People{})
	if err != nil {
		return browser.Roster{}, s.said(err)
	}
	all := o.(shop.Peopled)
	titles := map[string]string{}
	r := browser.Roster{Owner: all.Owner}
	for _, x := range s.studio().Resources {
		if x.Kind == "maker" {
			titles[x.ID] = x.Title
			r.Makers = append(r.Makers, x.Title)
		}
	}
	for _, p := range all.Members {
		m := p.Member
		y := browser.RosterMember{ID: m.ID, Name: m.Name, Roles: m.Roles.String(), Me: m.ID == all.Me, Own: all.Owner || m.ID == all.Me,
			Owner: m.Roles&ledger.Owner != 0, Maker: m.Roles&ledger.Maker != 0, FrontDesk: m.Roles&ledger.FrontDesk != 0}
		if m.Bench != "" {
			y.Bench = cmp.Or(titles[m.Bench], m.Bench)
		}
		for _, k := range p.Known {
			y.Known = append(y.Known, string(k))
		}
		for _, l := range p.Links {
			y.Until = l.ExpiresAt
		}
		for _, d := range p.Sessions {
			n := strconv.FormatInt(d.N, 10)
			y.Devices = append(y.Devices, browser.Device{Number: n, Name: d.Device, Since: d.MadeAt, Seen: d.SeenAt, This: n == session})
		}
		r.Members = append(r.Members, y)
	}
	return r, nil
}

func (s *seats) Name(ctx context.Context, id chat.PersonID) (name string) {
	err := s.led.Tx(ctx, func(t *ledger.Tx) error {
		m, err := t.MemberAs(id)
		if err == nil {
			name = m.Name
			return nil
		}
		_, n, _ := strings.Cut(string(id), ":")
		c, err := t.Commission(quote.CommissionID(n))
		if err == nil && c.Client == id {
			name = c.ClientName
		}
		return err
	})
	if err != nil && !errors.Is(err, ledger.ErrNone) {
		s.log.Error("who somebody is cannot be read", "person", id, "err", err)
	}
	return name
}

// calendar is what a link to a calendar shows, for the browser's desk.
func (s *seats) calendar(ctx context.Context, secret string) ([]byte, string, error) {
	c, err := s.shop.Calendar(ctx, secret)
	if err != nil {
		return nil, "", s.said(err)
	}
	body, err := calendar.Write(c, s.studio())
	return body, calendar.MIME, err
}

// linkFor makes a sign-in link for a member on the machine that has the ledger: the way back in for an owner who has lost theirs.
func linkFor(ctx context.Context, args []string, env func(string) string, stdout, stderr io.Writer) error {
	fs := flag.NewFlagSet("sign-in", flag.ContinueOnError)
	fs.SetOutput(stderr)
	if err := fs.Parse(args); err != nil {
		if errors.Is(err, flag.ErrHelp) {
			return nil
		}
		return fmt.Errorf("the flags of sign-in were not understood; see bot help: %w", err)
	}
	name := strings.Join(fs.Args(), " ")
	studio, err := studioNow(env)
	if err != nil {
		return err
	}
	led, err := ledger.Open(ctx, filepath.Join(dataFolder(env), "ledger.db"))
	if err != nil {
		return err
	}
	defer led.Close()
	var who ledger.Member
	var names []string
	err = led.Tx(ctx, func(t *ledger.Tx) error {
		ms, err := t.Members()
		for _, m := range ms {
			if !m.LetGoAt.IsZero() {
				continue
			}
			names = append(names, m.Name)
			if strings.EqualFold(m.Name, name) || name == "" && m.Roles&ledger.Owner != 0 && who.ID == "" {
				who = m
			}
		}
		return err
	})
	if err != nil {
		return err
	}
	if len(names) == 0 {
		return errors.New("nobody is named yet; open the desk and name the owner there")
	}
	if who.ID == "" {
		return fmt.Errorf("no member of the studio is %q; there are %s", name, strings.Join(names, ", "))
	}
	s := shop.New(shop.Config{Ledger: led, Studio: func() quote.Studio { return studio }, Now: clock})
	o, err := s.Do(ctx, shop.Call{Person: chat.Person{ID: chat.PersonID("browser:" + who.ID)}, Act: shop.MakeSignIn{Member: who.ID}})
	if err != nil {
		return err
	}
	made := o.(shop.SignInMade)
	fmt.Fprintf(stdout, "this link signs %s in, once, until %s:\n%s/enter/%s\n", who.Name, made.Until.Format(time.RFC1123), addressFrom(env), made.Secret)
	return nil
}

// addressFrom is where the settings say that people reach the desk.
func addressFrom(env func(string) string) string {
	if at := strings.TrimSuffix(env("BENCHBELL_DESK_URL"), "/"); at != "" {
		return at
	}
	listen := env("BENCHBELL_LISTEN")
	if host, port, err := net.SplitHostPort(listen); err == nil && host != "" && host != "0.0.0.0" && host != "::" {
		return "http://" + net.JoinHostPort(host, port)
	} else if err == nil {
		return "http://" + net.JoinHostPort("localhost", port)
	}
	return "http://127.0.0.1:8467"
}

// dataFolder is where the ledger is.
func dataFolder(env func(string) string) string {
	if data := env("BENCHBELL_DATA"); data != "" {
		return data
	}
	return "benchbell-data"
}
