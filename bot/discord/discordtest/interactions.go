package discordtest

import (
	"encoding/json"
	"net/http"
	"time"
)

// Kinds of acts.
const (
	commandAct   = 2
	componentAct = 3
	formAct      = 5
)

// act is something a person did that the bot must answer.
type act struct {
	id, token string
	kind      int
	by        *Person
	channel   string
	on        *Message // the message whose button or menu it was, or that the form was opened from
	at        time.Time
	data      any // what the bot is told
	answered  bool
	silent    bool // acknowledged, with nothing to show (any more)
	form      *Form
	original  *Message
	shown     []*Message // all that this person was shown in answer, the original first
}

// Form is a form open on a person's screen.
type Form struct {
	ID         string // its custom_id
	Title      string
	Fields     []Component
	channel    string
	on         *Message
	components []Component
}

func (s *Server) postCallback(c *call) (any, *fault) {
	a := s.acts[c.PathValue("token")]
	if a == nil || a.id != c.PathValue("id") {
		return nil, unknown(10062, "interaction")
	}
	if a.answered {
		return nil, &fault{http.StatusBadRequest, 40060, "Interaction has already been acknowledged."}
	}
	if s.now.Sub(a.at) > toAcknowledge {
		s.problem("act %s was acknowledged after %v", a.id, s.now.Sub(a.at))
		return nil, unknown(10062, "interaction")
	}
	var in struct {
		Type int             `json:"type"`
		Data json.RawMessage `json:"data"`
	}
	if f := c.decode(&in); f != nil {
		return nil, f
	}
	var d draft
	if in.Type != 9 && len(in.Data) > 0 {
		if err := json.Unmarshal(in.Data, &d); err != nil {
			return nil, invalid("data: %v", err)
		}
	}
	switch in.Type {
	case 4, 5:
		m := &Message{ID: s.id(), Channel: a.channel, Author: s.bot}
		if d.Flags&ephemeral != 0 {
			m.For = a.by.id
		}
		if in.Type == 5 {
			m.Thinking = true
		} else if f := s.apply(m, &d, c.files); f != nil {
			return nil, f
		}
		if m.For == "" {
			m.Pings = s.pings(m.Content, &d)
		}
		a.original, a.shown = m, []*Message{m}
		s.channels[a.channel].messages = append(s.channels[a.channel].messages, m)
	case 6:
		if a.on == nil {
			return nil, invalid("type 6 answers acts on messages only")
		}
		a.silent = true
	case 9:
		if a.kind == formAct {
			return nil, invalid("a form cannot follow a form")
		}
		f := &Form{channel: a.channel, on: a.on}
		if fl := readForm(in.Data, f); fl != nil {
			return nil, fl
		}
		a.form, a.by.form = f, f
	default:
		return nil, invalid("an answer of type %d", in.Type)
	}
	a.answered = true
	return nil, nil
}

// readForm takes a form's description apart.
func readForm(data json.RawMessage, f *Form) *fault {
	var in struct {
		CustomID   string      `json:"custom_id"`
		Title      string      `json:"title"`
		Components []Component `json:"components"`
	}
	if err := json.Unmarshal(data, &in); err != nil {
		return invalid("the form: %v", err)
	}
	if err := checkForm(in.CustomID, in.Title, in.Components); err != nil {
		return invalid("%v", err)
	}
	f.ID, f.Title, f.components = in.CustomID, in.Title, in.Components
	for _, row := range in.Components {
		f.Fields = append(f.Fields, row.Components...)
	}
	return nil
}

// answering is the act whose answer a call goes on with; call it with mu held.
func (s *Server) answering(c *call) (*act, *fault) {
	a := s.acts[c.PathValue("token")]
	if a == nil || c.PathValue("app") != s.app || !a.answered {
		return nil, unknown(10015, "Webhook")
	}
	if s.now.Sub(a.at) > toFollowUp {
		return nil, &fault{http.StatusUnauthorized, 50027, "Invalid Webhook Token"}
	}
	return a, nil
}

func (s *Server) postFollowUp(c *call) (any, *fault) {
	a, f := s.answering(c)
	if f != nil {
		return nil, f
	}
	var d draft
	if f := c.decode(&d); f != nil {
		return nil, f
	}
	m := &Message{ID: s.id(), Channel: a.channel, Author: s.bot}
	if d.Flags&ephemeral != 0 {
		m.For = a.by.id
	}
	if f := s.apply(m, &d, c.files); f != nil {
		return nil, f
	}
	if m.For == "" {
		m.Pings = s.pings(m.Content, &d)
	}
	a.shown = append(a.shown, m)
	s.channels[a.channel].messages = append(s.channels[a.channel].messages, m)
	return s.tell(m), nil
}

func (s *Server) patchOriginal(c *call) (any, *fault) {
	a, f := s.answering(c)
	if f != nil {
		return nil, f
	}
	if a.original == nil {
		return nil, unknown(10008, "Message")
	}
	var d draft
	if f := c.decode(&d); f != nil {
		return nil, f
	}
	if f := s.apply(a.original, &d, c.files); f != nil {
		return nil, f
	}
	return s.tell(a.original), nil
}

func (s *Server) deleteOriginal(c *call) (any, *fault) {
	a, f := s.answering(c)
	if f != nil {
		return nil, f
	}
	if a.original == nil {
		return nil, unknown(10008, "Message")
	}
	ch := s.channels[a.channel]
	for i, m := range ch.messages {
		if m == a.original {
			ch.messages = append(ch.messages[:i], ch.messages[i+1:]...)
			break
		}
	}
	a.original, a.shown, a.silent = nil, a.shown[1:], true
	return nil, nil
}

// describeAct is the act as the bot is told of it; call it with mu held.
func (s *Server) describeAct(a *act) map[string]any {
	ch := s.channels[a.channel]
	d := map[string]any{
		"id": a.id, "application_id": s.app, "type": a.kind, "data": a.data, "channel_id": a.channel, "channel": s.describe(ch),
		"token": a.token, "version": 1, "app_permissions": "0", "locale": "en-GB", "entitlements": []any{},
	}
	if ch.guild != "" {
		m := s.member(a.by)
		m["permissions"] = formatPermissions(s.permissions(a.by))
		d["guild_id"], d["member"], d["guild_locale"] = ch.guild, m, "en-GB"
	} else {
		d["user"] = s.user(a.by.id)
	}
	if a.on != nil {
		d["message"] = s.tell(a.on)
	}
	return d
}

// begin makes an act and tells the bot; call it with mu held.
func (s *Server) begin(p *Person, kind int, channel string, on *Message, data any) *act {
	a := &act{id: s.id(), token: "act-" + s.id(), kind: kind, by: p, channel: channel, on: on, at: s.now, data: data}
	s.acts[a.token] = a
	p.last = a
	s.dispatch("INTERACTION_CREATE", s.describeAct(a))
	return a
}
