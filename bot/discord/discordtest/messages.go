package discordtest

import (
	"encoding/json"
	"fmt"
	"net/http"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
)

const ephemeral = 1 << 6

// draft is a message as the bot sends it.
type draft struct {
	Content     *string            `json:"content"`
	Components  json.RawMessage    `json:"components"`
	Attachments *[]draftAttachment `json:"attachments"`
	Mentions    *struct {
		Parse []string `json:"parse"`
		Users []string `json:"users"`
	} `json:"allowed_mentions"`
	Nonce     string `json:"nonce"`
	Enforce   bool   `json:"enforce_nonce"`
	Flags     int    `json:"flags"`
	Reference *struct {
		Message string `json:"message_id"`
	} `json:"message_reference"`
}

type draftAttachment struct {
	ID          json.RawMessage `json:"id"`
	Filename    string          `json:"filename"`
	Description string          `json:"description"`
}

func invalid(format string, args ...any) *fault {
	return &fault{http.StatusBadRequest, 50035, "Invalid Form Body: " + fmt.Sprintf(format, args...)}
}

// apply writes the draft onto the message, as a creation or an edit does; call it with mu held.
func (s *Server) apply(m *Message, d *draft, files map[int]upload) *fault {
	next := *m
	if d.Content != nil {
		if n := length(*d.Content); n > 2000 {
			return invalid("the content has %d characters, more than 2000", n)
		}
		next.Content = strings.TrimSpace(*d.Content)
	}
	if len(d.Components) > 0 && string(d.Components) != "null" {
		var rows []Component
		if err := json.Unmarshal(d.Components, &rows); err != nil {
			return invalid("components: %v", err)
		}
		if err := checkComponents(rows); err != nil {
			return invalid("%v", err)
		}
		next.Components, next.raw = rows, d.Components
	}
	if d.Mentions != nil && len(d.Mentions.Users) > 0 && slices.Contains(d.Mentions.Parse, "users") {
		return invalid("allowed_mentions names users and parses them too")
	}
	if d.Mentions != nil && len(d.Mentions.Users) > 100 {
		return invalid("allowed_mentions names %d users", len(d.Mentions.Users))
	}
	if d.Attachments != nil || len(files) > 0 {
		kept := next.Attachments // files without a list are added
		if d.Attachments != nil {
			kept = nil
		}
		described := map[int]draftAttachment{}
		if d.Attachments != nil {
			for _, a := range *d.Attachments {
				id := strings.Trim(string(a.ID), `"`)
				if i := slices.IndexFunc(next.Attachments, func(o Attachment) bool { return o.ID == id }); i >= 0 {
					kept = append(kept, next.Attachments[i])
					continue
				}
				n, err := strconv.Atoi(id)
				if _, ok := files[n]; err != nil || !ok {
					return invalid("attachment %s has no part files[%s]", id, id)
				}
				if length(a.Description) > 1024 {
					return invalid("the description of %s has more than 1024 characters", a.Filename)
				}
				described[n] = a
			}
		}
		for n := range 10 {
			f, ok := files[n]
			if !ok {
				continue
			}
			kept = append(kept, s.store(f, described[n].Description))
		}
		if len(kept) > 10 || len(files) > 10 {
			return invalid("%d attachments, more than 10", len(kept))
		}
		next.Attachments = kept
	}
	if next.Content == "" && len(next.Attachments) == 0 {
		return &fault{http.StatusBadRequest, 50006, "Cannot send an empty message"}
	}
	next.Thinking = false
	*m = next
	return nil
}

// store keeps a file and describes it; call it with mu held.
func (s *Server) store(f upload, description string) Attachment {
	id := s.id()
	s.files[id] = f.data
	at := s.url + "/attachments/" + id + "/file"
	return Attachment{ID: id, Filename: f.name, Description: description, ContentType: f.kind, Size: len(f.data), URL: at, ProxyURL: at}
}

var userMention = regexp.MustCompile(`<@!?(\d+)>`)

// pings are those whom a new message tells; call it with mu held.
func (s *Server) pings(content string, d *draft) []string {
	parse, users := []string{"users", "roles", "everyone"}, []string(nil)
	if d.Mentions != nil {
		parse, users = d.Mentions.Parse, d.Mentions.Users
	}
	var out []string
	for _, m := range userMention.FindAllStringSubmatchIndex(content, -1) {
		id := content[m[2]:m[3]]
		escaped := m[0] > 0 && content[m[0]-1] == '\\'
		if !escaped && s.people[id] != nil && (slices.Contains(parse, "users") || slices.Contains(users, id)) && !slices.Contains(out, id) {
			out = append(out, id)
		}
	}
	if slices.Contains(parse, "everyone") && (strings.Contains(content, "@everyone") || strings.Contains(content, "@here")) {
		out = append(out, "everyone")
	}
	return out
}

// tell describes a message to the bot; call it with mu held.
func (s *Server) tell(m *Message) map[string]any {
	raw := m.raw
	if len(raw) == 0 {
		raw = json.RawMessage("[]")
	}
	attached := m.Attachments
	if attached == nil {
		attached = []Attachment{}
	}
	flags := 0
	if m.For != "" {
		flags = ephemeral
	}
	d := map[string]any{
		"id": m.ID, "channel_id": m.Channel, "author": s.user(m.Author), "content": m.Content, "components": raw, "attachments": attached,
		"timestamp": s.now.Format(time.RFC3339), "edited_timestamp": nil, "tts": false, "mention_everyone": false, "mentions": []any{},
		"mention_roles": []any{}, "embeds": []any{}, "pinned": false, "type": 0, "flags": flags,
	}
	return d
}

func (s *Server) getMessages(c *call) (any, *fault) {
	ch, f := s.find(c)
	if f != nil {
		return nil, f
	}
	limit := 50
	if v := c.URL.Query().Get("limit"); v != "" {
		var err error
		if limit, err = strconv.Atoi(v); err != nil || limit < 1 || limit > 100 {
			return nil, invalid("a limit of %s, not 1 to 100", v)
		}
	}
	before := c.URL.Query().Get("before")
	out := []any{}
	for i := len(ch.messages) - 1; i >= 0 && len(out) < limit; i-- {
		m := ch.messages[i]
		if m.For == "" && (before == "" || m.ID < before) { // IDs have one length
			out = append(out, s.tell(m))
		}
	}
	return out, nil
}

func (s *Server) postMessage(c *call) (any, *fault) {
	ch, f := s.find(c)
	if f != nil {
		return nil, f
	}
	var d draft
	if f := c.decode(&d); f != nil {
		return nil, f
	}
	if length(d.Nonce) > 25 {
		return nil, invalid("a nonce of %d characters, more than 25", length(d.Nonce))
	}
	if d.Nonce != "" && d.Enforce {
		if n, ok := s.nonces[ch.id+"/"+d.Nonce]; ok && s.now.Sub(n.at) < nonceHolds {
			return s.tell(n.message), nil
		}
	}
	m := &Message{ID: s.id(), Channel: ch.id, Author: s.bot}
	if d.Reference != nil {
		if !slices.ContainsFunc(ch.messages, func(o *Message) bool { return o.ID == d.Reference.Message }) {
			return nil, invalid("the message answered is unknown")
		}
		m.Reference = d.Reference.Message
	}
	if d.Flags&ephemeral != 0 {
		return nil, invalid("only answers to interactions are for one person")
	}
	if f := s.apply(m, &d, c.files); f != nil {
		return nil, f
	}
	m.Pings = s.pings(m.Content, &d)
	ch.messages, ch.archived = append(ch.messages, m), false
	if d.Nonce != "" {
		s.nonces[ch.id+"/"+d.Nonce] = nonce{m, s.now}
	}
	out := s.tell(m)
	out["nonce"] = d.Nonce
	s.dispatch("MESSAGE_CREATE", out)
	return out, nil
}

func (s *Server) message(c *call) (*channel, *Message, *fault) {
	ch, f := s.find(c)
	if f != nil {
		return nil, nil, f
	}
	for _, m := range ch.messages {
		if m.ID == c.PathValue("message") && m.For == "" {
			return ch, m, nil
		}
	}
	return nil, nil, unknown(10008, "Message")
}

func (s *Server) patchMessage(c *call) (any, *fault) {
	ch, m, f := s.message(c)
	if f != nil {
		return nil, f
	}
	if ch.archived {
		return nil, &fault{http.StatusBadRequest, 50083, "Thread is archived"}
	}
	if m.Author != s.bot {
		return nil, &fault{http.StatusForbidden, 50005, "Cannot edit a message authored by another user"}
	}
	var d draft
	if f := c.decode(&d); f != nil {
		return nil, f
	}
	if f := s.apply(m, &d, c.files); f != nil {
		return nil, f
	}
	return s.tell(m), nil
}

func (s *Server) putReaction(c *call) (any, *fault) {
	_, m, f := s.message(c)
	if f != nil {
		return nil, f
	}
	if !s.allowed.reactions {
		return nil, &fault{http.StatusForbidden, 50013, "Missing Permissions"}
	}
	m.Reactions = append(m.Reactions, c.PathValue("emoji"))
	return nil, nil
}
