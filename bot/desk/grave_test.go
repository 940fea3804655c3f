package desk

import (
	"strings"
	"testing"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
)

// once presses something grave, which is asked once, with what it does, and done by the button of the answer.
func (p *play) once(who chat.Person, action, says string) {
	p.t.Helper()
	before := p.state()
	rep, err := p.do(chat.Incoming{Person: who, Press: action})
	if p.ok(err); len(rep.Buttons) == 0 || rep.Buttons[0].Tone != chat.Grave || !strings.Contains(rep.Text, "Nothing has changed yet") || !strings.Contains(rep.Text, says) {
		p.t.Fatalf("%s is answered %+v", action, rep)
	}
	if p.state() != before {
		p.t.Fatalf("%s is done and asked", action)
	}
	rep, err = p.do(chat.Incoming{Person: who, Press: rep.Buttons[0].Action})
	if p.ok(err); strings.Contains(rep.Text, "Nothing has changed yet") {
		p.t.Fatalf("%s is asked twice: %q", action, rep.Text)
	}
}

// Whoever of the studio approves for a client is asked once; a client is not.
func TestApprovingInAClientsStead(t *testing.T) {
	p := newPlay(t)
	p.tr.show = nil
	p.toQuoted()
	p.once(boss, "approve/C0001/1", "An approval cannot be taken back")
	p.want(ledger.Approved)
}
