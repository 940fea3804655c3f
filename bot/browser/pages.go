package browser

import (
	"bytes"
	"context"
	"crypto/rand"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"
	"unicode"

	"benchbell/bot/chat"
)

// botName is who pages say posted what the bot posts: not the studio, whose people write here too.
const botName = "Benchbell"

//go:embed pages
var pageFiles embed.FS

// pages are the templates; each desk has them with its own "when".
var pages = template.Must(template.New("").Funcs(template.FuncMap{
	"once": rand.Text, "emphasis": emphasis, "words": words, "size": humanSize, "when": time.Time.String, "stamp": stamp,
	"mostTyped": func() int { return maxTyped },
}).ParseFS(pageFiles, "pages/*.html"))

// context of every form on a page; kept out of the revisions, as it says nothing about what is shown.
type pageContext struct {
	Base, Token string
	Thread      chat.ThreadID
	Page        string // where what is done is answered; empty: at the thread, or at the list
}

type doorView struct {
	Studio              string
	Name, Role, Refused string
	Again               string
	ByName              bool // a name alone is enough
	NeedOwner           bool // the first owner is still to be named, with the passphrase
}

type pageView struct {
	C        pageContext
	Studio   string
	Seat     seat
	Title    string
	Events   string
	Shared   bool // everybody of the studio shares this seat, and it could be otherwise
	Only     bool // let in for one matter
	Thread   *Thread
	With     string
	Threads  []threadView
	Further  []Page
	Own      string // address of the client's page of it; empty: there is none
	OwnTitle string
	Posts    []postView
	Cards    []cardView
	Commands []commandView
	Say      draftView
}

type threadView struct {
	ID, Rev, Path, Title, With, Brief string
	Own, OwnTitle                     string // the page of it, where there is one
	Last                              time.Time
}

type fileView struct {
	Name, Alt, Path, MIME string
	Picture               bool
	Size                  int
}

type postView struct {
	C        pageContext `json:"-"`
	ID, Rev  string      `json:"-"`
	Key, By  string
	ByID     chat.PersonID
	ForIDs   []chat.PersonID
	Own, Bot bool
	ForMe    bool
	At       time.Time
	Edited   bool
	Text     string
	Files    []fileView
	Bar      *barView
	Mention  []string
	On       string
	Buttons  []chat.Button
	Menus    []menuView
	Version  time.Time
}

type barView struct {
	*chat.Bar
	Percent int
	Say     string
	Stages  []stageView
}

type stageView struct{ Name, State string }

type cardView struct {
	C              pageContext `json:"-"`
	ID, Rev        string      `json:"-"`
	At             time.Time
	Text           string
	Refused        string
	Sorry          bool
	Files          []fileView
	On             string
	Buttons        []chat.Button
	Menus          []menuView
	Form           *formView
	ThreadPath     string
	Target, Origin string
}

type formView struct {
	Action, Title string
	Fields        []fieldView
	Files         []fileView
	Hint          string // where all have the same
	Optional      bool   // all may stay empty
	Many          bool   // side by side where there is room
}

type fieldView struct {
	chat.Field
	Wrong bool // the refusal names it
}

// Choices are the field's options, and what was typed before they were there.
func (f fieldView) Choices() []string {
	if f.Value == "" || slices.Contains(f.Options, f.Value) {
		return f.Options
	}
	return append(slices.Clone(f.Options), f.Value)
}

type draftView struct {
	C       pageContext `json:"-"`
	Rev     string      `json:"-"`
	Refused string
	Sorry   bool
	Note    string
	Kept    []string
}

type commandView struct {
	C       pageContext `json:"-"`
	ID, Rev string      `json:"-"`
	chat.Command
	Fields  []optionView
	Draft   bool
	Refused string
	Sorry   bool
	Upload  bool
}

type optionView struct {
	chat.CommandOption
	ID, Value, Kept string
}

// revision is a short hash of what is shown, by which a page knows the parts that changed.
func revision(v any) string {
	raw, err := json.Marshal(v)
	if err != nil {
		return rand.Text() // shown anew each time
	}
	sum := sha256.Sum256(raw)
	return hex.EncodeToString(sum[:8])
}

// anchor is an element's id for a key of any characters.
func anchor(prefix, key string) string {
	sum := sha256.Sum256([]byte(key))
	return prefix + hex.EncodeToString(sum[:6])
}

func (d *Desk) door(w http.ResponseWriter, r *http.Request) {
	again := r.URL.Query().Get("again")
	if c, err := r.Cookie(seatName); err == nil && again == "" && slugs.MatchString(c.Value) && !d.byName(r.Context()) {
		http.Redirect(w, r, "/as/"+c.Value+"/", http.StatusSeeOther) // which leads back here where they have been signed out
		return
	}
	v := doorView{Again: again, Name: r.URL.Query().Get("name")}
	if again == studioSlug {
		v.Role = "studio"
	}
	d.renderDoor(w, r, http.StatusOK, v)
}

func (d *Desk) renderDoor(w http.ResponseWriter, r *http.Request, status int, v doorView) {
	v.Studio, v.ByName = d.o.Studio, d.byName(r.Context())
	if named, err := d.isNamed(r.Context()); err == nil {
		v.NeedOwner = !named && !d.private
	}
	d.render(w, status, "door", v)
}

func (d *Desk) fail(w http.ResponseWriter, status int, say string) {
	d.render(w, status, "problem", struct{ Studio, Say string }{d.o.Studio, say})
}

func (d *Desk) render(w http.ResponseWriter, status int, name string, v any) {
	var b bytes.Buffer
	if err := d.pages.ExecuteTemplate(&b, name, v); err != nil {
		d.o.Log.Error("a page can't be made", "page", name, "err", err)
		http.Error(w, sorryText, http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	w.Write(b.Bytes())
}

func (d *Desk) page(s seat, thread chat.ThreadID, title string) pageView {
	c := pageContext{Base: s.base(), Token: d.token(s), Thread: thread}
	v := pageView{C: c, Studio: d.o.Studio, Seat: s, Title: title, Events: s.base() + "events"}
	v.Only, v.Shared = s.As.Only != "", s.Studio && s.As.ID == "" && d.o.Seats != nil
	if thread != "" {
		v.Events += "?thread=" + url.QueryEscape(string(thread))
	}
	at := s.place(thread)
	for _, k := range d.cards.at(at) {
		v.Cards = append(v.Cards, d.cardView(c, s, at, k))
	}
	d.mu.RLock()
	commands := slices.Clone(d.commands)
	d.mu.RUnlock()
	if s.Studio { // its own work first
		slices.SortStableFunc(commands, func(a, b chat.Command) int { return rank(a) - rank(b) })
	}
	for _, cmd := range commands {
		if cmd.Studio && !s.Studio || cmd.InThread && thread == "" || cmd.Apart && v.Only || slices.Contains(s.NotFor, cmd.Name) {
			continue
		}
		v.Commands = append(v.Commands, d.commandView(c, at, cmd))
	}
	dr, _ := d.cards.draft(at, kindSay+" ")
	v.Say = draftView{C: c, Refused: dr.refused, Sorry: dr.sorry, Note: dr.values["note"]}
	for name := range dr.files {
		v.Say.Kept = append(v.Say.Kept, name)
	}
	slices.Sort(v.Say.Kept)
	v.Say.Rev = revision(v.Say)
	return v
}

// rank has what only the studio does before what clients do.
func rank(c chat.Command) int {
	if c.Studio {
		return 0
	}
	return 1
}

func (d *Desk) listPage(w http.ResponseWriter, r *http.Request, s seat) {
	ths, err := d.threads(r.Context(), s)
	if err != nil {
		d.fault(r.Context(), "threads can't be read", "person", s.id(), "err", err)
		d.fail(w, http.StatusInternalServerError, sorryText)
		return
	}
	title := "Your commissions"
	if s.Studio {
		title = "All commissions"
	}
	v := d.page(s, "", title)
	v.Further = d.linked(s)
	if d.o.Own != nil && s.As.Only != "" { // shown where there is no thread here
		v.Own, v.OwnTitle = ownPath(s, s.As.Only), d.o.Own.Title
	}
	for _, t := range ths {
		tv := threadView{ID: anchor("t-", string(t.ID)), Path: threadPath(s, t.ID), Title: t.Title, With: d.name(t.With), Last: t.Last, Brief: t.Brief}
		if d.o.Own != nil && !s.Studio {
			tv.Own, tv.OwnTitle = ownPath(s, t.Key), d.o.Own.Title
		}
		tv.Rev = revision(tv)
		v.Threads = append(v.Threads, tv)
	}
	d.render(w, http.StatusOK, "list", v)
}

func (d *Desk) threadPage(w http.ResponseWriter, r *http.Request, s seat) {
	t, ok := d.thread(r.Context(), s, chat.ThreadID(scheme+":"+r.PathValue("thread")))
	if !ok {
		d.fail(w, http.StatusNotFound, "you have no such thread; go back to your list")
		return
	}
	posts, err := d.posts(r.Context(), s, t.ID)
	if err != nil {
		d.fault(r.Context(), "posts can't be read", "thread", t.ID, "err", err)
		d.fail(w, http.StatusInternalServerError, sorryText)
		return
	}
	v := d.page(s, t.ID, t.Title)
	v.Thread, v.Posts, v.With = &t, posts, d.name(t.With)
	if d.o.Own != nil && !s.Studio {
		v.Own, v.OwnTitle = ownPath(s, t.Key), d.o.Own.Title
	}
	d.render(w, http.StatusOK, "thread", v)
}

func (d *Desk) posts(ctx context.Context, s seat, id chat.ThreadID) ([]postView, error) {
	kept, err := d.o.Store.Posts(ctx, id)
	if err != nil {
		return nil, err
	}
	c := pageContext{Base: s.base(), Token: d.token(s), Thread: id}
	var out []postView
	for _, k := range kept {
		p := k.Post
		v := postView{
			C: c, ID: anchor("p-", p.Key), Key: p.Key, Bot: k.By == "", By: botName, Own: k.By == s.id(), At: k.At,
			ByID: k.By, ForIDs: p.Mention,
			Edited: !k.Edited.IsZero(), Version: k.Edited, Text: p.Text, Buttons: p.Buttons,
			ForMe: slices.Contains(p.Mention, s.id()),
		}
		if !v.Bot {
			v.By = d.name(k.By)
		}
		for _, m := range p.Mention {
			v.Mention = append(v.Mention, d.name(m))
		}
		for i, f := range p.Files {
			q := url.Values{"thread": {string(id)}, "post": {p.Key}, "n": {fmt.Sprint(i)}}
			if v.Edited {
				q.Set("of", fmt.Sprint(k.Edited.UnixMilli())) // so that a replaced picture is fetched again
			}
			size := 0
			if i < len(k.Sizes) {
				size = k.Sizes[i]
			}
			v.Files = append(v.Files, viewFile(f, size, s.base()+"file/", q))
		}
		on := postMessage(k)
		v.On, v.Menus = on.on, d.viewMenus(s.place(id), on)
		v.Bar = viewBar(p.Bar)
		v.Rev = revision(v)
		out = append(out, v)
	}
	return out, nil
}

func viewFile(f chat.File, size int, base string, q url.Values) fileView {
	return fileView{
		Name: f.Name, Alt: f.Alt, MIME: f.MIME, Picture: pictures[baseType(f.MIME)], Size: size,
		Path: base + url.PathEscape(fileName(f.Name)) + "?" + q.Encode(),
	}
}

func viewBar(b *chat.Bar) *barView {
	if b == nil || len(b.Stages) == 0 {
		return nil
	}
	share := min(max(b.Share, 0), 1)
	at := min(max(b.At, 0), len(b.Stages))
	v := &barView{Bar: b}
	for i, name := range b.Stages {
		state := "todo"
		switch {
		case i < at:
			state = "done"
		case i == at && b.Failed:
			state = "failed"
		case i == at:
			state = "now"
		}
		v.Stages = append(v.Stages, stageView{name, state})
	}
	if at == len(b.Stages) {
		v.Percent, v.Say = 100, "done"
		if b.Failed {
			v.Say = "stopped"
		}
		return v
	}
	v.Percent = int(100 * (float64(at) + share) / float64(len(b.Stages)))
	v.Say = fmt.Sprintf("step %d of %d, %s: %d %%", at+1, len(b.Stages), b.Stages[at], int(100*share))
	if b.Failed {
		v.Say = fmt.Sprintf("stopped at step %d of %d, %s", at+1, len(b.Stages), b.Stages[at])
	}
	return v
}

func (d *Desk) cardView(c pageContext, s seat, at place, k card) cardView {
	v := cardView{C: c, ID: "card-" + k.id, At: k.at, Text: k.reply.Text, Refused: k.refused, Sorry: k.sorry,
		On: cardMessage(k).on, Buttons: k.reply.Buttons, Menus: d.viewMenus(at, cardMessage(k)), Origin: k.origin}
	if t := k.reply.Thread; t != "" {
		v.Target = string(t)
		if t != at.thread {
			v.ThreadPath = threadPath(s, t)
		}
	}
	var fs []fileView
	for i, f := range cardFiles(k) {
		q := url.Values{"card": {k.id}, "n": {fmt.Sprint(i)}}
		if at.thread != "" {
			q.Set("thread", string(at.thread))
		}
		fs = append(fs, viewFile(f, len(f.Data), c.Base+"card/", q))
	}
	n := len(k.reply.Files)
	v.Files = fs[:n]
	if f := k.reply.Form; f != nil {
		v.Form = &formView{Action: f.Action, Title: f.Title, Files: fs[n:]}
		wrong := map[string]bool{}
		if !k.sorry {
			wrong = named(k.refused, f.Fields)
		}
		for _, field := range f.Fields {
			v.Form.Fields = append(v.Form.Fields, fieldView{field, wrong[field.Key]})
		}
		if n := len(f.Fields); n > fewFields {
			v.Form.Many = true
			v.Form.Optional = !slices.ContainsFunc(f.Fields, func(x chat.Field) bool { return !x.Optional })
			if hint := f.Fields[0].Hint; !slices.ContainsFunc(f.Fields, func(x chat.Field) bool { return x.Hint != hint }) {
				v.Form.Hint = hint
			}
		}
	}
	v.Rev = revision(v)
	return v
}

// fewFields are as many as are read one by one; of more, what holds for all is said once.
const fewFields = 4

// named are the keys of the fields that a refusal names by their labels. Of labels within each other the longest counts.
func named(say string, fields []chat.Field) map[string]bool {
	say = strings.ToLower(say)
	longest := slices.SortedFunc(slices.Values(fields), func(a, b chat.Field) int { return len(b.Label) - len(a.Label) })
	out := map[string]bool{}
	for _, f := range longest {
		if label := strings.ToLower(f.Label); label != "" && strings.Contains(say, label) {
			out[f.Key] = true
			say = strings.ReplaceAll(say, label, " ")
		}
	}
	return out
}

func (d *Desk) commandView(c pageContext, at place, cmd chat.Command) commandView {
	dr, has := d.cards.draft(at, kindCommand+" "+cmd.Name)
	v := commandView{C: c, ID: "command-" + cmd.Name, Command: cmd, Draft: has, Refused: dr.refused, Sorry: dr.sorry}
	for _, o := range cmd.Options {
		ov := optionView{CommandOption: o, ID: "o-" + cmd.Name + "-" + o.Name, Value: dr.values[o.Name]}
		if f, ok := dr.files[o.Name]; ok && o.File {
			ov.Kept = f.Name
		}
		v.Upload = v.Upload || o.File
		v.Fields = append(v.Fields, ov)
	}
	v.Rev = revision(v)
	return v
}

// emphasis escapes text and sets *words between asterisks* in bold, within a line.
func emphasis(s string) template.HTML {
	var b strings.Builder
	for s != "" {
		i := strings.IndexByte(s, '*')
		if i < 0 {
			break
		}
		n := emphasised(s[i+1:])
		if n == 0 || i > 0 && wordByte(s[i-1]) {
			b.WriteString(template.HTMLEscapeString(s[:i+1]))
			s = s[i+1:]
			continue
		}
		b.WriteString(template.HTMLEscapeString(s[:i]))
		b.WriteString("<strong>" + template.HTMLEscapeString(s[i+1:i+1+n]) + "</strong>")
		s = s[i+1+n+1:]
	}
	b.WriteString(template.HTMLEscapeString(s))
	return template.HTML(b.String())
}

// emphasised is how many bytes stand before the closing asterisk; 0 when the opening one is only an asterisk, as in
// "2 * 3" or "4*5".
func emphasised(s string) int {
	n := strings.IndexAny(s, "*\n")
	if n <= 0 || s[n] != '*' || s[0] == ' ' || s[n-1] == ' ' || n+1 < len(s) && wordByte(s[n+1]) {
		return 0
	}
	return n
}

func wordByte(c byte) bool {
	return c >= '0' && c <= '9' || c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z'
}

// words makes a command's name readable: "new-commission" is "New commission".
func words(name string) string {
	r := []rune(strings.ReplaceAll(name, "-", " "))
	if len(r) > 0 {
		r[0] = unicode.ToUpper(r[0])
	}
	return string(r)
}

func humanSize(n int) string {
	switch {
	case n < 1000:
		return fmt.Sprintf("%d B", n)
	case n < 1000_000:
		return fmt.Sprintf("%d kB", (n+500)/1000)
	}
	return fmt.Sprintf("%.1f MB", float64(n)/1e6)
}

func stamp(t time.Time) string { return t.UTC().Format(time.RFC3339) }
