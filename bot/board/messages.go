package board

import (
	"fmt"
	"net/http"
	"net/url"
	"strconv"

	"benchbell/bot/shop"
)

// message is one that nobody has answered.
type message struct {
	ID, Rev      string
	N            int64
	Commission   string
	Path, Thread string
	Client, Name string // the client, and who wrote it
	State        string
	Did          string // wrote, sent 2 pictures, wishes a change
	At           string
	Text         string
	Refused      string
	Typed        string // of an answer that was refused
	Told         bool
	Answers      bool // who looks may answer
	Most         int
	Token        string `json:"-"`
}

type messagesView struct {
	frame
	Messages   []message
	Count      int
	Prev, Next string
	Answers    bool
	Stray      []string
}

// Messages answers the page of what clients said that nobody has answered, and takes the answers.
func (b *Board) Messages(w http.ResponseWriter, r *http.Request, v Visit) error {
	if r.Method == http.MethodPost {
		return b.reply(w, r, v)
	}
	q := r.URL.Query()
	page := pageNumber(q)
	l, err := see[shop.MessageList](r.Context(), b, v, shop.Messages{Page: page})
	if err != nil {
		return err
	}
	n, _ := b.notes.find(q.Get("note"), v.Person)
	return render(w, "messages", b.messagesView(v, l, page, n))
}

func (b *Board) messagesView(v Visit, l shop.MessageList, page int, n note) messagesView {
	o := messagesView{frame: b.frame(v, "Messages", l.At), Count: l.Count, Answers: l.Answers}
	noted := false
	for _, m := range l.Messages {
		x := message{ID: fmt.Sprintf("q-%d", m.N), N: m.N, Commission: string(m.Commission), Path: o.commissionPath(string(m.Commission)),
			Thread: o.threadPath(string(m.Thread)), Client: m.Client, State: stateNames[m.State], Did: did(m.Message), At: o.when(m.At), Text: m.Text,
			Answers: l.Answers, Most: shop.MaxAnswer, Token: v.Token}
		if m.Name != m.Client {
			x.Name = m.Name
		}
		if n.No != nil && n.Message == m.N {
			x.Refused, x.Typed, x.Told, noted = n.why(o.frame), n.Typed, true, true
		}
		x.Rev = revision(x)
		o.Messages = append(o.Messages, x)
	}
	if n.No != nil && !noted {
		o.Stray = []string{n.why(o.frame)}
	}
	if page > 0 {
		o.Prev = fmt.Sprintf("%smessages?page=%d", o.Base, page)
	}
	if l.More {
		o.Next = fmt.Sprintf("%smessages?page=%d", o.Base, page+2)
	}
	return o
}

// did says what a client did.
func did(m shop.Message) string {
	switch {
	case m.Kind == "change":
		return "asks for a change to the quote"
	case m.Pictures == 1:
		return "sent a picture"
	case m.Pictures > 1:
		return fmt.Sprintf("sent %d pictures", m.Pictures)
	}
	return "wrote"
}

// reply answers a message, or marks it as read, and leads back to the page.
func (b *Board) reply(w http.ResponseWriter, r *http.Request, v Visit) error {
	f := r.PostForm
	n, err := strconv.ParseInt(f.Get("message"), 10, 64)
	if err != nil {
		return fmt.Errorf("a form of the board names message %q: %w", f.Get("message"), err)
	}
	var act shop.Act = shop.Answer{Message: n, Words: f.Get("answer")}
	id := f.Get("act")
	if f.Get("do") == "read" {
		act, id = shop.MarkRead{Message: n}, id+" read"
	}
	no, err := b.do(r, v, id, act)
	to := v.Base + "messages"
	switch {
	case no != nil:
		to += "?" + url.Values{"note": {b.notes.keep(note{Person: string(v.Person.ID), Message: n, Typed: f.Get("answer"), No: no})}}.Encode() + "#told"
	case err != nil:
		return err
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
	return nil
}

// why words what refused an answer.
func (n note) why(f frame) string {
	switch no := n.No; no.Kind {
	case shop.NothingSaid:
		if no.Count > 0 {
			return fmt.Sprintf("an answer can have %d characters and this has %d; shorten it", no.Most, no.Count)
		}
		return "write an answer first, or press “Read, needs none”"
	case shop.AnsweredAlready:
		return fmt.Sprintf("%s has dealt with this message at %s", no.Name, f.clock(no.Until))
	case shop.NotYourPart:
		return "clients are answered by the front desk; ask somebody there to do it"
	case shop.NoMessage:
		return "there is no such message any more; look at the list anew"
	}
	return "this message cannot be answered now; look at the list anew"
}
