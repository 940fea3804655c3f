// Package chattest holds the laws of a chat.Transport, to be run against every implementation of it, and Peer, what a
// person can do and see on any of them.
//
// A transcript written against Peer drives a conversation on each transport alike.
package chattest

import (
	"context"

	"benchbell/bot/chat"
)

// Answer is what the acting person alone got to see after an act.
type Answer struct {
	Text    string
	Refused string // the refusal's sentence; what was typed is kept
	Sorry   bool   // the transport apologised for a failure that isn't the person's; Refused may then be the apology
	Files   []chat.File
	Buttons []chat.Button
	Menus   []chat.Menu
	Form    *chat.Form    // opened by the act, or still open with what was typed when it was refused
	Thread  chat.ThreadID // where the answer leads on to
}

// Peer is one person at a transport. Methods return an error when the transport itself fails or can't be understood;
// refusals are Answers.
type Peer interface {
	// ID is the person as the handler knows it.
	ID() chat.PersonID
	// Commands are the names of those offered to this person.
	Commands(ctx context.Context) ([]string, error)
	// Do gives a command with its options; files go to its file options in their order.
	Do(ctx context.Context, thread chat.ThreadID, command string, options map[string]string, files ...chat.File) (Answer, error)
	// Press presses the button of that action, in the thread or in an answer seen before.
	Press(ctx context.Context, thread chat.ThreadID, action string) (Answer, error)
	// Pick chooses values from the menu of that action.
	Pick(ctx context.Context, thread chat.ThreadID, action string, values ...string) (Answer, error)
	// Submit sends the open form of that action. Fields not named in values are sent as they stand.
	Submit(ctx context.Context, thread chat.ThreadID, action string, values map[string]string) (Answer, error)
	// Send sends files to the thread.
	Send(ctx context.Context, thread chat.ThreadID, files ...chat.File) (Answer, error)
	// Again delivers the last act once more, as a double press or a repeated delivery does.
	Again(ctx context.Context) (Answer, error)
	// Threads are those the person sees.
	Threads(ctx context.Context) ([]chat.ThreadID, error)
	// Posts are those of a thread in their order, files with their data. By, of the same length, says who posted
	// each; empty is the bot. Keys may be empty where a transport doesn't show them.
	Posts(ctx context.Context, thread chat.ThreadID) (posts []chat.Post, by []chat.PersonID, err error)
	// Private is everything in the thread, or outside threads, that this person alone sees now, as one text.
	Private(ctx context.Context, thread chat.ThreadID) (string, error)
}

// Bench is a transport under test with its people.
type Bench struct {
	Transport chat.Transport
	Client    Peer // a client
	Other     Peer // another client
	Studio    Peer // in the studio's seat
}
