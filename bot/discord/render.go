package discord

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/bwmarrin/discordgo"

	"benchbell/bot/chat"
)

// Limits of the service, in characters unless said otherwise. Source: its published interface description (OpenAPI,
// github.com/discord/discord-api-spec), which the stand-in holds every request against; where that says nothing or allows
// more (marked so), its documentation of messages, components and file uploads, from memory.
const (
	textSize   = 2000 // documentation; the description's 4000 is for those who pay
	altSize    = 1024
	lineSize   = 100 // label, value and note of a menu's option; a form field's hint; a command's summary
	rowsMax    = 5   // documentation
	rowButtons = 5
)

// textRoom is what a post's text may count to, its escapes included: the rest of textSize is for the mark, for four people
// told at 24 characters each, and for a progress bar without its stages' names.
const textRoom = textSize - markSize - 4*24 - barRoom

// limits are the transport's. Text is counted as it is written, with escapes.
var limits = chat.Limits{
	Text: textRoom, Length: func(s string) int { return length(markdown(s)) },
	Files: 10, Buttons: rowsMax * rowButtons, Menus: rowsMax, Rows: rowsMax, InRow: rowButtons, Options: 25, Fields: 5,
	Title: 45, Label: 80, Line: lineSize, Value: 4000, Action: 100,
	File:   10 << 20, // documentation: the default for a server without privileges
	Upload: 8 << 20,  // ours: what is kept of a picture
}

// Limits are those of the service; see the constants above for their sources.
func (t *Transport) Limits() chat.Limits { return limits }

// length is a text's length as the service counts it.
func length(s string) int { return utf8.RuneCountInString(s) }

// hash names the parts in hexadecimal.
func hash(parts ...string) string {
	sum := sha256.Sum256([]byte(strings.Join(parts, "\x00")))
	return hex.EncodeToString(sum[:])
}

// The eight characters of no width that a mark is written in: three bits each. They are none that the service trims from a
// text's ends (from memory; where it did, posts are still found through Memory).
var blanks = []rune{'\u200b', '\u200c', '\u200d', '\u2060', '\u2061', '\u2062', '\u2063', '\u2064'}

// markSize is the length of a mark in characters: 16 of 3 bits tell 2^48 keys apart, plenty for one thread's messages.
const markSize = 16

// marker is what the text of the key's message ends with, unseen.
func marker(key string) string {
	sum := sha256.Sum256([]byte("post\x00" + key))
	out := make([]rune, markSize)
	for i := range out {
		out[i] = blanks[sum[i]&7]
	}
	return string(out)
}

// numeric reports whether s could be an ID of the service.
func numeric(s string) bool {
	for _, r := range s {
		if r < '0' || r > '9' {
			return false
		}
	}
	return s != ""
}

var link = regexp.MustCompile(`https?://[^\s<>]+`)

// markdown writes plain text with *emphasis* so that the service shows just that: emphasis bold, everything else as
// typed. Web addresses are left alone, for an escape would become part of them.
func markdown(s string) string {
	var b strings.Builder
	for i, line := range strings.Split(s, "\n") {
		if i > 0 {
			b.WriteByte('\n')
		}
		at := 0
		for _, m := range link.FindAllStringIndex(line, -1) {
			plain(&b, line[at:m[0]], at == 0)
			b.WriteString(line[m[0]:m[1]])
			at = m[1]
		}
		plain(&b, line[at:], at == 0)
	}
	return b.String()
}

// plain writes a piece of a line that holds no address; start says that the line begins with it.
func plain(b *strings.Builder, s string, start bool) {
	r := []rune(s)
	for i := 0; i < len(r); i++ {
		c := r[i]
		start = start && (i == 0 || unicode.IsSpace(r[i-1])) // nothing but blanks so far
		if c == '*' {
			if end := emphasis(r, i); end > 0 {
				b.WriteString("**")
				plain(b, string(r[i+1:end]), false)
				b.WriteString("**")
				i = end
				continue
			}
		}
		if strings.ContainsRune("\\*_~`|<[", c) || start && strings.ContainsRune("#>-", c) {
			b.WriteByte('\\')
		}
		b.WriteRune(c)
	}
}

// emphasis is where the emphasis that opens at r[i] closes, or 0: an opening asterisk follows no letter or digit and
// precedes no space, a closing one the other way round.
func emphasis(r []rune, i int) int {
	word := func(c rune) bool { return unicode.IsLetter(c) || unicode.IsDigit(c) }
	if i > 0 && word(r[i-1]) || i+1 >= len(r) || unicode.IsSpace(r[i+1]) || r[i+1] == '*' {
		return 0
	}
	for j := i + 2; j < len(r); j++ {
		if r[j] == '*' && !unicode.IsSpace(r[j-1]) && (j+1 == len(r) || !word(r[j+1])) {
			return j
		}
	}
	return 0
}

// postText is a post's content: who is told, the text, the progress, and the key's mark. A text beyond Limits ends at a word
// and in "…"; where the progress has no room beside the text, its stages are left unnamed.
func postText(p chat.Post, tell []string) string {
	var head string
	for _, id := range tell {
		head += "<@" + id + "> "
	}
	room := textSize - length(head) - markSize
	text, foot := p.Text, ""
	if p.Bar != nil {
		names, blocks := barText(*p.Bar)
		foot = names + "\n" + blocks
		if text != "" {
			foot = "\n" + foot
			if length(markdown(text))+length(foot) > room {
				foot = "\n" + blocks
			}
		} else if length(foot) > room {
			foot = blocks
		}
	}
	most := chat.Limits{Text: room - length(foot), Length: limits.Length}
	return head + markdown(most.Clip(text)) + foot + marker(p.Key)
}

// barSize is how many blocks a progress bar has: ten, so that a block is a tenth.
const barSize = 10

// barRoom is what a progress bar takes at most without its stages' names: a line end, the blocks, " 100 % · stopped".
const barRoom = 1 + barSize + 16

// barText shows progress in two lines: the stages by name, and blocks with the share of the whole.
func barText(b chat.Bar) (stages, blocks string) {
	var names []string
	for i, s := range b.Stages {
		s = markdown(strings.ReplaceAll(s, "*", ""))
		switch {
		case i < b.At:
			s = "✓ " + s
		case i == b.At && b.Failed:
			s = "✗ **" + s + "**"
		case i == b.At:
			s = "▸ **" + s + "**"
		}
		names = append(names, s)
	}
	share := b.Share
	if !(share > 0) || b.At >= len(b.Stages) { // also when it is not a number
		share = 0
	}
	whole := 1.0
	if n := len(b.Stages); n > 0 {
		whole = (float64(min(max(b.At, 0), n)) + min(share, 1)) / float64(n)
	}
	full := int(math.Floor(whole*barSize + 1e-9)) // a tenth reached counts as reached in spite of rounding
	line := strings.Repeat("▰", full) + strings.Repeat("▱", barSize-full) + fmt.Sprintf(" %.0f %%", math.Floor(whole*100+1e-9))
	if b.Failed {
		line += " · stopped"
	}
	return strings.Join(names, " · "), line
}

// components lays out buttons and menus in rows; never nil, for an empty list takes an edited message's away.
func components(buttons []chat.Button, menus []chat.Menu) ([]discordgo.MessageComponent, error) {
	rows := []discordgo.MessageComponent{}
	seen := map[string]bool{}
	once := func(action string) error {
		if action == "" || len(action) > limits.Action {
			return fmt.Errorf("the action %q has %d bytes; it takes 1 to %d", action, len(action), limits.Action)
		}
		if seen[action] {
			return fmt.Errorf("the action %q stands there twice; each button and menu needs its own", action)
		}
		seen[action] = true
		return nil
	}
	for _, m := range menus {
		if err := once(m.Action); err != nil {
			return nil, err
		}
		if len(m.Options) == 0 || len(m.Options) > limits.Options {
			return nil, fmt.Errorf("the menu %q has %d options; it takes 1 to %d", m.Action, len(m.Options), limits.Options)
		}
		lo, hi := max(m.Min, 0), max(m.Max, 1)
		hi = min(hi, len(m.Options))
		lo = min(lo, hi)
		if n := len(m.Chosen()); n > hi {
			return nil, fmt.Errorf("%d options of the menu %q are chosen, of at most %d", n, m.Action, hi)
		}
		s := discordgo.SelectMenu{MenuType: discordgo.StringSelectMenu, CustomID: m.Action, Placeholder: chat.Clip(m.Label, lineSize), MinValues: &lo, MaxValues: hi}
		values := map[string]bool{}
		for _, o := range m.Options {
			if o.Value == "" || length(o.Value) > lineSize || values[o.Value] {
				return nil, fmt.Errorf("the menu %q has the value %q; values are unique and have 1 to %d characters", m.Action, o.Value, lineSize)
			}
			values[o.Value] = true
			label := o.Label
			if strings.TrimSpace(label) == "" {
				label = o.Value
			}
			s.Options = append(s.Options, discordgo.SelectMenuOption{Label: chat.Clip(label, lineSize), Value: o.Value, Description: chat.Clip(o.Note, lineSize), Default: o.Chosen})
		}
		rows = append(rows, discordgo.ActionsRow{Components: []discordgo.MessageComponent{s}})
	}
	for at := 0; at < len(buttons); at += rowButtons {
		var row []discordgo.MessageComponent
		for _, b := range buttons[at:min(at+rowButtons, len(buttons))] {
			if err := once(b.Action); err != nil {
				return nil, err
			}
			if strings.TrimSpace(b.Label) == "" {
				return nil, fmt.Errorf("the button %q has no label", b.Action)
			}
			style := discordgo.SecondaryButton
			switch b.Tone {
			case chat.Good:
				style = discordgo.SuccessButton
			case chat.Grave:
				style = discordgo.DangerButton
			}
			row = append(row, discordgo.Button{CustomID: b.Action, Label: chat.Clip(b.Label, limits.Label), Style: style})
		}
		rows = append(rows, discordgo.ActionsRow{Components: row})
	}
	if len(rows) > rowsMax {
		return nil, fmt.Errorf("there are %d rows of buttons and menus; a message shows %d", len(rows), rowsMax)
	}
	return rows, nil
}

// modal is a form as the service opens it.
func modal(f *chat.Form) (*discordgo.InteractionResponseData, error) {
	if f.Action == "" || len(f.Action) > limits.Action {
		return nil, fmt.Errorf("the form's action %q has %d bytes; it takes 1 to %d", f.Action, len(f.Action), limits.Action)
	}
	if len(f.Fields) == 0 || len(f.Fields) > limits.Fields {
		return nil, fmt.Errorf("the form %q has %d fields; it takes 1 to %d", f.Action, len(f.Fields), limits.Fields)
	}
	title := chat.Clip(f.Title, limits.Title)
	if strings.TrimSpace(title) == "" {
		title = "…"
	}
	d := &discordgo.InteractionResponseData{CustomID: f.Action, Title: title}
	seen := map[string]bool{}
	for _, fd := range f.Fields {
		if fd.Key == "" || len(fd.Key) > limits.Action || seen[fd.Key] {
			return nil, fmt.Errorf("the form %q has the key %q; keys are unique and have 1 to %d bytes", f.Action, fd.Key, limits.Action)
		}
		seen[fd.Key] = true
		if n := length(fd.Value); n > limits.Value {
			return nil, fmt.Errorf("the field %q of the form %q is filled with %d characters; it takes %d", fd.Key, f.Action, n, limits.Value)
		}
		style := discordgo.TextInputShort
		if fd.Long || strings.ContainsAny(fd.Value, "\n\r") { // one line would lose the others
			style = discordgo.TextInputParagraph
		}
		label := chat.Clip(fd.Label, limits.Title)
		if strings.TrimSpace(label) == "" {
			label = chat.Clip(fd.Key, limits.Title)
		}
		d.Components = append(d.Components, discordgo.ActionsRow{Components: []discordgo.MessageComponent{discordgo.TextInput{
			CustomID: fd.Key, Label: label, Style: style, Placeholder: chat.Clip(fd.Hint, lineSize), Value: fd.Value, Required: !fd.Optional, MaxLength: limits.Value,
		}}})
	}
	return d, nil
}

// sentence makes a refusal's half sentence a whole one.
func sentence(s string) string {
	s = strings.TrimSpace(s)
	if s == "" {
		return "That is not possible."
	}
	r := []rune(s)
	r[0] = unicode.ToUpper(r[0])
	if !strings.ContainsRune(".!?…", r[len(r)-1]) {
		r = append(r, '.')
	}
	return string(r)
}

// manageServer is the permission that stands for the studio's seat where no role is set. Source: the service's list of
// permission flags (from memory).
const (
	manageServer  = 1 << 5
	administrator = 1 << 3
)

// slash is a command as the service registers it. The library's own type sends more than the service's interface
// description knows.
type slash struct {
	Type        discordgo.ApplicationCommandType   `json:"type"`
	Name        string                             `json:"name"`
	Description string                             `json:"description"`
	Options     []slashOption                      `json:"options"`
	Permissions *string                            `json:"default_member_permissions,omitempty"`
	Contexts    []discordgo.InteractionContextType `json:"contexts,omitempty"`
}

type slashOption struct {
	Type        discordgo.ApplicationCommandOptionType `json:"type"`
	Name        string                                 `json:"name"`
	Description string                                 `json:"description"`
	Required    bool                                   `json:"required"`
}

// command is a command as the service registers it. A studio command is hidden from those who may not manage the server,
// unless a role is the studio's seat: the service can't hide by role, so that it is then refused when used.
func (t *Transport) command(c chat.Command) slash {
	a := slash{Type: discordgo.ChatApplicationCommand, Name: c.Name, Description: chat.Clip(c.Summary, lineSize), Options: []slashOption{}}
	if a.Description == "" {
		a.Description = c.Name
	}
	if c.Studio {
		a.Contexts = []discordgo.InteractionContextType{discordgo.InteractionContextGuild}
		if t.opts.StudioRole == "" {
			p := strconv.Itoa(manageServer)
			a.Permissions = &p
		}
	}
	// The service wants required options in front.
	for _, required := range []bool{true, false} {
		for _, o := range c.Options {
			if o.Required != required {
				continue
			}
			kind := discordgo.ApplicationCommandOptionString
			if o.File {
				kind = discordgo.ApplicationCommandOptionAttachment
			}
			summary := chat.Clip(o.Summary, lineSize)
			if summary == "" {
				summary = o.Name
			}
			a.Options = append(a.Options, slashOption{Type: kind, Name: o.Name, Description: summary, Required: o.Required})
		}
	}
	return a
}
