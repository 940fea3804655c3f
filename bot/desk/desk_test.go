package desk

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"strings"
	"testing"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/jobs"
)

func TestWholeJob(t *testing.T) {
	p := newPlay(t)
	p.ok(func() error {
		_, err := p.do(chat.Incoming{Person: boss, Command: "studio", Thread: "stage:board"})
		return err
	}())
	p.ok(p.command(mara, "commission"))
	p.ok(p.pick(mara, "sets/C0001", "cuff", "sword"))
	p.ok(p.pick(mara, "sets/C0001", "cuff"))
	p.ok(p.pick(mara, "count/C0001/cuff", "2"))
	p.ok(p.pick(mara, "sides/C0001/cuff", "pair"))
	p.ok(p.pick(mara, "finish/C0001", "weathered"))
	p.ok(p.press(mara, "details/C0001"))
	p.ok(p.form(mara, "details/C0001", "wanted", "1 March 2027", "clothing", "3 mm", "notes", "bronze"))
	_, err := p.do(chat.Incoming{Person: mara, Files: []chat.File{{Name: "ref.png", MIME: "image/png", Data: []byte("x")}}})
	p.ok(err)
	p.ok(p.press(mara, "measure/C0001"))
	p.ok(p.form(mara, "rest/C0001", "wrist-girth", "17,2", "forearm-girth", "10 1/2 in", "elbow-wrist-length", "26 cm"))
	p.ok(p.press(mara, "right/C0001"))
	p.compute()
	p.ok(p.command(mara, "where"))
	p.ok(p.press(mara, "approve/C0001/1"))
	p.want(ledger.Approved)
	p.wait(24 * time.Hour)
	p.ok(p.command(boss, "deposit", "number", "c0001"))
	p.want(ledger.Working)
	p.ok(p.command(boss, "bench"))
	p.refused(p.press(boss, "start/C0001/2"), "must be done first")
	p.ok(p.press(boss, "start/C0001/1"))
	p.wait(time.Hour)
	p.ok(p.press(boss, "done/C0001/1"))
	p.ok(p.press(boss, "start/C0001/2"))
	p.wait(time.Hour)
	p.ok(p.press(boss, "done/C0001/2"))
	p.refused(p.press(boss, "start/C0001/3"), "cures until")
	p.ok(p.command(mara, "where"))
	p.wait(4 * time.Hour)
	p.ok(p.press(boss, "done/C0001/3"))
	p.wait(3 * time.Hour)
	p.restart() // the bell must ring in the next process
	p.wait(time.Hour)
	p.ok(p.press(boss, "start/C0001/4"))
	p.ok(p.press(boss, "done/C0001/4"))
	p.want(ledger.Working)
	p.ok(p.command(boss, "orders"))
	p.wait(4 * time.Hour)
	p.want(ledger.Ready)
	p.ok(p.press(boss, "handed/C0001"))
	p.want(ledger.Delivered)
	p.golden()
}

func TestMeasurementsAskedAgain(t *testing.T) {
	p := newPlay(t)
	p.ok(p.command(mara, "commission", "set", "cuff"))
	p.refused(p.press(mara, "measure/C0001"), "pick a finish")
	p.ok(p.pick(mara, "finish/C0001", "plain"))
	p.ok(p.form(mara, "details/C0001", "wanted", "3/4/2027", "clothing", "thick", "notes", "kept"))
	p.refused(p.press(mara, "measure/C0001"), "under Details")
	p.ok(p.form(mara, "details/C0001", "wanted", "3 April 2027", "clothing", "none", "notes", "kept"))
	p.ok(p.press(mara, "measure/C0001"))
	p.ok(p.form(mara, "rest/C0001", "wrist-girth", "about so", "forearm-girth", "270 cm", "elbow-wrist-length", ""))
	p.want(ledger.Measuring)
	p.ok(p.press(mara, "rest/C0001"))
	p.ok(p.form(mara, "rest/C0001", "wrist-girth", "17", "forearm-girth", "27", "elbow-wrist-length", "26"))
	p.want(ledger.Checking)
	p.ok(p.press(mara, "apart/C0001"))
	p.want(ledger.Measuring)
	p.ok(p.form(mara, "rest/C0001", "elbow-wrist-length", "25,5")) // a form opened before
	p.ok(p.press(mara, "correct/C0001"))                           // at any time, not only once all are in
	p.ok(p.form(mara, "rest/C0001", "wrist-girth/left", "16.5", "wrist-girth/right", "17.5"))
	p.ok(p.press(mara, "rest/C0001"))
	p.ok(p.press(mara, "apart/C0001"))
	p.ok(p.press(mara, "correct/C0001"))
	p.ok(p.form(mara, "correct/C0001", "wrist-girth", "11"))
	p.want(ledger.Checking)
	p.golden()
}

func TestRefusals(t *testing.T) {
	p := newPlay(t)
	p.refused(p.command(mara, "commission", "set", "boots"), "no pattern set")
	p.refused(p.command(mara, "dance"), "no command")
	p.refused(p.command(mara, "bench"), "for the studio")
	p.refused(p.command(mara, "where"), "no commission yet")
	p.toChecking()
	p.refused(p.press(mara, "approve/C0001/1"), "no revision 1")
	p.refused(p.press(ivo, "right/C0001"), "not one of your commissions")
	p.ok(p.press(mara, "right/C0001"))
	p.refused(p.press(mara, "right/C0001"), "being worked out")
	p.refused(p.press(mara, "approve/C0001/1"), "still being worked out")
	p.compute()
	p.refused(p.press(ivo, "approve/C0001/1"), "not one of your commissions")
	p.refused(p.press(mara, "approve/C0001/7"), "no revision 7")
	p.refused(p.press(mara, "approve/C0099/1"), "no commission")
	p.refused(p.command(boss, "deposit", "number", "C0001"), "once its quote is approved")
	p.refused(p.press(mara, "deposit/C0001"), "only the studio")
	p.refused(p.press(mara, "nonsense/C0001"), "no longer")
	p.refused(p.press(boss, "nonsense/C0001"), "no longer")
	p.want(ledger.Quoted)
	p.golden()
}

// Whose a commission is, is nobody else's business: every way of every act on it is refused to another client, without its
// client's name.
func TestNobodyIsToldWhoseItIs(t *testing.T) {
	p := newPlay(t)
	p.toQuoted()
	tried := 0
	try := func(verbs string, as func(verb string) chat.Incoming) {
		for _, verb := range strings.Fields(verbs) {
			in := as(verb)
			in.Person = ivo
			rep, err := p.do(in)
			var no *chat.Refusal
			if !errors.As(err, &no) || strings.Contains(no.Say, "Mara") {
				t.Errorf("%s is answered %q, %v", describe(in), rep.Text, err)
			}
			tried++
		}
	}
	for _, w := range acts {
		try(w.press, func(v string) chat.Incoming { return chat.Incoming{Press: v + "/C0001/1"} })
		try(w.pick, func(v string) chat.Incoming { return chat.Incoming{Pick: v + "/C0001/cuff", Picked: []string{"1"}} })
		try(w.form, func(v string) chat.Incoming { return chat.Incoming{Form: v + "/C0001/1"} })
		if w.command != "commission" {
			try(w.command, func(v string) chat.Incoming {
				return chat.Incoming{Command: v, Values: map[string]string{"number": "C0001"}, Files: []chat.File{{Name: "a.png", MIME: "image/png", Data: []byte("x")}}}
			})
		}
	}
	if tried < 30 {
		t.Errorf("only %d ways were tried", tried)
	}
}

func TestDoubleClick(t *testing.T) {
	p := newPlay(t)
	p.toQuoted()
	a, err := p.do(chat.Incoming{ID: "click", Person: mara, Press: "approve/C0001/1"})
	p.ok(err)
	b, err := p.do(chat.Incoming{ID: "click", Person: mara, Press: "approve/C0001/1"})
	p.ok(err)
	if a.Text != b.Text {
		t.Fatalf("the same act was answered %q and %q", a.Text, b.Text)
	}
	p.refused(p.press(mara, "approve/C0001/1"), "already approved on")
	p.refused(p.press(mara, "decline/C0001/1"), "already approved on")
	p.refused(p.press(mara, "change/C0001/1"), "already approved on")
	c1, err := p.do(chat.Incoming{ID: "open", Person: ivo, Command: "commission"})
	p.ok(err)
	c2, err := p.do(chat.Incoming{ID: "open", Person: ivo, Command: "commission"})
	p.ok(err)
	if c1.Thread != c2.Thread || c1.Thread != "stage:C0002" {
		t.Fatalf("threads %q and %q", c1.Thread, c2.Thread)
	}
	p.golden()
}

func TestApprovalHoldsTheHashOfTheStoredBytes(t *testing.T) {
	p := newPlay(t)
	p.toQuoted()
	p.ok(p.press(boss, "approve/C0001/1//sure"))
	sum := sha256.Sum256([]byte("%PDF-fake C0001 r1 1"))
	err := p.led.Tx(t.Context(), func(tx *ledger.Tx) error {
		a, err := tx.Approval("C0001")
		if err != nil {
			return err
		}
		if a.SHA256 != hex.EncodeToString(sum[:]) || a.Person != boss.ID || a.OnBehalfOf != mara.Name || a.Revision != 1 || !a.At.Equal(p.now) {
			t.Errorf("approval is %+v", a)
		}
		if _, _, err := tx.PDF("C0001", 1); err != nil {
			return err
		}
		if err := tx.AddApproval(a); err == nil {
			t.Error("a second approval was stored")
		}
		return errors.New("roll back")
	})
	if err == nil || err.Error() != "roll back" {
		t.Fatal(err)
	}
}

func TestChangeAndStaleButtons(t *testing.T) {
	p := newPlay(t)
	p.toQuoted()
	p.ok(p.press(mara, "change/C0001/1"))
	p.refused(p.form(mara, "change/C0001/1", "finish", "Weathered", "count", "1", "again", "no"), "nothing in it differs")
	p.ok(p.form(mara, "change/C0001/1", "what", "two of them", "finish", "Gold", "count", "2, 3", "wanted", "3/4/2027", "again", "perhaps"))
	p.want(ledger.Quoted)
	p.ok(p.press(mara, "change/C0001/1"))
	p.ok(p.form(mara, "change/C0001/1", "what", "two of them", "finish", "Plain", "count", "2", "wanted", "", "again", "no"))
	p.want(ledger.Computing)
	p.refused(p.press(mara, "approve/C0001/1"), "revision 1 was replaced by revision 2")
	p.compute()
	p.refused(p.press(mara, "approve/C0001/1"), "revision 1 was replaced by revision 2")
	if n := len(p.tr.posts["C0001/quote/1"].Buttons); n != 0 {
		t.Fatalf("the replaced quote still has %d buttons", n)
	}
	p.ok(p.form(mara, "change/C0001/2", "again", "yes"))
	p.want(ledger.Measuring)
	p.refused(p.press(mara, "approve/C0001/2"), "set aside")
	p.ok(p.form(mara, "rest/C0001", "wrist-girth", "18", "forearm-girth", "27", "elbow-wrist-length", "26"))
	p.ok(p.press(mara, "right/C0001"))
	p.compute()
	p.ok(p.press(mara, "approve/C0001/3"))
	p.golden()
}

func TestDecline(t *testing.T) {
	p := newPlay(t)
	p.toQuoted()
	p.ok(p.press(mara, "decline/C0001/1"))
	p.refused(p.press(mara, "approve/C0001/1"), "declined")
	p.want(ledger.Declined)
	p.golden()
}

func TestExpiry(t *testing.T) {
	p := newPlay(t)
	p.toQuoted()
	p.refused(p.press(mara, "requote/C0001/1"), "is valid until")
	p.now = p.now.AddDate(0, 0, 14) // expired, and nothing has noticed yet
	p.refused(p.press(mara, "approve/C0001/1"), "was valid until")
	p.want(ledger.Expired)
	p.refused(p.press(mara, "approve/C0001/1"), "was valid until")
	p.ok(p.press(mara, "requote/C0001/1"))
	p.compute()
	p.ok(p.press(mara, "approve/C0001/2"))
	p.golden()
}

func TestFailure(t *testing.T) {
	p := newPlay(t)
	_, err := p.do(chat.Incoming{Person: boss, Command: "studio", Thread: "stage:board"})
	p.ok(err)
	p.toChecking()
	p.ok(p.press(mara, "right/C0001"))
	r := p.q.last()
	p.answer(jobs.Answer{ID: r.ID, Attempt: 1, Kind: jobs.Failed, Say: "no sheet is large enough; ask the studio", Cause: "piece A is 1400 mm long"})
	p.want(ledger.Failed)
	p.refused(p.press(mara, "approve/C0001/1"), "could not be worked out")
	p.ok(p.press(mara, "again/C0001"))
	p.compute()
	p.want(ledger.Quoted)
	p.golden()
}

func TestLostRequests(t *testing.T) {
	p := newPlay(t)
	p.toChecking()
	p.ok(p.press(mara, "right/C0001"))
	first := p.q.last()
	p.wait(3 * time.Minute)
	second := p.q.last()
	if second.TaskID() != "C0001-r1-1-test.2" || second.Snapshot.Commission != "C0001" {
		t.Fatalf("sent again as %q for %q", second.TaskID(), second.Snapshot.Commission)
	}
	late := testQuote(first.Snapshot)
	p.answer(jobs.Answer{ID: first.ID, Attempt: 1, Kind: jobs.Done, Quote: &late})
	p.want(ledger.Quoted)
	p.answer(jobs.Answer{ID: second.ID, Attempt: 2, Kind: jobs.Done, Quote: &late})
	p.answer(jobs.Answer{ID: second.ID, Attempt: 2, Kind: jobs.Failed, Say: "too late"})
	p.answer(jobs.Answer{ID: "C0009-r1-1", Attempt: 1, Kind: jobs.Done, Quote: &late})
	p.want(ledger.Quoted)
	p.golden()
}

// A worker that comes to an attempt only after its deadline says so; by then another attempt is on its way.
func TestFailureOfAnOvertakenAttempt(t *testing.T) {
	p := newPlay(t)
	p.toChecking()
	p.ok(p.press(mara, "right/C0001"))
	first := p.q.last()
	p.wait(3 * time.Minute)
	second := p.q.last()
	p.answer(jobs.Answer{ID: first.ID, Attempt: 1, Kind: jobs.Failed, Say: "not ready in time", Cause: "no worker was free before the deadline"})
	p.want(ledger.Computing)
	q := testQuote(second.Snapshot)
	p.answer(jobs.Answer{ID: second.ID, Attempt: 2, Kind: jobs.Done, Quote: &q})
	p.want(ledger.Quoted)
}

func TestNobodyAnswers(t *testing.T) {
	p := newPlay(t)
	p.toChecking()
	p.ok(p.press(mara, "right/C0001"))
	for range shop.MaxAttempts {
		p.want(ledger.Computing)
		p.wait(3 * time.Minute)
	}
	p.want(ledger.Failed)
	if n := len(p.q.sent); n != shop.MaxAttempts {
		t.Fatalf("sent %d times, want %d", n, shop.MaxAttempts)
	}
	p.golden()
}

// While the queue is down, an attempt is overtaken by the next; when it is back, the last alone is sent.
func TestOvertakenAttemptsAreNotSent(t *testing.T) {
	p := newPlay(t)
	p.toChecking()
	p.q.down = errors.New("the queue is down")
	p.ok(p.press(mara, "right/C0001"))
	for range 2 {
		p.wait(3 * time.Minute)
	}
	if len(p.q.sent) != 0 {
		t.Fatalf("%d were sent to a queue that is down", len(p.q.sent))
	}
	p.q.down = nil
	p.wait(retryMost)
	if n := len(p.q.sent); n != 1 || p.q.sent[0].Attempt < 3 {
		for _, r := range p.q.sent {
			t.Logf("attempt %d", r.Attempt)
		}
		t.Errorf("%d attempts were sent, want the last alone", n)
	}
}

func TestRestartInTheMiddle(t *testing.T) {
	p := newPlay(t)
	p.tr.fail, p.tr.failing = errors.New("the line is down"), 1000
	p.ok(p.command(mara, "commission", "set", "cuff"))
	p.ok(p.pick(mara, "finish/C0001", "plain"))
	p.restart()
	p.tr.failing = 0
	p.wait(2 * time.Minute)
	p.ok(p.press(mara, "measure/C0001"))
	p.ok(p.form(mara, "rest/C0001", "wrist-girth", "17,2", "forearm-girth", "27", "elbow-wrist-length", "26 cm"))
	p.restart()
	p.ok(p.press(mara, "right/C0001"))
	p.restart()
	p.compute()
	p.restart()
	p.ok(p.press(mara, "approve/C0001/1"))
	p.golden()
}

func TestCancel(t *testing.T) {
	p := newPlay(t)
	p.toChecking()
	p.ok(p.press(mara, "right/C0001"))
	r := p.q.last()
	p.refused(p.command(ivo, "cancel", "number", "C0001"), "not one of your commissions")
	p.ok(p.command(mara, "cancel", "number", "C0001"))
	q := testQuote(r.Snapshot)
	p.answer(jobs.Answer{ID: r.ID, Attempt: 1, Kind: jobs.Done, Quote: &q})
	p.want(ledger.Cancelled)
	p.refused(p.command(mara, "cancel", "number", "C0001"), "was cancelled")
	p.golden()
}
