package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"sync"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/desk"
)

// A stage is the transport on which the demo plays: it keeps posts in memory, prints them as they come, and lets a
// person act on what is shown, by the labels they would read. It shows nothing that the desk did not send.
type stage struct {
	out  io.Writer
	desk *desk.Desk

	mu      sync.Mutex
	clock   time.Time
	acts    int
	threads map[string]chat.ThreadID
	posts   []chat.Post                     // in order of first posting
	private map[chat.PersonID]chat.Reply    // the last reply only that person sees
	where   map[chat.PersonID]chat.ThreadID // the thread each person is in
	changed chan struct{}
	handler chat.Handler
	bar     string
	// The commissions' threads; any other is the studio's notice board.
	inThread []chat.ThreadID
}

func newStage(out io.Writer, clock time.Time) *stage {
	return &stage{out: out, clock: clock, threads: map[string]chat.ThreadID{}, private: map[chat.PersonID]chat.Reply{},
		where: map[chat.PersonID]chat.ThreadID{}, changed: make(chan struct{}, 1)}
}

func (s *stage) now() time.Time {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.clock
}

// Scheme, Limits, OpenThread, Put and Run make it a chat.Transport.
func (s *stage) Scheme() string { return "demo" }

func (s *stage) Limits() chat.Limits { return chat.Limits{} }

func (s *stage) OpenThread(_ context.Context, key, title string, with chat.PersonID) (chat.ThreadID, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if id, ok := s.threads[key]; ok {
		return id, nil
	}
	id := chat.ThreadID("demo:" + key)
	s.threads[key] = id
	if strings.HasPrefix(key, "C") {
		s.inThread = append(s.inThread, id)
	}
	s.print("", fmt.Sprintf("── thread %q opened with %s ──", title, strings.TrimPrefix(string(with), "demo:")))
	return id, nil
}

func (s *stage) Put(_ context.Context, p chat.Post) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	defer func() {
		select {
		case s.changed <- struct{}{}:
		default:
		}
	}()
	i := slices.IndexFunc(s.posts, func(q chat.Post) bool { return q.Key == p.Key })
	old := chat.Post{}
	if i < 0 {
		s.posts = append(s.posts, p)
	} else {
		old = s.posts[i]
		if p.Files == nil {
			p.Files = old.Files
		}
		s.posts[i] = p
	}
	if p.Bar != nil {
		s.printBar(p)
		return nil
	}
	if text := news(old.Text, p.Text); text != "" {
		where := "Benchbell"
		if !slices.Contains(s.inThread, p.Thread) {
			where = "(board)"
		}
		s.print(where, text)
	}
	if i < 0 || len(p.Files) != len(old.Files) {
		s.printFiles(p.Files)
	}
	return nil
}

func (s *stage) Run(ctx context.Context, _ []chat.Command, h chat.Handler) error {
	s.mu.Lock()
	s.handler = h
	s.mu.Unlock()
	<-ctx.Done()
	return ctx.Err()
}

// news is what an edited post says that it did not say before.
func news(old, text string) string {
	was := map[string]bool{"": true}
	for _, l := range strings.Split(old, "\n") {
		was[strings.TrimSpace(l)] = true
	}
	var out []string
	for _, l := range strings.Split(text, "\n") {
		if !was[strings.TrimSpace(l)] {
			out = append(out, l)
		}
	}
	return strings.Join(out, "\n")
}

const gutter = 14

func (s *stage) print(who, text string) {
	for i, line := range strings.Split(strings.TrimSpace(text), "\n") {
		name := ""
		if i == 0 {
			name = who
		}
		fmt.Fprintf(s.out, "%-*s%s\n", gutter, name, strings.ReplaceAll(line, "*", ""))
	}
}

func (s *stage) printFiles(files []chat.File) {
	var names []string
	for _, f := range files {
		names = append(names, fmt.Sprintf("%s (%d kB)", f.Name, (len(f.Data)+1023)/1024))
	}
	if len(names) > 0 {
		s.print("", "[files: "+strings.Join(names, ", ")+"]")
	}
}

// printBar prints a progress post once a stage, not at every step within it.
func (s *stage) printBar(p chat.Post) {
	var parts []string
	for i, name := range p.Bar.Stages {
		switch {
		case i < p.Bar.At:
			name = "✓ " + name
		case i == p.Bar.At && p.Bar.Failed:
			name = "✗ " + name
		case i == p.Bar.At:
			name = "▸ " + name
		default:
			name = "· " + name
		}
		parts = append(parts, name)
	}
	if line := strings.Join(parts, "   "); line != s.bar {
		s.bar = line
		s.print("", line)
	}
}

// told is an act whose answer is printed: what the person alone is told.
func (s *stage) told(ctx context.Context, who chat.Person, in chat.Incoming) (chat.Reply, error) {
	r, err := s.act(ctx, who, in)
	if err != nil {
		return r, err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if r.Text != "" {
		s.print("  (private)", r.Text)
	}
	s.printFiles(r.Files)
	return r, nil
}

// act hands one act to the desk.
func (s *stage) act(ctx context.Context, who chat.Person, in chat.Incoming) (chat.Reply, error) {
	s.mu.Lock()
	for s.handler == nil { // Run has not been called yet
		s.mu.Unlock()
		select {
		case <-ctx.Done():
			return chat.Reply{}, ctx.Err()
		case <-time.After(time.Millisecond):
		}
		s.mu.Lock()
	}
	h := s.handler
	s.acts++
	s.clock = s.clock.Add(30 * time.Second) // people take their time
	in.ID, in.Person, in.Thread = fmt.Sprintf("demo-%d", s.acts), who, s.where[who.ID]
	s.mu.Unlock()
	r, err := h(ctx, in)
	var no *chat.Refusal
	s.mu.Lock()
	defer s.mu.Unlock()
	if errors.As(err, &no) {
		return chat.Reply{}, fmt.Errorf("the desk refused: %w", err)
	}
	if err != nil {
		return r, err
	}
	if r.Thread != "" {
		s.where[who.ID] = r.Thread
	}
	s.private[who.ID] = r
	return r, nil
}

func (s *stage) say(who chat.Person, what string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	fmt.Fprintln(s.out)
	name, _, _ := strings.Cut(who.Name, " ")
	s.print(name, "› "+what)
}

func (s *stage) command(ctx context.Context, who chat.Person, name string, values map[string]string) error {
	s.say(who, "/"+name)
	if _, err := s.told(ctx, who, chat.Incoming{Command: name, Values: values}); err != nil {
		return err
	}
	return s.settle(ctx)
}

// settle lets the desk send what it has to send.
func (s *stage) settle(ctx context.Context) error { return s.desk.Tick(ctx) }

// find returns the newest action shown under a label: a menu's or a button's, private replies first.
func (s *stage) find(who chat.Person, label string) (string, bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	look := func(bs []chat.Button, ms []chat.Menu) (string, bool) {
		for _, b := range bs {
			if b.Label == label {
				return b.Action, true
			}
		}
		for _, m := range ms {
			if m.Label == label {
				return m.Action, true
			}
		}
		return "", false
	}
	r := s.private[who.ID]
	if a, ok := look(r.Buttons, r.Menus); ok {
		return a, true
	}
	for i := len(s.posts) - 1; i >= 0; i-- {
		if a, ok := look(s.posts[i].Buttons, s.posts[i].Menus); ok {
			return a, true
		}
	}
	return "", false
}

// until waits for something to be shown; the computing happens in another goroutine.
func (s *stage) until(ctx context.Context, what string, ok func() bool) error {
	ctx, cancel := context.WithTimeoutCause(ctx, demoPatience, fmt.Errorf("the demo waited %v for %s in vain", demoPatience, what))
	defer cancel()
	for !ok() {
		select {
		case <-ctx.Done():
			return context.Cause(ctx)
		case <-s.changed:
		case <-time.After(20 * time.Millisecond):
		}
	}
	return nil
}

func (s *stage) await(ctx context.Context, label string) error {
	return s.until(ctx, label, func() bool { _, ok := s.find(chat.Person{}, label); return ok })
}

func (s *stage) awaitText(ctx context.Context, text, label string) error {
	return s.until(ctx, text, func() bool {
		s.mu.Lock()
		defer s.mu.Unlock()
		return slices.ContainsFunc(s.posts, func(p chat.Post) bool {
			return strings.Contains(p.Text, text) && slices.ContainsFunc(p.Buttons, func(b chat.Button) bool { return b.Label == label })
		})
	})
}

func (s *stage) press(ctx context.Context, who chat.Person, label string) error {
	_, err := s.pressed(ctx, who, label)
	return err
}

func (s *stage) pressed(ctx context.Context, who chat.Person, label string) (chat.Reply, error) {
	if err := s.settle(ctx); err != nil {
		return chat.Reply{}, err
	}
	if err := s.until(ctx, label, func() bool { _, ok := s.find(who, label); return ok }); err != nil {
		return chat.Reply{}, err
	}
	a, _ := s.find(who, label)
	s.say(who, "["+label+"]")
	r, err := s.told(ctx, who, chat.Incoming{Press: a})
	if err != nil {
		return r, err
	}
	return r, s.settle(ctx)
}

func (s *stage) pick(ctx context.Context, who chat.Person, label string, values ...string) error {
	if err := s.until(ctx, label, func() bool { _, ok := s.find(who, label); return ok }); err != nil {
		return err
	}
	a, _ := s.find(who, label)
	s.say(who, label+": "+strings.Join(values, ", "))
	if _, err := s.told(ctx, who, chat.Incoming{Pick: a, Picked: values}); err != nil {
		return err
	}
	return s.settle(ctx)
}

// form presses a button that opens a form, keeps what is filled in, sets the values given, and sends it.
func (s *stage) form(ctx context.Context, who chat.Person, label string, values map[string]string) error {
	r, err := s.pressed(ctx, who, label)
	if err != nil {
		return err
	}
	if r.Form == nil {
		return fmt.Errorf("%s opened no form", label)
	}
	_, err = s.submit(ctx, who, r.Form, func(f chat.Field) string {
		if v, ok := values[f.Key]; ok {
			return v
		}
		return f.Value
	})
	return err
}

func (s *stage) submit(ctx context.Context, who chat.Person, f *chat.Form, value func(chat.Field) string) (chat.Reply, error) {
	values := map[string]string{}
	var lines []string
	for _, fl := range f.Fields {
		values[fl.Key] = value(fl)
		if values[fl.Key] != "" {
			lines = append(lines, fl.Label+": "+values[fl.Key])
		}
	}
	s.say(who, "form “"+f.Title+"”\n  "+strings.Join(lines, "\n  "))
	r, err := s.told(ctx, who, chat.Incoming{Form: f.Action, Values: values})
	if err != nil {
		return r, err
	}
	return r, s.settle(ctx)
}

// measure fills in measurement forms until none is asked for any more.
func (s *stage) measure(ctx context.Context, who chat.Person, label string) error {
	tries := map[string]int{}
	const most = 12 // forms; the demo's sets need three
	for range most {
		r, err := s.pressed(ctx, who, label)
		if err != nil {
			return err
		}
		if r.Form == nil {
			return fmt.Errorf("%s opened no form", label)
		}
		r, err = s.submit(ctx, who, r.Form, func(f chat.Field) string {
			key, _, _ := strings.Cut(f.Key, "/")
			typed := demoTyped[key]
			if len(typed) == 0 {
				return f.Value
			}
			v := typed[min(tries[key], len(typed)-1)]
			tries[key]++
			return v
		})
		if err != nil {
			return err
		}
		if len(r.Buttons) == 0 {
			return nil
		}
		label = r.Buttons[0].Label
	}
	return errors.New("the measurements never came to an end")
}

// advance moves the clock and lets happen what is due.
func (s *stage) advance(ctx context.Context, d time.Duration) error {
	s.mu.Lock()
	s.clock = s.clock.Add(d)
	fmt.Fprintf(s.out, "\n%*s· · · %s\n", gutter, "", s.clock.Format("Monday 2 January, 15:04"))
	s.mu.Unlock()
	return s.settle(ctx)
}

// sleep lets time pass, in quarter hours so that bells ring when they are due; at closing time the night passes too.
func (s *stage) sleep(ctx context.Context, d time.Duration) error {
	s.mu.Lock()
	s.clock = s.clock.Add(d)
	night := s.clock.Hour() >= 16 || s.clock.Weekday() == time.Saturday || s.clock.Weekday() == time.Sunday
	s.mu.Unlock()
	if err := s.settle(ctx); err != nil || !night {
		return err
	}
	for open := false; !open; {
		s.mu.Lock()
		s.clock = s.clock.Add(15 * time.Minute)
		open = s.clock.Hour() == 8 && s.clock.Weekday() != time.Saturday && s.clock.Weekday() != time.Sunday
		s.mu.Unlock()
		if err := s.settle(ctx); err != nil {
			return err
		}
	}
	s.mu.Lock()
	fmt.Fprintf(s.out, "\n%*s· · · %s\n", gutter, "", s.clock.Format("Monday 2 January"))
	s.mu.Unlock()
	return nil
}

// What a post says in which a time can be picked.
const (
	fittingAsked    = ": pick a time."
	collectingAsked = "Pick a time to collect it."
)

// meet has a client pick the first time that a post which says so offers; empty if none does.
func (s *stage) meet(ctx context.Context, client chat.Person, asked string) (string, error) {
	label, ok := s.firstTime(asked)
	if !ok {
		return "", nil
	}
	return label, s.press(ctx, client, label)
}

// firstTime is the first time that a post which says so offers.
func (s *stage) firstTime(asked string) (string, bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, p := range slices.Backward(s.posts) {
		if len(p.Buttons) > 0 && strings.Contains(p.Text, asked) {
			return p.Buttons[0].Label, true
		}
	}
	return "", false
}

// collected has a client pick when to collect what is finished, and lets time pass until then.
func (s *stage) collected(ctx context.Context, client chat.Person, zone *time.Location) error {
	// The studio may have been told before the client is.
	err := s.until(ctx, "a time to collect it", func() bool { _, ok := s.firstTime(collectingAsked); return ok })
	if err != nil {
		return err
	}
	label, err := s.meet(ctx, client, collectingAsked)
	if err != nil {
		return err
	}
	now := s.now()
	at, err := time.ParseInLocation("Mon 2 Jan, 15:04 2006", fmt.Sprint(label, " ", now.In(zone).Year()), zone)
	if err != nil {
		return fmt.Errorf("no time to collect it was offered: %w", err)
	}
	return s.advance(ctx, at.Sub(now))
}

// work does what the bench list offers, one operation after the other, and sleeps while nothing can be done; the client picks a
// time whenever one is offered.
func (s *stage) work(ctx context.Context, who, client chat.Person) error {
	const most = 2000 // steps; a job has some fifty operations
	for range most {
		if done := s.has(who, "Handed over"); done {
			return nil
		}
		if _, err := s.meet(ctx, client, fittingAsked); err != nil { // collecting comes after the work, whichever post comes first
			return err
		}
		if _, err := s.act(ctx, who, chat.Incoming{Command: "bench"}); err != nil {
			return err
		}
		b, ok := s.offer(who)
		if !ok {
			if err := s.sleep(ctx, 15*time.Minute); err != nil {
				return err
			}
			continue
		}
		r, err := s.act(ctx, who, chat.Incoming{Press: b.Action})
		if err != nil {
			return err
		}
		took := time.Minute
		if first, _, _ := strings.Cut(r.Text, "\n"); !strings.HasPrefix(first, "Started") {
			s.say(who, "["+b.Label+"]")
			s.mu.Lock()
			s.print("  (private)", first)
			s.mu.Unlock()
			took = 25 * time.Minute
		}
		if err := s.sleep(ctx, took); err != nil {
			return err
		}
	}
	return errors.New("the work never came to an end")
}

func (s *stage) has(who chat.Person, label string) bool {
	_, ok := s.find(who, label)
	return ok
}

// offer is the first button of the bench list.
func (s *stage) offer(who chat.Person) (chat.Button, bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	bs := s.private[who.ID].Buttons
	if len(bs) == 0 {
		return chat.Button{}, false
	}
	return bs[0], true
}
