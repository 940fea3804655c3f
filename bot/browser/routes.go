package browser

import (
	"context"
	"embed"
	"errors"
	"io/fs"
	"mime"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"strconv"
	"strings"

	"benchbell/bot/chat"
)

//go:embed assets
var assets embed.FS

const (
	// An act carries at most this: maxUploads files of the largest size and the words around them.
	maxBody = maxUploads*maxFile + 1<<20
	// The door's form is a name and a passphrase.
	maxDoorBody = 16 << 10

	pagePolicy = "default-src 'self'; base-uri 'none'; frame-ancestors 'none'; form-action 'self'; object-src 'none'"
	// A file opened by itself runs nothing and reaches nothing; its own inline styles are left to drawings.
	filePolicy = "sandbox; default-src 'none'; style-src 'unsafe-inline'; img-src data:"
)

func (d *Desk) routes() http.Handler {
	mux := http.NewServeMux()
	static, err := fs.Sub(assets, "assets")
	if err != nil {
		panic(err) // the folder is built in
	}
	mux.Handle("GET /static/", http.StripPrefix("/static/", http.FileServerFS(static)))
	mux.HandleFunc("GET /{$}", d.door)
	mux.HandleFunc("POST /seat", d.takeSeat)
	mux.HandleFunc("POST /owner", d.nameOwner)
	mux.HandleFunc("GET "+enterPath+"{secret}", d.entrance)
	mux.HandleFunc("POST /enter", d.enter)
	mux.HandleFunc("GET "+calendarPath+"{file}", d.calendar)
	if d.o.Sensor != nil {
		mux.HandleFunc("POST /air", d.measured)
	}
	seated := func(pattern string, h func(http.ResponseWriter, *http.Request, seat)) {
		mux.HandleFunc(pattern, func(w http.ResponseWriter, r *http.Request) {
			s, ok := d.seatOf(r, r.PathValue("seat"))
			if !ok {
				if r.Method == http.MethodGet && !strings.HasSuffix(r.URL.Path, "/events") {
					http.Redirect(w, r, "/?again="+url.QueryEscape(r.PathValue("seat")), http.StatusSeeOther)
					return
				}
				d.fail(w, http.StatusForbidden, "you aren't signed in on this browser; sign in again, then go back: what you typed is still there")
				return
			}
			if d.byLink(s) {
				d.remember(w, r, s)
			}
			h(w, r, s)
		})
	}
	seated("GET /as/{seat}/{$}", d.listPage)
	seated("GET /as/{seat}/t/{thread}", d.threadPage)
	seated("GET /as/{seat}/people", d.peoplePage)
	seated("GET /as/{seat}/file/{name}", d.postFile)
	seated("GET /as/{seat}/card/{name}", d.cardFile)
	seated("GET /as/{seat}/events", d.events)
	seated("GET /as/{seat}/order/{of}", d.own)
	seated("GET /as/{seat}/order/{of}/{part...}", d.own)
	seated("POST /as/{seat}/order/{of}", d.own)
	if d.o.Own != nil && d.o.Own.Assets != nil {
		mux.Handle("GET "+ownAssets, http.StripPrefix(ownAssets, http.FileServerFS(d.o.Own.Assets)))
	}
	for _, p := range d.o.Further {
		mux.HandleFunc("GET "+toPath+p.Name, d.toPage(p))
		seated("GET /as/{seat}/"+p.Name, d.further(p))
		seated("POST /as/{seat}/"+p.Name, d.further(p))
	}
	seated("POST /as/{seat}/act", d.act)
	seated("POST /as/{seat}/dismiss", d.dismiss)
	seated("POST /as/{seat}/owner", d.nameFromSeat)
	seated("POST /as/{seat}/leave", d.leave)
	mux.HandleFunc("/", func(w http.ResponseWriter, r *http.Request) {
		d.fail(w, http.StatusNotFound, "there is no such page; go back to the start")
	})

	cross := http.NewCrossOriginProtection()
	cross.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		d.fail(w, http.StatusForbidden, "this came from another site, so it wasn't done; do it from the desk's own page")
	}))
	return d.guard(cross.Handler(mux))
}

// guard answers only for host names the desk is known by, which stops another site's name from being pointed here,
// and sets what every answer carries.
func (d *Desk) guard(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", pagePolicy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		if !d.knownHost(r.Host) {
			http.Error(w, "the desk doesn't go by this name; open "+d.URL(), http.StatusMisdirectedRequest)
			return
		}
		if r.URL.Path == "/seat" || r.URL.Path == "/owner" || r.URL.Path == "/enter" {
			r.Body = http.MaxBytesReader(w, r.Body, maxDoorBody)
		} else {
			r.Body = http.MaxBytesReader(w, r.Body, maxBody)
		}
		next.ServeHTTP(w, r)
	})
}

func (d *Desk) knownHost(hostport string) bool {
	host, _, err := net.SplitHostPort(hostport)
	if err != nil {
		host = strings.Trim(hostport, "[]")
	}
	if a, err := netip.ParseAddr(host); err == nil {
		// A bare address can't be pointed elsewhere by somebody's name server. A private desk is still only asked
		// by its own.
		return !d.private || a.Unmap().IsLoopback()
	}
	return d.hosts[strings.ToLower(strings.TrimSuffix(host, "."))]
}

// thread is the thread when the seat may see it.
func (d *Desk) thread(ctx context.Context, s seat, id chat.ThreadID) (Thread, bool) {
	t, err := d.o.Store.Thread(ctx, id)
	if err != nil {
		if !errors.Is(err, ErrUnknown) {
			d.fault(ctx, "a thread can't be read", "thread", id, "err", err)
		}
		return Thread{}, false
	}
	return t, s.visible(t)
}

// fault logs what failed. That the person's browser has gone away meanwhile is no fault.
func (d *Desk) fault(ctx context.Context, what string, args ...any) {
	if ctx.Err() == nil {
		d.o.Log.Error(what, args...)
	}
}

func threadPath(s seat, id chat.ThreadID) string {
	if id == "" {
		return s.base()
	}
	return s.base() + "t/" + url.PathEscape(strings.TrimPrefix(string(id), scheme+":"))
}

func (d *Desk) takeSeat(w http.ResponseWriter, r *http.Request) {
	if err := r.ParseForm(); err != nil {
		d.fail(w, http.StatusRequestEntityTooLarge, "that was more than a name and a passphrase; go back and shorten it")
		return
	}
	role, name := r.PostForm.Get("role"), r.PostForm.Get("name")
	s, say := d.claim(r.Context(), role, name)
	if say != "" {
		d.renderDoor(w, r, http.StatusForbidden, doorView{Name: name, Role: role, Refused: say})
		return
	}
	d.give(w, r, s)
	d.mark(w, r)
	if !s.Studio {
		d.learn(s.id(), s.Name)
	}
	http.Redirect(w, r, s.base(), http.StatusSeeOther)
}

func (d *Desk) leave(w http.ResponseWriter, r *http.Request, s seat) {
	if !d.proved(w, r, s) {
		return
	}
	name := cookieName
	if s.Secret != "" {
		name = sessionName
		if err := d.o.Seats.Leave(r.Context(), s.Secret); err != nil {
			d.noEntrance(w, r, err)
			return
		}
		d.Recheck()
		http.SetCookie(w, &http.Cookie{Name: seatName, Path: "/", MaxAge: -1, HttpOnly: true, Secure: d.secure(r), SameSite: http.SameSiteLaxMode})
	}
	http.SetCookie(w, &http.Cookie{Name: name, Path: s.base(), MaxAge: -1, HttpOnly: true, Secure: d.secure(r), SameSite: http.SameSiteStrictMode})
	http.Redirect(w, r, "/", http.StatusSeeOther)
}

// proved parses the posted form and checks its token; when it returns false, the answer is written.
func (d *Desk) proved(w http.ResponseWriter, r *http.Request, s seat) bool {
	// Files over this stay on disk while they are read.
	err := r.ParseMultipartForm(4 << 20)
	var tooBig *http.MaxBytesError
	switch {
	case errors.As(err, &tooBig):
		d.fail(w, http.StatusRequestEntityTooLarge, "the files are too big together; go back and send fewer, or smaller ones of up to 8 MB")
		return false
	case err != nil && !errors.Is(err, http.ErrNotMultipart):
		d.fail(w, http.StatusBadRequest, "what was sent can't be read; go back and send it again")
		return false
	}
	if !same(r.PostForm.Get("token"), d.token(s)) {
		d.fail(w, http.StatusForbidden, "this page is from before you signed in; go back, load it again, and repeat what you did")
		return false
	}
	return true
}

func (d *Desk) postFile(w http.ResponseWriter, r *http.Request, s seat) {
	q := r.URL.Query()
	n, err := strconv.Atoi(q.Get("n"))
	t, ok := d.thread(r.Context(), s, chat.ThreadID(q.Get("thread")))
	if err != nil || !ok {
		d.fail(w, http.StatusNotFound, "there is no such file in your threads")
		return
	}
	f, err := d.o.Store.File(r.Context(), t.ID, q.Get("post"), n)
	if err != nil {
		if !errors.Is(err, ErrUnknown) {
			d.fault(r.Context(), "a file can't be read", "post", q.Get("post"), "err", err)
		}
		d.fail(w, http.StatusNotFound, "there is no such file in your threads")
		return
	}
	serveFile(w, f)
}

func (d *Desk) cardFile(w http.ResponseWriter, r *http.Request, s seat) {
	q := r.URL.Query()
	n, err := strconv.Atoi(q.Get("n"))
	k, ok := d.cards.find(s.place(chat.ThreadID(q.Get("thread"))), q.Get("card"))
	fs := cardFiles(k)
	if err != nil || !ok || n < 0 || n >= len(fs) {
		d.fail(w, http.StatusNotFound, "that answer is no longer kept; ask again")
		return
	}
	serveFile(w, fs[n])
}

func cardFiles(k card) []chat.File {
	if k.reply.Form != nil {
		return append(append([]chat.File(nil), k.reply.Files...), k.reply.Form.Files...)
	}
	return k.reply.Files
}

// pictures are the types browsers show in a page.
var pictures = map[string]bool{
	"image/png": true, "image/jpeg": true, "image/gif": true, "image/webp": true, "image/svg+xml": true,
}

func serveFile(w http.ResponseWriter, f chat.File) {
	h := w.Header()
	h.Set("Content-Security-Policy", filePolicy)
	kind, disposition := baseType(f.MIME), "attachment"
	switch {
	case pictures[kind]:
		disposition = "inline"
	case kind == "application/pdf":
	case kind == "text/plain", kind == "text/csv":
		kind += "; charset=utf-8"
	default:
		kind = "application/octet-stream"
	}
	h.Set("Content-Type", kind)
	h.Set("Content-Disposition", contentDisposition(disposition, f.Name))
	h.Set("Content-Length", strconv.Itoa(len(f.Data)))
	w.Write(f.Data)
}

func baseType(s string) string {
	t, _, err := mime.ParseMediaType(s)
	if err != nil {
		return ""
	}
	return t
}

func contentDisposition(kind, name string) string {
	if s := mime.FormatMediaType(kind, map[string]string{"filename": fileName(name)}); s != "" {
		return s
	}
	return kind
}
