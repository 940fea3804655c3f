package desk

import (
	"bytes"
	"image/png"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"benchbell/bot/chat"
)

// In a conversation that is not the browser's: the owner is named, a maker becomes known by a code, does what a maker may and is
// told of the cure they began, under their own name; links are told to one person and never posted.
func TestPeopleInTheConversation(t *testing.T) {
	p := newPlay(t)
	p.d.cfg.Link = func(secret string) string { return "https://desk.example/enter/" + secret }
	p.d.cfg.SignsIn = "browser"
	p.toQuoted()
	p.ok(p.press(mara, "approve/C0001/1"))
	reply := func(in chat.Incoming) chat.Reply {
		t.Helper()
		r, err := p.do(in)
		p.ok(err)
		return r
	}
	link := func(r chat.Reply) {
		t.Helper()
		if !strings.Contains(r.Text, "https://desk.example/enter/") || len(r.Files) != 1 {
			t.Fatalf("no link: %+v", r)
		}
		if img, err := png.Decode(bytes.NewReader(r.Files[0].Data)); err != nil || img.Bounds().Dx() != img.Bounds().Dy() || img.Bounds().Dx() < 200 {
			t.Errorf("the QR code is %v, %v", img, err)
		}
	}
	if r := reply(chat.Incoming{Person: boss, Command: "people"}); len(r.Buttons) != 1 || r.Buttons[0].Action != "become-owner" {
		t.Errorf("before anybody is named: %+v", r)
	}
	if r := reply(chat.Incoming{Person: chat.Person{ID: "browser:studio", Name: "Studio", Studio: true}, Command: "people"}); len(r.Buttons) != 0 {
		t.Errorf("where there is a page for it: %+v", r)
	}
	edda := boss
	edda.Name = "Edda Holm"
	link(reply(chat.Incoming{Person: edda, Press: "become-owner"}))
	p.refused(p.press(edda, "become-owner"), "has an owner already")
	rolf := chat.Person{ID: "stage:rolf", Name: "rolf_2", Studio: true}
	p.refused(p.command(rolf, "bench"), "not known as a member")

	if r := reply(chat.Incoming{Person: edda, Press: "new-member"}); r.Form == nil || len(r.Form.Fields) != 5 {
		t.Fatalf("the form for a member: %+v", r)
	}
	p.refused(p.form(edda, "member", nameKey, "Rolf"), "at least one of them")
	p.refused(p.form(edda, "member", nameKey, "Rolf", makerKey, "yes", benchKey, "Nobody"), "no maker is called")
	p.refused(p.form(edda, "member", nameKey, "edda holm", makerKey, "yes"), "already")
	link(reply(chat.Incoming{Person: edda, Form: "member", Values: map[string]string{nameKey: "Rolf", makerKey: "yes"}}))
	atDesk := chat.Person{ID: "browser:M2", Name: "Rolf", Studio: true}
	code := regexp.MustCompile(`\*([a-z2-7]{10})\*`).FindStringSubmatch(reply(chat.Incoming{Person: atDesk, Press: "code"}).Text)
	if code == nil {
		t.Fatal("no code")
	}
	p.now = p.now.Add(11 * time.Minute)
	p.refused(p.command(rolf, "member", "code", code[1]), "does not count")
	code = regexp.MustCompile(`\*([a-z2-7]{10})\*`).FindStringSubmatch(reply(chat.Incoming{Person: atDesk, Press: "code"}).Text)
	p.ok(p.command(rolf, "member", "code", " "+strings.ToUpper(code[1][:5])+" "+code[1][5:]))

	p.refused(p.press(rolf, "deposit/C0001"), "this is for the owner or the front desk; ask one of them to do it")
	p.refused(p.press(rolf, "cancel/C0001"), "this is for the owner or the front desk")
	p.ok(p.press(edda, "deposit/C0001"))
	p.ok(p.press(rolf, "done/C0001/1"))
	p.ok(p.press(atDesk, "done/C0001/2"))
	p.wait(24 * time.Hour)
	for k, post := range p.tr.posts { // nobody named is at this bench: it stands on the board, and disturbs nobody
		if strings.HasPrefix(k, "told/") && strings.Contains(post.Text, "ready for the next coat") && len(post.Mention) > 0 {
			t.Errorf("the cure is told to %v", post.Mention)
		}
	}

	r := reply(chat.Incoming{Person: edda, Command: "people"})
	if !strings.Contains(r.Text, "*Rolf*: maker") || len(r.Menus) != 1 || len(r.Menus[0].Options) != 2 {
		t.Errorf("the people: %+v", r)
	}
	if r := reply(chat.Incoming{Person: rolf, Command: "people"}); len(r.Menus[0].Options) != 1 || slices.ContainsFunc(r.Buttons, func(b chat.Button) bool { return b.Action == "new-member" }) {
		t.Errorf("the people, to one of them: %+v", r)
	}
	if r := reply(chat.Incoming{Person: edda, Pick: "members", Picked: []string{"member/M2"}}); !strings.Contains(r.Text, "Known as stage:rolf") {
		t.Errorf("a member: %+v", r)
	}
	link(reply(chat.Incoming{Person: edda, Press: "sign-in/M2"}))
	link(reply(chat.Incoming{Person: mara, Press: "link/C0001"}))
	link(reply(chat.Incoming{Person: edda, Command: "for-client", Values: map[string]string{"name": "Nils"}}))
	p.ok(p.command(ivo, "commission"))
	p.ok(p.press(edda, "let-go/M2"))
	p.refused(p.press(rolf, "done/C0001/3"), "not known as a member")
	p.refused(p.press(edda, "let-go/M1"), "only owner")
	p.wait(time.Minute)
	for key, post := range p.tr.posts {
		if strings.Contains(post.Text, "/enter/") {
			t.Errorf("the post %s tells a link: %s", key, post.Text)
		}
	}
	if post := p.tr.posts["C0003/link"]; len(post.Buttons) != 1 || post.Buttons[0].Action != "link/C0003" {
		t.Errorf("the client of C0003 is offered %+v", post)
	}
	if _, ok := p.tr.posts["C0001/link"]; ok {
		t.Error("a link was offered before anybody was named")
	}
}

// Without a desk in the browser a link says that there is nowhere to open it.
func TestLinksNeedADesk(t *testing.T) {
	p := newPlay(t)
	r, err := p.do(chat.Incoming{Person: boss, Press: "become-owner"})
	if p.ok(err); !strings.Contains(r.Text, "nowhere to open it") || len(r.Files) != 0 {
		t.Errorf("%+v", r)
	}
	p.refused(p.command(boss, "for-client", "name", "Nils"), "the desk in the browser is off")
}
