package discord

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"maps"
	"net/http"
	"slices"
	"strings"
	"time"

	"github.com/bwmarrin/discordgo"

	"benchbell/bot/chat"
)

// patience is how long an act's handler has before the act is acknowledged without its answer. The service gives three
// seconds (its documentation of interactions, from memory); the third is for the way there.
const patience = 2 * time.Second

// answering is how long an answer may take to be sent when the program is already ending.
const answering = 10 * time.Second

// formPrefix begins the action of an "Open the form" button. No handler's action begins so.
const formPrefix = "~form/"

const apology = "Sorry, that did not work, and the studio has been told. Please try again in a while."

// onInteraction answers one act.
//
// An answer ready within patience goes out as the acknowledgement itself: a form opens at once, text shows to that person
// alone, and an empty answer leaves no trace. Otherwise the person sees that the bot is at work, and the answer follows. A
// form can only be an acknowledgement, and cannot follow another form; where it comes late, follows a form, or has
// pictures or text beside it, the person gets those with a button that opens the form, from memory, without asking the
// handler again.
func (t *Transport) onInteraction(i *discordgo.Interaction) {
	user := i.User
	if i.Member != nil {
		user = i.Member.User
	}
	if user == nil {
		return
	}
	t.mu.Lock()
	base := t.base
	again := t.heard.seen(i.ID)
	t.mu.Unlock()
	if again {
		return
	}
	if i.Type == discordgo.InteractionMessageComponent {
		if id, ok := strings.CutPrefix(i.MessageComponentData().CustomID, formPrefix); ok {
			t.reopen(base, i, user.ID, id)
			return
		}
	}
	type result struct {
		reply chat.Reply
		err   error
	}
	done := make(chan result, 1)
	go func() {
		var r result
		defer func() {
			if p := recover(); p != nil {
				r = result{err: fmt.Errorf("the handler panicked: %v", p)}
			}
			done <- r
		}()
		r.reply, r.err = t.dispatch(base, i, user)
	}()
	late, stop := t.patience()
	defer stop()
	deferred := false
	var r result
	select {
	case r = <-done:
	case <-late:
		ctx, cancel := context.WithTimeout(context.WithoutCancel(base), answering)
		err := t.respond(ctx, i, discordgo.InteractionResponseDeferredChannelMessageWithSource, &wire{Flags: discordgo.MessageFlagsEphemeral}, nil)
		cancel()
		if err != nil {
			t.log.Error("an act on Discord could not be acknowledged", "id", i.ID, "err", err)
		}
		deferred = true
		r = <-done
	}
	ctx, cancel := context.WithTimeout(context.WithoutCancel(base), answering)
	defer cancel()
	if r.err != nil {
		r.reply = t.sorry(r.err, i.ID)
		if i.Type == discordgo.InteractionModalSubmit {
			r.reply = t.keepTyped(r.reply, i, user.ID)
		}
	}
	if err := t.answer(ctx, i, user.ID, r.reply, deferred); err != nil {
		t.log.Error("an act on Discord could not be answered", "id", i.ID, "err", err)
		if permanent(err) && !is(err, codeUnknownInteraction) { // what we wanted to show was refused: at least say so
			if err := t.answer(ctx, i, user.ID, chat.Reply{Text: apology}, deferred); err != nil {
				t.log.Error("nor could an apology be shown", "id", i.ID, "err", err)
			}
		}
	}
}

// keepTyped adds to what the person sees of a failed form the form itself, filled in as they typed it; the service has
// closed it. A form that was opened before a restart is not known any more: then what was typed is shown.
func (t *Transport) keepTyped(r chat.Reply, i *discordgo.Interaction, user string) chat.Reply {
	d := i.ModalSubmitData()
	values := typed(d)
	t.mu.Lock()
	f := t.sheets.find(user, d.CustomID)
	t.mu.Unlock()
	if f == nil {
		for _, k := range slices.Sorted(maps.Keys(values)) {
			if values[k] != "" {
				r.Text += "\nYou typed: " + values[k]
			}
		}
		return r
	}
	again := *f
	again.Fields = slices.Clone(f.Fields)
	for n := range again.Fields {
		if v, ok := values[again.Fields[n].Key]; ok {
			again.Fields[n].Value = v
		}
	}
	r.Form = &again
	return r
}

// typed is what a form sent in holds, by key.
func typed(d discordgo.ModalSubmitInteractionData) map[string]string {
	values := map[string]string{}
	for _, row := range d.Components {
		if row, ok := row.(*discordgo.ActionsRow); ok {
			for _, c := range row.Components {
				if c, ok := c.(*discordgo.TextInput); ok {
					values[c.CustomID] = c.Value
				}
			}
		}
	}
	return values
}

// refusalMark begins what the person sees of a refusal.
const refusalMark = "✗ "

// sorry is what the person sees of an error: a refusal's own words, or an apology while the cause is logged.
func (t *Transport) sorry(err error, id string) chat.Reply {
	var no *chat.Refusal
	if errors.As(err, &no) {
		return chat.Reply{Text: refusalMark + sentence(no.Say)}
	}
	t.log.Error("an act on Discord failed", "id", id, "err", err)
	return chat.Reply{Text: apology}
}

// dispatch turns the interaction into what a handler knows and asks the handler.
func (t *Transport) dispatch(ctx context.Context, i *discordgo.Interaction, user *discordgo.User) (chat.Reply, error) {
	thread, err := t.threadOf(ctx, i.ChannelID, i.GuildID)
	if err != nil {
		return chat.Reply{}, err
	}
	t.wrote(ctx, user.ID, i.ChannelID, i.GuildID)
	studio, err := t.seated(ctx, i.GuildID, user.ID, i.Member, true)
	if err != nil {
		return chat.Reply{}, err
	}
	in := chat.Incoming{ID: i.ID, Thread: thread, Person: person(user, i.Member, studio)}
	switch i.Type {
	case discordgo.InteractionApplicationCommand:
		d := i.ApplicationCommandData()
		t.mu.Lock()
		own := t.studio[d.Name]
		t.mu.Unlock()
		if own && !studio {
			return chat.Reply{}, &chat.Refusal{Say: fmt.Sprintf("only the studio can use /%s", d.Name)}
		}
		if own && thread == "" && i.GuildID != "" {
			// The studio speaks where only it reads, in a channel or thread of its own: that is where it may want its
			// notices, so the handler is told.
			in.Thread = threadID(i.ChannelID)
		}
		in.Command, in.Values = d.Name, map[string]string{}
		for _, o := range d.Options {
			if o.Type != discordgo.ApplicationCommandOptionAttachment {
				in.Values[o.Name] = fmt.Sprint(o.Value)
				continue
			}
			id, _ := o.Value.(string)
			if d.Resolved == nil || d.Resolved.Attachments[id] == nil {
				return chat.Reply{}, fmt.Errorf("the command %s came without its attachment %s", d.Name, id)
			}
			f, err := t.download(ctx, d.Resolved.Attachments[id])
			if err != nil {
				return chat.Reply{}, err
			}
			in.Files = append(in.Files, f)
		}
	case discordgo.InteractionMessageComponent:
		d := i.MessageComponentData()
		if d.ComponentType == discordgo.ButtonComponent {
			in.Press = d.CustomID
		} else {
			in.Pick, in.Picked = d.CustomID, d.Values
		}
	case discordgo.InteractionModalSubmit:
		d := i.ModalSubmitData()
		in.Form, in.Values = d.CustomID, typed(d)
	default:
		return chat.Reply{}, fmt.Errorf("an interaction of type %d is not one this bot offers", i.Type)
	}
	return t.handle(ctx, in)
}

// letter is one message to one person.
type letter struct {
	text  string // written as markdown
	files []chat.File
	parts []discordgo.MessageComponent
}

// letters lays out a reply, the last but the files' overflow carrying the buttons.
func (t *Transport) letters(r chat.Reply, user, channel string) ([]letter, error) {
	buttons, files := r.Buttons, r.Files
	if r.Form != nil {
		if r.Text == "" {
			r.Text = "*" + r.Form.Title + "*"
		}
		files = append(append([]chat.File{}, r.Form.Files...), files...)
		t.mu.Lock()
		id := rand.Text()
		t.forms.keep(user, id, r.Form)
		t.mu.Unlock()
		buttons = append([]chat.Button{{Action: formPrefix + id, Label: "Open the form", Tone: chat.Good}}, buttons...)
	}
	parts, err := components(buttons, r.Menus)
	if err != nil {
		return nil, err
	}
	if err := shippable(files); err != nil {
		return nil, err
	}
	var out []letter
	for _, s := range (chat.Limits{Text: textSize, Length: limits.Length}).Split(r.Text) {
		out = append(out, letter{text: markdown(s)})
	}
	if go_, ok := strings.CutPrefix(string(r.Thread), scheme+":"); ok && go_ != channel {
		s := "Continue in <#" + go_ + ">."
		if n := len(out); n > 0 && length(out[n-1].text)+length(s)+1 <= textSize {
			out[n-1].text += "\n" + s
		} else {
			out = append(out, letter{text: s})
		}
	}
	if len(out) == 0 && (len(files) > 0 || len(parts) > 0) {
		out = append(out, letter{})
	}
	if len(out) == 0 {
		return nil, nil
	}
	last := &out[len(out)-1]
	last.parts = parts
	if len(parts) > 0 && last.text == "" && len(files) == 0 {
		last.text = "…" // a message of buttons alone is none
	}
	last.files = files[:min(limits.Files, len(files))]
	for at := limits.Files; at < len(files); at += limits.Files {
		out = append(out, letter{files: files[at:min(at+limits.Files, len(files))]})
	}
	return out, nil
}

// wire is the letter as the service takes it.
func (l letter) wire() wire {
	parts := l.parts
	if parts == nil {
		parts = []discordgo.MessageComponent{}
	}
	w := wire{Content: &l.text, Components: &parts, Mentions: noPing()}
	if len(l.files) > 0 {
		w.Attachments = attachments(l.files)
	}
	return w
}

// answer shows a reply to the acting person.
func (t *Transport) answer(ctx context.Context, i *discordgo.Interaction, user string, r chat.Reply, deferred bool) error {
	if f := r.Form; f != nil && !deferred && i.Type != discordgo.InteractionModalSubmit && r.Text == "" && len(f.Files) == 0 && len(r.Files) == 0 {
		return t.open(ctx, i, user, f)
	}
	list, err := t.letters(r, user, i.ChannelID)
	if err != nil {
		t.log.Error("a reply cannot be shown on Discord", "id", i.ID, "err", err)
		list = []letter{{text: apology}}
	}
	_, app, err := t.self(ctx)
	if err != nil {
		return err
	}
	if i.AppID != "" {
		app = i.AppID
	}
	original := discordgo.EndpointInteractionResponseActions(app, i.Token)
	if len(list) == 0 {
		if !deferred {
			if i.Message != nil { // the act was on a message: it stays as it is
				return t.respond(ctx, i, discordgo.InteractionResponseDeferredMessageUpdate, nil, nil)
			}
			if err := t.respond(ctx, i, discordgo.InteractionResponseDeferredChannelMessageWithSource, &wire{Flags: discordgo.MessageFlagsEphemeral}, nil); err != nil {
				return err
			}
		}
		return t.call(ctx, request{method: http.MethodDelete, url: original}, nil)
	}
	for n, l := range list {
		w := l.wire()
		switch {
		case n == 0 && deferred:
			err = t.call(ctx, request{method: http.MethodPatch, url: original, body: w, files: l.files}, nil)
		case n == 0:
			w.Flags = discordgo.MessageFlagsEphemeral
			err = t.respond(ctx, i, discordgo.InteractionResponseChannelMessageWithSource, &w, l.files)
		default:
			w.Flags = discordgo.MessageFlagsEphemeral
			err = t.call(ctx, request{method: http.MethodPost, url: discordgo.EndpointFollowupMessage(app, i.Token), body: w, files: l.files}, nil)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// respond acknowledges the interaction. That it is acknowledged already means that the answer to an earlier try was lost.
func (t *Transport) respond(ctx context.Context, i *discordgo.Interaction, kind discordgo.InteractionResponseType, data any, files []chat.File) error {
	body := map[string]any{"type": kind}
	if w, ok := data.(*wire); ok && w == nil {
		data = nil
	}
	if data != nil {
		body["data"] = data
	}
	err := t.call(ctx, request{method: http.MethodPost, url: discordgo.EndpointInteractionResponse(i.ID, i.Token), body: body, files: files}, nil)
	if is(err, codeAcknowledged) {
		return nil
	}
	return err
}

// open shows the form as the acknowledgement.
func (t *Transport) open(ctx context.Context, i *discordgo.Interaction, user string, f *chat.Form) error {
	d, err := modal(f)
	if err != nil {
		t.log.Error("a form cannot be shown on Discord", "id", i.ID, "err", err)
		w := letter{text: apology}.wire()
		w.Flags = discordgo.MessageFlagsEphemeral
		return t.respond(ctx, i, discordgo.InteractionResponseChannelMessageWithSource, &w, nil)
	}
	t.mu.Lock()
	t.sheets.keep(user, f.Action, f)
	t.mu.Unlock()
	return t.respond(ctx, i, discordgo.InteractionResponseModal, map[string]any{"custom_id": d.CustomID, "title": d.Title, "components": d.Components}, nil)
}

// reopen answers an "Open the form" button.
func (t *Transport) reopen(base context.Context, i *discordgo.Interaction, user, id string) {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(base), answering)
	defer cancel()
	t.mu.Lock()
	f := t.forms.find(user, id)
	t.mu.Unlock()
	var err error
	if f != nil {
		err = t.open(ctx, i, user, f)
	} else {
		w := letter{text: "This form is no longer open; start again from the button or command that opened it."}.wire()
		w.Flags = discordgo.MessageFlagsEphemeral
		err = t.respond(ctx, i, discordgo.InteractionResponseChannelMessageWithSource, &w, nil)
	}
	if err != nil {
		t.log.Error("a form on Discord could not be opened", "id", i.ID, "err", err)
	}
}

// formsKept is how many forms are remembered at once; the oldest go first. It is well above what one studio's clients
// have open.
const formsKept = 512

// formShelf keeps people's forms by a name of each.
type formShelf struct {
	forms map[string]*chat.Form
	order []string
}

// keep puts the form on the shelf, without its pictures, which have been shown.
func (s *formShelf) keep(user, name string, f *chat.Form) {
	if s.forms == nil {
		s.forms = map[string]*chat.Form{}
	}
	bare := *f
	bare.Files = nil
	key := user + "\x00" + name
	if s.forms[key] == nil {
		s.order = append(s.order, key)
	}
	s.forms[key] = &bare
	if len(s.order) > formsKept {
		delete(s.forms, s.order[0])
		s.order = s.order[1:]
	}
}

// find is the form of that name of the user's, or nil.
func (s *formShelf) find(user, name string) *chat.Form { return s.forms[user+"\x00"+name] }
