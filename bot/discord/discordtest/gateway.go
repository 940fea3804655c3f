package discordtest

import (
	"context"
	"encoding/json"
	"net/http"
	"strings"
	"sync"

	"github.com/gorilla/websocket"
)

// contentIntent is the privileged intent to read messages.
const contentIntent = 1 << 15

// session is one identification at the gateway; it outlives its connection, for it may be resumed.
type session struct {
	id      string
	intents int
	events  []frame // all of them, in order of their sequence, beginning with 1
	conn    *conn   // nil while the gateway is down
}

type frame struct {
	Op   int    `json:"op"`
	Data any    `json:"d"`
	Seq  int    `json:"s,omitempty"`
	Type string `json:"t,omitempty"`
}

// conn is a gateway connection; writes take turns.
type conn struct {
	mu sync.Mutex
	ws *websocket.Conn
}

func (c *conn) write(f frame) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.ws.WriteJSON(f)
}

func (c *conn) refuse(code int, why string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	_ = c.ws.WriteMessage(websocket.CloseMessage, websocket.FormatCloseMessage(code, why)) // the connection ends either way
}

func (s *Server) gateway(w http.ResponseWriter, r *http.Request) {
	up := websocket.Upgrader{CheckOrigin: func(*http.Request) bool { return true }}
	ws, err := up.Upgrade(w, r, nil)
	if err != nil {
		return // Upgrade has answered
	}
	c := &conn{ws: ws}
	defer ws.Close()
	if err := c.write(frame{Op: 10, Data: map[string]int{"heartbeat_interval": 41250}}); err != nil {
		return
	}
	var mine *session
	defer func() {
		s.mu.Lock()
		if mine != nil && mine.conn == c {
			mine.conn = nil
		}
		s.touch()
		s.mu.Unlock()
	}()
	for {
		var in struct {
			Op   int             `json:"op"`
			Data json.RawMessage `json:"d"`
		}
		if err := ws.ReadJSON(&in); err != nil {
			return
		}
		switch in.Op {
		case 1:
			if err := c.write(frame{Op: 11}); err != nil {
				return
			}
		case 2:
			var d struct {
				Token   string `json:"token"`
				Intents int    `json:"intents"`
			}
			if json.Unmarshal(in.Data, &d) != nil || strings.TrimPrefix(d.Token, "Bot ") != s.token {
				c.refuse(4004, "Authentication failed.")
				return
			}
			s.mu.Lock()
			if d.Intents&contentIntent != 0 && !s.allowed.content {
				s.mu.Unlock()
				c.refuse(4014, "Disallowed intent(s).")
				return
			}
			mine = &session{id: "session-" + s.id(), intents: d.Intents, conn: c}
			s.sessions[mine.id], s.current = mine, mine
			s.event(mine, "READY", map[string]any{
				"v": 9, "session_id": mine.id, "resume_gateway_url": s.gatewayURL(), "guilds": []any{map[string]any{"id": s.guild, "unavailable": true}},
				"user": s.user(s.bot), "application": map[string]any{"id": s.app, "flags": 0}, "private_channels": []any{},
			})
			s.touch()
			s.mu.Unlock()
		case 6:
			var d struct {
				Token     string `json:"token"`
				SessionID string `json:"session_id"`
				Seq       int    `json:"seq"`
			}
			_ = json.Unmarshal(in.Data, &d) // what is missing is not found below
			s.mu.Lock()
			old := s.sessions[d.SessionID]
			if old == nil || strings.TrimPrefix(d.Token, "Bot ") != s.token {
				s.mu.Unlock()
				if err := c.write(frame{Op: 9, Data: false}); err != nil {
					return
				}
				continue
			}
			mine, s.current = old, old
			old.conn = c
			for _, f := range old.events {
				if f.Seq > d.Seq {
					_ = c.write(f) // a dead connection is found out by reading
				}
			}
			s.event(old, "RESUMED", map[string]any{})
			s.touch()
			s.mu.Unlock()
		}
	}
}

func (s *Server) gatewayURL() string {
	return "ws" + strings.TrimPrefix(s.url, "http") + "/gateway-socket/"
}

// event sends an event in a session, now or when it is resumed; call it with mu held.
func (s *Server) event(to *session, kind string, data any) {
	f := frame{Data: data, Seq: len(to.events) + 1, Type: kind}
	to.events = append(to.events, f)
	if to.conn != nil {
		_ = to.conn.write(f) // a dead connection is found out by reading
	}
}

// dispatch sends an event to the bot; call it with mu held.
func (s *Server) dispatch(kind string, data any) {
	if s.current != nil {
		s.event(s.current, kind, data)
	}
}

// DropGateway cuts the bot's gateway connection without a word.
func (s *Server) DropGateway() {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, x := range s.sessions {
		if x.conn != nil {
			_ = x.conn.ws.NetConn().Close() // it is to be dead
			x.conn = nil
		}
	}
	s.touch()
}

// Forget makes the service forget the bot's session, so that it can't be resumed.
func (s *Server) Forget() {
	s.mu.Lock()
	defer s.mu.Unlock()
	clear(s.sessions)
}

// Connected waits until the bot is at the gateway.
func (s *Server) Connected(ctx context.Context) error {
	return s.until(ctx, "the bot at the gateway", func() bool { return s.current != nil && s.current.conn != nil })
}

// Down waits until the bot is not at the gateway.
func (s *Server) Down(ctx context.Context) error {
	return s.until(ctx, "the bot's leaving", func() bool { return s.current == nil || s.current.conn == nil })
}
