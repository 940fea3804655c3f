package discord

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"time"

	"github.com/bwmarrin/discordgo"

	"benchbell/bot/chat"
)

// seatKept is how long it is believed whether somebody sits in the studio's seat when the act itself doesn't say so
// (direct messages, uploads). A role taken away counts after that long.
const seatKept = time.Minute

// person is the acting person as a handler knows them.
func person(u *discordgo.User, m *discordgo.Member, studio bool) chat.Person {
	name := u.GlobalName
	if m != nil && m.Nick != "" {
		name = m.Nick
	}
	if name == "" {
		name = u.Username
	}
	return chat.Person{ID: chat.PersonID(scheme + ":" + u.ID), Name: name, Studio: studio}
}

// seated reports whether the user sits in the studio's seat: holds StudioRole, or where none is set may manage the
// server. complete says that member carries its permissions, as an interaction's does and a message's doesn't. In direct
// messages the configured Guild is asked; without one nobody there is the studio.
func (t *Transport) seated(ctx context.Context, guild, user string, member *discordgo.Member, complete bool) (bool, error) {
	if guild != "" && t.opts.Guild != "" && guild != t.opts.Guild {
		return false, nil // the role and the permission count in the studio's own server only
	}
	if member != nil && t.opts.StudioRole != "" {
		return slices.Contains(member.Roles, t.opts.StudioRole), nil
	}
	if member != nil && complete {
		return member.Permissions&(manageServer|administrator) != 0, nil
	}
	if guild == "" {
		guild = t.opts.Guild
	}
	if guild == "" {
		return false, nil
	}
	t.mu.Lock()
	s, ok := t.seats[user]
	t.mu.Unlock()
	if ok && t.now().Before(s.until) {
		return s.studio, nil
	}
	if member == nil {
		member = &discordgo.Member{}
		if err := t.call(ctx, request{method: http.MethodGet, url: discordgo.EndpointGuildMember(guild, user)}, member); err != nil {
			if permanent(err) { // not a member of the server
				return false, nil
			}
			return false, fmt.Errorf("who holds the studio's seat cannot be looked up: %w", err)
		}
	}
	studio := false
	if t.opts.StudioRole != "" {
		studio = slices.Contains(member.Roles, t.opts.StudioRole)
	} else {
		var g discordgo.Guild
		if err := t.call(ctx, request{method: http.MethodGet, url: discordgo.EndpointGuild(guild)}, &g); err != nil {
			return false, fmt.Errorf("who may manage the server cannot be looked up: %w", err)
		}
		studio = g.OwnerID == user
		for _, r := range g.Roles {
			// Everybody has the role that bears the server's own ID.
			if r.ID == g.ID || slices.Contains(member.Roles, r.ID) {
				studio = studio || r.Permissions&(manageServer|administrator) != 0
			}
		}
	}
	t.mu.Lock()
	t.seats[user] = seat{studio: studio, until: t.now().Add(seatKept)}
	t.mu.Unlock()
	return studio, nil
}

// onMessage hears pictures sent into a commission's thread, or into direct messages, and words written in a commission's thread.
// The service shows a bot a message's content only with the message content intent (in direct messages always); without it
// there is nothing to hear. Words alone are not answered.
// The answer is a reply to the message and seen by everybody in the thread, for the service has no private answer to a
// message; an empty one is a tick on the message.
func (t *Transport) onMessage(m *discordgo.Message) {
	if m == nil || m.Author == nil || m.Author.Bot || m.WebhookID != "" || len(m.Attachments) == 0 && m.Content == "" {
		return
	}
	t.mu.Lock()
	ctx := t.base
	again := t.heard.seen(m.ID)
	t.mu.Unlock()
	if again {
		return
	}
	thread, err := t.threadOf(ctx, m.ChannelID, m.GuildID)
	if err != nil {
		t.log.Error("a message on Discord could not be placed", "id", m.ID, "err", err)
		return
	}
	if thread == "" && (m.GuildID != "" || len(m.Attachments) == 0) {
		return // people's own talk
	}
	reply, err := t.upload(ctx, m, thread)
	if len(m.Attachments) == 0 {
		if err != nil {
			t.log.Error("words in a thread reached nobody else", "id", m.ID, "err", err)
		}
		return
	}
	if err != nil {
		reply = t.sorry(err, m.ID)
	}
	if reply.Thread == thread {
		reply.Thread = ""
	}
	list, err := t.letters(reply, m.Author.ID, m.ChannelID)
	if err != nil {
		t.log.Error("a reply cannot be shown on Discord", "id", m.ID, "err", err)
		return
	}
	send, cancel := context.WithTimeout(context.WithoutCancel(ctx), answering)
	defer cancel()
	if len(list) == 0 { // a tick says that the pictures arrived
		tick := request{method: http.MethodPut, url: discordgo.EndpointMessageReaction(m.ChannelID, m.ID, url.PathEscape("✅"), "@me"), bucket: discordgo.EndpointMessageReactionsAll(m.ChannelID, "")}
		if err := t.call(send, tick, nil); err != nil {
			t.log.Warn("an upload on Discord could not be ticked off; let the bot add reactions", "id", m.ID, "err", err)
		}
	}
	for n, l := range list {
		w := l.wire()
		w.Reference = &discordgo.MessageReference{MessageID: m.ID, ChannelID: m.ChannelID}
		w.Nonce, w.Enforce = hash("reply", m.ID, fmt.Sprint(n))[:24], true
		r := request{method: http.MethodPost, url: discordgo.EndpointChannelMessages(m.ChannelID), body: w, files: l.files}
		if err := t.call(send, r, nil); err != nil {
			t.log.Error("an upload on Discord could not be answered", "id", m.ID, "err", err)
			return
		}
	}
}

// upload hands a message's words and attachments to the handler.
func (t *Transport) upload(ctx context.Context, m *discordgo.Message, thread chat.ThreadID) (chat.Reply, error) {
	studio, err := t.seated(ctx, m.GuildID, m.Author.ID, m.Member, false)
	if err != nil {
		return chat.Reply{}, err
	}
	in := chat.Incoming{ID: m.ID, Thread: thread, Person: person(m.Author, m.Member, studio), Said: m.Content}
	for _, a := range m.Attachments {
		f, err := t.download(ctx, a)
		if err != nil {
			return chat.Reply{}, err
		}
		in.Files = append(in.Files, f)
	}
	return t.safely(ctx, in)
}

// safely asks the handler, and makes an error of its panic.
func (t *Transport) safely(ctx context.Context, in chat.Incoming) (r chat.Reply, err error) {
	defer func() {
		if p := recover(); p != nil {
			r, err = chat.Reply{}, fmt.Errorf("the handler panicked: %v", p)
		}
	}()
	return t.handle(ctx, in)
}

// heardKept is how many acts are remembered as heard: the gateway repeats no more when it resumes after a loss.
const heardKept = 1024

// acts are the IDs of acts heard lately.
type acts struct {
	ids   map[string]bool
	order []string
}

// seen reports whether the act was heard before, and remembers it.
func (a *acts) seen(id string) bool {
	if a.ids[id] {
		return true
	}
	if a.ids == nil {
		a.ids = map[string]bool{}
	}
	a.ids[id] = true
	a.order = append(a.order, id)
	if len(a.order) > heardKept {
		delete(a.ids, a.order[0])
		a.order = a.order[1:]
	}
	return false
}
