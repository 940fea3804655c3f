package discord

import (
	"context"
	"fmt"
	"net/http"
	"strconv"
	"strings"

	"github.com/bwmarrin/discordgo"

	"benchbell/bot/chat"
)

// searched is how many of a thread's latest messages are searched for a post's mark when Memory doesn't know it.
const searched = 300

// wire is a message as the service takes it. discordgo's own types know neither the nonce nor an attachment's description.
type wire struct {
	Content     *string                           `json:"content,omitempty"`
	Components  *[]discordgo.MessageComponent     `json:"components,omitempty"`
	Attachments *[]attachment                     `json:"attachments,omitempty"`
	Mentions    *discordgo.MessageAllowedMentions `json:"allowed_mentions"`
	Nonce       string                            `json:"nonce,omitempty"`
	Enforce     bool                              `json:"enforce_nonce,omitempty"`
	Reference   *discordgo.MessageReference       `json:"message_reference,omitempty"`
	Flags       discordgo.MessageFlags            `json:"flags,omitempty"`
}

type attachment struct {
	ID          string `json:"id"` // n of the part files[n]
	Filename    string `json:"filename"`
	Description string `json:"description,omitempty"`
}

// noPing lets nobody be told, whatever the text says.
func noPing() *discordgo.MessageAllowedMentions {
	return &discordgo.MessageAllowedMentions{Parse: []discordgo.AllowedMentionType{}}
}

// Put posts or edits. A key's message is found in Memory, or else among the thread's latest messages by a mark that its
// text ends with (characters of no width, a hash of the key). A post repeated within minutes, because the answer to the
// first was lost, is recognised by the service itself through its nonce. Text beyond what one message holds ends at a word and in "…".
// An edit tells nobody anew.
func (t *Transport) Put(ctx context.Context, p chat.Post) error {
	channel, ok := strings.CutPrefix(string(p.Thread), scheme+":")
	if !ok || channel == "" {
		return fmt.Errorf("%q is no thread on Discord; open one first", p.Thread)
	}
	if p.Key == "" {
		return fmt.Errorf("a post needs a key")
	}
	if len(p.Files) > limits.Files {
		return fmt.Errorf("the post %s has %d files; Discord shows at most %d", p.Key, len(p.Files), limits.Files)
	}
	if err := shippable(p.Files); err != nil {
		return fmt.Errorf("the post %s cannot be shown: %w", p.Key, err)
	}
	parts, err := components(p.Buttons, p.Menus)
	if err != nil {
		return fmt.Errorf("the post %s cannot be shown: %w", p.Key, err)
	}
	defer t.locks.lock("post/" + p.Key)()

	var tell []string
	for _, who := range p.Mention {
		if id, ok := strings.CutPrefix(string(who), scheme+":"); ok && numeric(id) {
			tell = append(tell, id)
		}
	}
	content := postText(p, tell)
	body := wire{Content: &content, Components: &parts, Mentions: noPing()}
	if p.Files != nil {
		body.Attachments = attachments(p.Files)
	}

	message, err := t.findPost(ctx, channel, p.Key)
	if err != nil {
		return fmt.Errorf("the post %s cannot be looked up: %w", p.Key, err)
	}
	if message != "" {
		err := t.edit(ctx, channel, message, body, p.Files)
		if err == nil {
			return t.posted(ctx, channel, p.Key, message)
		}
		if !is(err, codeUnknownMessage) { // deleted by somebody: post it anew
			return fmt.Errorf("the post %s cannot be edited: %w", p.Key, err)
		}
	}

	fresh := body
	// A message deleted a minute ago still holds its nonce, hence its ID in the next one's.
	fresh.Nonce, fresh.Enforce = hash("nonce", channel, p.Key, message)[:24], true
	fresh.Mentions = noPing()
	fresh.Mentions.Users = tell
	var made discordgo.Message
	err = t.call(ctx, request{method: http.MethodPost, url: discordgo.EndpointChannelMessages(channel), body: fresh, files: p.Files}, &made)
	if err != nil {
		return fmt.Errorf("the post %s cannot be sent: %w", p.Key, err)
	}
	if err := t.posted(ctx, channel, p.Key, made.ID); err != nil {
		return err
	}
	if made.Content != content { // the service recognised the nonce of an earlier version
		if err := t.edit(ctx, channel, made.ID, body, p.Files); err != nil {
			return fmt.Errorf("the post %s cannot be edited: %w", p.Key, err)
		}
	}
	return nil
}

func (t *Transport) posted(ctx context.Context, channel, key, message string) error {
	if err := t.mem.Put(ctx, "post/"+key, channel+"/"+message); err != nil {
		return fmt.Errorf("the post %s cannot be remembered: %w", key, err)
	}
	return nil
}

// edit replaces a message, in a thread that may have gone to rest meanwhile.
func (t *Transport) edit(ctx context.Context, channel, message string, body wire, files []chat.File) error {
	r := request{
		method: http.MethodPatch, url: discordgo.EndpointChannelMessage(channel, message),
		bucket: discordgo.EndpointChannelMessage(channel, ""), body: body, files: files,
	}
	err := t.call(ctx, r, nil)
	if !is(err, codeThreadArchived) {
		return err
	}
	wake := request{method: http.MethodPatch, url: discordgo.EndpointChannel(channel), body: map[string]bool{"archived": false}}
	if err := t.call(ctx, wake, nil); err != nil {
		return err
	}
	return t.call(ctx, r, nil)
}

// findPost is the ID of the message of the channel that carries the key, or empty.
func (t *Transport) findPost(ctx context.Context, channel, key string) (string, error) {
	v, ok, err := t.mem.Get(ctx, "post/"+key)
	if err != nil {
		return "", err
	}
	if ok {
		if in, message, _ := strings.Cut(v, "/"); in == channel {
			return message, nil
		}
		return "", nil
	}
	bot, _, err := t.self(ctx)
	if err != nil {
		return "", err
	}
	mark, before := marker(key), ""
	for seen := 0; seen < searched; {
		var page []*discordgo.Message
		url := discordgo.EndpointChannelMessages(channel) + "?limit=100"
		if before != "" {
			url += "&before=" + before
		}
		r := request{method: http.MethodGet, url: url, bucket: discordgo.EndpointChannelMessages(channel)}
		if err := t.call(ctx, r, &page); err != nil {
			return "", err
		}
		for _, m := range page {
			if m.Author != nil && m.Author.ID == bot && strings.HasSuffix(m.Content, mark) {
				return m.ID, nil
			}
			before = m.ID
		}
		if seen += len(page); len(page) < 100 {
			break
		}
	}
	return "", nil
}

// shippable says which file the service would not take; nil: it takes them all.
func shippable(files []chat.File) error {
	for _, f := range files {
		if len(f.Data) > limits.File {
			return fmt.Errorf("the file %s has %d bytes; Discord takes at most %d", f.Name, len(f.Data), limits.File)
		}
	}
	return nil
}

// attachments describes the files of a message, which replace those it had.
func attachments(files []chat.File) *[]attachment {
	list := make([]attachment, len(files))
	for i, f := range files {
		list[i] = attachment{ID: strconv.Itoa(i), Filename: f.Name, Description: chat.Clip(f.Alt, altSize)}
	}
	return &list
}
