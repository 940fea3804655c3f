package desk

import (
	"errors"
	"go/ast"
	"go/parser"
	"go/token"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/bot/shop"
)

// Every act and every question of the shop can be reached from the conversation and is answered, and every outcome has its
// posts or says that it has none.
func TestEveryRowHasWords(t *testing.T) {
	for _, r := range shop.Table() {
		if r.Door { // there is no talk yet, or no more
			continue
		}
		if r.Act == reflect.TypeFor[shop.Day]() || r.Act == reflect.TypeFor[shop.Days]() {
			continue // asked by pages: in a conversation the bench is read as Today has it, and the coming days as Plan
		}
		i := slices.IndexFunc(acts, func(w way) bool { return w.acts == r.Act })
		if i < 0 {
			t.Errorf("the act %q has no row in the desk's table", r.Name)
			continue
		}
		w := acts[i]
		if w.reads != r.Reads || w.outcome != r.Outcome {
			t.Errorf("%q is read as %+v, its row says outcome %s, question %t", r.Name, w.outcome, r.Outcome, r.Reads)
		}
		if _, ok := posts[r.Outcome]; !ok && !r.Reads {
			t.Errorf("of %q nothing is posted, and nothing says so: add %s to the posts", r.Name, r.Outcome)
		}
	}
	for _, w := range acts {
		if w.command+w.press+w.pick+w.form == "" {
			t.Errorf("%s comes from nowhere", w.acts)
		}
	}
}

// Every command that is offered is read, and no way hides another: of those with the same verb only the last has no condition.
func TestWays(t *testing.T) {
	p := newPlay(t)
	offered := map[string]bool{}
	for _, c := range p.d.Commands() {
		offered[c.Name] = true
		if !slices.ContainsFunc(acts, func(w way) bool { return w.command == c.Name }) {
			t.Errorf("the command %q is offered and not read", c.Name)
		}
	}
	always := map[string]reflect.Type{}
	for _, w := range acts {
		if w.command != "" && !offered[w.command] {
			t.Errorf("the command %q is read and not offered", w.command)
		}
		for how, verbs := range map[string]string{"command": w.command, "press": w.press, "pick": w.pick, "form": w.form} {
			for _, v := range strings.Fields(verbs) {
				key := how + " " + v
				if was := always[key]; was != nil {
					t.Errorf("%s is always read as %s, and never as %s", key, was, w.acts)
				}
				if w.when == nil {
					always[key] = w.acts
				}
			}
		}
	}
}

// Actions on buttons keep their meaning for ever: these were posted.
func TestOldButtons(t *testing.T) {
	p := newPlay(t)
	of, rev, op := shop.On("C0001"), shop.OnRevision("C0001", 2), shop.OnOperation("C0001", 3)
	for action, want := range map[string]shop.Act{
		"details/C0001": shop.Details{Of: of}, "measure/C0001": shop.Measure{Of: of}, "rest/C0001": shop.Measurements{Of: of, Rest: true},
		"correct/C0001": shop.Measurements{Of: of}, "correct/C0001/2": shop.Measurements{Of: of, From: chat.Cautious.Fields},
		"apart/C0001": shop.SetApart{Of: of}, "estimate/C0001": shop.HeightAndWeight{Of: of}, "right/C0001": shop.Confirm{Of: of},
		"again/C0001": shop.TryAgain{Of: of}, "mend/C0001": shop.Mend{Of: of}, "cancel/C0001": shop.Cancel{Of: of},
		"approve/C0001/2": shop.Approve{OfRevision: rev}, "decline/C0001/2": shop.Decline{OfRevision: rev}, "change/C0001/2": shop.Change{OfRevision: rev},
		"requote/C0001/2": shop.Requote{OfRevision: rev}, "deposit/C0001": shop.Pay{Of: of}, "start/C0001/3": shop.Start{OfOperation: op, Ask: true},
		"done/C0001/3": shop.Done{OfOperation: op}, "keep/C0001/3": shop.RackRest{OfOperation: op}, "handed/C0001": shop.HandOver{Of: of},
		"tell/C0001": shop.TellDate{Of: of}, "replan/4": shop.TakeOver{Plan: 4}, "replan/4/1c0ffee5": shop.TakeOver{Plan: 4, Seen: "1c0ffee5"},
		"tell/C0001/2026-12-21": shop.TellDate{Of: of, Date: "2026-12-21"}, "cut/D0002": shop.CutTogether{Plan: "D0002"},
		"shelve/knee-cup/2": shop.Shelve{Name: "knee-cup", Version: 2},
	} {
		r := &reading{ctx: t.Context(), d: p.d, in: chat.Incoming{Person: mara, Press: action}}
		if _, got, err := r.act(); err != nil || !reflect.DeepEqual(got, want) {
			t.Errorf("%s is read as %#v, %v; want %#v", action, got, err, want)
		}
	}
}

// Every kind of refusal has a sentence: lower case, no full stop.
func TestEveryRefusalHasWords(t *testing.T) {
	f, err := parser.ParseFile(token.NewFileSet(), "../shop/refuse.go", nil, 0)
	if err != nil {
		t.Fatal(err)
	}
	w := newPlay(t).d.words()
	kinds := 0
	ast.Inspect(f, func(n ast.Node) bool {
		v, ok := n.(*ast.ValueSpec)
		if !ok {
			return true
		}
		if typ, ok := v.Type.(*ast.Ident); !ok || typ.Name != "Kind" {
			return true
		}
		kinds++
		name, err := strconv.Unquote(v.Values[0].(*ast.BasicLit).Value)
		if err != nil {
			t.Fatal(err)
		}
		if _, ok := refusals[shop.Kind(name)]; !ok {
			t.Errorf("nobody can be told of %q (%s)", name, v.Names[0])
			return true
		}
		for _, row := range append(shop.Table(), shop.Listed{}) {
			no := &shop.Refusal{Kind: shop.Kind(name), Act: row.Name, Commission: ledger.Commission{ID: "C0001", ClientName: "mara", State: ledger.Working},
				Name: "it", Names: []string{"this"}, Wait: &shop.Wait{}, Against: &shop.Against{Commission: ledger.Commission{ID: "C0001"}}, Offcut: ledger.Offcut{ID: "R0001"}, Cause: errors.New("because")}
			say := w.refusal(chat.Incoming{}, no)
			if say == "" || strings.HasSuffix(say, ".") || strings.Contains(say, "%!") {
				t.Errorf("%q is said as %q", name, say)
			}
		}
		return true
	})
	if kinds < 60 || kinds != len(refusals) {
		t.Errorf("%d kinds were found, %d have words", kinds, len(refusals))
	}
}

// Files that the shop lets pass fit into a message.
func TestFilesFit(t *testing.T) {
	if l := chat.Cautious; shop.MaxFile > l.File || shop.MaxFile > l.Upload {
		t.Errorf("the shop takes files of %d bytes, a message holds %d", shop.MaxFile, l.File)
	}
}

// What fails to be sent is not tried again before its delay is over, and the delays grow and are bounded.
func TestSendingWaits(t *testing.T) {
	p := newPlay(t)
	p.tr.show = nil
	p.ok(p.command(mara, "commission"))
	p.tr.fail, p.tr.failing = errors.New("down"), 1000
	left := func() int { return 1000 - p.tr.failing }
	p.ok(p.pick(mara, "sets/C0001", "sword")) // its posts are in one lane: the first that fails holds back the others
	if left() != 1 {
		t.Fatalf("%d tries at once, want 1", left())
	}
	last := time.Duration(0)
	for try := 2; try <= 12; try++ {
		waited := time.Duration(0)
		for left() < try {
			if waited > retryMost {
				t.Fatalf("try %d did not come within %s", try, waited)
			}
			waited += 500 * time.Millisecond
			p.now = p.now.Add(500 * time.Millisecond)
			p.tick()
			p.tick() // at the same instant nothing more is tried
			if left() > try {
				t.Fatalf("try %d and another came at once", try)
			}
		}
		if waited < last || waited < retryFirst {
			t.Errorf("try %d came after %s, the one before after %s", try, waited, last)
		}
		if grows := waited == 2*last || last == 0 || waited == retryMost; !grows {
			t.Errorf("try %d came after %s, the one before after %s: the delay does not double", try, waited, last)
		}
		last = waited
	}
	if last != retryMost {
		t.Errorf("the delay ends at %s, want %s", last, retryMost)
	}
	p.tr.failing = 0
	p.wait(retryMost)
	if p.tr.posts["C0001/item/sword"].Text == "" {
		t.Error("what waited was not sent in the end")
	}
}
