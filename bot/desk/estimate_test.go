package desk

import (
	"strings"
	"testing"

	"benchbell/bot/ledger"
)

// What nobody measured can be estimated from the height, is shown as an estimate, travels as one, and gives way to a
// value that is taken later.
func TestEstimate(t *testing.T) {
	p := newPlay(t)
	p.ok(p.command(mara, "commission", "set", "cuff"))
	p.ok(p.pick(mara, "finish/C0001", "plain"))
	p.ok(p.press(mara, "measure/C0001"))
	p.ok(p.form(mara, "rest/C0001", "wrist-girth", "16.8"))
	p.ok(p.press(mara, "estimate/C0001"))
	p.refused(p.form(mara, "height/C0001", "stature", "172"), "say whether the wearer is an adult")
	p.refused(p.form(mara, "height/C0001", "stature", "145", "adult", "no"), "nothing is estimated for children")
	p.refused(p.form(mara, "height/C0001", "stature", "tall", "adult", "yes"), "the height could not be read")
	p.refused(p.form(mara, "height/C0001", "stature", "172", "body-mass", "heavy", "adult", "yes"), "the weight could not be read")
	p.ok(p.form(mara, "height/C0001", "stature", "110", "adult", "yes")) // as tall as a child: nothing is estimated
	p.want(ledger.Measuring)
	p.ok(p.press(mara, "estimate/C0001")) // the height can be mended
	p.ok(p.form(mara, "height/C0001", "stature", "172", "body-mass", "68 kg", "adult", "Yes."))
	p.want(ledger.Checking)
	p.ok(p.form(mara, "correct/C0001", "forearm-girth", "27"))
	p.ok(p.press(mara, "right/C0001"))
	body := p.q.last().Snapshot.Body
	if len(body) != 3 {
		t.Fatalf("the snapshot has %d measurements, want the three of the cuff: %+v", len(body), body)
	}
	for _, b := range body {
		if want := b.Key == "elbow-wrist-length"; b.Estimated() != want {
			t.Errorf("%s estimated: %v, want %v", b.Key, b.Estimated(), want)
		}
	}
	p.golden()
}

// A value that does not fit the others is kept, but has to be confirmed in words that say so.
func TestUnusualIsAsked(t *testing.T) {
	p := newPlay(t)
	p.ok(p.command(mara, "commission", "set", "cuff"))
	p.ok(p.pick(mara, "finish/C0001", "plain"))
	p.ok(p.press(mara, "measure/C0001"))
	p.ok(p.form(mara, "height/C0001", "stature", "172", "adult", "yes"))
	p.ok(p.form(mara, "correct/C0001", "wrist-girth", "26", "forearm-girth", "27", "elbow-wrist-length", "26"))
	post := p.tr.posts["C0001/body/1"]
	if !strings.Contains(post.Text, "please check") || post.Buttons[0].Label != "I measured again; they are right" {
		t.Errorf("a wrist of 26 cm is not asked about:\n%s\n%v", post.Text, post.Buttons)
	}
	p.ok(p.press(mara, "right/C0001"))
	p.want(ledger.Computing)
}

// Sides that differ more than anybody's are set apart from the list, and have to be confirmed in words that say so; what is
// said of one side is not said again of the other.
func TestSidesAreAsked(t *testing.T) {
	p := newPlay(t)
	p.ok(p.command(mara, "commission", "set", "cuff"))
	p.ok(p.pick(mara, "finish/C0001", "plain"))
	p.ok(p.press(mara, "measure/C0001"))
	p.ok(p.press(mara, "apart/C0001"))
	p.ok(p.form(mara, "rest/C0001", "wrist-girth/left", "28", "wrist-girth/right", "28", "forearm-girth/left", "29", "forearm-girth/right", "29",
		"elbow-wrist-length/left", "20", "elbow-wrist-length/right", "32"))
	post := p.tr.posts["C0001/body/1"]
	if n := strings.Count(post.Text, "is unusually large next to"); n != 1 || !strings.Contains(post.Text, "*unusual – please check*, as above") {
		t.Errorf("said %d times:\n%s", n, post.Text)
	}
	if !strings.Contains(post.Text, "\n\n*Left and right*\nElbow to wrist length is 20 cm") || post.Buttons[0].Label != "I measured again; they are right" {
		t.Errorf("sides that differ are not set apart, or not asked about:\n%s\n%v", post.Text, post.Buttons)
	}
}
