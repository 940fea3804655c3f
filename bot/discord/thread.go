package discord

import (
	"context"
	"fmt"
	"net/http"
	"strings"

	"github.com/bwmarrin/discordgo"

	"benchbell/bot/chat"
)

// threadNameSize is the longest name of a thread, in characters. Source: the service's documentation (from memory).
const threadNameSize = 100

// archiveAfter is how long a thread stays in the list without a message, in minutes: a week, the longest there is, for a
// commission rests while foam is ordered and paint cures.
const archiveAfter = 7 * 24 * 60

// OpenThread makes a private thread holding the person and the bot alone, under the channel where the person last wrote,
// or else under Options.Channel. Where private threads are not permitted it makes a public one, and where none are it
// goes to Options.Channel and at last to direct messages. Who wrote in direct messages is answered there, in the one
// conversation that they are for all of a person's commissions.
//
// The same key gives the same thread: from Memory, or else found by its name, which begins with the key
// ("C0007 · Ilka"), among the threads that are open and those that the bot was in.
func (t *Transport) OpenThread(ctx context.Context, key, title string, with chat.PersonID) (chat.ThreadID, error) {
	user, ok := strings.CutPrefix(string(with), scheme+":")
	if !ok || user == "" {
		return "", fmt.Errorf("%q is nobody on Discord; give an ID such as discord:1234", with)
	}
	if key == "" {
		return "", fmt.Errorf("a thread needs a key")
	}
	defer t.locks.lock("thread/" + key)()

	known, ok, err := t.mem.Get(ctx, "thread/"+key)
	if err != nil {
		return "", fmt.Errorf("what threads there are cannot be recalled: %w", err)
	}
	if ok {
		switch c, err := t.channel(ctx, known); {
		case err == nil:
			t.mu.Lock()
			if c.IsThread() {
				t.parents[known] = c.ParentID
			}
			t.mu.Unlock()
			return t.opened(ctx, key, known)
		case !is(err, codeUnknownChannel): // deleted: make another
			return "", fmt.Errorf("the thread of %s cannot be looked up: %w", key, err)
		}
	}
	h, err := t.home(ctx, user)
	if err != nil {
		return "", err
	}
	for !h.direct {
		id, err := t.threadUnder(ctx, h.channel, key, title, user)
		if err == nil {
			return t.opened(ctx, key, id)
		}
		if !permanent(err) {
			return "", fmt.Errorf("the thread of %s cannot be opened: %w", key, err)
		}
		t.log.Warn("the bot cannot open threads in this channel; let it create private threads and send messages in them", "channel", h.channel, "err", err)
		if t.opts.Channel != "" && h.channel != t.opts.Channel {
			h = home{channel: t.opts.Channel}
		} else if h, err = t.direct(ctx, user); err != nil {
			return "", err
		}
	}
	if err := t.mem.Put(ctx, "direct/"+h.channel, key); err != nil {
		return "", fmt.Errorf("the thread of %s cannot be remembered: %w", key, err)
	}
	return t.opened(ctx, key, h.channel)
}

// threadUnder finds or makes the key's thread under the channel, with the user in it.
func (t *Transport) threadUnder(ctx context.Context, under, key, title, user string) (string, error) {
	id, err := t.findThread(ctx, under, key)
	if err != nil {
		return "", err
	}
	if id == "" {
		if id, err = t.startThread(ctx, under, threadName(key, title)); err != nil {
			return "", err
		}
	}
	if err := t.call(ctx, request{method: http.MethodPut, url: discordgo.EndpointThreadMember(id, user)}, nil); err != nil {
		return "", fmt.Errorf("discord:%s cannot be brought into the thread: %w", user, err)
	}
	t.mu.Lock()
	t.parents[id] = under
	t.mu.Unlock()
	return id, nil
}

// opened remembers that the channel is the thread of key.
func (t *Transport) opened(ctx context.Context, key, channel string) (chat.ThreadID, error) {
	if err := t.mem.Put(ctx, "thread/"+key, channel); err != nil {
		return "", fmt.Errorf("the thread of %s cannot be remembered: %w", key, err)
	}
	t.mu.Lock()
	t.threads[channel] = true
	t.mu.Unlock()
	return threadID(channel), nil
}

func threadID(channel string) chat.ThreadID { return chat.ThreadID(scheme + ":" + channel) }

// threadMark is what the name of the key's thread begins with; a long key is shortened to its hash.
func threadMark(key string) string {
	if len([]rune(key)) > 40 || strings.ContainsAny(key, "\n\r\t") {
		return "#" + hash("thread", key)[:12]
	}
	return key
}

// threadName puts the key in front of the title, unless the title begins with it.
func threadName(key, title string) string {
	mark := threadMark(key)
	rest := strings.TrimSpace(strings.TrimPrefix(title, key))
	rest = strings.TrimSpace(strings.TrimLeft(rest, "·:-–—"))
	rest = strings.Join(strings.Fields(rest), " ")
	if rest == "" {
		return mark
	}
	return chat.Clip(mark+" · "+rest, threadNameSize)
}

// startThread makes a private thread, or a public one where private ones are not permitted. Without a message to hang on,
// a thread is private unless its type says otherwise.
func (t *Transport) startThread(ctx context.Context, under, name string) (string, error) {
	var err error
	for _, kind := range []discordgo.ChannelType{discordgo.ChannelTypeGuildPrivateThread, discordgo.ChannelTypeGuildPublicThread} {
		var made discordgo.Channel
		err = t.call(ctx, request{
			method: http.MethodPost, url: discordgo.EndpointChannelThreads(under),
			body: map[string]any{"name": name, "type": kind, "invitable": false, "auto_archive_duration": archiveAfter},
		}, &made)
		if err == nil {
			return made.ID, nil
		}
		if !is(err, codeMissingPermission, codeMissingAccess) {
			return "", err
		}
		if kind == discordgo.ChannelTypeGuildPrivateThread {
			t.log.Warn("the bot may not open private threads here; this commission's thread is public", "channel", under)
		}
	}
	return "", err
}

// findThread is the ID of a thread of the bot's own under the channel that carries the key's mark, or empty.
func (t *Transport) findThread(ctx context.Context, under, key string) (string, error) {
	bot, _, err := t.self(ctx)
	if err != nil {
		return "", err
	}
	parent, err := t.channel(ctx, under)
	if err != nil {
		return "", fmt.Errorf("the channel for %s cannot be looked up: %w", key, err)
	}
	mark := threadMark(key)
	places := []string{
		discordgo.EndpointGuildActiveThreads(parent.GuildID),
		discordgo.EndpointChannelJoinedPrivateArchivedThreads(under) + "?limit=100",
		discordgo.EndpointChannelPublicArchivedThreads(under) + "?limit=100",
	}
	for _, place := range places {
		var list discordgo.ThreadsList
		if err := t.call(ctx, request{method: http.MethodGet, url: place}, &list); err != nil {
			if is(err, codeMissingAccess, codeMissingPermission) {
				continue
			}
			return "", fmt.Errorf("the threads there are cannot be listed: %w", err)
		}
		for _, c := range list.Threads {
			if c.ParentID == under && c.OwnerID == bot && (c.Name == mark || strings.HasPrefix(c.Name, mark+" · ")) {
				return c.ID, nil
			}
		}
	}
	return "", nil
}

// channel looks a channel up.
func (t *Transport) channel(ctx context.Context, id string) (*discordgo.Channel, error) {
	var c discordgo.Channel
	if err := t.call(ctx, request{method: http.MethodGet, url: discordgo.EndpointChannel(id)}, &c); err != nil {
		return nil, err
	}
	return &c, nil
}

// home is where the user's commissions open: where they last wrote, the configured channel, or direct messages.
func (t *Transport) home(ctx context.Context, user string) (home, error) {
	t.mu.Lock()
	h, ok := t.homes[user]
	t.mu.Unlock()
	if ok {
		return h, nil
	}
	v, ok, err := t.mem.Get(ctx, "home/"+user)
	if err != nil {
		return home{}, fmt.Errorf("where a person wrote cannot be recalled: %w", err)
	}
	if ok {
		channel, direct := strings.CutPrefix(v, "direct:")
		return home{channel: channel, direct: direct}, nil
	}
	if t.opts.Channel != "" {
		return home{channel: t.opts.Channel}, nil
	}
	return t.direct(ctx, user)
}

// direct is the bot's direct messages with the user.
func (t *Transport) direct(ctx context.Context, user string) (home, error) {
	var dm discordgo.Channel
	err := t.call(ctx, request{method: http.MethodPost, url: discordgo.EndpointUserChannels("@me"), body: map[string]string{"recipient_id": user}}, &dm)
	if err != nil {
		return home{}, fmt.Errorf("there is no channel to open a thread for discord:%s in; have them write in the server once: %w", user, err)
	}
	return home{channel: dm.ID, direct: true}, nil
}

// wrote remembers where a person wrote, as their home.
func (t *Transport) wrote(ctx context.Context, user, channel, guild string) {
	h := home{channel: channel, direct: guild == ""}
	t.mu.Lock()
	if parent := t.parents[channel]; parent != "" {
		h.channel = parent
	}
	same := t.homes[user] == h
	t.homes[user] = h
	t.mu.Unlock()
	if same {
		return
	}
	v := h.channel
	if h.direct {
		v = "direct:" + v
	}
	if err := t.mem.Put(ctx, "home/"+user, v); err != nil {
		t.log.Error("where a person wrote on Discord cannot be remembered", "err", err)
	}
}

// threadOf is the thread that the channel is, or empty when it isn't a commission's: a thread that the bot opened, or
// direct messages in which it opened a commission.
func (t *Transport) threadOf(ctx context.Context, channel, guild string) (chat.ThreadID, error) {
	t.mu.Lock()
	is, known := t.threads[channel]
	t.mu.Unlock()
	if !known {
		if guild == "" {
			_, ok, err := t.mem.Get(ctx, "direct/"+channel)
			if err != nil {
				return "", fmt.Errorf("the conversation cannot be recalled: %w", err)
			}
			if !ok { // it may become one
				return "", nil
			}
			is = true
		} else {
			c, err := t.channel(ctx, channel)
			if err != nil {
				return "", fmt.Errorf("the channel cannot be looked up: %w", err)
			}
			bot, _, err := t.self(ctx)
			if err != nil {
				return "", err
			}
			is = c.IsThread() && c.OwnerID == bot
			t.mu.Lock()
			if c.IsThread() {
				t.parents[channel] = c.ParentID
			}
			t.mu.Unlock()
		}
		t.mu.Lock()
		t.threads[channel] = is
		t.mu.Unlock()
	}
	if !is {
		return "", nil
	}
	return threadID(channel), nil
}
