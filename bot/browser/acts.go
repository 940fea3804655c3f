package browser

import (
	"bytes"
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"maps"
	"mime/multipart"
	"net/http"
	"net/url"
	"path"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"benchbell/bot/chat"
)

// Kinds of act, as the page's hidden field says them; what is pressed or picked on a message is said by its button.
const (
	kindCommand = "command"
	kindMessage = "message"
	kindPress   = "press"
	kindPick    = "pick"
	kindForm    = "form"
	kindSay     = "say"
)

const (
	maxUploads   = 4   // files in one act; with maxBody's sum
	maxForgotten = 200 // fields, or choices, taken from a page that the desk has forgotten: more than any has
	sorryText    = "Something went wrong on our side. What you gave is kept; please try again in a moment. The studio's log says what happened."
)

// posted is an act as it came in, before it is known to be complete.
type posted struct {
	in      chat.Incoming
	kind    string
	name    string // of the command, or the action
	place   place
	card    string // of the form, when it was opened here
	on      message
	beside  []string // acts sent before it by the same press
	note    string   // words said with files or alone
	uploads map[string]chat.File
	refused string
}

func (d *Desk) act(w http.ResponseWriter, r *http.Request, s seat) {
	if !d.proved(w, r, s) {
		return
	}
	if r.MultipartForm != nil {
		defer r.MultipartForm.RemoveAll()
	}
	thread := chat.ThreadID(r.PostForm.Get("thread"))
	if thread != "" {
		if _, ok := d.thread(r.Context(), s, thread); !ok {
			d.fail(w, http.StatusNotFound, "you have no such thread; go back to your list")
			return
		}
	}
	p := posted{
		in:   chat.Incoming{Person: s.person(), Thread: thread},
		kind: r.PostForm.Get("kind"), name: r.PostForm.Get("name"), card: r.PostForm.Get("card"),
		place: s.place(thread), uploads: map[string]chat.File{},
	}
	d.keepTyped(r, p.place)
	to, ok := "", false
	switch p.kind {
	case kindCommand:
		ok = d.readCommand(r, s, &p)
	case kindMessage:
		to = d.onMessage(r, s, p)
	case kindForm:
		ok = d.readForm(r, &p)
	case kindSay:
		ok = thread != ""
		d.readSay(r, &p)
	}
	if ok {
		p.in.ID = actID(s, r.PostForm.Get("act"), p)
		to, _ = d.carryOut(r.Context(), s, p)
	}
	if to == "" {
		d.fail(w, http.StatusBadRequest, "the desk doesn't know what was asked; load the page again and repeat it")
		return
	}
	goOn(w, r, onPage(r, s, to))
}

// goOn sends the person's browser to the address. The page's script reads it instead, since what it fetches never
// tells it the part behind the number sign.
func goOn(w http.ResponseWriter, r *http.Request, to string) {
	if r.Header.Get("X-Desk") == "follow" {
		w.Header().Set("Content-Type", "text/plain; charset=utf-8")
		io.WriteString(w, to)
		return
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
}

// actID is the same for the same act sent twice from one page, and another for anything else: the page's one-time
// number alone would make a corrected form look like the uncorrected one sent again.
func actID(s seat, once string, p posted) string {
	h := sha256.New()
	part := func(text string) { fmt.Fprintf(h, "%d:%s", len(text), text) }
	for _, text := range []string{string(s.id()), once, string(p.in.Thread), p.kind, p.name, p.note} {
		part(text)
	}
	for _, k := range slices.Sorted(maps.Keys(p.in.Values)) {
		part(k)
		part(p.in.Values[k])
	}
	for _, v := range append(p.in.Picked[:len(p.in.Picked):len(p.in.Picked)], p.beside...) {
		part(v)
	}
	for _, f := range p.in.Files {
		part(f.Name)
		part(string(f.Data))
	}
	return scheme + ":" + hex.EncodeToString(h.Sum(nil)[:16])
}

// carryOut hands the act over and returns the address that shows what came of it, and whether it was taken.
func (d *Desk) carryOut(ctx context.Context, s seat, p posted) (to string, taken bool) {
	ctx = context.WithoutCancel(ctx) // what is begun is ended, whether somebody still waits for the answer or not
	here := threadPath(s, p.in.Thread)
	began := d.o.Now()
	var reply chat.Reply
	var err error
	switch {
	case p.refused != "":
		err = &chat.Refusal{Say: p.refused}
	case p.kind == kindSay && len(p.in.Files) == 0:
		// Words between people are kept whatever the handler makes of them.
		if _, lost := d.call(ctx, p.in); lost != nil {
			d.fault(ctx, "words in a thread reached nobody else", "person", s.id(), "thread", p.in.Thread, "err", lost)
		}
	default:
		reply, err = d.call(ctx, p.in)
	}
	if err == nil && reply.Form != nil {
		if err = d.Limits().CheckForm(*reply.Form); err != nil {
			err = fmt.Errorf("the form %q can't be shown: %w", reply.Form.Action, err)
		}
	}
	if err != nil {
		var no *chat.Refusal
		say, sorry := sorryText, true
		if errors.As(err, &no) {
			say, sorry = no.Say, false
		} else {
			d.fault(ctx, "an act failed", "act", p.in.ID, "kind", p.kind, "name", p.name, "person", s.id(), "thread", p.in.Thread, "err", err)
		}
		return here + d.refuse(p, say, sorry), false
	}
	if p.kind == kindSay {
		// Shown at the time it came in, before what the handler posted about it.
		err := d.put(ctx, Stored{By: s.id(), At: began, Post: chat.Post{
			Key: "said/" + p.in.ID, Thread: p.in.Thread, Text: p.note, Files: p.in.Files}})
		if err != nil {
			d.fault(ctx, "a person's post can't be kept", "person", s.id(), "err", err)
			return here + d.refuse(p, sorryText, true), false
		}
	}
	switch p.kind {
	case kindCommand, kindSay:
		d.cards.forget(p.place, p.origin())
	case kindForm:
		d.cards.drop(p.place, p.card)
	case kindPick:
		if m, ok := p.on.menu(p.name); ok && m.Answers() {
			d.cards.taken(p.place, p.on, p.name, p.in.Picked)
		} else {
			d.cards.unchoose(p.place, p.on.on, p.name)
		}
	}
	defer d.live.tell(personTopic(s.desk()))
	at := p.place
	if reply.Thread != "" {
		if _, ok := d.thread(ctx, s, reply.Thread); ok {
			at.thread, here = reply.Thread, threadPath(s, reply.Thread)
		}
	}
	if reply.Text == "" && len(reply.Files)+len(reply.Buttons)+len(reply.Menus) == 0 && reply.Form == nil {
		return here, true
	}
	k := card{id: cardID(), origin: p.origin(), at: d.o.Now(), reply: reply}
	d.cards.put(at, k)
	return here + "#card-" + k.id, true
}

func cardID() string { return strings.ToLower(rand.Text()[:12]) }

func (p posted) origin() string { return p.kind + " " + p.name }

// refuse keeps what the person gave beside the sentence that says what is wrong, and returns the fragment to go to.
func (d *Desk) refuse(p posted, say string, sorry bool) string {
	defer d.live.tell(personTopic(p.place.person))
	switch p.kind {
	case kindCommand, kindSay:
		values := maps.Clone(p.in.Values)
		if p.kind == kindSay {
			values = map[string]string{"note": p.note}
		}
		d.cards.keep(p.place, p.origin(), draft{values: values, files: p.uploads, refused: say, sorry: sorry})
		if p.kind == kindSay {
			return "#say"
		}
		return "#command-" + p.name
	case kindForm:
		k, ok := d.cards.find(p.place, p.card)
		if !ok {
			// The desk has forgotten the form, not the answers.
			k = card{id: cardID(), reply: chat.Reply{Form: &chat.Form{Action: p.name, Title: "Your answers"}}}
			for _, key := range slices.Sorted(maps.Keys(p.in.Values)) {
				k.reply.Form.Fields = append(k.reply.Form.Fields, chat.Field{Key: key, Label: key, Optional: true, Long: strings.Contains(p.in.Values[key], "\n")})
			}
		}
		form := *k.reply.Form
		form.Fields = slices.Clone(form.Fields)
		for i, f := range form.Fields {
			form.Fields[i].Value = p.in.Values[f.Key]
		}
		k.reply.Form, k.refused, k.sorry, k.at, k.origin = &form, say, sorry, d.o.Now(), p.origin()
		d.cards.put(p.place, k)
		return "#card-" + k.id
	}
	k := card{id: cardID(), origin: p.origin(), at: d.o.Now(), refused: say, sorry: sorry}
	d.cards.put(p.place, k)
	return "#card-" + k.id
}

func (d *Desk) command(name string, studio bool) (chat.Command, bool) {
	d.mu.RLock()
	defer d.mu.RUnlock()
	for _, c := range d.commands {
		if c.Name == name && (studio || !c.Studio) {
			return c, true
		}
	}
	return chat.Command{}, false
}

func (d *Desk) readCommand(r *http.Request, s seat, p *posted) bool {
	c, ok := d.command(p.name, s.Studio)
	if !ok || c.Apart && s.As.Only != "" {
		return false
	}
	p.in.Command, p.in.Values = c.Name, map[string]string{}
	before, _ := d.cards.draft(p.place, p.origin())
	for _, o := range c.Options {
		if !o.File {
			v := r.PostForm.Get("v." + o.Name)
			if v == "" && o.Was != "" {
				v = r.PostForm.Get("v." + o.Was)
			}
			if v == "" {
				if o.Required {
					p.refuse(o.Name + " is needed: " + lowerFirst(o.Summary))
				}
				continue
			}
			p.value(o.Name, v)
			continue
		}
		f, err := upload(r, "f."+o.Name)
		if f == nil && err == nil && o.Was != "" {
			f, err = upload(r, "f."+o.Was)
		}
		switch {
		case err != nil:
			p.refuse(err.Error())
		case f == nil && r.PostForm.Get("kept."+o.Name) != "":
			if kept, ok := before.files[o.Name]; ok {
				f = &kept
			}
		}
		if f == nil {
			if o.Required {
				p.refuse(o.Name + " is needed: " + lowerFirst(o.Summary))
			}
			continue
		}
		p.uploads[o.Name] = *f
		p.in.Values[o.Name] = f.Name
		p.in.Files = append(p.in.Files, *f)
	}
	return true
}

// refuse keeps the first reason there is.
func (p *posted) refuse(say string) {
	if p.refused == "" {
		p.refused = say
	}
}

// value takes a value exactly as typed, but for line ends, which browsers send as two characters.
func (p *posted) value(key, v string) {
	v = strings.ReplaceAll(v, "\r\n", "\n")
	if !utf8.ValidString(v) {
		p.refuse("what was typed isn't readable text; type it again")
		v = strings.ToValidUTF8(v, "?")
	}
	if utf8.RuneCountInString(v) > maxTyped {
		p.refuse(fmt.Sprintf("an answer can be %d characters long; shorten it", maxTyped))
	}
	p.in.Values[key] = v
}

func (d *Desk) readForm(r *http.Request, p *posted) bool {
	if p.name == "" {
		return false
	}
	p.in.Form, p.in.Values = p.name, map[string]string{}
	var form *chat.Form
	if k, ok := d.cards.find(p.place, p.card); ok && k.reply.Form != nil && k.reply.Form.Action == p.name {
		form = k.reply.Form
	}
	if form == nil {
		n := 0
		for key := range r.PostForm {
			if name, ok := strings.CutPrefix(key, "v."); ok && n < maxForgotten {
				p.value(name, r.PostForm.Get(key))
				n++
			}
		}
		return true
	}
	for _, f := range form.Fields {
		v := r.PostForm.Get("v." + f.Key)
		if v == "" && !f.Optional {
			p.refuse(fmt.Sprintf("%s is needed; the rest of your answers is kept", lowerFirst(f.Label)))
		}
		p.value(f.Key, v)
	}
	return true
}

// keepTyped keeps what was typed or chosen elsewhere on the page and not sent, as the page's script tells it with an act:
// for each part of the page a name, a line end, and its fields as an address has them.
func (d *Desk) keepTyped(r *http.Request, at place) {
	said := r.PostForm["keep"]
	if len(said) == 0 {
		return
	}
	var all []message
	for _, part := range said[:min(len(said), maxForgotten)] {
		what, query, _ := strings.Cut(part, "\n")
		v, err := url.ParseQuery(query)
		if err != nil {
			continue
		}
		kind, name, _ := strings.Cut(what, " ")
		switch kind {
		case "post", "card":
			if all == nil {
				if all, err = d.shown(r.Context(), at); err != nil {
					d.fault(r.Context(), "what a page shows can't be read", "thread", at.thread, "err", err)
					return
				}
			}
			if i := slices.IndexFunc(all, func(m message) bool { return m.on == what }); i >= 0 {
				for _, c := range choices(v) {
					d.hold(at, all[i], c)
				}
			}
		case kindForm:
			d.cards.fill(at, name, func(f chat.Field) string {
				if _, ok := v["v."+f.Key]; !ok {
					return f.Value
				}
				return tidyTyped(v.Get("v." + f.Key))
			})
		case kindCommand, kindSay:
			d.keepDraft(at, kind, name, v)
		}
	}
}

// keepDraft keeps what was typed for a command, or for the thread, beside the files that are kept with it.
func (d *Desk) keepDraft(at place, kind, name string, v url.Values) {
	values := map[string]string{}
	take := func(key, field string) {
		if typed := tidyTyped(v.Get(field)); typed != "" {
			values[key] = typed
		}
	}
	if kind == kindSay {
		take("note", "note")
	} else if c, ok := d.command(name, true); ok {
		for _, o := range c.Options {
			if !o.File {
				take(o.Name, "v."+o.Name)
			}
		}
	}
	origin := kind + " " + name
	dr, _ := d.cards.draft(at, origin)
	if len(values) == 0 && len(dr.files) == 0 {
		d.cards.forget(at, origin)
		return
	}
	dr.values = values
	d.cards.keep(at, origin, dr)
}

// tidyTyped is what was typed as far as it is kept: readable, with single line ends, and no longer than what is taken.
func tidyTyped(v string) string {
	v = strings.ToValidUTF8(strings.ReplaceAll(v, "\r\n", "\n"), "?")
	if r := []rune(v); len(r) > maxTyped {
		v = string(r[:maxTyped])
	}
	return v
}

func (d *Desk) readSay(r *http.Request, p *posted) {
	p.in.Values = map[string]string{}
	p.value("note", r.PostForm.Get("note"))
	p.note = strings.TrimSpace(p.in.Values["note"])
	p.in.Values, p.in.Said = nil, p.note
	var heads []*multipart.FileHeader
	if r.MultipartForm != nil {
		heads = r.MultipartForm.File["files"]
	}
	for _, h := range heads {
		f, err := readUpload(h)
		if err != nil {
			p.refuse(err.Error())
			continue
		}
		if f == nil {
			continue
		}
		if !pictures[f.MIME] && f.MIME != "application/pdf" || f.MIME == "image/svg+xml" {
			p.refuse(fmt.Sprintf("%s isn't a picture the desk can show; send PNG, JPEG, GIF, WebP or PDF", f.Name))
			continue
		}
		p.uploads[f.Name] = *f
		p.in.Files = append(p.in.Files, *f)
	}
	if before, ok := d.cards.draft(p.place, p.origin()); ok {
		for _, name := range r.PostForm["kept"] {
			if f, ok := before.files[name]; ok && p.uploads[name].Data == nil {
				p.uploads[name] = f
				p.in.Files = append(p.in.Files, f)
			}
		}
	}
	switch {
	case len(p.in.Files) > maxUploads:
		p.refuse(fmt.Sprintf("at most %d files can be sent at once; send the others after these", maxUploads))
	case len(p.in.Files) == 0 && p.note == "":
		p.refuse("write something or choose a picture first")
	}
}

// upload is the file of a one-file field, nil when none was chosen.
func upload(r *http.Request, field string) (*chat.File, error) {
	if r.MultipartForm == nil || len(r.MultipartForm.File[field]) == 0 {
		return nil, nil
	}
	return readUpload(r.MultipartForm.File[field][0])
}

func readUpload(h *multipart.FileHeader) (*chat.File, error) {
	if h.Filename == "" && h.Size == 0 {
		return nil, nil
	}
	name := fileName(h.Filename)
	if h.Size > maxFile {
		return nil, fmt.Errorf("%s is %.1f MB; a file can be %d MB, so send a smaller one", name, float64(h.Size)/(1<<20), maxFile>>20)
	}
	in, err := h.Open()
	if err != nil {
		return nil, fmt.Errorf("%s couldn't be read; send it again", name)
	}
	defer in.Close()
	data, err := io.ReadAll(in)
	if err != nil {
		return nil, fmt.Errorf("%s couldn't be read; send it again", name)
	}
	return &chat.File{Name: name, MIME: sniff(name, data), Data: data}, nil
}

// sniff says what the data is by its first bytes; what the sender calls it decides only between kinds of text.
func sniff(name string, data []byte) string {
	kind := baseType(http.DetectContentType(data))
	if kind == "text/html" {
		return "application/octet-stream"
	}
	if kind == "text/xml" || kind == "text/plain" {
		switch strings.ToLower(path.Ext(name)) {
		case ".svg":
			if bytes.Contains(data, []byte("<svg")) {
				return "image/svg+xml"
			}
		case ".csv":
			return "text/csv"
		case ".json":
			return "application/json"
		}
	}
	return kind
}

// fileName keeps the last part of a name, without what can't be shown or would mislead.
func fileName(name string) string {
	name = strings.ToValidUTF8(name, "_")
	if i := strings.LastIndexAny(name, `/\`); i >= 0 {
		name = name[i+1:]
	}
	name = strings.Map(func(r rune) rune {
		if !unicode.IsPrint(r) || strings.ContainsRune(`"<>|:*?`, r) {
			return '_'
		}
		return r
	}, name)
	name = strings.TrimSpace(name)
	if r := []rune(name); len(r) > 100 {
		name = string(r[:40]) + "_" + string(r[len(r)-59:])
	}
	if strings.Trim(name, ".") == "" {
		return "file"
	}
	return name
}

// lowerFirst makes a label fit inside a sentence, but leaves abbreviations be.
func lowerFirst(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	next, _ := utf8.DecodeRuneInString(s[n:])
	if unicode.IsUpper(r) && !unicode.IsUpper(next) {
		return string(unicode.ToLower(r)) + s[n:]
	}
	return s
}

func (d *Desk) dismiss(w http.ResponseWriter, r *http.Request, s seat) {
	if !d.proved(w, r, s) {
		return
	}
	at := s.place(chat.ThreadID(r.PostForm.Get("thread")))
	d.keepTyped(r, at)
	d.cards.drop(at, r.PostForm.Get("card"))
	d.live.tell(personTopic(s.desk()))
	goOn(w, r, onPage(r, s, threadPath(s, at.thread)))
}
