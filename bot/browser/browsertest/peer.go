// Package browsertest lets tests and recorded conversations sit at a desk: a chattest.Peer that reads the desk's pages
// and sends its forms as a browser without JavaScript does.
package browsertest

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"maps"
	"mime/multipart"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"benchbell/bot/chat"
	"benchbell/bot/chat/chattest"
)

// maxPage is more than any page or file of the desk.
const maxPage = 32 << 20

// Peer is one person in a seat.
type Peer struct {
	desk   string // http://127.0.0.1:8467
	seat   string // /as/mara/
	id     chat.PersonID
	client *http.Client
	last   sent
	ticks  url.Values // chosen by Tick, and not sent yet
}

// sent is an act as it went out.
type sent struct {
	path, kind string
	body       []byte
	thread     chat.ThreadID
}

var _ chattest.Peer = (*Peer)(nil)

// Client takes the seat of a client by name at the desk of that URL.
func Client(ctx context.Context, desk, name string) (*Peer, error) {
	return sit(ctx, desk, "/seat", url.Values{"role": {"client"}, "name": {name}})
}

// Studio takes the studio's seat.
func Studio(ctx context.Context, desk string) (*Peer, error) {
	return sit(ctx, desk, "/seat", url.Values{"role": {"studio"}})
}

// Owner is named at the door with the passphrase, as the first of the studio.
func Owner(ctx context.Context, desk, name, passphrase string) (*Peer, error) {
	return sit(ctx, desk, "/owner", url.Values{"name": {name}, "pass": {passphrase}})
}

// Enter opens a link, as somebody who was sent it does.
func Enter(ctx context.Context, desk, secret string) (*Peer, error) {
	return sit(ctx, desk, "/enter", url.Values{"secret": {secret}, "device": {"test"}})
}

// NameOwner names the owner from the studio's shared seat, and is that owner.
func (p *Peer) NameOwner(ctx context.Context, name string) (*Peer, error) {
	page, err := p.page(ctx, p.seat)
	if err != nil {
		return nil, err
	}
	form := page.first(func(n *node) bool { return n.name == "form" && n.attr["action"] == p.seat+"owner" })
	if form == nil {
		return nil, errors.New("there is no form to name the owner with")
	}
	owner := &Peer{desk: p.desk, client: p.client}
	return owner, owner.take(ctx, p.seat+"owner", url.Values{"name": {name}, "token": {hidden(form, "token")}})
}

// Page is a page of the seat as it is sent.
func (p *Peer) Page(ctx context.Context, path string) (string, error) {
	raw, err := p.fetch(ctx, p.seat+path)
	return string(raw), err
}

// Leave signs out.
func (p *Peer) Leave(ctx context.Context) error {
	page, err := p.page(ctx, p.seat)
	if err != nil {
		return err
	}
	to, page, err := p.post(ctx, p.seat+"leave", "application/x-www-form-urlencoded", []byte(url.Values{"token": {hidden(page, "token")}}.Encode()))
	if err == nil && to == "" {
		err = errors.New(problem(page))
	}
	return err
}

// Later is a Peer that takes its seat at its first use, for desks that aren't running yet. Its ID is known before.
func Later(id chat.PersonID, take func(context.Context) (*Peer, error)) chattest.Peer {
	return &later{id: id, take: take}
}

func sit(ctx context.Context, desk, at string, v url.Values) (*Peer, error) {
	jar, err := cookiejar.New(nil)
	if err != nil {
		return nil, fmt.Errorf("a cookie jar can't be made: %w", err)
	}
	p := &Peer{desk: strings.TrimSuffix(desk, "/"), client: &http.Client{
		Jar: jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}}
	return p, p.take(ctx, at, v)
}

// take takes the seat that a form gives.
func (p *Peer) take(ctx context.Context, at string, v url.Values) error {
	to, page, err := p.post(ctx, at, "application/x-www-form-urlencoded", []byte(v.Encode()))
	if err != nil {
		return fmt.Errorf("the seat isn't given: %w", err)
	}
	if to == "" {
		return fmt.Errorf("the seat isn't given: %s", problem(page))
	}
	slug, _, _ := strings.Cut(strings.TrimPrefix(to, "/as/"), "/")
	p.seat = "/as/" + slug + "/"
	p.id = chat.PersonID("browser:" + slug)
	return nil
}

func problem(page *node) string {
	return page.first(byClass("span", "say")).words()
}

// ID implements chattest.Peer.
func (p *Peer) ID() chat.PersonID { return p.id }

// Path is the address of the seat's list of threads.
func (p *Peer) Path() string { return p.seat }

// Cookies are those of the seat, for another client that goes on as this person.
func (p *Peer) Cookies() []*http.Cookie {
	u, err := url.Parse(p.desk + p.seat)
	if err != nil {
		return nil
	}
	return p.client.Jar.Cookies(u)
}

func (p *Peer) get(ctx context.Context, path string) (*http.Response, error) {
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, p.desk+path, nil)
	if err != nil {
		return nil, fmt.Errorf("get %s: %w", path, err)
	}
	return p.client.Do(req)
}

func (p *Peer) page(ctx context.Context, path string) (*node, error) {
	res, err := p.get(ctx, path)
	if err != nil {
		return nil, err
	}
	defer res.Body.Close()
	page, err := parse(io.LimitReader(res.Body, maxPage))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	if res.StatusCode != http.StatusOK {
		return nil, fmt.Errorf("%s: %s: %s", path, res.Status, problem(page))
	}
	return page, nil
}

// post sends a form and returns where it leads, or the page that answers it.
func (p *Peer) post(ctx context.Context, path, kind string, body []byte) (string, *node, error) {
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, p.desk+path, bytes.NewReader(body))
	if err != nil {
		return "", nil, err
	}
	req.Header.Set("Content-Type", kind)
	req.Header.Set("Origin", p.desk)
	res, err := p.client.Do(req)
	if err != nil {
		return "", nil, err
	}
	defer res.Body.Close()
	if res.StatusCode == http.StatusSeeOther {
		return res.Header.Get("Location"), nil, nil
	}
	page, err := parse(io.LimitReader(res.Body, maxPage))
	return "", page, err
}

func (p *Peer) path(thread chat.ThreadID) string {
	if thread == "" {
		return p.seat
	}
	return p.seat + "t/" + url.PathEscape(strings.TrimPrefix(string(thread), "browser:"))
}

func (p *Peer) fetch(ctx context.Context, path string) ([]byte, error) {
	res, err := p.get(ctx, path)
	if err != nil {
		return nil, err
	}
	defer res.Body.Close()
	if res.StatusCode != http.StatusOK {
		return nil, fmt.Errorf("%s: %s", path, res.Status)
	}
	return io.ReadAll(io.LimitReader(res.Body, maxPage))
}

// Commands implements chattest.Peer.
func (p *Peer) Commands(ctx context.Context) ([]string, error) {
	page, err := p.page(ctx, p.seat)
	if err != nil {
		return nil, err
	}
	var out []string
	for _, n := range page.all(byClass("", "command")) {
		out = append(out, n.attr["data-command"])
	}
	return out, nil
}

// Threads implements chattest.Peer.
func (p *Peer) Threads(ctx context.Context) ([]chat.ThreadID, error) {
	page, err := p.page(ctx, p.seat)
	if err != nil {
		return nil, err
	}
	var out []chat.ThreadID
	for _, a := range page.first(byID("threads")).all(byName("a")) {
		path, ok := strings.CutPrefix(a.attr["href"], p.seat+"t/")
		if !ok { // a page of it besides the thread
			continue
		}
		id, err := url.PathUnescape(path)
		if err != nil {
			return nil, fmt.Errorf("a thread's address %q can't be read: %w", a.attr["href"], err)
		}
		out = append(out, chat.ThreadID("browser:"+id))
	}
	return out, nil
}

// Do implements chattest.Peer.
func (p *Peer) Do(ctx context.Context, thread chat.ThreadID, command string, options map[string]string, files ...chat.File) (chattest.Answer, error) {
	page, err := p.page(ctx, p.path(thread))
	if err != nil {
		return chattest.Answer{}, err
	}
	box := page.first(func(n *node) bool { return n.attr["data-command"] == command })
	if box == nil {
		return chattest.Answer{}, fmt.Errorf("%s isn't offered the command %q", p.id, command)
	}
	return p.send(ctx, thread, box.first(byName("form")), values(options), files)
}

func values(m map[string]string) url.Values {
	v := url.Values{}
	for k, x := range m {
		v.Set("v."+k, x)
	}
	return v
}

// Press implements chattest.Peer.
func (p *Peer) Press(ctx context.Context, thread chat.ThreadID, action string) (chattest.Answer, error) {
	return p.sendMessage(ctx, thread, "press", action, nil)
}

// Pick implements chattest.Peer.
func (p *Peer) Pick(ctx context.Context, thread chat.ThreadID, action string, chosen ...string) (chattest.Answer, error) {
	return p.sendMessage(ctx, thread, "pick", action, url.Values{"pick." + action: chosen})
}

// Tick chooses values in the menu of that action without sending them. They go along when a button of the menu's message
// is pressed.
func (p *Peer) Tick(action string, chosen ...string) {
	if p.ticks == nil {
		p.ticks = url.Values{}
	}
	p.ticks["pick."+action] = chosen
}

// Submit implements chattest.Peer.
func (p *Peer) Submit(ctx context.Context, thread chat.ThreadID, action string, v map[string]string) (chattest.Answer, error) {
	page, err := p.page(ctx, p.path(thread))
	if err != nil {
		return chattest.Answer{}, err
	}
	for _, form := range slices.Backward(page.all(byClass("form", "ask"))) {
		if hidden(form, "name") == action {
			return p.send(ctx, thread, form, values(v), nil)
		}
	}
	return chattest.Answer{}, fmt.Errorf("%s sees no form of action %q in %q", p.id, action, thread)
}

// Send implements chattest.Peer.
func (p *Peer) Send(ctx context.Context, thread chat.ThreadID, files ...chat.File) (chattest.Answer, error) {
	page, err := p.page(ctx, p.path(thread))
	if err != nil {
		return chattest.Answer{}, err
	}
	return p.send(ctx, thread, page.first(byID("say")).first(byName("form")), nil, files)
}

// Say writes words to the thread, which the desk shows to its people and hands to the handler.
func (p *Peer) Say(ctx context.Context, thread chat.ThreadID, text string) (chattest.Answer, error) {
	page, err := p.page(ctx, p.path(thread))
	if err != nil {
		return chattest.Answer{}, err
	}
	return p.send(ctx, thread, page.first(byID("say")).first(byName("form")), url.Values{"note": {text}}, nil)
}

// sendMessage presses the newest button, of a press or of a menu, for that action on the thread's page.
func (p *Peer) sendMessage(ctx context.Context, thread chat.ThreadID, verb, action string, v url.Values) (chattest.Answer, error) {
	form, err := p.messageForm(ctx, thread, verb, action)
	if err != nil {
		return chattest.Answer{}, err
	}
	return p.send(ctx, thread, form, p.pressing(form, verb, action, v), nil)
}

func (p *Peer) messageForm(ctx context.Context, thread chat.ThreadID, verb, action string) (*node, error) {
	page, err := p.page(ctx, p.path(thread))
	if err != nil {
		return nil, err
	}
	for _, form := range slices.Backward(page.all(byClass("form", "acts"))) {
		if form.first(func(n *node) bool { return n.name == "button" && n.attr["value"] == verb+" "+action }) != nil {
			return form, nil
		}
	}
	return nil, fmt.Errorf("%s sees no %s of action %q in %q", p.id, verb, action, thread)
}

// pressing are the values of a message's form with one of its buttons pressed.
func (p *Peer) pressing(form *node, verb, action string, v url.Values) url.Values {
	all := url.Values{"do": {verb + " " + action}}
	for _, m := range form.all(byClass("div", "menu")) {
		name := "pick." + m.attr["data-action"]
		if chosen, ok := p.ticks[name]; ok {
			all[name] = chosen
			delete(p.ticks, name)
		}
	}
	maps.Copy(all, v)
	return all
}

func hidden(form *node, name string) string {
	n := form.first(func(n *node) bool { return n.name == "input" && n.attr["name"] == name })
	if n == nil {
		return ""
	}
	return n.attr["value"]
}

// send fills the form in and posts it as a browser does.
func (p *Peer) send(ctx context.Context, thread chat.ThreadID, form *node, v url.Values, files []chat.File) (chattest.Answer, error) {
	fields, slots, err := fill(form, v)
	if err != nil {
		return chattest.Answer{}, err
	}
	out := sent{path: form.attr["action"], kind: "application/x-www-form-urlencoded", thread: thread}
	if form.attr["enctype"] != "multipart/form-data" {
		if len(files) > 0 {
			return chattest.Answer{}, errors.New("the form takes no files")
		}
		out.body = []byte(fields.Encode())
	} else {
		var b bytes.Buffer
		w := multipart.NewWriter(&b)
		for _, k := range slices.Sorted(maps.Keys(fields)) {
			for _, x := range fields[k] {
				if err := w.WriteField(k, x); err != nil {
					return chattest.Answer{}, err
				}
			}
		}
		for i, f := range files {
			if len(slots) == 0 {
				return chattest.Answer{}, fmt.Errorf("the form takes no file number %d", i+1)
			}
			part, err := w.CreateFormFile(slots[0].attr["name"], f.Name)
			if err != nil {
				return chattest.Answer{}, err
			}
			if _, err := part.Write(f.Data); err != nil {
				return chattest.Answer{}, err
			}
			if _, several := slots[0].attr["multiple"]; !several {
				slots = slots[1:]
			}
		}
		if err := w.Close(); err != nil {
			return chattest.Answer{}, err
		}
		out.kind, out.body = w.FormDataContentType(), b.Bytes()
	}
	p.last = out
	return p.Again(ctx)
}

// fill takes the form's values as they stand, with v in the place of those it names, and the form's file fields.
func fill(form *node, v url.Values) (url.Values, []*node, error) {
	fields, known := url.Values{}, map[string]bool{}
	var slots []*node
	for _, n := range form.all(func(n *node) bool { return n.attr["name"] != "" }) {
		name := n.attr["name"]
		known[name] = true
		_, checked := n.attr["checked"]
		switch {
		case n.attr["type"] == "file":
			slots = append(slots, n)
		case n.attr["type"] == "checkbox":
			if checked {
				fields.Add(name, n.attr["value"])
			}
		case n.name == "textarea":
			fields.Add(name, area(n))
		case n.name == "select":
			if o := n.first(func(n *node) bool { _, ok := n.attr["selected"]; return ok }); o != nil {
				fields.Add(name, o.attr["value"])
			}
		case n.name == "input":
			fields.Add(name, n.attr["value"])
		}
	}
	for k, x := range v {
		if !known[k] {
			return nil, nil, fmt.Errorf("the form has no field %q", strings.TrimPrefix(k, "v."))
		}
		fields[k] = nil
		for _, s := range x {
			// Browsers send line ends as two characters.
			fields.Add(k, strings.ReplaceAll(s, "\n", "\r\n"))
		}
	}
	return fields, slots, nil
}

// area is a text area's value: a line end right after its start tag isn't part of it.
func area(n *node) string { return strings.TrimPrefix(n.words(), "\n") }

// Again implements chattest.Peer.
func (p *Peer) Again(ctx context.Context) (chattest.Answer, error) {
	if p.last.path == "" {
		return chattest.Answer{}, errors.New("there is no act to deliver again")
	}
	to, page, err := p.post(ctx, p.last.path, p.last.kind, p.last.body)
	if err != nil {
		return chattest.Answer{}, err
	}
	if to == "" {
		return chattest.Answer{Refused: problem(page)}, nil
	}
	path, mark, _ := strings.Cut(to, "#")
	a := chattest.Answer{}
	if path != p.path(p.last.thread) {
		a.Thread = chat.ThreadID("browser:" + strings.TrimPrefix(path, p.seat+"t/"))
	}
	if mark == "" {
		return a, nil
	}
	if page, err = p.page(ctx, path); err != nil {
		return chattest.Answer{}, err
	}
	box := page.first(byID(mark))
	if box == nil {
		return chattest.Answer{}, fmt.Errorf("the answer %q isn't on the page %s", mark, path)
	}
	got, err := p.answer(ctx, box)
	if got.Thread == "" {
		got.Thread = a.Thread
	}
	return got, err
}

func (p *Peer) answer(ctx context.Context, box *node) (chattest.Answer, error) {
	a := chattest.Answer{Text: box.first(byClass("p", "text")).words(), Thread: chat.ThreadID(box.attr["data-thread"])}
	if n := box.first(byClass("p", "notice")); n != nil {
		a.Refused, a.Sorry = n.first(byClass("span", "say")).words(), byClass("", "sorry")(n)
	}
	var err error
	if a.Files, err = p.files(ctx, box); err != nil {
		return a, err
	}
	a.Buttons, a.Menus = buttons(box), menus(box)
	if ask := box.first(byClass("form", "ask")); ask != nil {
		form := &chat.Form{Action: hidden(ask, "name"), Title: box.first(byName("h2")).words(), Files: a.Files}
		a.Files = nil
		for _, f := range ask.all(byClass("div", "field")) {
			in := f.first(func(n *node) bool { return n.name == "input" || n.name == "textarea" || n.name == "select" })
			_, required := in.attr["required"]
			field := chat.Field{
				Key: strings.TrimPrefix(in.attr["name"], "v."), Value: in.attr["value"], Optional: !required,
				Long: in.name == "textarea", Hint: f.attr["data-hint"],
			}
			if field.Long {
				field.Value = area(in)
			}
			for _, o := range in.all(byName("option")) {
				v := o.attr["value"]
				if v == "" {
					continue
				}
				field.Options = append(field.Options, v)
				if _, ok := o.attr["selected"]; ok {
					field.Value = v
				}
			}
			for _, c := range f.first(byName("label")).children {
				field.Label += c.text
			}
			field.Label = strings.TrimSpace(field.Label)
			form.Fields = append(form.Fields, field)
		}
		a.Form = form
	}
	return a, nil
}

func (p *Peer) files(ctx context.Context, box *node) ([]chat.File, error) {
	var out []chat.File
	for _, list := range box.all(byClass("ul", "files")) {
		for _, li := range list.all(byName("li")) {
			data, err := p.fetch(ctx, li.first(byName("a")).attr["href"])
			if err != nil {
				return nil, err
			}
			out = append(out, chat.File{Name: li.attr["data-name"], MIME: li.attr["data-mime"], Alt: li.attr["data-alt"], Data: data})
		}
	}
	return out, nil
}

func buttons(box *node) []chat.Button {
	var out []chat.Button
	for _, b := range box.all(byClass("button", "press")) {
		tone, _ := strconv.Atoi(b.attr["data-tone"])
		out = append(out, chat.Button{Action: strings.TrimPrefix(b.attr["value"], "press "), Label: b.words(), Tone: chat.Tone(tone)})
	}
	return out
}

func menus(box *node) []chat.Menu {
	var out []chat.Menu
	for _, f := range box.all(byClass("div", "menu")) {
		m := chat.Menu{Action: f.attr["data-action"], Label: f.first(byClass("", "label")).words(), Answer: f.attr["data-answer"] != ""}
		m.Min, _ = strconv.Atoi(f.attr["data-min"])
		m.Max, _ = strconv.Atoi(f.attr["data-max"])
		for _, o := range f.all(func(n *node) bool { return n.attr["data-label"] != "" }) {
			_, selected := o.attr["selected"]
			_, checked := o.attr["checked"]
			m.Options = append(m.Options, chat.Option{Value: o.attr["value"], Label: o.attr["data-label"], Note: o.attr["data-note"], Chosen: selected || checked})
		}
		out = append(out, m)
	}
	return out
}

// Posts implements chattest.Peer.
func (p *Peer) Posts(ctx context.Context, thread chat.ThreadID) ([]chat.Post, []chat.PersonID, error) {
	page, err := p.page(ctx, p.path(thread))
	if err != nil {
		return nil, nil, err
	}
	var posts []chat.Post
	var by []chat.PersonID
	for _, li := range page.first(byID("posts")).all(byClass("li", "post")) {
		post := chat.Post{
			Key: li.attr["data-key"], Thread: thread, Text: li.first(byClass("p", "text")).words(),
			Buttons: buttons(li), Menus: menus(li),
		}
		for _, m := range strings.Fields(li.attr["data-for"]) {
			post.Mention = append(post.Mention, chat.PersonID(m))
		}
		if post.Files, err = p.files(ctx, li); err != nil {
			return nil, nil, err
		}
		if n := li.first(byClass("div", "bar")); n != nil {
			bar := &chat.Bar{Failed: n.attr["data-failed"] == "true"}
			bar.At, _ = strconv.Atoi(n.attr["data-at"])
			bar.Share, _ = strconv.ParseFloat(n.attr["data-share"], 64)
			for _, s := range n.first(byClass("ol", "stages")).all(byName("li")) {
				bar.Stages = append(bar.Stages, s.first(byName("span")).words())
			}
			post.Bar = bar
		}
		posts, by = append(posts, post), append(by, chat.PersonID(li.attr["data-by"]))
	}
	return posts, by, nil
}

// Private implements chattest.Peer.
func (p *Peer) Private(ctx context.Context, thread chat.ThreadID) (string, error) {
	page, err := p.page(ctx, p.path(thread))
	if err != nil {
		return "", err
	}
	return page.first(byID("cards")).words(), nil
}

// Hold looks at a button now and presses it later, as somebody does who left the page open meanwhile.
func (p *Peer) Hold(ctx context.Context, thread chat.ThreadID, action string) (func(context.Context) (chattest.Answer, error), error) {
	form, err := p.messageForm(ctx, thread, "press", action)
	if err != nil {
		return nil, err
	}
	v := p.pressing(form, "press", action, nil)
	return func(ctx context.Context) (chattest.Answer, error) { return p.send(ctx, thread, form, v, nil) }, nil
}
