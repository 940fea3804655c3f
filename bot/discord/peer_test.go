package discord

import (
	"context"
	"log/slog"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode"

	"benchbell/bot/chat"
	"benchbell/bot/chat/chattest"
	"benchbell/bot/discord/discordtest"
)

// peer is a person at the stand-in, as the conformance laws know one. What the person sees is read back from what the
// service shows: markdown, the progress lines, the mark.
type peer struct {
	s *discordtest.Server
	p *discordtest.Person
}

func (p peer) ID() chat.PersonID { return chat.PersonID(scheme + ":" + p.p.ID()) }

func (p peer) channel(th chat.ThreadID) string {
	if th == "" {
		return p.s.Channel()
	}
	return strings.TrimPrefix(string(th), scheme+":")
}

func within(ctx context.Context) (context.Context, context.CancelFunc) {
	return context.WithTimeout(ctx, discordtest.Patience)
}

func (p peer) Commands(ctx context.Context) ([]string, error) {
	ctx, cancel := within(ctx)
	defer cancel()
	return p.p.Offered(ctx)
}

func (p peer) Do(ctx context.Context, th chat.ThreadID, command string, options map[string]string, files ...chat.File) (chattest.Answer, error) {
	ctx, cancel := within(ctx)
	defer cancel()
	o, err := p.p.Command(ctx, p.channel(th), command, options, sent(files)...)
	return p.answer(ctx, th, o, err)
}

func (p peer) Press(ctx context.Context, th chat.ThreadID, action string) (chattest.Answer, error) {
	ctx, cancel := within(ctx)
	defer cancel()
	o, err := p.p.Press(ctx, p.channel(th), action)
	return p.answer(ctx, th, o, err)
}

func (p peer) Pick(ctx context.Context, th chat.ThreadID, action string, values ...string) (chattest.Answer, error) {
	ctx, cancel := within(ctx)
	defer cancel()
	o, err := p.p.Pick(ctx, p.channel(th), action, values...)
	return p.answer(ctx, th, o, err)
}

func (p peer) Submit(ctx context.Context, th chat.ThreadID, action string, values map[string]string) (chattest.Answer, error) {
	ctx, cancel := within(ctx)
	defer cancel()
	o, err := p.p.Submit(ctx, action, values)
	return p.answer(ctx, th, o, err)
}

func (p peer) Send(ctx context.Context, th chat.ThreadID, files ...chat.File) (chattest.Answer, error) {
	ctx, cancel := within(ctx)
	defer cancel()
	id, err := p.p.Send(ctx, p.channel(th), "", sent(files)...)
	if err != nil {
		return chattest.Answer{}, err
	}
	m, err := p.p.Answered(ctx, p.channel(th), id)
	if err != nil || m == nil {
		return chattest.Answer{}, err
	}
	return p.read([]discordtest.Message{*m}), nil
}

func (p peer) Again(context.Context) (chattest.Answer, error) {
	p.p.Again()
	return chattest.Answer{}, nil
}

func (p peer) Threads(context.Context) ([]chat.ThreadID, error) {
	var out []chat.ThreadID
	for _, id := range p.p.Threads() {
		out = append(out, threadID(id))
	}
	return out, nil
}

func (p peer) Posts(_ context.Context, th chat.ThreadID) (posts []chat.Post, by []chat.PersonID, err error) {
	ms, err := p.p.Messages(p.channel(th))
	if err != nil {
		return nil, nil, err
	}
	for _, m := range ms {
		if m.For != "" {
			continue
		}
		a := p.read([]discordtest.Message{m})
		posts = append(posts, chat.Post{Thread: th, Text: a.Text, Files: a.Files, Buttons: a.Buttons, Menus: a.Menus})
		if m.Author == p.s.Bot() {
			by = append(by, "")
		} else {
			by = append(by, chat.PersonID(scheme+":"+m.Author))
		}
	}
	return posts, by, nil
}

func (p peer) Private(_ context.Context, th chat.ThreadID) (string, error) {
	ms, err := p.p.Messages(p.channel(th))
	if err != nil {
		return "", err
	}
	var out []string
	for _, m := range ms {
		if m.For == p.p.ID() {
			out = append(out, shown(m.Content))
		}
	}
	return strings.Join(out, "\n"), nil
}

// answer reads what an act came to, and opens a form that is offered behind a button.
func (p peer) answer(ctx context.Context, th chat.ThreadID, o discordtest.Outcome, err error) (chattest.Answer, error) {
	if err == nil {
		o, err = p.p.Finish(ctx, o)
	}
	if err != nil {
		return chattest.Answer{}, err
	}
	a := p.read(o.Messages)
	form := o.Form
	for _, m := range o.Messages {
		for _, r := range m.Components {
			for _, c := range r.Components {
				if strings.HasPrefix(c.CustomID, formPrefix) {
					opened, err := p.p.Press(ctx, p.channel(th), c.CustomID)
					if err != nil {
						return chattest.Answer{}, err
					}
					form = opened.Form
				}
			}
		}
	}
	if form != nil {
		a.Form = &chat.Form{Action: form.ID, Title: form.Title}
		for _, f := range form.Fields {
			a.Form.Fields = append(a.Form.Fields, chat.Field{Key: f.CustomID, Label: f.Label, Hint: f.Placeholder, Value: f.Value, Long: f.Style == 2, Optional: f.Required != nil && !*f.Required})
		}
	}
	return a, nil
}

var goOn = regexp.MustCompile(`\n?Go on in <#(\d+)>\.$`)

// read is what messages show.
func (p peer) read(ms []discordtest.Message) chattest.Answer {
	var a chattest.Answer
	var texts []string
	for _, m := range ms {
		content := m.Content
		if g := goOn.FindStringSubmatch(content); g != nil {
			a.Thread = threadID(g[1])
			content = strings.TrimSuffix(content, g[0])
		}
		if content != "" {
			texts = append(texts, shown(content))
		}
		for _, f := range m.Attachments {
			a.Files = append(a.Files, chat.File{Name: f.Filename, MIME: f.ContentType, Alt: f.Description, Data: p.p.Download(f)})
		}
		for _, r := range m.Components {
			for _, c := range r.Components {
				switch {
				case strings.HasPrefix(c.CustomID, formPrefix):
				case c.Type == discordtest.Button:
					a.Buttons = append(a.Buttons, chat.Button{Action: c.CustomID, Label: c.Label})
				case c.Type == discordtest.Menu:
					menu := chat.Menu{Action: c.CustomID, Label: c.Placeholder, Min: *c.MinValues, Max: *c.MaxValues}
					for _, o := range c.Options {
						menu.Options = append(menu.Options, chat.Option{Value: o.Value, Label: o.Label, Note: o.Description})
					}
					a.Menus = append(a.Menus, menu)
				}
			}
		}
	}
	a.Text = strings.Join(texts, "\n")
	switch {
	case a.Text == apology:
		a.Sorry, a.Text = true, ""
	case strings.HasPrefix(a.Text, refusalMark):
		r := []rune(strings.TrimSuffix(strings.TrimPrefix(a.Text, refusalMark), "."))
		r[0] = unicode.ToLower(r[0])
		a.Refused, a.Text = string(r), ""
	}
	return a
}

// shown is the plain text, with *emphasis*, that the service shows for a content of ours.
func shown(s string) string {
	s = strings.TrimRightFunc(s, func(r rune) bool { return slices.Contains(blanks, r) })
	lines := strings.Split(s, "\n")
	if n := len(lines); n >= 2 && strings.ContainsAny(lines[n-1], "▰▱") {
		lines = lines[:n-2]
	}
	r, out := []rune(strings.Join(lines, "\n")), []rune{}
	for i := 0; i < len(r); i++ {
		switch {
		case r[i] == '\\' && i+1 < len(r):
			i++
			out = append(out, r[i])
		case r[i] == '*' && i+1 < len(r) && r[i+1] == '*':
			i++
			out = append(out, '*')
		default:
			out = append(out, r[i])
		}
	}
	return string(out)
}

func sent(files []chat.File) []discordtest.File {
	var out []discordtest.File
	for _, f := range files {
		out = append(out, discordtest.File{Name: f.Name, ContentType: f.MIME, Data: f.Data})
	}
	return out
}

// stage is a stand-in with a transport that isn't running yet and three people.
type stage struct {
	chattest.Bench
	s                     *discordtest.Server
	tr                    *Transport
	client, other, studio *discordtest.Person
	role                  string
}

// newStage makes one; the stand-in must have found nothing wrong at the end.
func newStage(t *testing.T, change ...func(*Options)) *stage {
	t.Helper()
	s := discordtest.New(t)
	g := &stage{s: s}
	g.role = s.AddRole(discordtest.ManageServer | discordtest.ManageThreads)
	g.client, g.other, g.studio = s.AddPerson("Ilka"), s.AddPerson("Bo"), s.AddPerson("Studio", g.role)
	g.tr = g.transport(t, change...)
	g.Bench = chattest.Bench{Transport: g.tr, Client: peer{s, g.client}, Other: peer{s, g.other}, Studio: peer{s, g.studio}}
	t.Cleanup(func() {
		for _, p := range s.Problems() {
			t.Error("the service refuses: ", p)
		}
	})
	return g
}

// transport is another one for the same bot, as after a restart.
func (g *stage) transport(t *testing.T, change ...func(*Options)) *Transport {
	t.Helper()
	o := Options{Token: g.s.Token(), Guild: g.s.Guild(), Channel: g.s.Channel(), API: g.s.URL(), Log: slog.New(slog.DiscardHandler)}
	for _, c := range change {
		c(&o)
	}
	tr, err := New(o)
	if err != nil {
		t.Fatal(err)
	}
	return tr
}

// run serves with h until the test ends or stop is called.
func (g *stage) run(t *testing.T, tr *Transport, h chat.Handler) (stop func()) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- tr.Run(ctx, offered, h) }()
	once := false
	stop = func() {
		if once {
			return
		}
		once = true
		cancel()
		if err := <-ended; err != nil {
			t.Errorf("run ended with %v", err)
		}
		wait, done := within(context.Background())
		defer done()
		if err := g.s.Down(wait); err != nil {
			t.Error(err)
		}
	}
	t.Cleanup(stop)
	wait, done := within(t.Context())
	defer done()
	if err := g.s.Connected(wait); err != nil {
		t.Fatal(err)
	}
	return stop
}

var offered = []chat.Command{
	{Name: "ping", Summary: "answer"},
	{Name: "show", Summary: "show a picture", Options: []chat.CommandOption{{Name: "note", Summary: "what it is"}, {Name: "picture", Summary: "a picture", Required: true, File: true}}},
	{Name: "bench", Summary: "the bench", Studio: true},
}

func TestConformance(t *testing.T) {
	t.Parallel()
	chattest.Conformance(t, func(t *testing.T) chattest.Bench { return newStage(t).Bench })
}
