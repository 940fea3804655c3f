package browser

import (
	"fmt"
	"net/http"
	"sync"
	"time"

	"benchbell/bot/chat"
)

const (
	listTopic = "list"
	// Proxies and phones drop a silent connection after about a minute (from memory); half of that keeps it.
	heartbeat = 25 * time.Second
	// Connections told of changes at once: far beyond a studio's, far below a machine's limit of open files.
	maxListeners = 256
	// Streams of one browser. Browsers open six connections for one host over HTTP/1.1 (from memory), and a stream holds one:
	// with six of them in view, nothing else would be answered. Half is left for pages and acts.
	maxStreams = 3
)

func threadTopic(t chat.ThreadID) string { return "thread " + string(t) }
func personTopic(p chat.PersonID) string { return "person " + string(p) }

// broker tells open pages that something they show has changed. What changed isn't sent: pages fetch themselves
// again, so that there is one way to render and a lost message is mended by the next.
type broker struct {
	mu        sync.Mutex
	listeners map[chan struct{}][]string
	streams   map[string]int // by browser
}

func newBroker() *broker {
	return &broker{listeners: map[chan struct{}][]string{}, streams: map[string]int{}}
}

// listen hears of the topics until leave is called; false: all the streams there are for that browser, or for everybody, are
// in use.
func (b *broker) listen(browser string, topics ...string) (changed <-chan struct{}, leave func(), ok bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if len(b.listeners) >= maxListeners || b.streams[browser] >= maxStreams {
		return nil, nil, false
	}
	c := make(chan struct{}, 1)
	b.listeners[c] = topics
	b.streams[browser]++
	return c, func() {
		b.mu.Lock()
		defer b.mu.Unlock()
		delete(b.listeners, c)
		if b.streams[browser]--; b.streams[browser] == 0 {
			delete(b.streams, browser)
		}
	}, true
}

func (b *broker) tell(topics ...string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	for c, has := range b.listeners {
		if meet(has, topics) {
			select {
			case c <- struct{}{}:
			default: // it has one to read already
			}
		}
	}
}

func meet(a, b []string) bool {
	for _, x := range a {
		for _, y := range b {
			if x == y {
				return true
			}
		}
	}
	return false
}

// events is the stream of "changed" events of one page. Where none is free the page is told so, and looks for itself.
func (d *Desk) events(w http.ResponseWriter, r *http.Request, s seat) {
	topics := []string{seatsTopic, personTopic(s.desk())}
	if id := r.URL.Query().Get("thread"); id != "" {
		t, ok := d.thread(r.Context(), s, chat.ThreadID(id))
		if !ok {
			http.Error(w, "no such thread", http.StatusNotFound)
			return
		}
		topics = append(topics, threadTopic(t.ID))
	} else if r.URL.Query().Has("page") {
		if !s.Studio {
			http.Error(w, "no such page", http.StatusNotFound)
			return
		}
		topics = append(topics, furtherTopic)
	} else {
		topics = append(topics, listTopic)
	}
	changed, leave, ok := d.live.listen(browserOf(r, s), topics...)
	if !ok {
		w.WriteHeader(http.StatusNoContent) // a page's script does not try again by itself then
		return
	}
	defer leave()
	h := w.Header()
	h.Set("Content-Type", "text/event-stream")
	h.Set("Cache-Control", "no-store")
	rc := http.NewResponseController(w)
	rc.SetReadDeadline(time.Time{})
	send := func(text string) bool {
		rc.SetWriteDeadline(time.Now().Add(10 * time.Second))
		if _, err := fmt.Fprint(w, text); err != nil {
			return false
		}
		return rc.Flush() == nil
	}
	// The page asks once when the stream opens, which covers what changed between its making and now.
	if !send("retry: 2000\n\n") {
		return
	}
	beat := time.NewTicker(heartbeat)
	defer beat.Stop()
	for {
		text := ": still here\n\n"
		select {
		case <-r.Context().Done():
			return
		case <-changed:
			text = "event: changed\ndata: 1\n\n"
		case <-beat.C:
		}
		if _, still := d.seatOf(r, s.Slug); !still { // signed out meanwhile
			return
		}
		if !send(text) {
			return
		}
	}
}
