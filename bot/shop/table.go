package shop

import (
	"fmt"

	"benchbell/bot/ledger"
	"benchbell/quote"
)

// states are all there are, in the order of a commission's life.
var states = []ledger.State{ledger.Choosing, ledger.Measuring, ledger.Checking, ledger.Computing, ledger.Failed, ledger.Quoted, ledger.Expired,
	ledger.Approved, ledger.Working, ledger.Ready, ledger.Delivered, ledger.Declined, ledger.Cancelled}

// Where acts of the table begin and what refuses elsewhere; those of one file only stand there.
var (
	failed     = []ledger.State{ledger.Failed}
	unfinished = states[:9:9]
)

// everyElse has one refusal for every state.
func everyElse(k Kind) map[ledger.State]Kind {
	out := map[ledger.State]Kind{}
	for _, s := range states {
		out[s] = k
	}
	return out
}

// about is whose commission an act is about.
func about[A interface{ of() quote.CommissionID }](a A) quote.CommissionID { return a.of() }

// as is the doing of a question whose preparation is the answer.
func as[A, O any](_ *job, _ ledger.Commission, _ A, o O) (O, error) { return o, nil }

// revisionOf is the world of what is computed for one revision.
func revisionOf[A any](_ *job, c ledger.Commission, _ A) (string, error) {
	return fmt.Sprint(c.ID, " ", c.Revision), nil
}

// worldInPlan is the world of what is computed for the whole shop plan.
func worldInPlan[A any](j *job, c ledger.Commission, a A) (string, error) {
	world, err := j.world()
	return fmt.Sprintln(c.ID, c.Revision, world), err
}

// promiseOf is the world of what is computed for one promise.
func promiseOf(_ *job, c ledger.Commission, _ TellDate) (string, error) { return c.Promise, nil }

// table has a row for each act and each question, in the order of the work.
var table = []entry{
	// Choosing.
	free(Row{Name: "ask", Who: Comers}, ask),
	row(Row{Name: "choose sets", Who: Owner, From: drafts, Else: draftsElse}, chooseSets),
	row(Row{Name: "choose how many", Who: Owner, From: drafts, Else: draftsElse}, chooseCount),
	row(Row{Name: "choose sides", Who: Owner, From: drafts, Else: draftsElse}, chooseSides),
	row(Row{Name: "choose finish", Who: Owner, From: drafts, Else: draftsElse}, chooseFinish),
	row(Row{Name: "items", Who: Owner, Reads: true, From: drafts, Else: draftsElse}, listItems),
	row(Row{Name: "details", Who: Owner, Reads: true, From: drafts, Else: draftsElse}, details),
	row(Row{Name: "give details", Who: Owner, From: drafts, Else: draftsElse}, giveDetails),
	row(Row{Name: "add pictures", Who: Shown, From: append(unfinished, ledger.Ready), Else: everyElse(TooLate)}, addPictures),

	// Measuring.
	row(Row{Name: "measure", Who: Owner, From: drafts, Else: draftsElse}, startMeasuring),
	row(Row{Name: "measurements", Who: Owner, Reads: true, From: measuring, Else: measuringElse}, measurements),
	row(Row{Name: "give measurements", Who: Owner, From: measuring, Else: measuringElse}, giveMeasurements),
	row(Row{Name: "measure sides apart", Who: Owner, From: measuring, Else: measuringElse}, setApart),
	row(Row{Name: "height and weight", Who: Owner, Reads: true, From: measuring, Else: measuringElse}, stature),
	row(Row{Name: "estimate", Who: Owner, From: measuring, Else: measuringElse}, estimate),
	&rule[Confirm, none, Confirmed]{Row: Row{Name: "confirm", Who: Owner, From: []ledger.State{ledger.Checking}, Else: with(draftsElse, map[ledger.State]Kind{
		ledger.Choosing: Incomplete, ledger.Measuring: Incomplete, ledger.Computing: ConfirmedAlready})}, of: about[Confirm], prepare: fits, world: bodyNow, do: confirm},

	// The quote.
	&rule[Approve, anew, Approved]{Row: Row{Name: "approve", Who: Owner, From: quoted, Else: quotedElse, Alone: true}, of: about[Approve],
		first: func(j *job, c ledger.Commission, a Approve) error { return decidable(j, c, a.Revision) }, prepare: dateAnew, world: worldInPlan[Approve], do: approve},
	decision(Row{Name: "decline", Who: Owner}, decline),
	decision(Row{Name: "change", Who: Owner, Reads: true}, changeSheet),
	decision(Row{Name: "ask for a change", Who: Owner}, askChange),
	decision(Row{Name: "requote", Who: Owner}, requote),
	row(Row{Name: "try again", Who: Owner, From: failed, Else: with(everyElse(NothingToRetry), map[ledger.State]Kind{ledger.Computing: BeingComputed})}, tryAgain),
	row(Row{Name: "mend", Who: Owner, From: failed, Else: with(draftsElse, map[ledger.State]Kind{
		ledger.Choosing: OpenAlready, ledger.Measuring: OpenAlready, ledger.Checking: OpenAlready})}, mend),
	row(Row{Name: "cancel", Who: Owner, From: unfinished, Else: with(closedElse, map[ledger.State]Kind{ledger.Ready: Finished})}, cancel),
	row(Row{Name: "ordered", Who: Owner, Reads: true, Page: true}, ordered),
	row(Row{Name: "paper", Who: Owner, Reads: true, Page: true}, paper),
	row(Row{Name: "photograph", Who: Owner, Reads: true, Page: true}, photograph),
	row(Row{Name: "where", Who: Shown, Reads: true}, where),
	free(Row{Name: "where all", Who: Anybody, Reads: true}, whereAll),
	free(Row{Name: "orders", Who: Studio, Reads: true}, orders),
	free(Row{Name: "find orders", Who: Studio, Reads: true, Page: true}, findOrders),
	row(Row{Name: "folder", Who: Studio, Reads: true, Page: true}, folder),
	row(Row{Name: "document", Who: Studio, Reads: true, Page: true}, documentOf),

	// Between the client and the studio.
	row(Row{Name: "say", Who: Shown}, say),
	free(Row{Name: "messages", Who: Studio, Reads: true, Page: true}, messages),
	free(Row{Name: "answer", Who: FrontDesk, Page: true}, answer),
	free(Row{Name: "mark as read", Who: FrontDesk, Page: true}, markRead),

	// The bench.
	&rule[Pay, planned, Paid]{Row: Row{Name: "pay", Who: FrontDesk, From: []ledger.State{ledger.Approved}, Else: with(everyElse(NotApproved), approvedElse), Alone: true}, of: about[Pay], prepare: planIn, world: worldInPlan[Pay], do: pay},
	free(Row{Name: "today", Who: Studio, Reads: true}, today),
	free(Row{Name: "day", Who: Studio, Reads: true, Page: true}, dayAtBench),
	&rule[Days, ComingDays, ComingDays]{Row: Row{Name: "days", Who: Studio, Reads: true, Page: true}, prepare: comingDays, do: as[Days, ComingDays]},
	&rule[Start, change, Started]{Row: Row{Name: "start", Who: Makers, From: working, Else: workingElse}, of: about[Start], prepare: canStart, do: start},
	row(Row{Name: "done", Who: Makers, From: working, Else: workingElse}, done),
	row(Row{Name: "pause", Who: Makers, From: working, Else: workingElse, Page: true}, pause),
	row(Row{Name: "take back", Who: Makers, From: atWork, Else: meetingElse, Page: true}, takeBack),
	&rule[Rework, change, WentBack]{Row: Row{Name: "send back", Who: Makers, From: atWork, Else: meetingElse, Page: true, Alone: true}, of: about[Rework],
		prepare: canRework, world: worldOfRework, do: rework},
	&rule[Abrade, change, AbradePlanned]{Row: Row{Name: "abrade", Who: Makers, From: working, Else: workingElse, Page: true, Alone: true}, of: about[Abrade],
		prepare: canAbrade, world: worldInPlan[Abrade], do: abrade},
	free(Row{Name: "say the air", Who: Makers, Page: true}, sayAir),
	row(Row{Name: "step", Who: Studio, Reads: true, From: logged, Else: loggedElse, Page: true}, step),
	row(Row{Name: "correct hours", Who: Makers, From: logged, Else: loggedElse, Page: true}, correctHours),
	row(Row{Name: "hand over", Who: FrontDesk, From: []ledger.State{ledger.Ready}, Else: everyElse(NotFinished)}, handOver),

	// Appointments.
	&rule[PickSlot, met, SlotPicked]{Row: Row{Name: "pick a slot", Who: Owner, From: atWork, Else: meetingElse, Alone: true}, of: about[PickSlot],
		prepare: canPick, world: worldInPlan[PickSlot], do: pickSlot},
	&rule[AskSlots, met, SlotsOffered]{Row: Row{Name: "ask for other slots", Who: Owner, From: atWork, Else: meetingElse, Alone: true}, of: about[AskSlots],
		prepare: otherSlots, world: worldInPlan[AskSlots], do: askSlots},
	&rule[ChooseHow, change, HowChosen]{Row: Row{Name: "choose how", Who: Owner, From: atWork, Else: meetingElse, Alone: true}, of: about[ChooseHow],
		prepare: canHold, world: worldInPlan[ChooseHow], do: chooseHow},
	&rule[MissSlot, change, SlotMissed]{Row: Row{Name: "miss a slot", Who: Studio, From: atWork, Else: meetingElse, Alone: true}, of: about[MissSlot],
		prepare: canMiss, world: worldInPlan[MissSlot], do: missSlot},
	&rule[CallOff, change, CalledOff]{Row: Row{Name: "call a slot off", Who: FrontDesk, From: atWork, Else: meetingElse, Alone: true}, of: about[CallOff],
		prepare: canCallOff, world: worldInPlan[CallOff], do: callOff},

	// The whole shop.
	&rule[WholePlan, whole, Plan]{Row: Row{Name: "plan", Who: Studio, Reads: true, Alone: true}, prepare: toLookAt, do: wholePlan},
	&rule[TakeOver, whole, TakenOver]{Row: Row{Name: "take a plan over", Who: Studio, Alone: true},
		prepare: plannedAs, world: worldAtWork, do: takeOver},
	&rule[TellDate, telling, DateTold]{Row: Row{Name: "tell a date", Who: FrontDesk, From: []ledger.State{ledger.Approved, ledger.Working}, Alone: true}, of: about[TellDate],
		prepare: canTell, world: promiseOf, do: tellDate},
	&rule[Why, whole, Reasons]{Row: Row{Name: "why", Who: Studio, Reads: true, From: working, Else: everyElse(NotInWork)}, of: about[Why],
		prepare: asItIs, do: why},
	&rule[WhatIf, Choices, Choices]{Row: Row{Name: "what if", Who: Studio, Reads: true, From: working, Else: everyElse(NotInWork)}, of: about[WhatIf],
		prepare: whatIf, do: as[WhatIf, Choices]},
	&rule[GoAway, absence, WentAway]{Row: Row{Name: "be away", Who: Studio, Alone: true}, prepare: without, world: worldWithout, do: goAway},
	free(Row{Name: "be back", Who: Studio}, comeBack),

	// Cutting.
	&rule[CutFiles, CutSet, CutSet]{Row: Row{Name: "cut files", Who: Studio, Reads: true}, of: about[CutFiles], prepare: makeCutFiles,
		do: as[CutFiles, CutSet]},
	&rule[Traveller, Printed, Printed]{Row: Row{Name: "traveller", Who: Studio, Reads: true}, of: about[Traveller], prepare: printing(makeTraveller), do: as[Traveller, Printed]},
	&rule[Labels, Printed, Printed]{Row: Row{Name: "labels", Who: Studio, Reads: true}, of: about[Labels], prepare: printing(makeLabels), do: as[Labels, Printed]},
	&rule[PlanTogether, PlannedTogether, PlannedTogether]{Row: Row{Name: "plan cutting", Who: Studio}, prepare: nestTogether, do: planTogether},
	free(Row{Name: "cut together", Who: Makers}, cutTogether),
	free(Row{Name: "rack", Who: Studio, Reads: true}, rack),
	&rule[OffcutLabels, Printed, Printed]{Row: Row{Name: "label offcuts", Who: Studio, Reads: true}, prepare: makeOffcutLabels, do: as[OffcutLabels, Printed]},
	free(Row{Name: "rack an offcut", Who: Makers}, rackOffcut),
	free(Row{Name: "throw away", Who: Makers}, throwAway),
	&rule[RackRest, []quote.Offcut, RestRacked]{Row: Row{Name: "rack a rest", Who: Makers}, of: about[RackRest], first: cutAlone,
		prepare: rests, world: revisionOf[RackRest], do: rackRest},

	// The library, and where the studio is told.
	&rule[CheckPattern, PatternChecked, PatternChecked]{Row: Row{Name: "check a pattern", Who: Makers}, prepare: inspect, do: checkPattern},
	free(Row{Name: "shelve a pattern", Who: Makers, Shelves: true}, shelve),
	free(Row{Name: "withdraw a pattern", Who: Makers, Shelves: true}, withdraw),
	free(Row{Name: "set the notice board", Who: FrontDesk}, setBoard),

	// People.
	free(Row{Name: "people", Who: Studio, Reads: true}, people),
	free(Row{Name: "become the owner", Who: Head}, becomeOwner),
	free(Row{Name: "member", Who: Self, Reads: true}, memberOf),
	free(Row{Name: "add a member", Who: Head}, addMember),
	free(Row{Name: "change a member", Who: Head}, changeMember),
	free(Row{Name: "let go", Who: Head}, letGo),
	free(Row{Name: "make a sign-in link", Who: Self}, makeSignIn),
	free(Row{Name: "end a session", Who: Self}, endSession),
	free(Row{Name: "make a code", Who: Studio}, makeCode),
	free(Row{Name: "use a code", Who: Comers}, useCode),
	free(Row{Name: "link a person", Who: Head}, linkPerson),
	free(Row{Name: "ask for a client", Who: FrontDesk}, askFor),
	row(Row{Name: "make a client's link", Who: Owner}, makeClientLink),
	row(Row{Name: "end a client's links", Who: Owner}, endClientLinks),
	free(Row{Name: "make a calendar link", Who: Self}, makeCalendarLink),
	free(Row{Name: "end calendar links", Who: Self}, endCalendarLinks),
	row(Row{Name: "make a client's calendar link", Who: Owner}, makeClientCalendarLink),
	row(Row{Name: "end a client's calendar links", Who: Owner}, endClientCalendarLinks),
	free(Row{Name: "sign in", Who: Anybody, Door: true}, signIn),
	free(Row{Name: "leave", Who: Anybody, Door: true}, leave),
}
