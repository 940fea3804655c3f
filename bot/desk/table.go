package desk

import (
	"cmp"
	"strconv"
	"strings"

	"benchbell/bot/chat"
	"benchbell/bot/shop"
	"benchbell/quote"
)

// acts has a row for each act and each question of the shop: how it comes, how it is read, how it is answered. An action
// once posted keeps its meaning.
var acts []way

func init() { // the rows' readers use the table's readers
	acts = []way{
		// Choosing.
		act(ways{command: "commission"}, func(r *reading) (shop.Ask, error) { return shop.Ask{Set: r.in.Values["set"]}, nil }, sayAsked),
		act(ways{pick: "sets"}, func(r *reading) (shop.ChooseSets, error) {
			return shop.ChooseSets{Of: r.of(), Sets: r.in.Picked, Offered: r.offered()}, r.err()
		}, saySetsChosen),
		act(ways{pick: "finish"}, func(r *reading) (shop.ChooseFinish, error) {
			one, err := r.one("pick one finish")
			return shop.ChooseFinish{Of: r.of(), Finish: one}, cmp.Or(r.err(), err)
		}, func(_ *answer, o shop.FinishChosen) chat.Reply {
			return chat.Reply{Text: "Finish: " + o.Finish.Title + "."}
		}),
		act(ways{pick: "count"}, func(r *reading) (shop.ChooseCount, error) {
			of, set, one, err := r.item()
			n, _ := strconv.Atoi(one) // what is no number is none that can be ordered
			return shop.ChooseCount{Of: of, Set: set, Count: n}, err
		}, sayItemChosen),
		act(ways{pick: "sides"}, func(r *reading) (shop.ChooseSides, error) {
			of, set, one, err := r.item()
			return shop.ChooseSides{Of: of, Set: set, Sides: quote.Sides(one)}, err
		}, sayItemChosen),
		look(ways{pick: "item"}, func(r *reading) (shop.Items, error) {
			_, err := r.one("pick one set")
			return shop.Items{Of: r.of()}, cmp.Or(r.err(), err)
		}, func(a *answer, o shop.ItemList) chat.Reply {
			return sayItem(a, o.Commission, o.Items, a.in.in.Picked[0])
		}),
		look(ways{press: "details"}, func(r *reading) (shop.Details, error) { return shop.Details{Of: r.of()}, r.err() }, sayDetails),
		act(ways{form: "details"}, func(r *reading) (shop.GiveDetails, error) {
			v := r.in.Values
			return shop.GiveDetails{Of: r.of(), Wanted: v["wanted"], Clothing: v["clothing"], Allowance: v["allowance"], Notes: v["notes"], Fittings: v["fittings"]}, r.err()
		}, sayDetailsGiven),
		act(ways{command: "reference", files: true}, func(r *reading) (shop.AddPictures, error) {
			return shop.AddPictures{Of: r.of(), Files: r.in.Files, Words: r.in.Said}, r.err()
		}, sayPicturesAdded),

		// Measuring.
		act(ways{press: "measure"}, func(r *reading) (shop.Measure, error) { return shop.Measure{Of: r.of()}, r.err() }, sayBody),
		look(ways{press: "rest"}, func(r *reading) (shop.Measurements, error) {
			return shop.Measurements{Of: r.of(), Rest: true}, r.err()
		}, sayRest),
		look(ways{press: "correct", menu: correctMenu}, func(r *reading) (shop.Measurements, error) { // "correct/C0007/2" is the second page
			return shop.Measurements{Of: r.of(), From: r.from()}, r.err()
		}, sayCorrect),
		act(ways{form: "rest correct"}, func(r *reading) (shop.GiveMeasurements, error) {
			return shop.GiveMeasurements{Of: r.of(), Typed: r.in.Values}, r.err()
		}, sayBody),
		act(ways{press: "apart"}, func(r *reading) (shop.SetApart, error) { return shop.SetApart{Of: r.of()}, r.err() }, sayApart),
		look(ways{press: "estimate"}, func(r *reading) (shop.HeightAndWeight, error) { return shop.HeightAndWeight{Of: r.of()}, r.err() }, sayStature),
		act(ways{form: "height"}, func(r *reading) (shop.Estimate, error) {
			v := r.in.Values
			return shop.Estimate{Of: r.of(), Adult: adult(v[adultKey]), Height: v[shop.HeightKey], Mass: v[shop.MassKey]}, r.err()
		}, sayBody),
		act(ways{press: "right"}, func(r *reading) (shop.Confirm, error) { return shop.Confirm{Of: r.of()}, r.err() },
			says[shop.Confirmed]("Thank you. The quote is being worked out; it comes to this thread.")),

		// The quote.
		act(ways{press: "approve"}, func(r *reading) (shop.Approve, error) {
			return shop.Approve{OfRevision: r.ofRevision(), Date: r.part(3), Sure: r.part(4) == "sure"}, r.err()
		}, sayApproved),
		act(ways{press: "decline"}, func(r *reading) (shop.Decline, error) { return shop.Decline{OfRevision: r.ofRevision()}, r.err() }, sayDeclined),
		look(ways{press: "change"}, func(r *reading) (shop.Change, error) { return shop.Change{OfRevision: r.ofRevision()}, r.err() }, sayChange),
		act(ways{form: "change"}, func(r *reading) (shop.AskChange, error) {
			return shop.AskChange{OfRevision: r.ofRevision(), Typed: r.in.Values}, r.err()
		}, sayChangeAsked),
		act(ways{press: "requote"}, func(r *reading) (shop.Requote, error) { return shop.Requote{OfRevision: r.ofRevision()}, r.err() }, sayRequested),
		act(ways{press: "again"}, func(r *reading) (shop.TryAgain, error) { return shop.TryAgain{Of: r.of()}, r.err() },
			says[shop.TriedAgain]("It is being worked out again.")),
		act(ways{press: "mend"}, func(r *reading) (shop.Mend, error) { return shop.Mend{Of: r.of()}, r.err() }, sayMended),
		act(ways{command: "cancel", press: "cancel"}, func(r *reading) (shop.Cancel, error) {
			return shop.Cancel{Of: r.of(), Sure: r.part(2) == "sure"}, r.err()
		}, sayCancelled),
		look(ways{press: "thread"}, func(r *reading) (shop.Where, error) { return shop.Where{Of: r.of()}, r.err() }, func(a *answer, s shop.Standing) chat.Reply {
			rep := sayWhere(a, s)
			rep.Thread = s.Commission.Thread
			return rep
		}),
		look(ways{command: "where", when: inThread}, func(r *reading) (shop.Where, error) { return shop.Where{Of: r.of()}, r.err() }, sayWhere),
		look(ways{command: "where"}, func(*reading) (shop.WhereAll, error) { return shop.WhereAll{}, nil }, sayStandings),
		look(ways{command: "orders"}, func(*reading) (shop.Orders, error) { return shop.Orders{}, nil }, sayOrders),

		// Between the client and the studio; what waits for an answer is answered on a page.
		act(ways{words: true}, func(r *reading) (shop.Say, error) { return shop.Say{Of: r.of(), Words: r.in.Said}, r.err() }, says[shop.Said]("")),

		// The bench.
		act(ways{command: "deposit", press: "deposit", menu: ordersMenu}, func(r *reading) (shop.Pay, error) { return shop.Pay{Of: r.of(), Seen: r.part(2)}, r.err() }, sayPaid),
		look(ways{command: "bench"}, func(*reading) (shop.Today, error) { return shop.Today{}, nil }, sayToday),
		act(ways{press: "start", menu: benchMenu}, func(r *reading) (shop.Start, error) {
			return shop.Start{OfOperation: r.ofOperation(), Ask: true, Seen: r.part(3)}, r.err()
		}, sayStarted),
		act(ways{press: "done", menu: benchMenu}, func(r *reading) (shop.Done, error) { return shop.Done{OfOperation: r.ofOperation()}, r.err() }, sayEnded),
		act(ways{press: "handed", menu: ordersMenu}, func(r *reading) (shop.HandOver, error) { return shop.HandOver{Of: r.of()}, r.err() }, sayHandedOver),

		// Appointments.
		act(ways{press: "slot", menu: slotsMenu}, func(r *reading) (shop.PickSlot, error) {
			at, err := r.slot()
			return shop.PickSlot{OfAppointment: r.ofAppointment(), At: at, Anyway: r.part(4) == "anyway", Seen: r.part(5)}, cmp.Or(r.err(), err)
		}, saySlotPicked),
		act(ways{press: "slots"}, func(r *reading) (shop.AskSlots, error) {
			return shop.AskSlots{OfAppointment: r.ofAppointment(), First: r.part(3) == "first"}, r.err()
		}, saySlotsOffered),
		act(ways{press: "hold"}, func(r *reading) (shop.ChooseHow, error) {
			return shop.ChooseHow{OfAppointment: r.ofAppointment(), How: hows[r.part(3)], Seen: r.part(4)}, r.err()
		}, sayHowChosen),
		act(ways{press: "missed", menu: benchMenu}, func(r *reading) (shop.MissSlot, error) {
			return shop.MissSlot{OfAppointment: r.ofAppointment()}, r.err()
		}, saySlotMissed),
		act(ways{press: "calloff"}, func(r *reading) (shop.CallOff, error) {
			return shop.CallOff{OfAppointment: r.ofAppointment(), Seen: r.part(3)}, r.err()
		}, sayCalledOff),

		// The whole shop.
		look(ways{command: "plan"}, func(*reading) (shop.WholePlan, error) { return shop.WholePlan{}, nil }, sayPlan),
		act(ways{press: "replan"}, func(r *reading) (shop.TakeOver, error) {
			return shop.TakeOver{Plan: int64(r.number(1)), Seen: r.part(2)}, nil
		}, sayTakenOver),
		act(ways{press: "tell", menu: planMenu}, func(r *reading) (shop.TellDate, error) {
			return shop.TellDate{Of: r.of(), Date: r.part(2), Sure: r.part(3) == "sure"}, r.err()
		}, sayDateTold),
		look(ways{command: "why"}, func(r *reading) (shop.Why, error) { return shop.Why{Of: r.of()}, r.err() }, sayReasons),
		look(ways{command: "what-if"}, func(r *reading) (shop.WhatIf, error) {
			return shop.WhatIf{Of: r.of(), By: r.in.Values["date"]}, r.err()
		}, sayChoices),
		act(ways{command: "away", press: "away"}, readAway, sayWentAway),
		act(ways{command: "back"}, func(r *reading) (shop.ComeBack, error) { return shop.ComeBack{Maker: r.value("maker")}, nil }, sayCameBack),

		// Cutting.
		act(ways{command: "cutting", when: func(r *reading) bool { return len(splitNumbers(r.in.Values["number"])) > 1 }},
			func(r *reading) (shop.PlanTogether, error) {
				return shop.PlanTogether{Commissions: splitNumbers(r.in.Values["number"])}, nil
			}, sayPlannedTogether),
		look(ways{command: "cutting"}, func(r *reading) (shop.CutFiles, error) {
			return shop.CutFiles{Of: r.of(), Paper: r.in.Values["paper"]}, r.err()
		}, sayCutFiles),
		look(ways{press: "traveller"}, func(r *reading) (shop.Traveller, error) {
			return shop.Traveller{Of: r.of(), Desk: r.d.cfg.Address}, r.err()
		}, sayPrinted),
		look(ways{press: "labels"}, func(r *reading) (shop.Labels, error) {
			return shop.Labels{Of: r.of(), Desk: r.d.cfg.Address}, r.err()
		}, sayPrinted),
		look(ways{press: "offcut-labels"}, func(r *reading) (shop.OffcutLabels, error) {
			return shop.OffcutLabels{Desk: r.d.cfg.Address}, nil
		}, sayPrinted),
		act(ways{press: "cut"}, func(r *reading) (shop.CutTogether, error) {
			return shop.CutTogether{Plan: strings.Join(r.path[1:], "/")}, nil
		}, sayWereCut),
		act(ways{press: "throw"}, func(r *reading) (shop.ThrowAway, error) {
			return shop.ThrowAway{Offcut: r.part(1), Sure: r.part(2) == "sure"}, nil
		}, sayThrownAway),
		act(ways{command: "rack", when: func(r *reading) bool { return r.value("throw") != "" }}, func(r *reading) (shop.ThrowAway, error) {
			return shop.ThrowAway{Offcut: strings.ToUpper(r.value("throw"))}, nil
		}, sayThrownAway),
		act(ways{command: "rack", when: func(r *reading) bool { return r.value("thickness")+r.value("size") != "" }}, rackByHand, sayOffcutRacked),
		look(ways{command: "rack"}, func(*reading) (shop.Rack, error) { return shop.Rack{}, nil }, sayRack),
		act(ways{press: "keep"}, func(r *reading) (shop.RackRest, error) { return shop.RackRest{OfOperation: r.ofOperation()}, r.err() }, sayRestRacked),

		// The library, and where the studio is told.
		act(ways{command: "pattern", when: func(r *reading) bool { return r.value("withdraw") != "" }}, func(r *reading) (shop.Withdraw, error) {
			return shop.Withdraw{Name: strings.ToLower(r.value("withdraw"))}, nil
		}, sayWithdrawn),
		act(ways{command: "pattern"}, func(r *reading) (shop.CheckPattern, error) { return shop.CheckPattern{Files: r.in.Files}, nil }, sayPatternChecked),
		act(ways{press: "shelve"}, func(r *reading) (shop.Shelve, error) { // "shelve/knee-cup/2"
			if len(r.path) != 3 {
				return shop.Shelve{}, refuse("this button no longer works; send the pattern again")
			}
			return shop.Shelve{Name: r.path[1], Version: r.number(2)}, nil
		}, sayShelved),
		act(ways{command: "studio"}, func(r *reading) (shop.Board, error) { return shop.Board{Thread: r.in.Thread}, nil },
			says[shop.BoardSet]("This thread is the studio's notice board now: new commissions, approvals, failures and bells come here.")),

		// People.
		look(ways{command: "people"}, func(*reading) (shop.People, error) { return shop.People{}, nil }, sayPeople),
		act(ways{press: "become-owner"}, func(r *reading) (shop.BecomeOwner, error) {
			return shop.BecomeOwner{Name: r.in.Person.Name}, nil
		}, sayOwnerNamed),
		look(ways{press: "member new-member change-member door", menu: peopleMenu}, func(r *reading) (shop.MemberOf, error) { return shop.MemberOf{Member: r.part(1)}, nil }, sayMember),
		act(ways{form: "member", when: func(r *reading) bool { return r.part(1) != "" }}, func(r *reading) (shop.ChangeMember, error) {
			v := r.in.Values
			return shop.ChangeMember{Member: r.part(1), Name: v[nameKey], Roles: roles(v), Bench: v[benchKey]}, nil
		}, sayMemberChanged),
		act(ways{form: "member"}, func(r *reading) (shop.AddMember, error) {
			v := r.in.Values
			return shop.AddMember{Name: v[nameKey], Roles: roles(v), Bench: v[benchKey]}, nil
		}, sayMemberAdded),
		act(ways{press: "let-go"}, func(r *reading) (shop.LetGo, error) { return shop.LetGo{Member: r.part(1)}, nil }, sayLetGo),
		act(ways{press: "sign-in"}, func(r *reading) (shop.MakeSignIn, error) { return shop.MakeSignIn{Member: r.part(1)}, nil }, saySignInMade),
		act(ways{press: "end-session", menu: sessionsMenu}, func(r *reading) (shop.EndSession, error) {
			return shop.EndSession{Session: r.session()}, nil
		}, saySessionEnded),
		act(ways{press: "code"}, func(*reading) (shop.MakeCode, error) { return shop.MakeCode{}, nil }, sayCode),
		act(ways{command: "member"}, func(r *reading) (shop.UseCode, error) { return shop.UseCode{Code: r.value("code")}, nil }, sayPersonLinked),
		act(ways{form: "door"}, func(r *reading) (shop.LinkPerson, error) {
			return shop.LinkPerson{Member: r.part(1), Person: chat.PersonID(r.value("person"))}, nil
		}, sayPersonNamed),
		act(ways{command: "for-client"}, func(r *reading) (shop.AskFor, error) {
			if r.d.cfg.Link == nil {
				return shop.AskFor{}, refuse("a client comes in by a link, and the desk in the browser is off; set BENCHBELL_LISTEN first")
			}
			return shop.AskFor{Client: r.value("name"), Set: r.in.Values["set"]}, nil
		}, sayAskedFor),
		act(ways{command: "private-link", press: "link"}, func(r *reading) (shop.MakeClientLink, error) { return shop.MakeClientLink{Of: r.of()}, r.err() }, sayClientLink),
		act(ways{press: "end-links"}, func(r *reading) (shop.EndClientLinks, error) { return shop.EndClientLinks{Of: r.of()}, r.err() }, sayLinksEnded),
		act(ways{command: "calendar", press: "member-calendar", when: func(r *reading) bool { return r.in.Press != "" || r.in.Person.Studio && !inThread(r) }},
			func(r *reading) (shop.MakeCalendarLink, error) { return shop.MakeCalendarLink{Member: r.part(1)}, nil }, sayCalendarLink),
		act(ways{command: "calendar", press: "calendar"}, func(r *reading) (shop.MakeClientCalendarLink, error) {
			return shop.MakeClientCalendarLink{Of: r.of()}, r.err()
		}, sayClientCalendarLink),
		act(ways{press: "end-member-calendar"}, func(r *reading) (shop.EndCalendarLinks, error) { return shop.EndCalendarLinks{Member: r.part(1)}, nil }, sayCalendarLinksEnded),
		act(ways{press: "end-calendar"}, func(r *reading) (shop.EndClientCalendarLinks, error) {
			return shop.EndClientCalendarLinks{Of: r.of()}, r.err()
		}, sayClientCalendarLinksEnded),
	}
}
