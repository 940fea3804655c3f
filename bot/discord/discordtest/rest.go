package discordtest

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Limits of time. Source: the service's documentation of interactions and of message nonces (from memory; "the past few
// minutes" is taken as five).
const (
	toAcknowledge = 3 * time.Second
	toFollowUp    = 15 * time.Minute
	nonceHolds    = 5 * time.Minute
)

// fault is an answer of the service that is no success.
type fault struct {
	status, code int
	message      string
}

func unknown(code int, what string) *fault {
	return &fault{http.StatusNotFound, code, "Unknown " + what}
}

// maxBody bounds a request: ten files of the largest size there is, and the rest.
const maxBody = 10*(10<<20) + 1<<20

// call is a request as a handler sees it.
type call struct {
	*http.Request
	json  json.RawMessage
	files map[int]upload
}

type upload struct {
	name, kind string
	data       []byte
}

func (c *call) decode(into any) *fault {
	if len(c.json) == 0 {
		return nil
	}
	if err := json.Unmarshal(c.json, into); err != nil {
		return &fault{http.StatusBadRequest, 50109, "The request body contains invalid JSON: " + err.Error()}
	}
	return nil
}

func (s *Server) routes() http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /gateway-socket/", s.gateway)
	mux.HandleFunc("GET /attachments/{id}/{name}", s.file)
	for pattern, h := range map[string]func(*call) (any, *fault){
		"GET /gateway":                                                     s.getGateway,
		"GET /users/@me":                                                   s.getMe,
		"POST /users/@me/channels":                                         s.postDirect,
		"PUT /applications/{app}/commands":                                 s.putCommands,
		"PUT /applications/{app}/guilds/{guild}/commands":                  s.putCommands,
		"GET /guilds/{guild}":                                              s.getGuild,
		"GET /guilds/{guild}/members/{user}":                               s.getMember,
		"GET /guilds/{guild}/threads/active":                               s.getActive,
		"GET /channels/{channel}":                                          s.getChannel,
		"PATCH /channels/{channel}":                                        s.patchChannel,
		"POST /channels/{channel}/threads":                                 s.postThread,
		"GET /channels/{channel}/threads/archived/public":                  s.getArchived,
		"GET /channels/{channel}/users/@me/threads/archived/private":       s.getArchived,
		"PUT /channels/{channel}/thread-members/{user}":                    s.putThreadMember,
		"GET /channels/{channel}/messages":                                 s.getMessages,
		"POST /channels/{channel}/messages":                                s.postMessage,
		"PATCH /channels/{channel}/messages/{message}":                     s.patchMessage,
		"PUT /channels/{channel}/messages/{message}/reactions/{emoji}/@me": s.putReaction,
		"POST /interactions/{id}/{token}/callback":                         s.postCallback,
		"POST /webhooks/{app}/{token}":                                     s.postFollowUp,
		"PATCH /webhooks/{app}/{token}/messages/@original":                 s.patchOriginal,
		"DELETE /webhooks/{app}/{token}/messages/@original":                s.deleteOriginal,
	} {
		method, path, _ := strings.Cut(pattern, " ")
		mux.HandleFunc(method+" /api/v9"+path, s.serve(method, path, h))
	}
	mux.HandleFunc("/", func(w http.ResponseWriter, r *http.Request) {
		s.mu.Lock()
		s.problem("%s %s is not a call that the stand-in knows", r.Method, r.URL.Path)
		s.mu.Unlock()
		reply(w, http.StatusNotFound, map[string]any{"code": 0, "message": "404: Not Found"})
	})
	return mux
}

func reply(w http.ResponseWriter, status int, body any) {
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(status)
	_ = json.NewEncoder(w).Encode(body) // the caller may have left
}

// serve wraps a call: authorisation, failures, the body, its specification, and the answer.
func (s *Server) serve(method, path string, h func(*call) (any, *fault)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		body, err := io.ReadAll(http.MaxBytesReader(w, r.Body, maxBody))
		if err != nil {
			reply(w, http.StatusRequestEntityTooLarge, map[string]any{"code": 40005, "message": "Request entity too large"})
			return
		}
		s.mu.Lock()
		defer s.mu.Unlock()
		s.requests = append(s.requests, r.Method+" "+r.URL.Path)
		lost := 0
		for i, f := range s.failures {
			if f.Times > 0 && (f.Method == "" || f.Method == r.Method) && strings.Contains(r.URL.Path, f.Path) {
				if f.Times--; f.Times == 0 {
					s.failures = slices.Delete(s.failures, i, i+1)
				}
				if f.Lost {
					lost = f.Status
					break
				}
				out := map[string]any{"code": 0, "message": "failing as told"}
				if f.Status == http.StatusTooManyRequests {
					out = map[string]any{"message": "You are being rate limited.", "retry_after": f.RetryAfter.Seconds(), "global": false}
				}
				s.touch()
				reply(w, f.Status, out)
				return
			}
		}
		// Interactions' own addresses carry their authority, and the gateway's is no secret; all others need the bot's.
		if path != "/gateway" && !strings.HasPrefix(path, "/interactions/") && !strings.HasPrefix(path, "/webhooks/") && r.Header.Get("Authorization") != "Bot "+s.token {
			reply(w, http.StatusUnauthorized, map[string]any{"code": 0, "message": "401: Unauthorized"})
			return
		}
		c := &call{Request: r}
		if f := c.read(body); f != nil {
			s.problem("%s %s: %s", r.Method, r.URL.Path, f.message)
			reply(w, f.status, map[string]any{"code": f.code, "message": f.message})
			return
		}
		if err := s.spec.check(method, path, c.json); err != nil {
			s.problem("%s %s: %v", r.Method, r.URL.Path, err)
			reply(w, http.StatusBadRequest, map[string]any{"code": 50035, "message": "Invalid Form Body: " + err.Error()})
			return
		}
		out, f := h(c)
		s.touch()
		switch {
		case f != nil:
			if f.code == 50035 || f.code == 50006 || f.code == 40060 || f.code == 50109 {
				s.problem("%s %s: %s", r.Method, r.URL.Path, f.message)
			}
			reply(w, f.status, map[string]any{"code": f.code, "message": f.message})
		case lost != 0:
			reply(w, lost, map[string]any{"code": 0, "message": "the answer is lost"})
		case out == nil:
			w.WriteHeader(http.StatusNoContent)
		default:
			reply(w, http.StatusOK, out)
		}
	}
}

// read takes the body apart: JSON alone, or JSON with files.
func (c *call) read(body []byte) *fault {
	if len(body) == 0 {
		return nil
	}
	if !strings.HasPrefix(c.Header.Get("Content-Type"), "multipart/form-data") {
		c.json = body
		return nil
	}
	c.Body = io.NopCloser(bytes.NewReader(body))
	if err := c.ParseMultipartForm(maxBody); err != nil {
		return &fault{http.StatusBadRequest, 50035, "the form is not understood: " + err.Error()}
	}
	c.json = json.RawMessage(c.FormValue("payload_json"))
	c.files = map[int]upload{}
	for field, headers := range c.MultipartForm.File {
		n, err := strconv.Atoi(strings.TrimSuffix(strings.TrimPrefix(field, "files["), "]"))
		if err != nil || len(headers) != 1 {
			return &fault{http.StatusBadRequest, 50035, "the part " + field + " is not a file"}
		}
		f, err := headers[0].Open()
		if err != nil {
			return &fault{http.StatusBadRequest, 50035, err.Error()}
		}
		data, err := io.ReadAll(f)
		if err != nil {
			return &fault{http.StatusBadRequest, 50035, err.Error()}
		}
		if len(data) > 10<<20 { // the largest file of a server without privileges (from memory)
			return &fault{http.StatusRequestEntityTooLarge, 40005, "Request entity too large"}
		}
		c.files[n] = upload{headers[0].Filename, headers[0].Header.Get("Content-Type"), data}
	}
	return nil
}

func (s *Server) file(w http.ResponseWriter, r *http.Request) {
	s.mu.Lock()
	data, ok := s.files[r.PathValue("id")]
	if r.Header.Get("Authorization") != "" {
		s.problem("the bot's token was sent to where files are kept")
	}
	s.mu.Unlock()
	if !ok {
		http.NotFound(w, r)
		return
	}
	_, _ = w.Write(data) // the caller may have left
}

func (s *Server) getGateway(*call) (any, *fault) {
	return map[string]string{"url": s.gatewayURL()}, nil
}

func (s *Server) getMe(*call) (any, *fault) { return s.user(s.bot), nil }

// user is a user as the service describes them; call it with mu held.
func (s *Server) user(id string) map[string]any {
	if p := s.people[id]; p != nil {
		return map[string]any{"id": id, "username": "user" + id, "global_name": p.name, "discriminator": "0", "avatar": nil}
	}
	return map[string]any{"id": id, "username": "benchbell", "global_name": nil, "discriminator": "0", "avatar": nil, "bot": true}
}

func (s *Server) member(p *Person) map[string]any {
	roles := p.roles
	if roles == nil {
		roles = []string{}
	}
	return map[string]any{"user": s.user(p.id), "roles": roles, "nick": nil, "joined_at": "2026-01-01T00:00:00Z", "deaf": false, "mute": false}
}

func (s *Server) getMember(c *call) (any, *fault) {
	p := s.people[c.PathValue("user")]
	if p == nil || c.PathValue("guild") != s.guild {
		return nil, unknown(10007, "Member")
	}
	return s.member(p), nil
}

func (s *Server) getGuild(c *call) (any, *fault) {
	if c.PathValue("guild") != s.guild {
		return nil, unknown(10004, "Guild")
	}
	var roles []any
	for id, p := range s.roles {
		roles = append(roles, map[string]any{"id": id, "name": "role " + id, "permissions": strconv.FormatInt(p, 10)})
	}
	return map[string]any{"id": s.guild, "name": "studio", "owner_id": s.owner, "roles": roles}, nil
}

func (s *Server) putCommands(c *call) (any, *fault) {
	var list []registered
	if f := c.decode(&list); f != nil {
		return nil, f
	}
	guild := c.PathValue("guild")
	if c.PathValue("app") != s.app || guild != "" && guild != s.guild {
		return nil, &fault{http.StatusForbidden, 50001, "Missing Access"}
	}
	if err := checkCommands(list); err != nil {
		return nil, &fault{http.StatusBadRequest, 50035, "Invalid Form Body: " + err.Error()}
	}
	for i := range list {
		list[i].ID, list[i].global = s.id(), guild == ""
	}
	s.commands = list
	return list, nil
}

func (s *Server) postDirect(c *call) (any, *fault) {
	var in struct {
		Recipient string `json:"recipient_id"`
	}
	if f := c.decode(&in); f != nil {
		return nil, f
	}
	if s.people[in.Recipient] == nil {
		return nil, unknown(10013, "User")
	}
	return s.describe(s.direct(in.Recipient)), nil
}

// direct is the person's channel with the bot, made when it isn't there; call it with mu held.
func (s *Server) direct(person string) *channel {
	for _, c := range s.channels {
		if c.kind == directChannel && c.members[person] {
			return c
		}
	}
	c := &channel{id: s.id(), kind: directChannel, members: map[string]bool{person: true, s.bot: true}}
	s.channels[c.id] = c
	return c
}

func (s *Server) describe(c *channel) map[string]any {
	d := map[string]any{"id": c.id, "type": c.kind, "name": c.name}
	if c.guild != "" {
		d["guild_id"] = c.guild
	}
	if c.kind == publicThread || c.kind == privateThread {
		d["parent_id"], d["owner_id"] = c.parent, c.owner
		d["thread_metadata"] = map[string]any{"archived": c.archived, "auto_archive_duration": 10080, "locked": false, "archive_timestamp": s.now.Format(time.RFC3339)}
	}
	return d
}

// find is the channel of a call, if the bot sees it; call it with mu held.
func (s *Server) find(c *call) (*channel, *fault) {
	ch := s.channels[c.PathValue("channel")]
	if ch == nil {
		return nil, unknown(10003, "Channel")
	}
	if !s.sees(s.bot, ch) {
		return nil, &fault{http.StatusForbidden, 50001, "Missing Access"}
	}
	return ch, nil
}

func (s *Server) getChannel(c *call) (any, *fault) {
	ch, f := s.find(c)
	if f != nil {
		return nil, f
	}
	return s.describe(ch), nil
}

func (s *Server) patchChannel(c *call) (any, *fault) {
	ch, f := s.find(c)
	if f != nil {
		return nil, f
	}
	var in struct {
		Archived *bool `json:"archived"`
	}
	if f := c.decode(&in); f != nil {
		return nil, f
	}
	if in.Archived != nil {
		ch.archived = *in.Archived
	}
	return s.describe(ch), nil
}

func (s *Server) postThread(c *call) (any, *fault) {
	parent, f := s.find(c)
	if f != nil {
		return nil, f
	}
	var in struct {
		Name string `json:"name"`
		Type int    `json:"type"`
	}
	if f := c.decode(&in); f != nil {
		return nil, f
	}
	if parent.kind != textChannel {
		return nil, &fault{http.StatusBadRequest, 50024, "Cannot execute action on this channel type"}
	}
	if n := length(in.Name); n < 1 || n > 100 {
		return nil, &fault{http.StatusBadRequest, 50035, fmt.Sprintf("Invalid Form Body: the name has %d characters, not 1 to 100", n)}
	}
	switch {
	case in.Type == privateThread && !s.allowed.privateThreads, in.Type == publicThread && !s.allowed.publicThreads:
		return nil, &fault{http.StatusForbidden, 50013, "Missing Permissions"}
	case in.Type != privateThread && in.Type != publicThread:
		return nil, &fault{http.StatusBadRequest, 50035, fmt.Sprintf("Invalid Form Body: a thread of type %d", in.Type)}
	}
	th := &channel{id: s.id(), name: in.Name, guild: s.guild, parent: parent.id, owner: s.bot, kind: in.Type, members: map[string]bool{s.bot: true}}
	s.channels[th.id] = th
	s.dispatch("THREAD_CREATE", s.describe(th))
	return s.describe(th), nil
}

func (s *Server) putThreadMember(c *call) (any, *fault) {
	ch, f := s.find(c)
	if f != nil {
		return nil, f
	}
	user := c.PathValue("user")
	if s.people[user] == nil {
		return nil, unknown(10013, "User")
	}
	if ch.kind != publicThread && ch.kind != privateThread {
		return nil, &fault{http.StatusBadRequest, 50024, "Cannot execute action on this channel type"}
	}
	ch.members[user] = true
	return nil, nil
}

func (s *Server) listThreads(want func(*channel) bool) map[string]any {
	list := []any{}
	var ids []string
	for id, c := range s.channels {
		if (c.kind == publicThread || c.kind == privateThread) && s.sees(s.bot, c) && want(c) {
			ids = append(ids, id)
		}
	}
	slices.Sort(ids)
	for _, id := range ids {
		list = append(list, s.describe(s.channels[id]))
	}
	return map[string]any{"threads": list, "members": []any{}, "has_more": false}
}

func (s *Server) getActive(c *call) (any, *fault) {
	if c.PathValue("guild") != s.guild {
		return nil, unknown(10004, "Guild")
	}
	return s.listThreads(func(c *channel) bool { return !c.archived }), nil
}

func (s *Server) getArchived(c *call) (any, *fault) {
	parent, f := s.find(c)
	if f != nil {
		return nil, f
	}
	kind := publicThread
	if strings.HasSuffix(c.URL.Path, "/private") {
		kind = privateThread
	}
	return s.listThreads(func(c *channel) bool { return c.archived && c.kind == kind && c.parent == parent.id }), nil
}
