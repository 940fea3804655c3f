package shop

import (
	"fmt"
	"time"

	"benchbell/bot/ledger"
	"benchbell/quote"
	"benchbell/quote/floor"
	"benchbell/quote/geom"
	"benchbell/quote/price"
)

// Kind is why something was refused.
type Kind string

// Kinds of refusals, with the fields of Refusal that go with each besides Act.
const (
	OnlyStudio       Kind = "only the studio"
	NotYours         Kind = "not yours"             // Commission
	NoCommission     Kind = "no such commission"    // Name
	Closed           Kind = "closed"                // Commission: declined, cancelled or handed over
	NotNow           Kind = "not in this state"     // Commission
	TooLate          Kind = "too late to change"    // Commission
	QuotedAlready    Kind = "quoted already"        // Commission
	Moved            Kind = "the world moved"       // Commission, where it is about one
	DoneBefore       Kind = "done before"           // nothing: the act's ID was another act's
	UnknownSet       Kind = "unknown set"           // Name, Names: the library's
	NoSets           Kind = "no set chosen"         // nothing
	NoFinish         Kind = "no finish chosen"      // nothing
	NoCommonFinish   Kind = "no common finish"      // nothing
	UnknownFinish    Kind = "unknown finish"        // Name, Names: those that suit
	NotOnList        Kind = "set not chosen"        // Name
	BadCount         Kind = "no such number"        // Most
	NoSides          Kind = "no left and right"     // Name: the set's title
	BadSides         Kind = "no such side"          // nothing
	NeedsMending     Kind = "needs mending"         // Name: wanted, clothing or allowance; Cause
	NoPictures       Kind = "no pictures"           // nothing
	NoPicture        Kind = "not a picture"         // Name: the file's
	BadPictureSize   Kind = "picture size"          // Name: the file's
	EnoughPictures   Kind = "enough pictures"       // Commission, Count
	ChooseFirst      Kind = "choose first"          // Commission
	Incomplete       Kind = "measurements missing"  // Commission, Name: the first that is missing, if known
	Complete         Kind = "nothing missing"       // Commission
	NoSuchPage       Kind = "no such measurement"   // Count
	AskedPerSide     Kind = "asked for each side"   // a Problem's: What, Typed; the value is suggested for both
	AskedOnce        Kind = "asked for both sides"  // a Problem's: What, Typed; the larger is suggested for both
	ConfirmedAlready Kind = "confirmed already"     // Commission
	AdultUnknown     Kind = "adult or not"          // nothing
	NotForChildren   Kind = "not for children"      // nothing
	NotUnderstood    Kind = "not understood"        // Name: height or weight; Cause
	Misfit           Kind = "cannot be made"        // Cause
	Impossible       Kind = "not a body"            // Cause
	DecidedAlready   Kind = "approved already"      // Commission, Revision, Approval
	NoRevision       Kind = "no such revision"      // Commission, Revision
	Superseded       Kind = "replaced"              // Commission, Revision; the present one is the commission's
	BeingComputed    Kind = "being computed"        // Commission, Revision
	SetAside         Kind = "set aside"             // Commission, Revision
	RunOut           Kind = "expired"               // Commission, Revision, Until
	StillValid       Kind = "still valid"           // Commission, Revision, Until
	NothingDiffers   Kind = "nothing differs"       // Commission, Revision
	OpenAlready      Kind = "open already"          // Commission
	NothingToRetry   Kind = "nothing to try again"  // Commission
	Finished         Kind = "finished"              // Commission
	InWork           Kind = "in work"               // Commission
	PaidAlready      Kind = "paid already"          // Commission
	NotApproved      Kind = "not approved"          // Commission
	NotPaid          Kind = "not paid"              // Commission
	Grave            Kind = "asked once"            // Commission, Revision, Deposit; or Commission, Name: the date; or Offcut
	PaidFor          Kind = "paid for"              // Commission, Deposit, Count: operations done, Most: of how many
	NotFinished      Kind = "not finished"          // Commission
	NoOperation      Kind = "no such operation"     // Commission, Count: its number
	OpDone           Kind = "operation done"        // Commission, Operation
	OpRunning        Kind = "operation running"     // Commission, Operation
	OpWaits          Kind = "operation waits"       // Commission, Operation, Wait, Waits
	OpPaused         Kind = "operation paused"      // Commission, Operation
	NotInHand        Kind = "not in hand"           // Commission, Operation
	RestsOn          Kind = "something rests on it" // Commission, Operation; Wait.For: a later operation, Appointment, or Names: offcuts
	NotDone          Kind = "operation not done"    // Commission, Operation
	NotAgain         Kind = "not done again"        // Commission, Operation: a fitting
	NoReason         Kind = "no reason"             // Commission, Operation
	NoPiece          Kind = "no such piece"         // Commission, Operation, Name
	NotMissed        Kind = "window not missed"     // Commission, Operation
	AbradedAlready   Kind = "abraded already"       // Commission, Operation: that does it
	BadAir           Kind = "not air"               // Name, Cause
	BadMinutes       Kind = "not minutes"           // Commission, Operation, Name
	NoSpell          Kind = "no such spell"         // Commission, Operation, Count: its number
	NothingToTryOn   Kind = "nothing to try on"     // Commission, Appointment, Operation, Wait
	NothingLeft      Kind = "nothing left"          // Commission, Count: the operation's number
	CutWith          Kind = "cut on a day"          // Commission, Cutting
	PlanReplaced     Kind = "plan replaced"         // nothing
	DateToTell       Kind = "another date to tell"  // Commission, Name: the date that can be kept now
	SlotHurts        Kind = "slot hurts"            // Commission, Appointment, Until: the slot, Name: the date that can be kept then; Seen
	NotInDanger      Kind = "not in danger"         // Commission
	NotInWork        Kind = "not in work"           // Commission
	NoDay            Kind = "no day said"           // Commission
	BadDay           Kind = "not a day"             // Commission, Cause
	TooMuchOpen      Kind = "too much open"         // Count, Most, Name: operations or projects
	NoMaker          Kind = "no such maker"         // Name, Names: the makers
	BadDays          Kind = "not days"              // Name, Cause
	DaysBackwards    Kind = "days backwards"        // Name: from, Until
	NobodyAway       Kind = "nobody away"           // Name: the maker
	NotPlanned       Kind = "cannot be planned"     // Cause
	Hurts            Kind = "hurts promises"        // Commission, Effects, Broken, Ways, Seen, Count: operations that would move; Name and Away, Appointment or Operation that it is about
	DateMoved        Kind = "the date is another"   // Commission, Revision, Name: the date now; Until: it was held
	NotQuoted        Kind = "not quoted"            // Commission
	NoCuttingPlan    Kind = "no such plan"          // nothing
	CannotCut        Kind = "cannot be cut"         // Commission, Against
	Changed          Kind = "changed since"         // Commission
	NoOffcut         Kind = "no such offcut"        // Name
	OffcutUsed       Kind = "offcut used"           // Offcut
	OffcutThrown     Kind = "offcut thrown away"    // Offcut
	NotCuttable      Kind = "nothing to cut from"   // Cause
	NotPrintable     Kind = "cannot be printed"     // Commission, where it is about one; Cause
	TooLarge         Kind = "file too large"        // Name, Count: bytes
	NotSold          Kind = "thickness not sold"    // Width: the thickness; Names: those sold
	OddSize          Kind = "odd size"              // Width, Height
	NoDrawing        Kind = "no drawing"            // nothing
	NoPatternFile    Kind = "no pattern file"       // Name
	NameTaken        Kind = "name taken"            // Name
	NoVersion        Kind = "no such version"       // Name, Count
	BuiltIn          Kind = "built in"              // Name
	NoThread         Kind = "no thread"             // nothing
	ClientsThread    Kind = "client's thread"       // nothing
	NothingSaid      Kind = "nothing said"          // Count and Most characters
	NoDocument       Kind = "no such document"      // Commission
	NoMessage        Kind = "no such message"       // Count
	AnsweredAlready  Kind = "answered already"      // Name, Until
	NothingYet       Kind = "no commission yet"     // nothing
	NoAppointment    Kind = "no such appointment"   // Commission, Count: its number
	AppointmentOver  Kind = "appointment over"      // Commission, Appointment
	SlotGone         Kind = "slot not free"         // Commission, Appointment, Until: the time; Fit, Slots: those that suit, Seen
	SlotStale        Kind = "slot not offered"      // Commission, Appointment, Until: the time; Slots: those that are offered, Seen
	NotPicked        Kind = "no slot picked"        // Commission, Appointment
	NotYet           Kind = "not yet"               // Commission, Appointment, Until: its time
	NoSuchWay        Kind = "no such way"           // Commission, Appointment
	HeldSo           Kind = "held so already"       // Commission, Appointment
	NotYourPart      Kind = "not your part"         // Names: the roles that may
	NotAMember       Kind = "not a member"          // nothing: in the studio's seat, and nobody's whom the studio knows
	OnlyThis         Kind = "only this commission"  // Name: its number
	NoOwnerYet       Kind = "no owner yet"          // nothing
	OwnerAlready     Kind = "owner already"         // nothing
	NoMember         Kind = "no such member"        // Name
	NoName           Kind = "no name"               // Most: characters
	SameName         Kind = "same name"             // Name
	NoRole           Kind = "no role"               // nothing
	LastOwner        Kind = "last owner"            // Name
	GoneAlready      Kind = "let go already"        // Name, Until: when
	LinkUnknown      Kind = "no such link"          // nothing
	LinkUsed         Kind = "link used"             // Until: when
	LinkExpired      Kind = "link expired"          // Until: when
	LinkEnded        Kind = "link ended"            // nothing
	CodeUnknown      Kind = "no such code"          // nothing
	NoSession        Kind = "no such session"       // nothing
	NoSuchPerson     Kind = "no such person"        // Name
)

// Refusal says why something must not be done, with what words need.
type Refusal struct {
	Kind          Kind
	Act           string // the name of the row that refused
	Commission    ledger.Commission
	Revision      int
	Approval      ledger.Approval
	Operation     ledger.Operation
	Wait          *Wait
	Waits         []Wait // all there are, the first among them
	Offcut        ledger.Offcut
	Cutting       ledger.Cutting
	Against       *Against
	Name          string
	Names         []string
	Count, Most   int
	Width, Height geom.MM
	Until         time.Time
	Away          quote.Away // whose being away does it; none: something else
	Effects       []Effect
	Broken        []Broken       // what else would be
	Ways          []floor.Choice // to keep the promise hurt most
	Seen          string         // the mark of the effects, to go ahead all the same
	Cause         error          // a reader's own sentence
	Appointment   ledger.Appointment
	Slots         []time.Time // that are free instead
	Fit           Fit         // why a time does not suit
	Deposit       price.Money
}

// Error is for logs; people are told in the door's words.
func (r *Refusal) Error() string {
	s := fmt.Sprintf("%s refused: %s", r.Act, r.Kind)
	if r.Commission.ID != "" {
		s += " " + string(r.Commission.ID)
	}
	if r.Name != "" {
		s += fmt.Sprintf(" %q", r.Name)
	}
	return s
}

// Unwrap is the reader's sentence, where there is one.
func (r *Refusal) Unwrap() error { return r.Cause }
