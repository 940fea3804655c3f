package desk

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/quote"
)

// What is said to people of the studio with other things: kept in the ledger until it is due, and said once.

// sayNotices tells each listener what is due, and with it what is kept for them and need not wait for the beginning of work.
func (d *Desk) sayNotices(ctx context.Context) error {
	now := d.cfg.Now()
	return d.cfg.Ledger.Tx(ctx, func(t *ledger.Tx) error {
		all, err := t.Unsaid()
		if err != nil {
			return err
		}
		p := &posting{words: d.words(), t: t, at: now}
		for len(all) > 0 {
			who := all[0].Listener
			var these, rest []ledger.Notice
			due := false
			for _, x := range all {
				switch is := !x.Due.After(now); {
				case x.Listener != who:
					rest = append(rest, x)
				case is || !x.Waits:
					these, due = append(these, x), due || is
				}
			}
			if due {
				if err := p.sayTogether(chat.PersonID(who), these); err != nil {
					return err
				}
			}
			all = rest
		}
		return nil
	})
}

// sayTogether posts what one listener is told: in one post, or, where that does not hold all of it, in several, of which the first
// pings. Without a notice board it stands in the threads of the commissions, or nobody would hear it.
func (p *posting) sayTogether(who chat.PersonID, list []ledger.Notice) error {
	boards, err := p.t.Boards()
	if err != nil {
		return err
	}
	n := notice{key: fmt.Sprintf("told/%d", list[0].N), text: list[0].Text}
	if who != "" {
		n.mention = []chat.PersonID{who}
	}
	if len(list) > 1 {
		n.text = p.headOf(list)
		for _, x := range list {
			n.lines = append(n.lines, "• "+x.Text)
		}
	}
	all := strings.Join(append([]string{n.text}, n.lines...), "\n")
	if len(list) > 1 && slices.ContainsFunc(boards, func(b ledger.Board) bool {
		l := p.limits(b.Scheme)
		return l.Text > 0 && l.Size(all) > l.Text
	}) {
		half := len(list) / 2
		return errors.Join(p.sayTogether(who, list[:half]), p.sayTogether("", list[half:]))
	}
	for _, x := range list {
		for _, b := range x.Buttons {
			if !slices.Contains(n.buttons, b) && len(n.buttons) < inReach {
				n.buttons = append(n.buttons, b)
			}
		}
		if err := p.t.Said(x.N, n.key, p.at); err != nil {
			return err
		}
	}
	if len(boards) == 0 {
		return p.sayInThreads(n.key, n.mention, list)
	}
	return p.notice(n)
}

// headOf is what several notices have in common.
func (w words) headOf(list []ledger.Notice) string {
	since := slices.MinFunc(list, func(a, b ledger.Notice) int { return a.At.Compare(b.At) }).At
	switch {
	case slices.ContainsFunc(list, func(x ledger.Notice) bool { return x.Waits }):
		return fmt.Sprintf("*%d things since %s:*", len(list), w.local(since).Format("Mon 2 Jan, 15:04"))
	case !slices.ContainsFunc(list, func(x ledger.Notice) bool { return x.Event != string(clientWrote) }):
		return fmt.Sprintf("*%d messages from clients:*", len(list))
	}
	return fmt.Sprintf("*%d things to do:*", len(list))
}

func (p *posting) sayInThreads(key string, mention []chat.PersonID, list []ledger.Notice) error {
	people, err := p.reach(mention)
	if err != nil {
		return err
	}
	in := map[quote.CommissionID][]string{}
	for _, x := range list {
		if x.Event == string(clientWrote) {
			continue // they stand there already
		}
		in[x.Commission] = append(in[x.Commission], x.Text)
	}
	for _, x := range list {
		text := in[x.Commission]
		if len(text) == 0 {
			continue
		}
		delete(in, x.Commission)
		c, err := p.t.Commission(x.Commission)
		if err != nil {
			return err
		}
		there := slices.DeleteFunc(slices.Clone(people), func(m chat.PersonID) bool { return chat.Scheme(m) != c.Scheme })
		post := chat.Post{Key: key + "/" + string(c.ID), Text: p.within(c).Fit(text[0], text[1:], "", nil), Mention: there}
		if err := p.put(c.ID, post); err != nil {
			return err
		}
	}
	return nil
}

// anyScheme is that of some notice board; all have the same posts.
func (p *posting) anyScheme() string {
	boards, err := p.t.Boards()
	if err != nil || len(boards) == 0 {
		return ""
	}
	return boards[0].Scheme
}

// quotedText is how much of what a client writes the studio is shown at once.
const quotedText = 200

// hearWords has the front desk hear of what somebody typed in a commission's thread, unless it was the studio.
func (d *Desk) hearWords(ctx context.Context, in chat.Incoming) error {
	text := strings.Join(strings.Fields(in.Said), " ")
	if text == "" || in.Person.Studio || in.Thread == "" {
		return nil
	}
	heard := false
	err := d.cfg.Ledger.Tx(ctx, func(t *ledger.Tx) error {
		c, err := t.CommissionOfThread(in.Thread)
		if err != nil {
			return err
		}
		if _, err := t.MemberAs(in.Person.ID); err == nil {
			return nil // somebody of the studio, without its seat
		}
		heard = true
		p := &posting{words: d.words(), t: t, at: d.cfg.Now(), by: in.Person}
		return p.wrote(c, in.ID, ": “"+chat.Clip(defused(text), quotedText)+"”")
	})
	if heard {
		d.Wake()
	}
	return err
}

// wrote tells the front desk what came from a client, together with what comes within minutes.
func (p *posting) wrote(c ledger.Commission, id, what string) error {
	front, err := p.frontDesk()
	if err != nil {
		return err
	}
	if len(front) == 0 {
		front = []chat.PersonID{""}
	}
	text := fmt.Sprintf("%s · %s%s", c.ID, defused(chat.Clip(c.ClientName, shortName)), what)
	all, err := p.t.Unsaid()
	if err != nil {
		return err
	}
	for _, m := range front {
		_, waits, err := p.due(soon, string(m))
		if err != nil {
			return err
		}
		due := p.at.Add(p.studio.Notices.Together())
		if waits {
			due = p.studio.Calendar.Begins(p.local(p.at))
		}
		for _, x := range all { // with what they wrote before
			if x.Listener == string(m) && x.Commission == c.ID && x.Event == string(clientWrote) {
				due, waits = x.Due, x.Waits
			}
		}
		err = p.t.AddNotice(ledger.Notice{Key: "said/" + id, Listener: string(m), Event: string(clientWrote), Commission: c.ID, Text: text,
			Buttons: []chat.Button{button("thread", c.ID, "Open "+string(c.ID), chat.Plain)}, At: p.at, Due: due, Waits: waits})
		if err != nil {
			return err
		}
	}
	return nil
}

// defused is somebody's text without what would call people or style the text around it.
func defused(s string) string {
	return strings.NewReplacer("@", "@\u200b", "<#", "<\u200b#", "*", "").Replace(s)
}

func postPicturesAdded(p *posting, o shop.PicturesAdded) error {
	if err := p.card(o.Commission); err != nil || p.by.Studio {
		return err
	}
	return p.wrote(o.Commission, fmt.Sprintf("pictures/%s/%d", o.Commission.ID, o.Count), " has sent pictures.")
}
