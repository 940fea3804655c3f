package shop

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"pgregory.net/rapid"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/quote/gaugetest"
)

// staffed has an owner (M1), a maker (M2) and somebody at the front desk (M3) belong to the studio.
func (h *house) staffed() (owner, maker, front chat.Person) {
	h.t.Helper()
	h.do(boss, BecomeOwner{"Edda"})
	owner = memberAs("M1")
	h.do(owner, ChangeMember{Member: "M1", Name: "Edda", Roles: ledger.Owner})
	h.do(owner, AddMember{Name: "Rolf", Roles: ledger.Maker, Bench: "mara"})
	h.do(owner, AddMember{Name: "Frida", Roles: ledger.FrontDesk})
	return owner, memberAs("M2"), memberAs("M3")
}

// memberAs is a member as they come through the browser.
func memberAs(id string) chat.Person {
	return chat.Person{ID: chat.PersonID("browser:" + id), Name: "somebody", Studio: true}
}

// try does an act or asks a question.
func (h *house) try(who chat.Person, a Act) error {
	h.t.Helper()
	r, ok := rowOf(a)
	if !ok {
		h.t.Fatalf("there is no row for %T", a)
	}
	if r.head().Reads {
		_, err := h.s.See(h.t.Context(), who, a)
		return err
	}
	_, err := h.s.Do(h.t.Context(), Call{Person: who, Act: a})
	return err
}

// notTheirs are refusals of somebody, whatever is the case with the commission.
var notTheirs = []Kind{OnlyStudio, NotYours, NotYourPart, NotAMember, OnlyThis}

// developers has the table of who may do what, between two marks.
const developers = "../../DEVELOPERS.md"

// TestWhoMay tries every act and every question as everybody there can be, and holds who may against the table that
// DEVELOPERS.md states: a cell that it does not state, or states otherwise, fails. -update writes it anew, to be looked at.
func TestWhoMay(t *testing.T) {
	if raced {
		t.Skip("it is one goroutine with much to paint; the run without the race detector has it")
	}
	h := newHouse(t)
	h.to(ledger.Quoted)
	h.begin(mara, "C0002")
	h.begin(ivo, "C0003")
	owner, maker, front := h.staffed()
	h.do(owner, AddMember{Name: "Gone", Roles: ledger.AllRoles})
	h.do(owner, LinkPerson{Member: "M4", Person: "stage:gone"})
	h.do(owner, LetGo{"M4"})
	byLink := mara
	byLink.Only = "C0001"
	otherLink := mara
	otherLink.Only = "C0002"
	people := []struct {
		column string
		who    chat.Person
		member string
	}{{"owner", owner, "M1"}, {"maker", maker, "M2"}, {"front desk", front, "M3"}, {"client", mara, ""}, {"by its link", byLink, ""},
		{"by another link", otherLink, ""}, {"other client", ivo, ""}, {"let go", chat.Person{ID: "stage:gone", Studio: true}, "M4"},
		{"shared seat", chat.Person{ID: "browser:studio", Name: "Studio", Studio: true}, ""}, {"nobody", chat.Person{ID: "stage:nobody"}, ""}}
	for _, id := range []string{"M1", "M2", "M3"} { // sessions 1, 2 and 3
		h.do(chat.Person{}, SignIn{Secret: h.do(owner, MakeSignIn{id}).(SignInMade).Secret})
	}
	h.undo = true
	var b bytes.Buffer
	b.WriteString("| act |")
	for _, p := range people {
		fmt.Fprintf(&b, " %s |", p.column)
	}
	fmt.Fprintf(&b, "\n|---|%s\n", strings.Repeat("---|", len(people)))
	all := tries(t)
	for _, r := range Table() {
		i := slices.IndexFunc(all, func(a Act) bool { return reflect.TypeOf(a) == r.Act })
		fmt.Fprintf(&b, "| %s |", r.Name)
		for _, p := range people {
			a := all[i]
			may := func(a Act) bool {
				kind := refusal(h.try(p.who, a))
				_, ends := a.(EndSession) // of somebody else's nobody hears that there is one
				return !slices.Contains(notTheirs, kind) && !(ends && kind == NoSession)
			}
			cell := "–"
			if own := ofOneself(a, p.member); own != nil {
				// Of the affairs of M1 and of their own: one who may only the latter.
				switch theirs, ones := may(a), may(own); {
				case theirs && ones:
					cell = "yes"
				case ones:
					cell = "own"
				case theirs:
					cell = "others alone"
				}
			} else if may(a) {
				cell = "yes"
			}
			fmt.Fprintf(&b, " %s |", cell)
			if want := stated(r.Who, p.column); cell != want {
				t.Errorf("%s (%s), %s: %s, and the row states %s", r.Name, r.Who, p.column, cell, want)
			}
		}
		b.WriteByte('\n')
	}
	doc, err := os.ReadFile(developers)
	if err != nil {
		t.Fatal(err)
	}
	before, rest, ok := bytes.Cut(doc, []byte("<!-- who may -->\n"))
	_, after, ok2 := bytes.Cut(rest, []byte("<!-- end of who may -->\n"))
	if !ok || !ok2 {
		t.Fatal("DEVELOPERS.md has no place for the table of who may do what")
	}
	gaugetest.Golden(t, developers, slices.Concat(before, []byte("<!-- who may -->\n"), b.Bytes(), []byte("<!-- end of who may -->\n"), after))
}

// ofOneself is the act about the person's own affairs, for acts that are about a member's.
func ofOneself(a Act, member string) Act {
	switch a.(type) {
	case MemberOf:
		return MemberOf{member}
	case MakeSignIn:
		return MakeSignIn{member}
	case MakeCalendarLink:
		return MakeCalendarLink{member}
	case EndCalendarLinks:
		return EndCalendarLinks{member}
	case EndSession:
		n, err := strconv.ParseInt(strings.TrimPrefix(member, "M"), 10, 64)
		if err != nil {
			n = 1
		}
		return EndSession{n}
	}
	return nil
}

// stated is what a row's Who says of a column, written down here a second time.
func stated(who Who, column string) string {
	yes := map[Who]string{
		Comers:    "owner, maker, front desk, client, other client, let go, shared seat, nobody",
		Anybody:   "owner, maker, front desk, client, by its link, by another link, other client, let go, shared seat, nobody",
		Owner:     "owner, front desk, client, by its link",
		Shown:     "owner, maker, front desk, client, by its link",
		Studio:    "owner, maker, front desk",
		Makers:    "owner, maker",
		FrontDesk: "owner, front desk",
		Head:      "owner",
		Self:      "owner",
	}
	if slices.Contains(strings.Split(yes[who], ", "), column) {
		return "yes"
	}
	if who == Self && (column == "maker" || column == "front desk") {
		return "own"
	}
	return "–"
}

// fileHolds reports whether the ledger's file, or what is still beside it, has the text anywhere.
func (h *house) fileHolds(text string) bool {
	h.t.Helper()
	files, err := filepath.Glob(filepath.Join(h.dir, "*"))
	if err != nil || len(files) == 0 {
		h.t.Fatalf("no ledger in %s: %v", h.dir, err)
	}
	for _, f := range files {
		data, err := os.ReadFile(f)
		if err != nil {
			h.t.Fatal(err)
		}
		if bytes.Contains(bytes.ToLower(data), []byte(strings.ToLower(text))) {
			return true
		}
	}
	return false
}

// What lets somebody in is nowhere in the ledger's file, however it came about and whatever was done with it.
func TestSecretsAreNotKept(t *testing.T) {
	h := newHouse(t)
	h.begin(mara, "C0001")
	secrets := map[string]string{"the first owner's link": h.do(boss, BecomeOwner{"Edda"}).(OwnerNamed).Secret}
	owner := memberAs("M1")
	secrets["a member's link"] = h.do(owner, AddMember{Name: "Rolf", Roles: ledger.Maker}).(MemberAdded).Secret
	secrets["a session"] = h.do(chat.Person{}, SignIn{Secret: secrets["a member's link"], Device: "phone"}).(SignedIn).Secret
	secrets["another link"] = h.do(owner, MakeSignIn{"M2"}).(SignInMade).Secret
	secrets["a code"] = h.do(owner, MakeCode{}).(CodeMade).Code
	secrets["a client's link"] = h.do(mara, MakeClientLink{On("C0001")}).(ClientLinkMade).Secret
	secrets["an invited client's link"] = h.do(owner, AskFor{Client: "Nils"}).(AskedFor).Secret
	secrets["a client's session"] = h.do(chat.Person{}, SignIn{Secret: secrets["a client's link"]}).(SignedIn).Secret
	if !h.fileHolds("phone") || !h.fileHolds("Nils") {
		t.Fatal("the file has not even what it should; the search is broken")
	}
	for what, s := range secrets {
		if len(s) < 10 {
			t.Errorf("%s is %q", what, s)
		}
		if h.fileHolds(s) {
			t.Errorf("%s is in the ledger's file", what)
		}
	}
}

// An act that made a link, delivered again, gives no second link and does not give the first away.
func TestLinksAreShownOnce(t *testing.T) {
	h := newHouse(t)
	owner, _, _ := h.staffed()
	call := Call{ID: "click", Person: owner, Act: MakeSignIn{"M2"}}
	first, err := h.s.Do(t.Context(), call)
	if err != nil {
		t.Fatal(err)
	}
	again, err := h.s.Do(t.Context(), call)
	if err != nil || again.(SignInMade).Secret != "" || again.(SignInMade).Member != first.(SignInMade).Member {
		t.Errorf("again it gives %+v, %v", again, err)
	}
	h.do(chat.Person{}, SignIn{Secret: first.(SignInMade).Secret}) // and the first counts
}

// A sign-in link lets in once, for its time, and not when another has taken its place; a client's any number of times until
// it is ended, and what it opened is closed with it.
func TestLinksOpen(t *testing.T) {
	h := newHouse(t)
	h.begin(mara, "C0001")
	owner, _, _ := h.staffed()
	none := chat.Person{}
	link := func() string { return h.do(owner, MakeSignIn{"M2"}).(SignInMade).Secret }
	opens := func(secret string) Kind { return refusal(h.try(none, SignIn{Secret: secret})) }
	seated := func(session string) Kind {
		_, err := h.s.Seated(t.Context(), session)
		return refusal(err)
	}
	expect := func(what string, got, want Kind) {
		t.Helper()
		if got != want {
			t.Errorf("%s: %q, want %q", what, got, want)
		}
	}
	a := link()
	if m, _, err := h.s.Opens(t.Context(), a); err != nil || m.Name != "Rolf" {
		t.Errorf("the link is %s's, %v", m.Name, err)
	}
	s := h.do(none, SignIn{Secret: a}).(SignedIn).Secret
	expect("a used link", opens(a), LinkUsed)
	expect("its session", seated(s), "")
	b := link()
	c := link()
	expect("a replaced link", opens(b), LinkEnded)
	h.now = h.now.Add(SignInLasts)
	expect("a link at its end", opens(c), LinkExpired)
	expect("no link at all", opens("abcdefghij"), LinkUnknown)
	expect("a session as a link", opens(s), LinkUnknown)
	expect("a code as a link", opens(h.do(owner, MakeCode{}).(CodeMade).Code), LinkUnknown)
	h.now = h.now.Add(sessionLasts - time.Hour)
	expect("a session not seen for long", seated(s), NoSession)

	x := h.do(mara, MakeClientLink{On("C0001")}).(ClientLinkMade).Secret
	y := h.do(owner, MakeClientLink{On("C0001")}).(ClientLinkMade).Secret
	first := h.do(none, SignIn{Secret: x}).(SignedIn).Secret
	second := h.do(none, SignIn{Secret: x}).(SignedIn).Secret
	expect("the other link", opens(y), "")
	expect("a client's first device", seated(first), "")
	h.do(none, Leave{second})
	expect("a device that was left", seated(second), NoSession)
	expect("a device that was left, again", refusal(h.try(none, Leave{second})), NoSession)
	h.do(mara, EndClientLinks{On("C0001")})
	expect("an ended link", opens(x), LinkEnded)
	expect("the other ended link", opens(y), LinkEnded)
	expect("a device that came by it", seated(first), NoSession)
	for range mostLinks + 1 {
		h.do(mara, MakeClientLink{On("C0001")})
	}
	h.in(func(tx *ledger.Tx) error {
		ls, err := tx.LinksOf(ledger.ClientLink, "", "C0001")
		if len(ls) != mostLinks {
			t.Errorf("%d links open one commission, at most %d may", len(ls), mostLinks)
		}
		return err
	})
}

// Two who open a sign-in link at the same moment: one of them is let in.
func TestALinkOpenedTwiceAtOnce(t *testing.T) {
	h := newHouse(t)
	owner, _, _ := h.staffed()
	secret := h.do(owner, MakeSignIn{"M2"}).(SignInMade).Secret
	var wg sync.WaitGroup
	errs := make([]error, 8)
	var quiet sync.Mutex // the house's own list of what is told is not for several at once
	for i := range errs {
		wg.Go(func() {
			quiet.Lock()
			defer quiet.Unlock()
			_, errs[i] = h.s.Do(t.Context(), Call{Act: SignIn{Secret: secret}})
		})
	}
	wg.Wait()
	in := 0
	for _, err := range errs {
		if err == nil {
			in++
		} else if refusal(err) != LinkUsed {
			t.Error(err)
		}
	}
	if in != 1 {
		t.Errorf("%d were let in by one link", in)
	}
}

// A member who is let go is out: no session, no link, no code, no act, at no door. What they signed keeps their name.
func TestLetGoIsOut(t *testing.T) {
	h := newHouse(t)
	h.to(ledger.Working)
	owner, maker, _ := h.staffed()
	code := h.do(maker, MakeCode{}).(CodeMade).Code
	rolf := chat.Person{ID: "stage:rolf", Name: "rolf_the_maker", Studio: true}
	if err := h.try(rolf, Start{OfOperation: OnOperation("C0001", 1)}); refusal(err) != NotAMember {
		t.Errorf("before he is known there: %v", err)
	}
	h.do(rolf, UseCode{code})
	if err := h.try(ivo, UseCode{code}); refusal(err) != CodeUnknown {
		t.Errorf("a code that was used: %v", err)
	}
	session := h.do(chat.Person{}, SignIn{Secret: h.do(owner, MakeSignIn{"M2"}).(SignInMade).Secret}).(SignedIn).Secret
	link := h.do(owner, MakeSignIn{"M2"}).(SignInMade).Secret
	h.do(rolf, Done{OnOperation("C0001", 1)}) // from the other door
	h.in(func(tx *ledger.Tx) error {
		ops, err := tx.Operations("C0001")
		if len(ops) == 0 || ops[0].DoneBy != "member:M2" || ops[0].StartedBy != "member:M2" {
			t.Errorf("the operation is signed wrongly: %+v", ops)
		}
		return err
	})
	fresh := h.do(maker, MakeCode{}).(CodeMade).Code
	if o := h.do(owner, LetGo{"M2"}).(WasLetGo); o.Sessions != 1 {
		t.Errorf("%d sessions were ended", o.Sessions)
	}
	for who, p := range map[string]chat.Person{"his seat": maker, "the other door": rolf} {
		for _, a := range []Act{Today{}, Start{OfOperation: OnOperation("C0001", 2)}, MakeCode{}, People{}, MakeSignIn{"M2"}} {
			if err := h.try(p, a); refusal(err) != NotAMember {
				t.Errorf("%T from %s: %v", a, who, err)
			}
		}
	}
	if _, err := h.s.Seated(t.Context(), session); refusal(err) != NoSession {
		t.Errorf("his session: %v", err)
	}
	if err := h.try(chat.Person{}, SignIn{Secret: link}); refusal(err) == "" {
		t.Error("his link opens")
	}
	if err := h.try(ivo, UseCode{fresh}); refusal(err) != CodeUnknown {
		t.Errorf("his code: %v", err)
	}
	h.in(func(tx *ledger.Tx) error {
		events, err := tx.Events("C0001")
		last := events[len(events)-1]
		if last.Name != "Rolf" || last.Person != "member:M2" {
			t.Errorf("the trail has %+v", last)
		}
		return err
	})
}

// A private link makes nobody a member, though its commission's client is one.
func TestALinkIsNoMembership(t *testing.T) {
	h := newHouse(t)
	owner, _, _ := h.staffed()
	h.do(owner, Ask{Set: "sword"})
	byLink := owner
	byLink.Only = "C0001"
	for _, a := range []Act{Orders{}, People{}, AddMember{Name: "Eve", Roles: ledger.Owner}, Ask{}, MakeCode{}} {
		if err := h.try(byLink, a); !slices.Contains(notTheirs, refusal(err)) {
			t.Errorf("%T by the link: %v", a, err)
		}
	}
	if err := h.try(byLink, Where{On("C0001")}); err != nil {
		t.Errorf("its own commission: %v", err)
	}
}

// Who was let in for one commission hears of that one alone.
func TestWhereAllOfALink(t *testing.T) {
	h := newHouse(t)
	h.begin(mara, "C0001")
	h.begin(mara, "C0002")
	byLink := mara
	byLink.Only = "C0002"
	got, err := h.s.See(t.Context(), byLink, WhereAll{})
	if err != nil || len(got.([]Standing)) != 1 || got.([]Standing)[0].Commission.ID != "C0002" {
		t.Errorf("they hear of %+v, %v", got, err)
	}
}

// Until somebody is named everybody in the studio's seat may do everything; then nobody in it may anything.
func TestNamingTheOwner(t *testing.T) {
	h := newHouse(t)
	if err := h.try(boss, AddMember{Name: "Rolf", Roles: ledger.Maker}); refusal(err) != NoOwnerYet {
		t.Errorf("a maker before the owner: %v", err)
	}
	h.do(boss, BecomeOwner{"  Edda   Holm "})
	if err := h.try(boss, BecomeOwner{"Eve"}); refusal(err) != NotAMember {
		t.Logf("a second owner from the shared seat at the stage: %v", err)
	}
	shared := chat.Person{ID: "browser:studio", Name: "Studio", Studio: true}
	for _, a := range []Act{BecomeOwner{"Eve"}, Orders{}, AddMember{Name: "Eve", Roles: ledger.Owner}, Today{}} {
		if err := h.try(shared, a); refusal(err) != NotAMember {
			t.Errorf("%T from the shared seat: %v", a, err)
		}
	}
	if err := h.try(memberAs("M1"), BecomeOwner{"Eve"}); refusal(err) != OwnerAlready {
		t.Errorf("a second first owner: %v", err)
	}
	o, err := h.s.See(t.Context(), memberAs("M1"), People{})
	if p := o.(Peopled); err != nil || len(p.Members) != 1 || p.Members[0].Member.Name != "Edda Holm" || !p.Owner {
		t.Errorf("%+v, %v", o, err)
	}
}

// An owner who was let go is none: the last who is left stays, by whatever way they would go.
func TestTheLastOwnerStays(t *testing.T) {
	h := newHouse(t)
	h.do(boss, BecomeOwner{"Edda"})
	edda := memberAs("M1")
	h.do(edda, AddMember{Name: "Olaf", Roles: ledger.Owner})
	h.do(edda, AddMember{Name: "Rolf", Roles: ledger.Maker})
	h.do(edda, LetGo{"M2"})
	for _, a := range []Act{LetGo{"M1"}, ChangeMember{Member: "M1", Name: "Edda", Roles: ledger.Maker}} {
		if err := h.try(edda, a); refusal(err) != LastOwner {
			t.Errorf("%T: %v", a, err)
		}
	}
	h.do(edda, ChangeMember{Member: "M3", Name: "Rolf", Roles: ledger.AllRoles})
	h.do(memberAs("M3"), LetGo{"M1"})
}

// A studio keeps an owner and names that tell its people apart, whatever is done to them in whatever order, and nobody but
// an owner changes who belongs to it.
func TestStudiosKeepAnOwner(t *testing.T) {
	h := newHouse(t)
	h.do(boss, BecomeOwner{"Edda"})
	taken, refused := 0, map[Kind]int{}
	rapid.Check(t, func(rt *rapid.T) {
		name := rapid.SampledFrom([]string{"Edda", "edda", "Rolf", "Frida", "", "Nils"})
		role := rapid.Custom(func(t *rapid.T) ledger.Role { return ledger.Role(rapid.IntRange(0, 15).Draw(t, "role")) })
		bench := rapid.SampledFrom([]string{"", "mara", "nobody"})
		list := func() (out []ledger.Member) {
			h.in(func(tx *ledger.Tx) (err error) {
				out, err = tx.Members()
				return err
			})
			return out
		}
		for range rapid.IntRange(1, 8).Draw(rt, "acts") {
			ids := []string{"M9999"}
			for _, m := range list() {
				ids = append(ids, m.ID, strings.ToLower(m.ID))
			}
			id := rapid.SampledFrom(ids[max(0, len(ids)-9):])
			who := memberAs(strings.ToUpper(id.Draw(rt, "who")))
			if i := slices.IndexFunc(list(), func(m ledger.Member) bool { return m.LetGoAt.IsZero() && m.Roles&ledger.Owner != 0 }); i >= 0 && rapid.Bool().Draw(rt, "an owner") {
				who = memberAs(list()[i].ID)
				id = rapid.Just(list()[i].ID)
				if rapid.Bool().Draw(rt, "another") {
					id = rapid.SampledFrom(ids)
				}
			}
			var act Act
			switch rapid.IntRange(0, 2).Draw(rt, "kind") {
			case 0:
				act = AddMember{Name: name.Draw(rt, "name"), Roles: role.Draw(rt, "roles"), Bench: bench.Draw(rt, "bench")}
			case 1:
				act = ChangeMember{Member: id.Draw(rt, "member"), Name: name.Draw(rt, "name"), Roles: role.Draw(rt, "roles"), Bench: bench.Draw(rt, "bench")}
			default:
				act = LetGo{id.Draw(rt, "member")}
			}
			before := list()
			err := h.try(who, act)
			if err != nil && refusal(err) == "" {
				rt.Fatal(err)
			}
			after := list()
			if err != nil {
				refused[refusal(err)]++
				if !reflect.DeepEqual(before, after) {
					rt.Fatalf("%+v was refused (%v) and changed %+v to %+v", act, err, before, after)
				}
				continue
			}
			taken++
			i := slices.IndexFunc(before, func(m ledger.Member) bool { return memberAs(m.ID).ID == who.ID })
			if i < 0 || before[i].Roles&ledger.Owner == 0 || !before[i].LetGoAt.IsZero() {
				rt.Fatalf("%s did %+v among %+v", who.ID, act, before)
			}
			owners, names := 0, map[string]bool{}
			for _, m := range after {
				if !m.LetGoAt.IsZero() {
					continue
				}
				if m.Roles&ledger.Owner != 0 {
					owners++
				}
				if n := strings.ToLower(m.Name); n == "" || names[n] || m.Roles == 0 || m.Roles&^ledger.AllRoles != 0 {
					rt.Fatalf("after %+v there is %+v among %+v", act, m, after)
				}
				names[strings.ToLower(m.Name)] = true
			}
			if owners == 0 {
				rt.Fatalf("after %+v nobody runs the studio: %+v", act, after)
			}
		}
	})
	if taken == 0 || refused[LastOwner] == 0 || refused[SameName] == 0 || refused[NotAMember]+refused[NotYourPart] == 0 {
		t.Errorf("%d taken, refused %v: the acts that were drawn try too little", taken, refused)
	}
}
