package desk

import (
	"fmt"
	"strings"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/quote"
	"benchbell/quote/geom"
)

// refuse makes a sentence for the person.
func refuse(format string, args ...any) error {
	return &chat.Refusal{Say: fmt.Sprintf(format, args...)}
}

// refusal words what the shop refuses.
func (w words) refusal(in chat.Incoming, no *shop.Refusal) string {
	if say, ok := refusals[no.Kind]; ok {
		return say(w, in, no)
	}
	return "this cannot be done now; use “where” to see what can"
}

type saying func(w words, in chat.Incoming, no *shop.Refusal) string

// fixed is a sentence that says the same each time.
func fixed(say string) saying { return func(words, chat.Incoming, *shop.Refusal) string { return say } }

// named is a sentence with the name that was given.
func named(format string) saying {
	return func(_ words, _ chat.Incoming, no *shop.Refusal) string { return fmt.Sprintf(format, no.Name) }
}

// commissioned is a sentence with the commission's number.
func commissioned(format string) saying {
	return func(_ words, _ chat.Incoming, no *shop.Refusal) string { return fmt.Sprintf(format, no.Commission.ID) }
}

// stated is a sentence with the commission's number and state.
func stated(format string) saying {
	return func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf(format, no.Commission.ID, stateWords[no.Commission.State])
	}
}

// caused is a sentence with a reader's own.
func caused(format string) saying {
	return func(_ words, _ chat.Incoming, no *shop.Refusal) string { return fmt.Sprintf(format, no.Cause) }
}

// refusals has a sentence for each kind: lower case, no full stop, saying what would be right.
var refusals = map[shop.Kind]saying{
	shop.OnlyStudio: func(_ words, in chat.Incoming, _ *shop.Refusal) string {
		if in.Command != "" {
			return "“" + in.Command + "” is only for the studio; use “where” to see how your commission stands"
		}
		return "only the studio can do this"
	},
	shop.NotYours:     commissioned("%s is not one of your commissions; use “where” to see yours"), // and never whose it is
	shop.NoCommission: named("there is no commission %q; they are numbered like C0007"),
	shop.Closed: func(w words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("%s was %s on %s", no.Commission.ID, stateWords[no.Commission.State], w.when(no.Commission.ChangedAt))
	},
	shop.NotNow: stated("%s is %s"),
	shop.TooLate: func(w words, in chat.Incoming, no *shop.Refusal) string {
		if no.Act == "add pictures" {
			return stated("%s is %s; pictures cannot be added any more")(w, in, no)
		}
		return stated("%s is %s, so this cannot be changed any more")(w, in, no)
	},
	shop.QuotedAlready: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("%s has a quote already; press Ask for a change under revision %d", no.Commission.ID, no.Commission.Revision)
	},
	shop.Moved: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		switch no.Act {
		case "take a plan over":
			return "the bench has just moved on; press Replan again"
		case "pay":
			return fmt.Sprintf("%s has just been changed; confirm the deposit again", no.Commission.ID)
		}
		return fmt.Sprintf("%s has just been changed; press again", no.Commission.ID)
	},
	shop.DoneBefore: fixed("this was done before; use “where” to see how it stands now"),

	// Choosing.
	shop.UnknownSet: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("there is no pattern set %q; the library has %s", no.Name, strings.Join(no.Names, ", "))
	},
	shop.NoSets: func(_ words, in chat.Incoming, no *shop.Refusal) string {
		if no.Act == "choose sets" {
			return "pick at least one pattern set"
		}
		return "pick at least one pattern set from the menu first"
	},
	shop.NoFinish:       fixed("pick a finish from the menu first"),
	shop.NoCommonFinish: fixed("no finish suits all of these sets; ask for them in separate commissions"),
	shop.UnknownFinish: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		return noFinish(no.Name, no.Names)
	},
	shop.NotOnList: named("%s is not on the list; pick it from the menu of pattern sets first"),
	shop.BadCount: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("the number must be from 1 to %d", no.Most)
	},
	shop.NoSides:  named("%s has no left and right"),
	shop.BadSides: fixed("pick a pair, left or right"),
	shop.NeedsMending: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		what := map[string]string{"wanted": "the wanted-by date", "clothing": "what is worn beneath", "allowance": "the extra to trim at a fitting"}[no.Name]
		return fmt.Sprintf("please correct %s under Details: %s", what, no.Cause)
	},
	shop.NoPictures:     fixed("attach a picture: PNG, JPEG, GIF or WebP"),
	shop.NoPicture:      named("%q is not a picture; send PNG, JPEG, GIF or WebP"),
	shop.BadPictureSize: named("%q is empty or too large; send a picture of up to 8 MB"),
	shop.EnoughPictures: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("%s has %d reference pictures, the most it can hold", no.Commission.ID, no.Count)
	},

	// Measuring.
	shop.ChooseFirst: fixed("choose sets and finish first, then press Go on"),
	shop.Incomplete: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		if no.Name != "" {
			return no.Name + " is still missing; press Give measurements"
		}
		return "not all measurements are in yet; press Give measurements"
	},
	shop.Complete: fixed("all measurements are in; check them in the thread, or press Correct them there"),
	shop.NoSuchPage: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("there are only %d measurements", no.Count)
	},
	shop.AskedPerSide:     named("left and right are now asked for separately; “%s” is filled in for both, so check each side"),
	shop.AskedOnce:        named("one value is now asked for both sides; the larger, “%s”, is filled in, so check it"),
	shop.ConfirmedAlready: commissioned("the measurements of %s are confirmed and its quote is being worked out"),
	shop.AdultUnknown:     fixed("say whether the wearer is an adult: yes or no"),
	shop.NotForChildren:   fixed("nothing is estimated for children, who differ too much; have an adult measure the wearer, and measure again before every order"),
	shop.NotUnderstood: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("the %s could not be read: %s", no.Name, no.Cause)
	},
	shop.Misfit:     caused("%s"),
	shop.Impossible: caused("%s"),

	// The quote.
	shop.DecidedAlready: func(w words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("revision %d of %s was already approved on %s by %s", no.Approval.Revision, no.Commission.ID, w.when(no.Approval.At), no.Approval.Name)
	},
	shop.NoRevision: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("%s has no revision %d", no.Commission.ID, no.Revision)
	},
	shop.Superseded: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("revision %d was replaced by revision %d", no.Revision, no.Commission.Revision)
	},
	shop.BeingComputed: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		still := "still "
		if no.Act == "try again" {
			still = ""
		}
		return fmt.Sprintf("revision %d of %s is %sbeing worked out", no.Commission.Revision, no.Commission.ID, still)
	},
	shop.SetAside: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("revision %d is set aside while %s is changed; a new revision follows once the measurements are confirmed", no.Revision, no.Commission.ID)
	},
	shop.RunOut: func(w words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("the quote was valid until %s; press Quote again under it for today's price and date", w.until(no.Until))
	},
	shop.StillValid: func(w words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("revision %d is valid until %s; approve it, or ask for a change", no.Revision, w.until(no.Until))
	},
	shop.NothingDiffers: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("nothing in it differs from revision %d; say what should change", no.Revision)
	},
	shop.OpenAlready:    commissioned("%s is open for changes already"),
	shop.NothingToRetry: stated("%s is %s; there is nothing to try again"),
	shop.Finished:       commissioned("%s is finished and cannot be cancelled"),
	shop.InWork:         commissioned("%s is already being made; ask the studio to cancel it"),
	shop.NothingSaid: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("write 1 to %d characters", no.Most)
	},
	shop.NoDocument: commissioned("%s has no such document; look at its page anew"),
	shop.NoMessage: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("there is no message %d; look at the page anew", no.Count)
	},
	shop.AnsweredAlready: func(w words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("%s has dealt with this on %s", no.Name, w.when(no.Until))
	},
	shop.NothingYet: fixed("you have no commission yet; start with “commission”"),

	// The bench.
	shop.PaidAlready: func(w words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("the deposit of %s was confirmed on %s", no.Commission.ID, w.when(no.Commission.DepositAt))
	},
	shop.NotApproved: stated("%s is %s; a deposit can be confirmed once its quote is approved"),
	shop.NotPaid:     commissioned("the deposit of %s is not confirmed yet"),
	shop.NotFinished: stated("%s is %s; it can be handed over once it is finished"),
	shop.NoOperation: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("%s has no operation %d; use “bench” for today's", no.Commission.ID, no.Count)
	},
	shop.OpDone: func(w words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("“%s” of %s was done on %s", no.Operation.Words(), no.Commission.ID, w.when(no.Operation.DoneAt))
	},
	shop.OpRunning: func(w words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("“%s” of %s was started on %s", no.Operation.Words(), no.Commission.ID, w.when(no.Operation.StartedAt))
	},
	shop.OpWaits: func(w words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("“%s” of %s cannot be done yet: %s", no.Operation.Words(), no.Commission.ID, w.waits(*no.Wait))
	},
	shop.OpPaused: func(w words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("“%s” of %s was put down on %s; start it to take it up again", no.Operation.Words(), no.Commission.ID, w.when(no.Operation.PausedAt))
	},
	shop.NotInHand: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("“%s” of %s is not in hand; start it first", no.Operation.Words(), no.Commission.ID)
	},
	shop.RestsOn: func(w words, _ chat.Incoming, no *shop.Refusal) string {
		say := fmt.Sprintf("“%s” of %s stays done: ", no.Operation.Words(), no.Commission.ID)
		switch {
		case no.Wait != nil:
			return say + fmt.Sprintf("“%s” was begun after it; take that back first", no.Wait.For.Words())
		case len(no.Names) > 0:
			return say + "what its sheets left is on the rack (" + listed(no.Names) + "); throw it away first"
		case no.Appointment.State == ledger.ApptKept:
			return say + "the client was there, and that has happened"
		}
		return say + fmt.Sprintf("the client comes to collect the finished work on %s; call that off first", w.when(no.Appointment.At))
	},
	shop.NotDone: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("“%s” of %s is not done yet; only what is done can go back", no.Operation.Words(), no.Commission.ID)
	},
	shop.NotAgain: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("“%s” of %s is a meeting with the client; send back the step that must be done again", no.Operation.Words(), no.Commission.ID)
	},
	shop.NoReason: fixed("say in a few words why it goes back, such as “primer lifted”"),
	shop.NoPiece: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("“%s” of %s has no piece %q; pick from its list", no.Operation.Words(), no.Commission.ID, no.Name)
	},
	shop.NotMissed: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("no window before “%s” of %s was missed; the coat can go on as it is", no.Operation.Words(), no.Commission.ID)
	},
	shop.AbradedAlready: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("“%s” of %s is planned already", no.Operation.Words(), no.Commission.ID)
	},
	shop.BadAir: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("“%s” is not the air of a workshop: %v", no.Name, no.Cause)
	},
	shop.BadMinutes: named("%q is no time of work; write it as 35, 1:20 or 1 h 20 min, at most 24 h"),
	shop.NoSpell: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("“%s” of %s has no such stretch of work any more; look at it anew", no.Operation.Words(), no.Commission.ID)
	},
	shop.NothingToTryOn: func(w words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("the %s of %s could not take place: %s; call it off instead, and the client is told that it is not for them", strings.ToLower(what(no.Appointment)),
			no.Commission.ID, w.waits(*no.Wait))
	},

	// Appointments.
	shop.NoAppointment: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("%s has no such appointment; use “where” to see how it stands", no.Commission.ID)
	},
	shop.AppointmentOver: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("this %s of %s is over; use “where” to see how it stands", strings.ToLower(what(no.Appointment)), no.Commission.ID)
	},
	shop.SlotHurts: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("with that time %s would be ready by %s, after the date promised; take another, or that one all the same", no.Commission.ID, quote.DateWords(no.Name))
	},
	shop.SlotGone: func(w words, _ chat.Incoming, no *shop.Refusal) string {
		return w.unfit(no) + "; pick another time"
	},
	shop.SlotStale: func(w words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("%s is not among the times offered now; pick one of these", w.slotWords(no.Until))
	},
	shop.NotPicked: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("no time is picked for the %s of %s", strings.ToLower(what(no.Appointment)), no.Commission.ID)
	},
	shop.NotYet: func(w words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("the %s of %s is on %s; say that nobody came once that is over", strings.ToLower(what(no.Appointment)), no.Commission.ID, w.when(no.Until))
	},
	shop.NoSuchWay: fixed("a fitting is held in the workshop or by pictures, and what is finished is collected or posted"),
	shop.HeldSo: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("the %s of %s is %s already", strings.ToLower(what(no.Appointment)), no.Commission.ID, whereHeld[no.Appointment.How])
	},

	// The whole shop.
	shop.PlanReplaced: fixed("the shop has changed since this plan was made; use “plan” to see how it stands now"),
	shop.DateToTell: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("the date that can be kept for %s is now %s; tell that one", no.Commission.ID, quote.DateWords(no.Name))
	},
	shop.NotInDanger: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("the date promised for %s, %s, is not in danger; there is nothing to tell", no.Commission.ID, quote.DateWords(no.Commission.Promise))
	},
	shop.NotInWork: stated("%s is %s; ask about one that is being made"),
	shop.NoDay:     fixed("say by which day, such as 12 December"),
	shop.BadDay:    caused("%s"),
	shop.TooMuchOpen: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		what := "operations"
		if no.Name == "projects" {
			what = "commissions"
		}
		return fmt.Sprintf("%d %s are open, and at most %d can be planned together; hand over what is finished, or cancel what will not be made, and try again", no.Count, what, no.Most)
	},
	shop.NotPlanned: caused("%s"),
	shop.NoMaker: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		if no.Name == "" {
			return "say who is away: " + orNone(no.Names)
		}
		return fmt.Sprintf("no maker is called %q; the studio has %s", no.Name, orNone(no.Names))
	},
	shop.BadDays: caused("%s"),
	shop.DaysBackwards: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("the last day, %s, is before the first, %s; give them the other way round", quote.DateWords(no.Until.Format("2006-01-02")), quote.DateWords(no.Name))
	},
	shop.NobodyAway: named("%s is not away; there is nothing to change"),
	shop.Grave: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		switch {
		case no.Offcut.ID != "":
			return fmt.Sprintf("throwing %s away cannot be taken back, so it is done only by somebody who is sure", no.Offcut.ID)
		case no.Revision > 0:
			return fmt.Sprintf("approving %s for %s cannot be taken back, so it is done only by somebody who is sure", no.Commission.ID, no.Commission.ClientName)
		}
		return fmt.Sprintf("what %s is told of %s cannot be taken back, so it is told only by somebody who is sure", no.Commission.ClientName, no.Commission.ID)
	},
	shop.PaidFor: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("the deposit for %s is in, so it is cancelled only by somebody who is sure; press Cancel there and read what it gives up", no.Commission.ID)
	},
	shop.Hurts: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		switch {
		case no.Away.Maker != "":
			return fmt.Sprintf("without %s a promise would be in danger; look at it and decide", no.Name)
		case no.Act == "pay":
			return fmt.Sprintf("with the work on %s begun, a promise would be in danger; look at it and decide", no.Commission.ID)
		}
		return "this would put a promise in danger; look at it and decide"
	},
	shop.DateMoved: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("the date of %s is now %s; approve it with that date", no.Commission.ID, quote.DateWords(no.Name))
	},

	// Cutting.
	shop.NotQuoted:     commissioned("%s is not quoted yet; there is nothing to cut from before its pieces are worked out"),
	shop.NoCuttingPlan: fixed("this plan is no longer kept; use “cutting” with the commissions' numbers again"),
	shop.CannotCut: func(w words, _ chat.Incoming, no *shop.Refusal) string {
		return w.against(*no.Against) + "; make a plan without it"
	},
	shop.Changed:  commissioned("%s has changed since the plan was made; use “cutting” again"),
	shop.NoOffcut: named("there is no offcut %q; use “rack” for the list"),
	shop.OffcutUsed: func(w words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("offcut %s was used on %s, with %s", no.Offcut.ID, w.when(no.Offcut.At), no.Offcut.UsedIn) + cuttingAgain(no)
	},
	shop.OffcutThrown: func(w words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("offcut %s was thrown away on %s", no.Offcut.ID, w.when(no.Offcut.At)) + cuttingAgain(no)
	},
	shop.NothingLeft: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("operation %d of %s has left nothing; the rest goes on the rack once foam is cut", no.Count, no.Commission.ID)
	},
	shop.CutWith: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("%s was cut with %s; what remained is on the rack", no.Commission.ID, no.Cutting.ID)
	},
	shop.NotCuttable:  caused("%s"),
	shop.NotPrintable: caused("%s"),
	shop.TooLarge: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("%s has %d MB, more than a message holds; cut fewer commissions at once, choose a larger paper, or compute the quote's files with the worker", no.Name, no.Count>>20)
	},
	shop.NotSold: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("the studio does not work with %s foam; give one of: %s", no.Width, orNone(no.Names))
	},
	shop.OddSize: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("an offcut of %s × %s is not kept; each side must be from %s to %s", no.Width, no.Height, geom.MM(shop.LeastOffcut), geom.MM(shop.MostOffcut))
	},

	// The library and the notice board.
	shop.NoDrawing:     fixed("attach the drawing of a pattern, SVG or DXF, and its pattern.toml if there is one"),
	shop.NoPatternFile: named("%q is neither a drawing (.svg, .dxf) nor a spec sheet (.toml)"),
	shop.NameTaken:     named("the library has a set named %q; give yours another name in pattern.toml"),
	shop.NoVersion: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("version %d of %q is not known; send the pattern again", no.Count, no.Name)
	},
	shop.BuiltIn:       named("%q comes with the program and cannot be withdrawn"),
	shop.NoThread:      fixed("give this command in the thread that is to be the studio's notice board"),
	shop.ClientsThread: fixed("this thread belongs to a client's commission; choose one that only the studio reads"),

	// People.
	shop.NotYourPart: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		return "this is for " + someRoles(no.Names) + "; ask one of them to do it"
	},
	shop.NotAMember:   fixed("you are not known as a member of this studio; ask its owner for a code, and use “member” with it"),
	shop.OnlyThis:     named("this link is for %s alone; ask the studio for another commission"),
	shop.NoOwnerYet:   fixed("nobody is named yet; the first to be named is the owner, under “people”"),
	shop.OwnerAlready: fixed("the studio has an owner already; ask them for a sign-in link"),
	shop.NoMember:     named("no member of the studio is %q; use “people” for the list"),
	shop.NoName: func(_ words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("a name needs 1 to %d characters", no.Most)
	},
	shop.SameName:  named("somebody in the studio is called %s already; add a family name, so that everybody knows who signed"),
	shop.NoRole:    fixed("say what they do: maker, front desk or owner, at least one of them"),
	shop.LastOwner: named("%s is the only owner; make somebody else an owner first"),
	shop.GoneAlready: func(w words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("%s was let go on %s; add them again if they are back", no.Name, w.when(no.Until))
	},
	shop.LinkUnknown: fixed("this link opens nothing; copy it whole, or ask the studio for another"),
	shop.LinkUsed: func(w words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("this link was used on %s, and signs somebody in only once; ask the studio's owner for another", w.when(no.Until))
	},
	shop.LinkExpired: func(w words, _ chat.Incoming, no *shop.Refusal) string {
		return fmt.Sprintf("this link counted until %s; ask the studio for another", w.when(no.Until))
	},
	shop.LinkEnded:    fixed("this link was ended; ask the studio for another"),
	shop.CodeUnknown:  fixed("this code does not count; a code counts for ten minutes and once, so make another under “people”"),
	shop.NoSession:    fixed("this device is signed out already"),
	shop.NoSuchPerson: named("%q is nobody at another door; write it like discord:1234567890"),
}

func noFinish(name string, names []string) string {
	return fmt.Sprintf("there is no finish %q for these sets; there is %s", name, strings.Join(names, ", "))
}

// cuttingAgain ends the sentence where a plan for cutting is what an offcut was missed for.
func cuttingAgain(no *shop.Refusal) string {
	if no.Act == "cut together" {
		return "; use “cutting” again"
	}
	return ""
}

// against says why a commission cannot be cut on a cutting day.
func (w words) against(x shop.Against) string {
	switch x.Kind {
	case shop.NotApproved:
		return fmt.Sprintf("%s is not approved yet", x.Commission.ID)
	case shop.CutWith:
		return fmt.Sprintf("%s was cut on %s, with %s", x.Commission.ID, w.when(x.Cutting.At), x.Cutting.ID)
	case shop.OpDone:
		return fmt.Sprintf("“%s” of %s is done already", x.Operation.Words(), x.Commission.ID)
	}
	return fmt.Sprintf("%s is %s", x.Commission.ID, stateWords[x.Commission.State])
}
