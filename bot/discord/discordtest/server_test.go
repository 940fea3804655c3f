package discordtest

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"benchbell/quote/gaugetest"
)

// ask makes a call as the bot and returns the status and the code.
func ask(t *testing.T, s *Server, method, path string, body any) (status, code int, answer map[string]any) {
	t.Helper()
	data, err := json.Marshal(body)
	if err != nil {
		t.Fatal(err)
	}
	req, err := http.NewRequestWithContext(t.Context(), method, s.URL()+"/api/v9"+path, bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Authorization", "Bot "+s.Token())
	req.Header.Set("Content-Type", "application/json")
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	raw, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	_ = json.Unmarshal(raw, &answer) // some answers are empty or lists
	c, _ := answer["code"].(float64)
	return resp.StatusCode, int(c), answer
}

func button(id string) map[string]any {
	return map[string]any{"type": 1, "components": []any{map[string]any{"type": 2, "style": 1, "label": "x", "custom_id": id}}}
}

// menu is one of n options, so many of them chosen, that takes one.
func menu(n, chosen int) map[string]any {
	var options []any
	for i := range n {
		options = append(options, map[string]any{"label": "x", "value": fmt.Sprint(i), "default": i < chosen})
	}
	return map[string]any{"type": 1, "components": []any{map[string]any{"type": 3, "custom_id": "m", "options": options}}}
}

func TestRefusesWhatTheServiceRefuses(t *testing.T) {
	t.Parallel()
	s := New(t)
	messages := "/channels/" + s.Channel() + "/messages"
	row := button("a")
	for what, body := range map[string]map[string]any{
		"a long text":         {"content": strings.Repeat("x", 2001)},
		"nothing":             {"content": ""},
		"six rows":            {"content": "x", "components": []any{button("1"), button("2"), button("3"), button("4"), button("5"), button("6")}},
		"a repeated ID":       {"content": "x", "components": []any{row, row}},
		"a long ID":           {"content": "x", "components": []any{button(strings.Repeat("x", 101))}},
		"a file not sent":     {"content": "x", "attachments": []any{map[string]any{"id": "0", "filename": "x"}}},
		"a long nonce":        {"content": "x", "nonce": strings.Repeat("x", 26)},
		"mentions two ways":   {"content": "x", "allowed_mentions": map[string]any{"parse": []string{"users"}, "users": []string{"1"}}},
		"many options":        {"content": "x", "components": []any{menu(26, 0)}},
		"many chosen":         {"content": "x", "components": []any{menu(3, 2)}},
		"a bare button":       {"content": "x", "components": row["components"]},
		"an answer to none":   {"content": "x", "message_reference": map[string]any{"message_id": "1"}},
		"a secret for nobody": {"content": "x", "flags": ephemeral},
	} {
		before := len(s.Problems())
		if status, _, _ := ask(t, s, http.MethodPost, messages, body); status != http.StatusBadRequest {
			t.Errorf("%s was answered with %d", what, status)
		}
		if len(s.Problems()) != before+1 {
			t.Errorf("%s is no problem", what)
		}
	}
}

func TestNonce(t *testing.T) {
	t.Parallel()
	s := New(t)
	messages := "/channels/" + s.Channel() + "/messages"
	body := map[string]any{"content": "x", "nonce": "n", "enforce_nonce": true}
	_, _, one := ask(t, s, http.MethodPost, messages, body)
	_, _, two := ask(t, s, http.MethodPost, messages, body)
	s.Advance(nonceHolds)
	_, _, three := ask(t, s, http.MethodPost, messages, body)
	if one["id"] != two["id"] || one["id"] == three["id"] {
		t.Errorf("messages %v, %v, %v", one["id"], two["id"], three["id"])
	}
}

func TestAcknowledgement(t *testing.T) {
	t.Parallel()
	s := New(t)
	p := s.AddPerson("Ilka")
	begin := func() string {
		s.mu.Lock()
		defer s.mu.Unlock()
		a := s.begin(p, commandAct, s.lobby, nil, map[string]any{})
		return fmt.Sprintf("/interactions/%s/%s/callback", a.id, a.token)
	}
	hello := map[string]any{"type": 4, "data": map[string]any{"content": "x", "flags": ephemeral}}
	at := begin()
	if status, _, _ := ask(t, s, http.MethodPost, at, hello); status != http.StatusNoContent {
		t.Errorf("an acknowledgement was answered with %d", status)
	}
	if _, code, _ := ask(t, s, http.MethodPost, at, hello); code != 40060 {
		t.Errorf("a second acknowledgement gave code %d", code)
	}
	at = begin()
	s.Advance(toAcknowledge + time.Millisecond)
	if _, code, _ := ask(t, s, http.MethodPost, at, hello); code != 10062 {
		t.Errorf("a late acknowledgement gave code %d", code)
	}
}

func TestFailures(t *testing.T) {
	t.Parallel()
	s := New(t)
	s.Fail(Failure{Path: "/users", Times: 1, Status: 429, RetryAfter: time.Second})
	if status, _, a := ask(t, s, http.MethodGet, "/users/@me", nil); status != 429 || a["retry_after"] != 1.0 {
		t.Errorf("%d %v", status, a)
	}
	if status, _, a := ask(t, s, http.MethodGet, "/users/@me", nil); status != 200 || a["id"] != s.Bot() {
		t.Errorf("%d %v", status, a)
	}
}

// TestSpecification: outside check. The service's published interface description (github.com/discord/discord-api-spec)
// is used where a copy is at hand, takes what it should, and refuses what its words refuse. Without a copy it does not
// run.
func TestSpecification(t *testing.T) {
	t.Parallel()
	gaugetest.Reference(t, filepath.FromSlash(Specification))
	spec := loadSpecification(t)
	for _, c := range []struct {
		method, path, body string
		ok                 bool
	}{
		{"POST", "/channels/{channel}/messages", `{"content":"x","components":[{"type":1,"components":[{"type":2,"style":3,"custom_id":"a","label":"A"}]}]}`, true},
		{"POST", "/channels/{channel}/messages", `{"content":"x","component":[]}`, false},
		{"POST", "/channels/{channel}/messages", `{"content":"x","components":[{"type":1,"components":[{"type":2,"custom_id":"a","label":"A"}]}]}`, false},
		{"POST", "/channels/{channel}/threads", `{"name":"C0007","type":12}`, true},
		{"POST", "/channels/{channel}/threads", `{"type":12}`, false},
		{"POST", "/interactions/{id}/{token}/callback", `{"type":9,"data":{"custom_id":"f","title":"F","components":[{"type":1,"components":[{"type":4,"style":1,"custom_id":"a","label":"A"}]}]}}`, true},
		{"POST", "/interactions/{id}/{token}/callback", `{"type":9,"data":{"custom_id":"f","components":[]}}`, false},
	} {
		if err := spec.check(c.method, c.path, json.RawMessage(c.body)); (err == nil) != c.ok {
			t.Errorf("%s %s with %s: %v", c.method, c.path, c.body, err)
		}
	}
}
