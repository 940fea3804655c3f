package discordtest

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"time"
)

// Person is somebody who uses the service. Methods that act return when the bot has acknowledged; an error says that the
// service doesn't offer the act (no such button, a field too long), or that ctx ended.
type Person struct {
	s     *Server
	id    string
	name  string
	roles []string
	form  *Form // open on the screen
	last  *act
}

// File is a file that a person sends.
type File struct {
	Name, ContentType string
	Data              []byte
}

// Outcome is what an act came to, so far.
type Outcome struct {
	ID       string
	Messages []Message // shown to the person in answer; the first may still be Thinking
	Form     *Form     // opened
	Silent   bool      // acknowledged without anything to show
	act      *act
}

// ID is the person's user ID.
func (p *Person) ID() string { return p.id }

// SetRoles changes the person's roles.
func (p *Person) SetRoles(roles ...string) {
	p.s.mu.Lock()
	defer p.s.mu.Unlock()
	p.roles = roles
}

// Direct is the channel of the person's direct messages with the bot.
func (p *Person) Direct() string {
	p.s.mu.Lock()
	defer p.s.mu.Unlock()
	return p.s.direct(p.id).id
}

// Offered are the names of the commands that the person is offered in the server.
func (p *Person) Offered(ctx context.Context) ([]string, error) {
	s := p.s
	if err := s.until(ctx, "a list of commands", func() bool { return len(s.commands) > 0 }); err != nil {
		return nil, err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	var out []string
	for _, c := range s.commands {
		if need := c.needed(); s.permissions(p)&need == need {
			out = append(out, c.Name)
		}
	}
	return out, nil
}

// Command gives a command in the channel. Files go to the command's file options in their order.
func (p *Person) Command(ctx context.Context, channel, name string, options map[string]string, files ...File) (Outcome, error) {
	s := p.s
	find := func() *registered {
		for i := range s.commands {
			if s.commands[i].Name == name {
				return &s.commands[i]
			}
		}
		return nil
	}
	if err := s.until(ctx, "the command "+name, func() bool { return find() != nil }); err != nil {
		return Outcome{}, err
	}
	return p.do(ctx, channel, func() (*act, error) {
		c := find()
		if need := c.needed(); s.permissions(p)&need != need {
			return nil, fmt.Errorf("the command %s is not offered to %s", name, p.name)
		}
		if s.channels[channel].kind == directChannel && (!c.global || len(c.Contexts) > 0 && !slices.Contains(c.Contexts, 1)) {
			return nil, fmt.Errorf("the command %s is not offered in direct messages", name)
		}
		given, list, resolved := maps.Clone(options), []any{}, map[string]any{}
		for _, o := range c.Options {
			switch v, ok := given[o.Name]; {
			case o.Type == 11 && len(files) > 0:
				a := s.store(upload{files[0].Name, files[0].ContentType, files[0].Data}, "")
				resolved[a.ID] = a
				list = append(list, map[string]any{"name": o.Name, "type": o.Type, "value": a.ID})
				files = files[1:]
			case ok && o.Type == 3:
				list = append(list, map[string]any{"name": o.Name, "type": o.Type, "value": v})
				delete(given, o.Name)
			case o.Required:
				return nil, fmt.Errorf("the command %s needs its option %s", name, o.Name)
			}
		}
		if len(given) > 0 || len(files) > 0 {
			return nil, fmt.Errorf("the command %s takes no %v and no %d more files", name, given, len(files))
		}
		data := map[string]any{"id": c.ID, "name": name, "type": 1, "options": list}
		if len(resolved) > 0 {
			data["resolved"] = map[string]any{"attachments": resolved}
		}
		return s.begin(p, commandAct, channel, nil, data), nil
	})
}

// Press presses a button of the channel: the latest of that ID that the person sees.
func (p *Person) Press(ctx context.Context, channel, id string) (Outcome, error) {
	return p.do(ctx, channel, func() (*act, error) {
		m, c := p.component(channel, id)
		if m == nil || c.Type != Button {
			return nil, fmt.Errorf("%s sees no button %s", p.name, id)
		}
		return p.s.begin(p, componentAct, channel, m, map[string]any{"custom_id": id, "component_type": Button}), nil
	})
}

// Pick chooses values of a menu of the channel.
func (p *Person) Pick(ctx context.Context, channel, id string, values ...string) (Outcome, error) {
	return p.do(ctx, channel, func() (*act, error) {
		m, c := p.component(channel, id)
		if m == nil || c.Type != Menu {
			return nil, fmt.Errorf("%s sees no menu %s", p.name, id)
		}
		if lo, hi := c.limits(); len(values) < lo || len(values) > hi {
			return nil, fmt.Errorf("the menu %s takes %d to %d values", id, lo, hi)
		}
		for _, v := range values {
			if !slices.ContainsFunc(c.Options, func(o Option) bool { return o.Value == v }) {
				return nil, fmt.Errorf("the menu %s has no %s", id, v)
			}
		}
		return p.s.begin(p, componentAct, channel, m, map[string]any{"custom_id": id, "component_type": Menu, "values": values}), nil
	})
}

// Submit sends the open form. Fields not named go as they are filled in.
func (p *Person) Submit(ctx context.Context, id string, values map[string]string) (Outcome, error) {
	p.s.mu.Lock()
	f := p.form
	p.s.mu.Unlock()
	if f == nil || f.ID != id {
		return Outcome{}, fmt.Errorf("%s has no form %s open", p.name, id)
	}
	return p.do(ctx, f.channel, func() (*act, error) {
		given, rows := maps.Clone(values), []any{}
		for _, c := range f.Fields {
			v, ok := given[c.CustomID]
			if !ok {
				v = c.Value
			}
			delete(given, c.CustomID)
			if v == "" && (c.Required == nil || *c.Required) {
				return nil, fmt.Errorf("the form %s needs its field %s", id, c.CustomID)
			}
			if c.MaxLength > 0 && length(v) > c.MaxLength {
				return nil, fmt.Errorf("the field %s takes %d characters", c.CustomID, c.MaxLength)
			}
			rows = append(rows, map[string]any{"type": Row, "components": []any{map[string]any{"type": Field, "custom_id": c.CustomID, "value": v}}})
		}
		if len(given) > 0 {
			return nil, fmt.Errorf("the form %s has no %v", id, given)
		}
		p.form = nil
		return p.s.begin(p, formAct, f.channel, f.on, map[string]any{"custom_id": id, "components": rows}), nil
	})
}

// Again delivers the person's last act to the bot once more.
func (p *Person) Again() {
	p.s.mu.Lock()
	defer p.s.mu.Unlock()
	if p.last != nil {
		p.s.dispatch("INTERACTION_CREATE", p.s.describeAct(p.last))
	}
}

// Form is the form open on the person's screen, or nil.
func (p *Person) Form() *Form {
	p.s.mu.Lock()
	defer p.s.mu.Unlock()
	return p.form
}

// do makes an act in a channel that the person sees, and waits for its acknowledgement.
func (p *Person) do(ctx context.Context, channel string, begin func() (*act, error)) (Outcome, error) {
	s := p.s
	if err := s.Connected(ctx); err != nil {
		return Outcome{}, err
	}
	s.mu.Lock()
	c := s.channels[channel]
	if c == nil || !s.sees(p.id, c) {
		s.mu.Unlock()
		return Outcome{}, fmt.Errorf("%s sees no channel %s", p.name, channel)
	}
	a, err := begin()
	s.mu.Unlock()
	if err != nil {
		return Outcome{}, err
	}
	if err := s.until(ctx, "an acknowledgement", func() bool { return a.answered }); err != nil {
		return Outcome{}, err
	}
	return p.outcome(a), nil
}

func (p *Person) outcome(a *act) Outcome {
	p.s.mu.Lock()
	defer p.s.mu.Unlock()
	o := Outcome{ID: a.id, Form: a.form, Silent: a.silent, act: a}
	for _, m := range a.shown {
		o.Messages = append(o.Messages, *m)
	}
	return o
}

// Finish waits until nothing of the act's answer is being thought about any more.
func (p *Person) Finish(ctx context.Context, o Outcome) (Outcome, error) {
	err := p.s.until(ctx, "an answer", func() bool { return o.act.original == nil || !o.act.original.Thinking })
	return p.outcome(o.act), err
}

// component is the latest component of that ID that the person sees in the channel; call it with mu held.
func (p *Person) component(channel, id string) (*Message, Component) {
	ms := p.s.channels[channel].messages
	for i := len(ms) - 1; i >= 0; i-- {
		if ms[i].For != "" && ms[i].For != p.id {
			continue
		}
		for _, r := range ms[i].Components {
			for _, c := range r.Components {
				if c.CustomID == id {
					return ms[i], c
				}
			}
		}
	}
	return nil, Component{}
}

// Send writes a message into the channel and returns its ID.
func (p *Person) Send(ctx context.Context, channel, text string, files ...File) (string, error) {
	s := p.s
	if err := s.Connected(ctx); err != nil {
		return "", err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	c := s.channels[channel]
	if c == nil || !s.sees(p.id, c) {
		return "", fmt.Errorf("%s sees no channel %s", p.name, channel)
	}
	m := &Message{ID: s.id(), Channel: channel, Author: p.id, Content: text}
	for _, f := range files {
		m.Attachments = append(m.Attachments, s.store(upload{f.Name, f.ContentType, f.Data}, ""))
	}
	c.messages = append(c.messages, m)
	d := s.tell(m)
	if c.guild != "" {
		d["guild_id"] = c.guild
		member := s.member(p)
		delete(member, "user")
		d["member"] = member
		if s.current.intents&contentIntent == 0 {
			d["content"], d["attachments"] = "", []any{}
		}
	}
	s.dispatch("MESSAGE_CREATE", d)
	s.touch()
	return m.ID, nil
}

// Answered waits until the bot has answered a message, or reacted to it, and returns the answer if it is one.
func (p *Person) Answered(ctx context.Context, channel, message string) (*Message, error) {
	var found *Message
	err := p.s.until(ctx, "an answer to a message", func() bool {
		for _, m := range p.s.channels[channel].messages {
			if m.Reference == message {
				found = m
				return true
			}
			if m.ID == message && len(m.Reactions) > 0 {
				return true
			}
		}
		return false
	})
	if found == nil || err != nil {
		return nil, err
	}
	p.s.mu.Lock()
	defer p.s.mu.Unlock()
	copied := *found
	return &copied, nil
}

// Messages are those of the channel that the person sees, in order, with those for them alone among them.
func (p *Person) Messages(channel string) ([]Message, error) {
	p.s.mu.Lock()
	defer p.s.mu.Unlock()
	c := p.s.channels[channel]
	if c == nil || !p.s.sees(p.id, c) {
		return nil, fmt.Errorf("%s sees no channel %s", p.name, channel)
	}
	return p.seen(c), nil
}

// Await waits until what the person sees of the channel is as ok wants it.
func (p *Person) Await(ctx context.Context, channel string, ok func([]Message) bool) error {
	return p.s.until(ctx, "what was awaited in a channel", func() bool {
		c := p.s.channels[channel]
		return c != nil && p.s.sees(p.id, c) && ok(p.seen(c))
	})
}

// seen are the channel's messages as the person sees them; call it with mu held.
func (p *Person) seen(c *channel) []Message {
	var out []Message
	for _, m := range c.messages {
		if m.For == "" || m.For == p.id {
			out = append(out, *m)
		}
	}
	return out
}

// Threads are the IDs of those that the person sees.
func (p *Person) Threads() []string {
	p.s.mu.Lock()
	defer p.s.mu.Unlock()
	var out []string
	for id, c := range p.s.channels {
		if (c.kind == publicThread || c.kind == privateThread) && p.s.sees(p.id, c) {
			out = append(out, id)
		}
	}
	slices.Sort(out)
	return out
}

// Download is a file's content.
func (p *Person) Download(a Attachment) []byte {
	p.s.mu.Lock()
	defer p.s.mu.Unlock()
	return p.s.files[a.ID]
}

// Patience bounds a failing test's wait; nothing passes or fails by how long it took.
const Patience = 20 * time.Second
