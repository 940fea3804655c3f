// Package chat is the conversation's vocabulary: people, threads, messages, forms, buttons and the handler that
// answers them, with no transport and no trade in it.
//
// A transport (package discord, package browser) turns what its people do into Incoming values, calls the one Handler,
// and shows the Reply to that person alone. What everybody in a thread sees is posted through the Transport's methods,
// which are idempotent by Post.Key: posting a key again edits the message that carries it, so a crash between
// "posted" and "remembered" doubles nothing.
//
// What a message can hold differs: each transport states its Limits, and whoever composes a message keeps to those of the
// transport that carries it. The helpers for that (Fit, Clip, Pages) never cut a word where they can cut before it, and say
// how much they leave out.
//
// It refuses nothing itself.
package chat

import "context"

// PersonID names a person on a transport: "browser:mara", "discord:1234".
type PersonID string

// ThreadID names a thread on a transport; empty outside any commission's thread.
type ThreadID string

// Person is who acts.
type Person struct {
	ID     PersonID
	Name   string // as the transport shows it; may hold any Unicode
	Studio bool   // sits in the studio's seat (a role on Discord, a seat of the studio's in the browser)
	Only   string // the one matter that a private link let them in for; empty: all that is theirs
}

// Incoming is one thing a person did. Exactly one of Command, Press, Pick, Form, and Files or Said says what.
type Incoming struct {
	ID     string // unique per act on the transport; a repeated ID is the same act delivered again
	Person Person
	Thread ThreadID
	// Command is the name of a command typed or chosen; Values holds its options by name.
	Command string
	// Press is the Action of the button pressed.
	Press string
	// Pick is the Action of the menu; Picked its chosen values.
	Pick   string
	Picked []string
	// Form is the Action of the form sent in; Values holds its fields by key, exactly as typed.
	Form   string
	Values map[string]string
	// Said are words written in the thread, alone or with files. The transport shows them; nobody answers them by a reply.
	Said string
	// Files were sent by the person (reference pictures), with a command, a form or alone.
	Files []File
}

// Reply is what the acting person alone sees at once. An empty Reply is a silent acknowledgement.
type Reply struct {
	Text    string
	Files   []File
	Buttons []Button
	Menus   []Menu
	Form    *Form    // opens a form; then nothing else is set but Text
	Thread  ThreadID // where to go on: the transport links or switches to it
}

// File is a file in a message.
type File struct {
	Name string // "quote-C0007-r2.pdf"
	MIME string
	Alt  string // description for those who don't see it
	Data []byte
}

// Tone says how a button looks.
type Tone int

// Tones.
const (
	Plain Tone = iota
	Good       // the step forward: approve, confirm
	Grave      // hard to take back: decline, cancel
)

// Button does an action when pressed. Action is a short path such as "approve/C0007/2".
type Button struct {
	Action string
	Label  string
	Tone   Tone
}

// Menu picks Min..Max of its options. A pick names all that is chosen then, not only what is new.
type Menu struct {
	Action   string
	Label    string // shown while nothing is picked
	Min, Max int
	// Answer says that picking tells something, such as a finish, rather than does something, such as starting an operation.
	// Where a choice is made before it is sent, an answer counts when any button of its message is pressed; what does
	// something waits for its own. A menu of several choices is an answer in any case.
	Answer  bool
	Options []Option
}

// Answers reports whether picking from the menu tells something and does nothing by itself.
func (m Menu) Answers() bool { return m.Answer || m.Max > 1 }

// Chosen are the values chosen already, in the order of the options.
func (m Menu) Chosen() []string {
	var out []string
	for _, o := range m.Options {
		if o.Chosen {
			out = append(out, o.Value)
		}
	}
	return out
}

// Option of a menu.
type Option struct {
	Value, Label, Note string
	Chosen             bool // already; shown as picked
}

// Form asks for lines of text.
type Form struct {
	Action string
	Title  string
	Fields []Field
	Files  []File // pictures that explain the form; a transport that can't show them in the form shows them beside it
}

// Field is one line (or, Long, some lines) of text.
type Field struct {
	Key      string
	Label    string
	Hint     string // example of an answer: "97,5 cm or 38 1/2 in"
	Value    string // filled in before
	Long     bool
	Optional bool
	// Options are the answers there are; none: any. A transport that has menus in its forms offers them, others take what is typed.
	Options []string
	// Kin are keys of fields that asked for the same in an earlier form of this action. Where such a form is open and half
	// filled in when this one takes its place, the first of them that has a value gives it to this one, if it has none.
	Kin []string
}

// Post is a message everybody in its thread sees.
type Post struct {
	Key     string // unique for ever; posting it again replaces the message
	Thread  ThreadID
	Text    string // plain text; *asterisks* mark emphasis on every transport
	Files   []File // on an edit: nil keeps the files there are
	Buttons []Button
	Menus   []Menu
	Mention []PersonID // people to be told
	Bar     *Bar       // progress
	Signed  string     // who says this through the program, as the text begins: "*Edda:* yes"; empty: the program says it
	Brief   string     // what the thread is about and how it stands, for lists of threads; empty: as it was
}

// Bar is progress through named stages.
type Bar struct {
	Stages []string
	At     int     // index of the stage under way; len(Stages) when done
	Share  float64 // of that stage, 0..1
	Failed bool
}

// Command is something a person can type or choose, anywhere or in a thread.
type Command struct {
	Name     string // lower case letters and hyphens
	Summary  string // under 100 characters
	Studio   bool   // for the studio's seat only
	InThread bool   // means something in a thread only
	Apart    bool   // about nothing there is yet: not for who was let in for one matter
	Options  []CommandOption
}

// CommandOption is a value a command takes.
type CommandOption struct {
	Name, Summary string
	Required      bool
	File          bool   // a file instead of text
	Was           string // its earlier name, which a client that was loaded before may still send
}

// Handler answers what people do. An error that wraps a *Refusal is shown to the person; any other is shown as an
// apology while the transport hands the cause to its owner.
type Handler func(ctx context.Context, in Incoming) (Reply, error)

// Refusal is an error for the person: one sentence, lower case, saying what would be right.
type Refusal struct{ Say string }

func (r *Refusal) Error() string { return r.Say }

// Transport carries the conversation. Implementations pass chattest.Conformance.
type Transport interface {
	// Scheme is the prefix of this transport's person and thread IDs: "browser", "discord".
	Scheme() string
	// Limits are what it can carry; they never change.
	Limits() Limits
	// OpenThread makes a thread for the person, private where the transport can, and returns its ID. The same key
	// gives the same thread again.
	OpenThread(ctx context.Context, key, title string, with PersonID) (ThreadID, error)
	// Put posts or, for a key posted before, edits.
	Put(ctx context.Context, p Post) error
	// Run serves until ctx ends, answering with h and offering cmds.
	Run(ctx context.Context, cmds []Command, h Handler) error
}
