package shop

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/quote"
)

const (
	// messagesPage is how many messages a page of them has.
	messagesPage = 30
	// MaxAnswer is how long an answer can be, in characters: it fits one post on every door.
	MaxAnswer = 1500
	// maxSaid is how much of what somebody said is kept, in characters: every door carries less.
	maxSaid = 4000
)

// Say is that somebody wrote words in a commission's thread, which shows them already. A client's are kept until somebody of the
// studio answers; the studio's answer what was open.
type Say struct {
	Of
	Words string
}

// Said is what came of words in a thread.
type Said struct {
	Message  ledger.Message // of a client; without a number where the studio spoke
	Answered int            // messages that the studio's words answered
}

func say(j *job, c ledger.Commission, a Say) (o Said, err error) {
	words := clip(strings.TrimSpace(a.Words), maxSaid)
	if words == "" {
		return o, &Refusal{Kind: NothingSaid, Commission: c, Most: maxSaid}
	}
	o.Message, o.Answered, err = j.heard(c, ledger.Words, words, 0)
	return o, err
}

// heard keeps what a client did that somebody may want to answer; what the studio did answers what is open.
func (j *job) heard(c ledger.Commission, kind ledger.MessageKind, words string, pictures int) (m ledger.Message, answered int, err error) {
	if j.by.Studio && j.door.ID != c.Client {
		if words == "" || kind == ledger.ChangeOf { // done for a client, and nothing was said to them
			return m, 0, nil
		}
		if answered, err = j.t.AnswerAll(c.ID, j.by.ID, OneLine(j.by.Name), j.now); err != nil {
			return m, 0, err
		}
		return m, answered, j.record(c, "wrote", "")
	}
	m, err = j.t.AddMessage(ledger.Message{Commission: c.ID, Kind: kind, Person: j.by.ID, Name: OneLine(j.by.Name), At: j.now, Text: words, Pictures: pictures, Thread: c.Thread})
	if err != nil || kind != ledger.Words { // the others have events of their own
		return m, 0, err
	}
	return m, 0, j.record(c, "wrote", fmt.Sprintf("message %d", m.N))
}

// Answer answers a client's message in the thread of its commission.
type Answer struct {
	Message int64
	Words   string
}

// Answered is a message that was answered; its Answer is to be said in the thread.
type Answered struct {
	Commission ledger.Commission
	Message    ledger.Message
}

func answer(j *job, a Answer) (Answered, error) {
	words := strings.TrimSpace(a.Words)
	if n := len([]rune(words)); n == 0 || n > MaxAnswer {
		return Answered{}, &Refusal{Kind: NothingSaid, Count: n, Most: MaxAnswer}
	}
	o, err := j.settled(a.Message, words)
	if err != nil {
		return o, err
	}
	return o, j.record(o.Commission, "answered", fmt.Sprintf("message %d", a.Message))
}

// MarkRead says that a message needs no answer.
type MarkRead struct{ Message int64 }

// MarkedRead is a message that needs none.
type MarkedRead struct {
	Commission ledger.Commission
	Message    ledger.Message
}

func markRead(j *job, a MarkRead) (MarkedRead, error) {
	o, err := j.settled(a.Message, "")
	if err != nil {
		return MarkedRead(o), err
	}
	return MarkedRead(o), j.record(o.Commission, "read", fmt.Sprintf("message %d", a.Message))
}

// settled files the answer to a message that nobody has answered.
func (j *job) settled(n int64, words string) (o Answered, err error) {
	m, err := j.t.Message(n)
	if errors.Is(err, ledger.ErrNone) {
		return o, &Refusal{Kind: NoMessage, Count: int(n)}
	}
	if err != nil {
		return o, err
	}
	if !m.AnsweredAt.IsZero() {
		return o, &Refusal{Kind: AnsweredAlready, Name: m.Answerer, Until: m.AnsweredAt}
	}
	m.AnsweredAt, m.AnsweredBy, m.Answerer, m.Answer = j.now, j.by.ID, OneLine(j.by.Name), words
	o.Message = m
	if o.Commission, err = j.t.Commission(m.Commission); err != nil {
		return o, err
	}
	return o, j.t.AnswerMessage(m)
}

// Messages looks at what clients wrote, sent and wished that nobody has answered, oldest first.
type Messages struct{ Page int } // from 0

// MessageList is a page of them.
type MessageList struct {
	At       time.Time
	Messages []OpenMessage
	More     bool
	Count    int  // on all pages
	Answers  bool // who asks may answer
}

// OpenMessage is a message with what it is about.
type OpenMessage struct {
	ledger.Message
	Client string
	State  State
	Thread chat.ThreadID // of the commission
}

func messages(j *job, a Messages) (MessageList, error) {
	o := MessageList{At: j.now, Answers: j.roles&(ledger.FrontDesk|ledger.Owner) != 0}
	ms, err := j.t.OpenMessages(messagesPage+1, max(a.Page, 0)*messagesPage)
	if err != nil {
		return o, err
	}
	if o.More = len(ms) > messagesPage; o.More {
		ms = ms[:messagesPage]
	}
	known := map[quote.CommissionID]ledger.Commission{}
	for _, m := range ms {
		c, ok := known[m.Commission]
		if !ok {
			if c, err = j.t.Commission(m.Commission); err != nil {
				return o, err
			}
			known[c.ID] = c
		}
		o.Messages = append(o.Messages, OpenMessage{Message: m, Client: c.ClientName, State: c.State, Thread: c.Thread})
	}
	o.Count, err = j.t.OpenMessageCount()
	return o, err
}
