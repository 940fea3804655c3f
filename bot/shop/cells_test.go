package shop

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/quote"
	"benchbell/quote/gaugetest"
)

// tries has an act of every row that its row allows where role and state do, and its own data does nothing against.
func tries(t *testing.T) []Act {
	t.Helper()
	of, rev, op := On("C0001"), OnRevision("C0001", 1), OnOperation("C0001", 1)
	yes := true
	return []Act{
		Ask{}, ChooseSets{Of: of, Sets: []string{"sword"}}, ChooseCount{of, "forearm-cuff", 2}, ChooseSides{of, "forearm-cuff", quote.OneLeft}, ChooseFinish{of, testStudio().Finishes[0].Key},
		Items{of}, Details{of}, GiveDetails{Of: of, Notes: "bronze"}, AddPictures{Of: of, Files: []chat.File{{Name: "a.png", MIME: "image/png", Data: []byte("x")}}},
		Measure{of}, Measurements{Of: of}, GiveMeasurements{of, map[string]string{"wrist-girth": "17"}}, SetApart{of}, HeightAndWeight{of},
		Estimate{Of: of, Adult: &yes, Height: "174"}, Confirm{of},
		Approve{OfRevision: rev, Sure: true}, Decline{rev}, Change{rev}, AskChange{OfRevision: rev, Typed: map[string]string{ChangeWhat: "darker"}}, Requote{rev}, TryAgain{of}, Mend{of}, Cancel{Of: of},
		Ordered{of}, Paper{rev}, Photograph{of, 1}, Where{of}, WhereAll{}, Orders{}, FindOrders{}, Folder{Of: of}, Document{Of: of, Revision: 1}, Say{of, "hello"}, Messages{}, Answer{1, "yes"}, MarkRead{1},
		Pay{Of: of}, Today{}, Day{}, Days{Print: true}, Start{OfOperation: op}, Done{op}, Pause{op}, TakeBack{op}, Rework{OfOperation: op, Why: "lifted"}, Step{op}, Abrade{OfOperation: OnOperation("C0001", 2)}, SayAir{"21", "55"}, CorrectHours{op, 1, "20"}, HandOver{of},
		PickSlot{OfAppointment: onAppointment("C0001", 1), At: nextOpen, Seen: "none"}, AskSlots{OfAppointment: onAppointment("C0001", 1)}, ChooseHow{OfAppointment: onAppointment("C0001", 1), How: quote.Ship},
		MissSlot{onAppointment("C0001", 1)}, CallOff{OfAppointment: onAppointment("C0001", 1)},
		WholePlan{}, TakeOver{}, TellDate{Of: of, Sure: true}, Why{of}, WhatIf{of, "12 December"},
		GoAway{Maker: "mara"}, ComeBack{"mara"},
		CutFiles{Of: of}, Traveller{Of: of}, Labels{Of: of}, OffcutLabels{}, PlanTogether{[]quote.CommissionID{"C0001", "C0002"}}, CutTogether{"D0001"}, Rack{}, RackOffcut{5, plateSize, plateSize}, ThrowAway{Offcut: "R0001", Sure: true},
		RackRest{op},
		plate(t), Shelve{"plate", 1}, Withdraw{"plate"}, Board{"stage:board"},
		People{}, BecomeOwner{"Edda"}, MemberOf{"M1"}, AddMember{Name: "Rolf", Roles: ledger.Maker}, ChangeMember{Member: "M1", Name: "Edda", Roles: ledger.AllRoles},
		LetGo{"M2"}, MakeSignIn{"M1"}, EndSession{1}, MakeCode{}, UseCode{"none"}, LinkPerson{"M1", "stage:rolf"}, AskFor{Client: "Nils"},
		MakeClientLink{of}, EndClientLinks{of}, MakeCalendarLink{"M1"}, EndCalendarLinks{"M1"}, MakeClientCalendarLink{of}, EndClientCalendarLinks{of}, SignIn{Secret: "none"}, Leave{"none"},
	}
}

// nextOpen is a time at which the shop is open, after a house has finished its work.
var nextOpen = time.Date(2026, 11, 3, 9, 0, 0, 0, time.UTC)

// plate is a pattern of the studio's own.
func plate(t *testing.T) CheckPattern {
	t.Helper()
	drawing, err := os.ReadFile("../../worker/testdata/knee-plate.svg")
	if err != nil {
		t.Fatal(err)
	}
	return CheckPattern{[]chat.File{{Name: "plate.svg", Data: drawing}}}
}

// roles in which everything is tried; a stranger has no commission of their own.
var roles = []struct {
	name string
	who  chat.Person
}{{"anybody", chat.Person{ID: "stage:nobody", Name: "Nobody"}}, {"client", mara}, {"other client", ivo}, {"studio", boss}}

// TestCells tries every act and every question, as everybody, in a ledger that holds a commission in each state, and holds what
// happens against the table of all cells: a row without a try, or a cell that changed, fails. Nothing that is tried is kept.
func TestCells(t *testing.T) {
	if raced {
		t.Skip("it is one goroutine with much to paint; the run without the race detector has it")
	}
	all := tries(t)
	for _, r := range Table() {
		if !slices.ContainsFunc(all, func(a Act) bool { return reflect.TypeOf(a) == r.Act }) {
			t.Errorf("the row %q is not tried: give an act of %s", r.Name, r.Act)
		}
	}
	cells := map[string]string{}
	for _, state := range states {
		h := newHouse(t)
		h.to(state)
		h.another()
		h.do(boss, RackOffcut{5, plateSize, plateSize})
		h.do(boss, plate(t))
		h.do(boss, Shelve{"plate", 1})
		h.in(func(t *ledger.Tx) error { // as it was planned once; whether it can be carried out is tried
			_, err := t.PlanCutting(ledger.Cutting{Commissions: []ledger.CutCommission{{ID: "C0001", Revision: 1}}}, nil)
			return err
		})
		h.undo = true
		for _, a := range all {
			r, ok := rowOf(a)
			if !ok {
				t.Fatalf("there is no row for %T", a)
			}
			for _, x := range roles {
				var err error
				if r.head().Reads {
					_, err = h.s.See(t.Context(), x.who, a)
				} else {
					_, err = h.s.Do(t.Context(), Call{ID: "try", Person: x.who, Act: a})
				}
				cell := "yes"
				switch kind := refusal(err); {
				case kind != "":
					cell = string(kind)
				case errors.Is(err, errUndone), err == nil && r.head().Reads:
				case err == nil:
					t.Errorf("%s, %s, %s: done, and no teller heard of it", r.head().Name, x.name, state)
				default:
					t.Errorf("%s, %s, %s: %v", r.head().Name, x.name, state, err)
				}
				cells[fmt.Sprint(r.head().Name, "/", x.name, "/", state)] = cell
			}
		}
		if got := h.commission().State; got != state {
			t.Errorf("after all was tried and undone C0001 is %s, not %s", got, state)
		}
	}
	var b bytes.Buffer
	for _, r := range Table() {
		fmt.Fprintf(&b, "%s (%s)\n", r.Name, r.Who)
		for _, x := range roles {
			// States with the same answer share a line.
			var order []string
			in := map[string][]string{}
			for _, s := range states {
				cell := cells[fmt.Sprint(r.Name, "/", x.name, "/", s)]
				if in[cell] == nil {
					order = append(order, cell)
				}
				in[cell] = append(in[cell], string(s))
			}
			for _, cell := range order {
				where := strings.Join(in[cell], " ")
				if len(in[cell]) == len(states) {
					where = "everywhere"
				}
				fmt.Fprintf(&b, "  %-13s%-24s%s\n", x.name, cell, where)
			}
		}
	}
	gaugetest.Golden(t, filepath.Join("testdata", "cells.txt"), b.Bytes())
	t.Logf("%d rows × %d roles × %d states", len(Table()), len(roles), len(states))
}
