package main

import (
	"context"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode"

	"benchbell/bot/chat"
	"benchbell/bot/chat/chattest"
	"benchbell/bot/discord/discordtest"
)

// What the Discord transport writes around the desk's words, as a person learns to read it.
const (
	discordScheme  = "discord:"
	discordRefusal = "✗ "
	discordSorry   = "Sorry, that did not work"
	discordForm    = "Open the form"
)

var discordGoOn = regexp.MustCompile(`\n?Go on in <#(\d+)>\.$`)

// member is a person at the Discord stand-in who reads what the service shows, and nothing else.
type member struct {
	s *discordtest.Server
	p *discordtest.Person
}

var _ chattest.Peer = member{}

func (m member) ID() chat.PersonID { return chat.PersonID(discordScheme + m.p.ID()) }

func (m member) channel(th chat.ThreadID) string {
	if th == "" {
		return m.s.Channel()
	}
	return strings.TrimPrefix(string(th), discordScheme)
}

func (m member) Commands(ctx context.Context) ([]string, error) { return m.p.Offered(ctx) }

func (m member) Do(ctx context.Context, th chat.ThreadID, command string, options map[string]string, files ...chat.File) (chattest.Answer, error) {
	return m.await(ctx, th, func(ctx context.Context) (discordtest.Outcome, error) {
		return m.p.Command(ctx, m.channel(th), command, options, discordFiles(files)...)
	})
}

func (m member) Press(ctx context.Context, th chat.ThreadID, action string) (chattest.Answer, error) {
	return m.await(ctx, th, func(ctx context.Context) (discordtest.Outcome, error) { return m.p.Press(ctx, m.channel(th), action) })
}

func (m member) Hold(_ context.Context, th chat.ThreadID, action string) (func(context.Context) (chattest.Answer, error), error) {
	press, err := m.p.Hold(m.channel(th), action)
	if err != nil {
		return nil, err
	}
	return func(ctx context.Context) (chattest.Answer, error) { return m.await(ctx, th, press) }, nil
}

func (m member) Pick(ctx context.Context, th chat.ThreadID, action string, values ...string) (chattest.Answer, error) {
	return m.await(ctx, th, func(ctx context.Context) (discordtest.Outcome, error) {
		return m.p.Pick(ctx, m.channel(th), action, values...)
	})
}

func (m member) Submit(ctx context.Context, th chat.ThreadID, action string, values map[string]string) (chattest.Answer, error) {
	return m.await(ctx, th, func(ctx context.Context) (discordtest.Outcome, error) { return m.p.Submit(ctx, action, values) })
}

func (m member) Send(ctx context.Context, th chat.ThreadID, files ...chat.File) (chattest.Answer, error) {
	_, err := m.p.Send(ctx, m.channel(th), "", discordFiles(files)...)
	return chattest.Answer{}, err
}

// Again delivers the last act once more; the service shows nothing of what comes of that.
func (m member) Again(context.Context) (chattest.Answer, error) {
	m.p.Again()
	return chattest.Answer{}, nil
}

func (m member) Threads(context.Context) ([]chat.ThreadID, error) {
	var out []chat.ThreadID
	for _, id := range m.p.Threads() {
		out = append(out, chat.ThreadID(discordScheme+id))
	}
	return out, nil
}

func (m member) Posts(_ context.Context, th chat.ThreadID) (posts []chat.Post, by []chat.PersonID, err error) {
	ms, err := m.p.Messages(m.channel(th))
	if err != nil {
		return nil, nil, err
	}
	for _, x := range ms {
		if x.For != "" {
			continue
		}
		a := m.read(x)
		posts = append(posts, chat.Post{Thread: th, Text: a.Text, Files: a.Files, Buttons: a.Buttons, Menus: a.Menus})
		who := chat.PersonID("")
		if x.Author != m.s.Bot() {
			who = chat.PersonID(discordScheme + x.Author)
		}
		by = append(by, who)
	}
	return posts, by, nil
}

func (m member) Private(_ context.Context, th chat.ThreadID) (string, error) {
	ms, err := m.p.Messages(m.channel(th))
	var out []string
	for _, x := range ms {
		if x.For == m.p.ID() {
			out = append(out, m.read(x).Text)
		}
	}
	return strings.Join(out, "\n"), err
}

// await takes an act to the end of its answer, and opens the form that waits behind a button.
func (m member) await(ctx context.Context, th chat.ThreadID, act func(context.Context) (discordtest.Outcome, error)) (chattest.Answer, error) {
	ctx, cancel := context.WithTimeout(ctx, discordtest.Patience)
	defer cancel()
	o, err := act(ctx)
	if err == nil {
		o, err = m.p.Finish(ctx, o)
	}
	if err != nil {
		return chattest.Answer{}, err
	}
	a := m.read(o.Messages...)
	if i := slices.IndexFunc(a.Buttons, func(b chat.Button) bool { return b.Label == discordForm }); i >= 0 && o.Form == nil {
		if o, err = m.p.Press(ctx, m.channel(th), a.Buttons[i].Action); err != nil {
			return a, err
		}
	}
	if o.Form != nil {
		a.Form = &chat.Form{Action: o.Form.ID, Title: o.Form.Title}
		for _, f := range o.Form.Fields {
			a.Form.Fields = append(a.Form.Fields, chat.Field{Key: f.CustomID, Label: f.Label, Value: f.Value, Optional: f.Required != nil && !*f.Required})
		}
	}
	return a, nil
}

// read is what messages show.
func (m member) read(ms ...discordtest.Message) chattest.Answer {
	var a chattest.Answer
	var texts []string
	for _, x := range ms {
		content := x.Content
		if g := discordGoOn.FindStringSubmatch(content); g != nil {
			a.Thread = chat.ThreadID(discordScheme + g[1])
			content = strings.TrimSuffix(content, g[0])
		}
		if content = seen(content); content != "" {
			texts = append(texts, content)
		}
		for _, f := range x.Attachments {
			a.Files = append(a.Files, chat.File{Name: f.Filename, MIME: f.ContentType, Alt: f.Description, Data: m.p.Download(f)})
		}
		for _, r := range x.Components {
			for _, c := range r.Components {
				switch c.Type {
				case discordtest.Button:
					a.Buttons = append(a.Buttons, chat.Button{Action: c.CustomID, Label: c.Label})
				case discordtest.Menu:
					menu := chat.Menu{Action: c.CustomID, Label: c.Placeholder}
					for _, o := range c.Options {
						menu.Options = append(menu.Options, chat.Option{Value: o.Value, Label: o.Label, Note: o.Description})
					}
					a.Menus = append(a.Menus, menu)
				}
			}
		}
	}
	a.Text = strings.Join(texts, "\n")
	switch say, refused := strings.CutPrefix(a.Text, discordRefusal); {
	case strings.HasPrefix(a.Text, discordSorry):
		a.Sorry = true
	case refused:
		a.Refused, a.Text = say, ""
	}
	return a
}

// seen is a message as the service shows it: escapes gone, marks without width unseen.
func seen(content string) string {
	var out []rune
	escaped := false
	for _, c := range content {
		switch {
		case !escaped && c == '\\':
			escaped = true
			continue
		case unicode.Is(unicode.Cf, c):
		default:
			out = append(out, c)
		}
		escaped = false
	}
	return strings.TrimSpace(string(out))
}

func discordFiles(files []chat.File) []discordtest.File {
	var out []discordtest.File
	for _, f := range files {
		out = append(out, discordtest.File{Name: f.Name, ContentType: f.MIME, Data: f.Data})
	}
	return out
}

// discordHouse is a house on Discord's stand-in, and its people.
func discordHouse(t *testing.T, env map[string]string) (*house, people) {
	t.Helper()
	s := discordtest.New(t)
	role := s.AddRole(discordtest.ManageServer | discordtest.ManageThreads)
	ilka, jorin, mara := s.AddPerson("Ilka"), s.AddPerson("Jorin"), s.AddPerson("Mara", role)
	all := map[string]string{"BENCHBELL_LISTEN": "off", "BENCHBELL_STUDIO": hurriedStudio(t), "BENCHBELL_DISCORD_TOKEN": s.Token(),
		"BENCHBELL_DISCORD_GUILD": s.Guild(), "BENCHBELL_DISCORD_STUDIO_ROLE": role, "BENCHBELL_DISCORD_API": s.URL()}
	for k, v := range env {
		all[k] = v
	}
	h := openHouse(t, all)
	t.Cleanup(func() {
		for _, p := range s.Problems() {
			t.Error("the service refuses: ", p)
		}
	})
	return h, people{client: member{s, ilka}, other: member{s, jorin}, studio: member{s, mara},
		board: chat.ThreadID(discordScheme + s.Channel()), unanswered: true}
}

// The same conversation on Discord.
func TestHouseOnDiscord(t *testing.T) {
	h, who := discordHouse(t, nil)
	golden(t, "discord", converseThrough(t, h, who))
	h.quotedBy(t, "bot")
}
