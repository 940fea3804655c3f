package desk

import (
	"strings"
	"testing"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/bot/shop"
)

// What a client writes in the thread is kept until it is answered, wherever from: the answer stands in the thread, signed. Words in
// another thread are people's own.
func TestWordsInAThread(t *testing.T) {
	p := newPlay(t)
	p.ok(p.command(mara, "commission", "set", "cuff"))
	for _, in := range []chat.Incoming{{Person: mara, Said: "can it be *green*?"}, {Person: boss, Thread: "stage:board", Said: "who takes this?"},
		{Person: mara, Said: "like this", Files: []chat.File{{Name: "a.png", MIME: "image/png", Data: []byte("x")}}}} {
		if rep, err := p.do(in); err != nil || len(in.Files) == 0 && rep.Text != "" {
			t.Errorf("%q: %+v, %v", in.Said, rep, err)
		}
	}
	var open []ledger.Message
	see := func() {
		t.Helper()
		if err := p.led.Tx(t.Context(), func(t *ledger.Tx) (err error) {
			open, err = t.OpenMessages(10, 0)
			return err
		}); err != nil {
			t.Fatal(err)
		}
	}
	if see(); len(open) != 2 || open[0].Text != "can it be *green*?" || open[0].Thread != "stage:C0001" || open[1].Kind != ledger.Sent || open[1].Text != "like this" {
		t.Fatalf("open are %+v", open)
	}
	if _, err := p.d.shop.Do(t.Context(), shop.Call{ID: "answer", Person: boss, Act: shop.Answer{Message: open[0].N, Words: "yes, it can"}}); err != nil {
		t.Fatal(err)
	}
	p.tick()
	if post, ok := p.tr.posts["C0001/answer/1"]; !ok || post.Text != "*"+boss.Name+":* yes, it can" || post.Thread != "stage:C0001" {
		t.Errorf("posted is %+v", post)
	}
	if _, err := p.do(chat.Incoming{Person: boss, Said: "I like that"}); err != nil {
		t.Error(err)
	}
	if see(); len(open) != 0 {
		t.Errorf("after the studio wrote in the thread, open are %+v", open)
	}
	if _, err := p.do(chat.Incoming{Person: ivo, Thread: "stage:C0001", Said: "hello"}); err == nil || !strings.Contains(err.Error(), "not one of your commissions") {
		t.Errorf("somebody else's words: %v", err)
	}
}
