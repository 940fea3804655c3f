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

	"github.com/bwmarrin/discordgo"

	"benchbell/bot/chat"
)

// Limits of the service, in characters unless said otherwise. Source: its published documentation of messages,
// components and application commands (from memory).
const (
	textSize        = 2000
	altSize         = 1024
	buttonSize      = 80
	placeholderSize = 150
	optionSize      = 100 // label, value and note of a menu's option; a form field's hint; a command's summary
	rowsMax         = 5
	buttonsInRow    = 5
	maxFiles        = 10
	valueSize       = 4000 // of a form's field
)

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

// trim cuts s to at most n characters, the last of them "…" when something was cut.
func trim(s string, n int) string {
	r := []rune(s)
	if len(r) <= n {
		return s
	}
	return strings.TrimRightFunc(string(r[:n-1]), unicode.IsSpace) + "…"
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

// plain writes a piece of a line that holds no address.
func plain(b *strings.Builder, s string, start bool) {
	r := []rune(s)
	for i := 0; i < len(r); i++ {
		c := r[i]
		if c == '*' {
			if end := emphasis(r, i); end > 0 {
				b.WriteString("**")
				plain(b, string(r[i+1:end]), false)
				b.WriteString("**")
				i = end
				continue
			}
		}
		if strings.ContainsRune("\\*_~`|<[", c) || start && strings.TrimSpace(string(r[:i])) == "" && strings.ContainsRune("#>-", c) {
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

// cutMarkdown is markdown(s) in at most n characters, cut before escaping so that no mark is left open.
func cutMarkdown(s string, n int) string {
	out := markdown(s)
	for keep := n; len([]rune(out)) > n && keep > 1; keep -= max(1, (len([]rune(out))-n+1)/2) {
		out = markdown(trim(s, keep))
	}
	return out
}

// splitText cuts text into pieces that one message holds each once written as markdown, at line ends where it can.
func splitText(s string) []string {
	var out []string
	for rest := []rune(s); len(rest) > 0; {
		n := min(len(rest), textSize)
		for len([]rune(markdown(string(rest[:n])))) > textSize {
			n = n * 9 / 10
		}
		if n < len(rest) {
			for _, sep := range []rune{'\n', ' '} {
				if at := lastRune(rest[:n], sep); at > n/2 {
					n = at + 1
					break
				}
			}
		}
		if piece := strings.Trim(string(rest[:n]), "\n"); strings.TrimSpace(piece) != "" {
			out = append(out, markdown(piece))
		}
		rest = rest[n:]
	}
	return out
}

func lastRune(r []rune, c rune) int {
	for i := len(r) - 1; i >= 0; i-- {
		if r[i] == c {
			return i
		}
	}
	return -1
}

// postText is a post's content: who is told, the text, the progress, and the key's mark.
func postText(p chat.Post, tell []string) string {
	var head, foot string
	for _, id := range tell {
		head += "<@" + id + "> "
	}
	if p.Bar != nil {
		foot = barText(*p.Bar)
		if p.Text != "" {
			foot = "\n" + foot
		}
	}
	foot = trim(foot, textSize/2) + marker(p.Key)
	room := textSize - len([]rune(head)) - len([]rune(foot))
	return head + cutMarkdown(p.Text, room) + foot
}

// barSize is how many blocks a progress bar has: ten, so that a block is a tenth.
const barSize = 10

// barText shows progress in two lines: the stages by name, and blocks with the share of the whole.
func barText(b chat.Bar) string {
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
	return strings.Join(names, " · ") + "\n" + line
}

// components lays out buttons and menus in rows; never nil, for an empty list takes an edited message's away.
func components(buttons []chat.Button, menus []chat.Menu) ([]discordgo.MessageComponent, error) {
	rows := []discordgo.MessageComponent{}
	seen := map[string]bool{}
	once := func(action string) error {
		if action == "" || len(action) > chat.MaxAction {
			return fmt.Errorf("the action %q has %d bytes; it takes 1 to %d", action, len(action), chat.MaxAction)
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
		if len(m.Options) == 0 || len(m.Options) > chat.MaxOptions {
			return nil, fmt.Errorf("the menu %q has %d options; it takes 1 to %d", m.Action, len(m.Options), chat.MaxOptions)
		}
		lo, hi := max(m.Min, 0), max(m.Max, 1)
		hi = min(hi, len(m.Options))
		lo = min(lo, hi)
		s := discordgo.SelectMenu{MenuType: discordgo.StringSelectMenu, CustomID: m.Action, Placeholder: trim(m.Label, placeholderSize), MinValues: &lo, MaxValues: hi}
		values := map[string]bool{}
		for _, o := range m.Options {
			if o.Value == "" || len([]rune(o.Value)) > optionSize || values[o.Value] {
				return nil, fmt.Errorf("the menu %q has the value %q; values are unique and have 1 to %d characters", m.Action, o.Value, optionSize)
			}
			values[o.Value] = true
			label := o.Label
			if strings.TrimSpace(label) == "" {
				label = o.Value
			}
			s.Options = append(s.Options, discordgo.SelectMenuOption{Label: trim(label, optionSize), Value: o.Value, Description: trim(o.Note, optionSize)})
		}
		rows = append(rows, discordgo.ActionsRow{Components: []discordgo.MessageComponent{s}})
	}
	for at := 0; at < len(buttons); at += buttonsInRow {
		var row []discordgo.MessageComponent
		for _, b := range buttons[at:min(at+buttonsInRow, len(buttons))] {
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
			row = append(row, discordgo.Button{CustomID: b.Action, Label: trim(b.Label, buttonSize), Style: style})
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
	if f.Action == "" || len(f.Action) > chat.MaxAction {
		return nil, fmt.Errorf("the form's action %q has %d bytes; it takes 1 to %d", f.Action, len(f.Action), chat.MaxAction)
	}
	if len(f.Fields) == 0 || len(f.Fields) > chat.MaxFields {
		return nil, fmt.Errorf("the form %q has %d fields; it takes 1 to %d", f.Action, len(f.Fields), chat.MaxFields)
	}
	title := trim(f.Title, chat.MaxLabel)
	if strings.TrimSpace(title) == "" {
		title = "…"
	}
	d := &discordgo.InteractionResponseData{CustomID: f.Action, Title: title}
	seen := map[string]bool{}
	for _, fd := range f.Fields {
		if fd.Key == "" || len(fd.Key) > chat.MaxAction || seen[fd.Key] {
			return nil, fmt.Errorf("the form %q has the key %q; keys are unique and have 1 to %d bytes", f.Action, fd.Key, chat.MaxAction)
		}
		seen[fd.Key] = true
		if n := len([]rune(fd.Value)); n > valueSize {
			return nil, fmt.Errorf("the field %q of the form %q is filled with %d characters; it takes %d", fd.Key, f.Action, n, valueSize)
		}
		style := discordgo.TextInputShort
		if fd.Long || strings.ContainsAny(fd.Value, "\n\r") { // one line would lose the others
			style = discordgo.TextInputParagraph
		}
		label := trim(fd.Label, chat.MaxLabel)
		if strings.TrimSpace(label) == "" {
			label = trim(fd.Key, chat.MaxLabel)
		}
		d.Components = append(d.Components, discordgo.ActionsRow{Components: []discordgo.MessageComponent{discordgo.TextInput{
			CustomID: fd.Key, Label: label, Style: style, Placeholder: trim(fd.Hint, optionSize), Value: fd.Value, Required: !fd.Optional, MaxLength: valueSize,
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
	a := slash{Type: discordgo.ChatApplicationCommand, Name: c.Name, Description: trim(c.Summary, optionSize), Options: []slashOption{}}
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
			summary := trim(o.Summary, optionSize)
			if summary == "" {
				summary = o.Name
			}
			a.Options = append(a.Options, slashOption{Type: kind, Name: o.Name, Description: summary, Required: o.Required})
		}
	}
	return a
}
