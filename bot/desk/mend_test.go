package desk

import (
	"slices"
	"testing"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/jobs"
)

// A quote that fails on a measurement must not leave the client with the same failure or nothing.
func TestFailureMended(t *testing.T) {
	p := newPlay(t)
	p.toQuoted()
	p.ok(p.form(mara, "change/C0001/1", "what", "wider, please"))
	p.refused(p.press(mara, "mend/C0001"), "is being worked out")
	r := p.q.last()
	p.answer(jobs.Answer{ID: r.ID, Attempt: 1, Kind: jobs.Failed, Say: "the dart cannot be closed; check the measurements", Cause: "dart"})
	p.want(ledger.Failed)
	p.refused(p.press(ivo, "mend/C0001"), "not one of your commissions")
	p.ok(p.press(mara, "mend/C0001"))
	p.want(ledger.Checking)
	p.refused(p.press(mara, "mend/C0001"), "open for changes already")
	p.refused(p.press(mara, "again/C0001"), "nothing to try again")
	p.refused(p.press(mara, "approve/C0001/1"), "replaced by revision 2")
	p.ok(p.form(mara, "correct/C0001", "wrist-girth", "18 cm"))
	p.ok(p.press(mara, "right/C0001"))
	p.compute()
	p.want(ledger.Quoted)
	s := p.q.last().Snapshot
	if s.Revision != 3 || !slices.Equal(s.Changes, []string{"wider, please"}) || s.Body[0].Value != 180 {
		t.Errorf("revision %d with changes %q and wrist %s, want 3 with the change asked for and 180 mm", s.Revision, s.Changes, s.Body[0].Value)
	}
	p.ok(p.press(mara, "approve/C0001/3"))
}

// What needs no measurements is confirmed without talk of any.
func TestNothingToMeasure(t *testing.T) {
	p := newPlay(t)
	_, err := p.do(chat.Incoming{Person: mara, Command: "commission", Values: map[string]string{"set": "sword"}})
	p.ok(err)
	p.ok(p.pick(mara, "finish/C0001", "plain"))
	rep, err := p.do(chat.Incoming{Person: mara, Thread: "stage:C0001", Press: "measure/C0001"})
	p.ok(err)
	if want := "Nothing needs measuring. Please confirm the order in the thread."; rep.Text != want {
		t.Errorf("reply %q, want %q", rep.Text, want)
	}
	p.ok(p.press(mara, "right/C0001"))
	p.compute()
	p.want(ledger.Quoted)
}
