package discordtest

import (
	"context"
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"unicode"

	"benchbell/bot/chat"
	"benchbell/bot/chat/chattest"
)

// What the bot writes around a conversation's words, as a person learns to read it.
const (
	scheme      = "discord:"
	refusalMark = "✗ "
	apology     = "Sorry, that did not work"
	formLabel   = "Open the form"
	barFull     = "▰"
	barEmpty    = "▱"
)

var (
	goOn = regexp.MustCompile(`\n?Continue in <#(\d+)>\.$`)
	told = regexp.MustCompile(`^(?:<@\d+> )+`)
	who  = regexp.MustCompile(`\d+`)
	done = regexp.MustCompile(`(\d+) %`)
)

// Peer is a person as tests of a conversation know one. What it sees is read back from what the service shows, and nothing
// else: bold for emphasis, escapes, the people told, a progress bar in two lines, a form that waits behind a button.
type Peer struct {
	s *Server
	p *Person
}

var _ chattest.Peer = Peer{}

// Peer is this person to tests of a conversation.
func (p *Person) Peer() Peer { return Peer{p.s, p} }

// ID implements chattest.Peer.
func (p Peer) ID() chat.PersonID { return chat.PersonID(scheme + p.p.ID()) }

func (p Peer) channel(th chat.ThreadID) string {
	if th == "" {
		return p.s.Channel()
	}
	return strings.TrimPrefix(string(th), scheme)
}

// Commands implements chattest.Peer.
func (p Peer) Commands(ctx context.Context) ([]string, error) {
	ctx, cancel := context.WithTimeout(ctx, Patience)
	defer cancel()
	return p.p.Offered(ctx)
}

// act makes an act and reads its answer.
func (p Peer) act(ctx context.Context, th chat.ThreadID, do func(ctx context.Context, channel string) (Outcome, error)) (chattest.Answer, error) {
	ctx, cancel := context.WithTimeout(ctx, Patience)
	defer cancel()
	o, err := do(ctx, p.channel(th))
	if err != nil {
		return chattest.Answer{}, err
	}
	return p.Answer(ctx, th, o)
}

// Do implements chattest.Peer.
func (p Peer) Do(ctx context.Context, th chat.ThreadID, command string, options map[string]string, files ...chat.File) (chattest.Answer, error) {
	return p.act(ctx, th, func(ctx context.Context, ch string) (Outcome, error) {
		return p.p.Command(ctx, ch, command, options, sent(files)...)
	})
}

// Press implements chattest.Peer.
func (p Peer) Press(ctx context.Context, th chat.ThreadID, action string) (chattest.Answer, error) {
	return p.act(ctx, th, func(ctx context.Context, ch string) (Outcome, error) { return p.p.Press(ctx, ch, action) })
}

// Hold looks at a button now and presses it later; see Person.Hold.
func (p Peer) Hold(_ context.Context, th chat.ThreadID, action string) (func(context.Context) (chattest.Answer, error), error) {
	press, err := p.p.Hold(p.channel(th), action)
	if err != nil {
		return nil, err
	}
	return func(ctx context.Context) (chattest.Answer, error) {
		return p.act(ctx, th, func(ctx context.Context, _ string) (Outcome, error) { return press(ctx) })
	}, nil
}

// Pick implements chattest.Peer.
func (p Peer) Pick(ctx context.Context, th chat.ThreadID, action string, values ...string) (chattest.Answer, error) {
	return p.act(ctx, th, func(ctx context.Context, ch string) (Outcome, error) { return p.p.Pick(ctx, ch, action, values...) })
}

// Submit implements chattest.Peer.
func (p Peer) Submit(ctx context.Context, th chat.ThreadID, action string, values map[string]string) (chattest.Answer, error) {
	return p.act(ctx, th, func(ctx context.Context, _ string) (Outcome, error) { return p.p.Submit(ctx, action, values) })
}

// Send implements chattest.Peer.
func (p Peer) Send(ctx context.Context, th chat.ThreadID, files ...chat.File) (chattest.Answer, error) {
	ctx, cancel := context.WithTimeout(ctx, Patience)
	defer cancel()
	id, err := p.p.Send(ctx, p.channel(th), "", sent(files)...)
	if err != nil {
		return chattest.Answer{}, err
	}
	m, err := p.p.Answered(ctx, p.channel(th), id)
	if err != nil || m == nil {
		return chattest.Answer{}, err
	}
	return p.Read(*m), nil
}

// Again implements chattest.Peer. The service shows nothing of what comes of it.
func (p Peer) Again(context.Context) (chattest.Answer, error) {
	p.p.Again()
	return chattest.Answer{}, nil
}

// Threads implements chattest.Peer.
func (p Peer) Threads(context.Context) ([]chat.ThreadID, error) {
	var out []chat.ThreadID
	for _, id := range p.p.Threads() {
		out = append(out, chat.ThreadID(scheme+id))
	}
	return out, nil
}

// Posts implements chattest.Peer.
func (p Peer) Posts(_ context.Context, th chat.ThreadID) (posts []chat.Post, by []chat.PersonID, err error) {
	ms, err := p.p.Messages(p.channel(th))
	if err != nil {
		return nil, nil, err
	}
	for _, m := range ms {
		if m.For != "" {
			continue
		}
		post := chat.Post{Thread: th}
		if head := told.FindString(m.Content); head != "" {
			m.Content = strings.TrimPrefix(m.Content, head)
			for _, id := range who.FindAllString(head, -1) {
				post.Mention = append(post.Mention, chat.PersonID(scheme+id))
			}
		}
		m.Content, post.Bar = bar(m.Content)
		a := p.Read(m)
		post.Text, post.Files, post.Buttons, post.Menus = a.Text, a.Files, a.Buttons, a.Menus
		posts = append(posts, post)
		if m.Author == p.s.Bot() {
			by = append(by, "")
		} else {
			by = append(by, chat.PersonID(scheme+m.Author))
		}
	}
	return posts, by, nil
}

// Private implements chattest.Peer.
func (p Peer) Private(_ context.Context, th chat.ThreadID) (string, error) {
	ms, err := p.p.Messages(p.channel(th))
	if err != nil {
		return "", err
	}
	var out []string
	for _, m := range ms {
		if m.For == p.p.ID() {
			out = append(out, Shown(m.Content))
		}
	}
	return strings.Join(out, "\n"), nil
}

// Answer reads what an act came to once it is finished, and opens a form that waits behind a button.
func (p Peer) Answer(ctx context.Context, th chat.ThreadID, o Outcome) (chattest.Answer, error) {
	o, err := p.p.Finish(ctx, o)
	if err != nil {
		return chattest.Answer{}, err
	}
	a := p.Read(o.Messages...)
	form := o.Form
	for _, m := range o.Messages {
		for _, r := range m.Components {
			for _, c := range r.Components {
				if c.Label != formLabel {
					continue
				}
				opened, err := p.p.Press(ctx, p.channel(th), c.CustomID)
				if err != nil {
					return a, err
				}
				form = opened.Form
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

// Read is what messages show, as one answer.
func (p Peer) Read(ms ...Message) chattest.Answer {
	var a chattest.Answer
	var texts []string
	for _, m := range ms {
		content := m.Content
		if g := goOn.FindStringSubmatch(content); g != nil {
			a.Thread = chat.ThreadID(scheme + g[1])
			content = strings.TrimSuffix(content, g[0])
		}
		if content = Shown(content); content != "" {
			texts = append(texts, content)
		}
		for _, f := range m.Attachments {
			a.Files = append(a.Files, chat.File{Name: f.Filename, MIME: f.ContentType, Alt: f.Description, Data: p.p.Download(f)})
		}
		for _, r := range m.Components {
			for _, c := range r.Components {
				switch {
				case c.Type == Button && c.Label != formLabel:
					tone := map[int]chat.Tone{3: chat.Good, 4: chat.Grave}[c.Style]
					a.Buttons = append(a.Buttons, chat.Button{Action: c.CustomID, Label: c.Label, Tone: tone})
				case c.Type == Menu:
					menu := chat.Menu{Action: c.CustomID, Label: c.Placeholder}
					menu.Min, menu.Max = c.limits()
					for _, o := range c.Options {
						menu.Options = append(menu.Options, chat.Option{Value: o.Value, Label: o.Label, Note: o.Description, Chosen: o.Default})
					}
					a.Menus = append(a.Menus, menu)
				}
			}
		}
	}
	a.Text = strings.Join(texts, "\n")
	switch say, refused := strings.CutPrefix(a.Text, refusalMark); {
	case strings.HasPrefix(a.Text, apology):
		a.Sorry, a.Text = true, ""
	case refused:
		// The bot has made a sentence of it.
		r := []rune(strings.TrimSuffix(say, "."))
		if len(r) > 1 && unicode.IsLower(r[1]) {
			r[0] = unicode.ToLower(r[0])
		}
		a.Refused, a.Text = string(r), ""
	}
	return a
}

// bar takes a progress bar off the end of a post's content.
func bar(content string) (rest string, b *chat.Bar) {
	lines := strings.Split(strings.TrimRightFunc(content, unseen), "\n")
	last := len(lines) - 1
	if !strings.HasPrefix(lines[last], barFull) && !strings.HasPrefix(lines[last], barEmpty) {
		return content, nil
	}
	b = &chat.Bar{Failed: strings.HasSuffix(lines[last], "stopped")}
	whole := 0.0
	if g := done.FindStringSubmatch(lines[last]); g != nil {
		n, err := strconv.Atoi(g[1])
		if err != nil {
			panic(fmt.Sprintf("%q is no number of percent", g[1])) // of so many digits
		}
		whole = float64(n) / 100
	}
	if last > 0 && strings.ContainsAny(lines[last-1], "✓▸✗") {
		last--
		for i, s := range strings.Split(lines[last], " · ") {
			name := strings.TrimLeft(s, "✓▸✗ ")
			b.Stages = append(b.Stages, strings.ReplaceAll(Shown(name), "*", ""))
			if strings.HasPrefix(s, "✓") {
				b.At = i + 1
			}
		}
	}
	b.Share = whole*float64(len(b.Stages)) - float64(b.At)
	return strings.Join(lines[:last], "\n"), b
}

// unseen are characters of no width.
func unseen(r rune) bool { return unicode.Is(unicode.Cf, r) }

// Shown is the plain text, with *emphasis*, that the service shows for a content.
func Shown(content string) string {
	var out []rune
	for r := []rune(strings.TrimRightFunc(content, unseen)); len(r) > 0; r = r[1:] {
		switch {
		case r[0] == '\\' && len(r) > 1:
			r = r[1:]
			out = append(out, r[0])
		case r[0] == '*' && len(r) > 1 && r[1] == '*':
			r = r[1:]
			out = append(out, '*')
		default:
			out = append(out, r[0])
		}
	}
	return string(out)
}

func sent(files []chat.File) []File {
	var out []File
	for _, f := range files {
		out = append(out, File{Name: f.Name, ContentType: f.MIME, Data: f.Data})
	}
	return out
}
