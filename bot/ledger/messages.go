package ledger

import (
	"time"

	"benchbell/bot/chat"
	"benchbell/quote"
)

// MessageKind is what a client did that somebody may want to answer.
type MessageKind string

// Kinds of messages.
const (
	Words    MessageKind = "words"
	Sent     MessageKind = "pictures"
	ChangeOf MessageKind = "change" // a wish for a change of a quote
)

// Message is what a client wrote, sent or wished.
type Message struct {
	N          int64
	Commission quote.CommissionID
	Kind       MessageKind
	Person     chat.PersonID
	Name       string // as they were called then
	At         time.Time
	Text       string
	Pictures   int           // that came with it
	Thread     chat.ThreadID // where it was said
	AnsweredAt time.Time     // zero: nobody has
	AnsweredBy chat.PersonID
	Answerer   string // as they were called then
	Answer     string // empty: it was read, or answered in the thread
}

const messageColumns = `n, commission, kind, person, name, at, text, pictures, thread, answered_at, answered_by, answerer, answer`

func scanMessage(s scanner) (m Message, err error) {
	return m, s.Scan(&m.N, &m.Commission, &m.Kind, &m.Person, &m.Name, moment{&m.At}, &m.Text, &m.Pictures, &m.Thread, moment{&m.AnsweredAt},
		&m.AnsweredBy, &m.Answerer, &m.Answer)
}

// AddMessage files a message that nobody has answered, and returns it with its number.
func (t *Tx) AddMessage(m Message) (Message, error) {
	return one(t, scanMessage, `insert into messages (commission, kind, person, name, at, text, pictures, thread) values (?, ?, ?, ?, ?, ?, ?, ?) returning `+messageColumns,
		string(m.Commission), string(m.Kind), string(m.Person), m.Name, stamp(m.At), m.Text, m.Pictures, string(m.Thread))
}

// Message by its number, or ErrNone.
func (t *Tx) Message(n int64) (Message, error) {
	return one(t, scanMessage, `select `+messageColumns+` from messages where n = ?`, n)
}

const openMessagesSQL = `select ` + messageColumns + ` from messages where answered_at = '' order by at, n limit ? offset ?`

// OpenMessages are those that nobody has answered, oldest first.
func (t *Tx) OpenMessages(limit, offset int) ([]Message, error) {
	return all(t, scanMessage, openMessagesSQL, limit, offset)
}

// OpenMessageCount is how many nobody has answered.
func (t *Tx) OpenMessageCount() (int, error) {
	return one(t, func(s scanner) (n int, err error) { return n, s.Scan(&n) }, `select count(*) from messages where answered_at = ''`)
}

const messagesOfSQL = `select ` + messageColumns + ` from messages where commission = ? order by n desc limit ? offset ?`

// MessagesOf a commission, latest first.
func (t *Tx) MessagesOf(id quote.CommissionID, limit, offset int) ([]Message, error) {
	return all(t, scanMessage, messagesOfSQL, string(id), limit, offset)
}

// AnswerMessage says who answered a message, with what; one that was answered before stays as it is.
func (t *Tx) AnswerMessage(m Message) error {
	return t.exec(`update messages set answered_at = ?, answered_by = ?, answerer = ?, answer = ? where n = ? and answered_at = ''`,
		stamp(m.AnsweredAt), string(m.AnsweredBy), m.Answerer, m.Answer, m.N)
}

// AnswerAll says that somebody answered in the commission's thread what nobody had answered until then; it returns how many those are.
func (t *Tx) AnswerAll(id quote.CommissionID, by chat.PersonID, name string, at time.Time) (int, error) {
	ns, err := all(t, func(s scanner) (n int64, err error) { return n, s.Scan(&n) },
		`update messages set answered_at = ?, answered_by = ?, answerer = ? where commission = ? and answered_at = '' returning n`,
		stamp(at), string(by), name, string(id))
	return len(ns), err
}
