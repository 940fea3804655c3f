package main

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"benchbell/bot/browser/browsertest"
	"benchbell/bot/chat"
	"benchbell/bot/chat/chattest"
	"benchbell/jobs/jobstest"
	"benchbell/quote/gaugetest"
)

// killsEnv is how often each variant of the kill test kills; DEVELOPERS.md names it.
const (
	killsEnv     = "BENCHBELL_KILLS"
	defaultKills = 6
	killSeed     = 20261102
)

// childPatience is how long a bot that is killed waits for a worker's word: long enough for a quote of the hurried
// studio, and short because a request dies with the bot's own queue server each time.
const childPatience = 3 * slowdown * time.Second

// A killed bot, started again on the same files, goes on where it was: whatever happens in between, one commission goes
// from first message to handover with nothing lost and nothing done, said or rung twice.
func TestKilledAtAnyInstant(t *testing.T) {
	t.Parallel()
	kills := defaultKills
	if s := os.Getenv(killsEnv); s != "" {
		n, err := strconv.Atoi(s)
		if err != nil || n < 1 {
			t.Fatalf("%s is %q, but it must be a whole number from 1", killsEnv, s)
		}
		kills = n
	}
	t.Run("embedded", func(t *testing.T) {
		t.Parallel()
		survive(t, kills, killSeed, "")
	})
	t.Run("redis", func(t *testing.T) {
		t.Parallel()
		survive(t, kills, killSeed+1, jobstest.Redis(t))
	})
}

// program is a process that is started again whenever it was killed.
type program struct {
	t      *testing.T
	name   string
	path   string
	env    []string
	log    *gaugetest.Log
	mu     sync.Mutex
	cmd    *exec.Cmd
	kills  int
	ending bool
}

func (p *program) start() {
	p.t.Helper()
	cmd := exec.Command(p.path)
	cmd.Env = append(os.Environ(), p.env...)
	cmd.Stdout, cmd.Stderr = p.log, p.log
	if err := cmd.Start(); err != nil {
		p.t.Fatal(err)
	}
	p.cmd = cmd
}

// kill ends the process at once, by its own handle, and starts it again.
func (p *program) kill() {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.ending {
		return
	}
	if err := p.cmd.Process.Kill(); err != nil {
		p.t.Errorf("%s was gone before it was killed: %v\n%s", p.name, err, p.log)
	}
	var exit *exec.ExitError
	if err := p.cmd.Wait(); errors.As(err, &exit) {
		if s, ok := exit.Sys().(syscall.WaitStatus); !ok || s.Signal() != syscall.SIGKILL {
			p.t.Errorf("%s ended by itself: %v\n%s", p.name, err, p.log)
		}
	}
	p.kills++
	p.start()
}

// end tells the process to stop, which it has to do well.
func (p *program) end() {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.ending {
		return
	}
	p.ending = true
	if err := p.cmd.Process.Signal(syscall.SIGTERM); err != nil {
		p.t.Errorf("%s: %v", p.name, err)
	}
	if err := p.cmd.Wait(); err != nil {
		p.t.Errorf("%s ended with %v", p.name, err)
	}
}

// survive plays a commission to its end while programs are killed.
func survive(t *testing.T, kills int, seed uint64, redis string) {
	began := time.Now()
	rng := rand.New(rand.NewPCG(seed, 0))
	data := t.TempDir()
	offset := filepath.Join(data, "offset")
	listen := "127.0.0.1:" + jobstest.FreePort(t)
	self := botProgram(t)
	log := &gaugetest.Log{}
	env := []string{childEnv + "=bot", offsetEnv + "=" + offset, "BENCHBELL_DATA=" + data, "BENCHBELL_LISTEN=" + listen,
		"BENCHBELL_STUDIO=" + hurriedStudio(t), "BENCHBELL_REDIS_URL=" + redis, "BENCHBELL_DISCORD_TOKEN="}
	programs := []*program{{t: t, name: "bot", path: self, env: env, log: log}}
	if redis != "" {
		for i := range 2 {
			programs = append(programs, &program{t: t, name: fmt.Sprintf("worker %d", i+1), path: workerProgram(t),
				env: []string{"BENCHBELL_REDIS_URL=" + redis, "BENCHBELL_WORKERS=1"}, log: log})
		}
	}
	for _, p := range programs {
		p.start()
		t.Cleanup(p.end)
	}
	t.Cleanup(func() {
		if t.Failed() {
			t.Logf("what the programs said:\n%s", log)
		}
	})
	ctx, cancel := context.WithTimeout(t.Context(), 2*deadlock)
	defer cancel()
	r := &robot{t: t, ctx: ctx, url: "http://" + listen, rng: rng, offset: offset, steps: make(chan int, 1)}
	finished := make(chan error, 1)
	go func() { finished <- r.play() }()

	// Kills are spread over the robot's steps; where in a step each falls is chance.
	const usualSteps = 90 // of an undisturbed run
	pace := max(1, usualSteps*weight/kills)
	next := rng.IntN(pace)
	killer := rand.New(rand.NewPCG(seed, 1))
	over := false
	for done := 0; done < kills; {
		select {
		case err := <-finished:
			if err != nil {
				t.Fatal(err)
			}
			over, finished = true, nil
		case n := <-r.steps:
			if n < next {
				continue
			}
			next = n + 1 + killer.IntN(2*pace)
		case <-time.After(time.Second): // nothing moves: somebody is waited for
			if !over {
				continue
			}
		}
		time.Sleep(time.Duration(killer.IntN(80)) * time.Millisecond)
		victim := programs[0]
		if len(programs) > 1 && killer.IntN(2) == 0 {
			victim = programs[1+killer.IntN(len(programs)-1)]
		}
		victim.kill()
		done++
	}
	if !over {
		for more := true; more; {
			select {
			case err := <-finished:
				if err != nil {
					t.Fatal(err)
				}
				more = false
			case <-r.steps:
			}
		}
	}
	if t.Failed() {
		return
	}
	settleFile(t, ctx, data, offset)
	posts := r.desk()
	for _, p := range programs {
		p.end()
	}
	audit(t, data, posts)
	for line := range strings.Lines(log.String()) {
		if strings.Contains(line, "level=ERROR") {
			t.Log(strings.TrimSpace(line))
		}
	}
	var each []string
	for _, p := range programs {
		each = append(each, fmt.Sprintf("%s %d", p.name, p.kills))
	}
	t.Logf("%d kills (%s) in %v; %d acts, %d of them repeated after a broken connection, %d requests tried again", kills,
		strings.Join(each, ", "), time.Since(began).Round(100*time.Millisecond), r.acts, r.repeated, r.again)
}

// weight is what an act counts towards the next kill, where waiting counts 1: a quote is killed some times, not always.
const weight = 12

// robot is a client and a studio who look at what is shown and do the next sensible thing. It remembers nothing that
// matters: whether an act came through before the connection broke, it sees from the desk.
type robot struct {
	t        *testing.T
	ctx      context.Context
	url      string
	rng      *rand.Rand
	offset   string
	ahead    time.Duration
	client   *browsertest.Peer
	studio   *browsertest.Peer
	board    chat.ThreadID
	thread   chat.ThreadID
	steps    chan int
	count    int
	acts     int
	repeated int
	again    int
}

// errOver ends the robot.
var errOver = errors.New("the commission is handed over")

func (r *robot) play() error {
	for r.ctx.Err() == nil {
		wait, err := r.step()
		if errors.Is(err, errOver) {
			return nil
		}
		var wrong *surprise
		if errors.As(err, &wrong) {
			return err
		}
		if err != nil || wait {
			select { // the bot is away, or somebody computes
			case <-r.ctx.Done():
			case <-time.After(30 * time.Millisecond):
			}
			r.tell(1)
			continue
		}
		r.tell(weight)
	}
	return fmt.Errorf("the robot never came to an end: %w", r.ctx.Err())
}

func (r *robot) tell(n int) {
	r.count += n
	select {
	case <-r.steps:
	default:
	}
	r.steps <- r.count
}

// surprise is something that a kill does not explain.
type surprise struct{ what string }

func (s *surprise) Error() string { return s.what }

// do takes an act's outcome. When the connection broke, chance decides whether the very same act is delivered again, as
// a browser does that reloads, or the robot looks anew.
func (r *robot) do(p *browsertest.Peer, a chattest.Answer, err error) (chattest.Answer, error) {
	r.acts++
	for err != nil && r.rng.IntN(2) == 0 && r.ctx.Err() == nil {
		time.Sleep(50 * time.Millisecond)
		r.repeated++
		a, err = p.Again(r.ctx)
	}
	if err != nil {
		return a, err
	}
	if a.Sorry {
		return a, fmt.Errorf("the desk apologised: %s", a.Refused)
	}
	return a, nil
}

func (r *robot) press(p *browsertest.Peer, th chat.ThreadID, action string) (chattest.Answer, error) {
	a, err := p.Press(r.ctx, th, action)
	return r.do(p, a, err)
}

func (r *robot) step() (wait bool, err error) {
	if r.client == nil {
		if r.client, err = browsertest.Client(r.ctx, r.url, "Ilka"); err != nil {
			r.client = nil
			return true, err
		}
	}
	if r.studio == nil {
		if r.studio, err = browsertest.Studio(r.ctx, r.url); err != nil {
			r.studio = nil
			return true, err
		}
	}
	if r.thread == "" {
		return false, r.begin()
	}
	if done, err := r.work(); done || err != nil {
		return false, err
	}
	posts, _, err := r.client.Posts(r.ctx, r.thread)
	if err != nil {
		return true, err
	}
	done, err := r.ask(posts)
	return !done, err
}

// begin asks for a commission unless there is one already.
func (r *robot) begin() error {
	ths, err := r.client.Threads(r.ctx)
	if err != nil {
		return err
	}
	if len(ths) == 0 {
		a, err := r.client.Do(r.ctx, "", "where", nil)
		if err != nil {
			return err
		}
		if !strings.Contains(a.Refused, "no commission yet") {
			return nil // it was asked for; its thread opens in a moment
		}
		a, err = r.client.Do(r.ctx, "", "commission", nil)
		if a, err = r.do(r.client, a, err); err != nil {
			return err
		}
		r.thread = a.Thread
		return nil
	}
	r.thread = ths[0]
	return nil
}

var robotTypes = map[string]string{"wrist-girth": "17,4", "forearm-girth": "26,5 cm", "elbow-wrist-length": "25.5cm",
	"upper-arm-girth": `12 3/8"`, "shoulder-elbow-length": "34,5 cm", "biacromial-breadth": "38"}

// ask does what is next for the client; false: nothing.
func (r *robot) ask(posts []chat.Post) (bool, error) {
	find := func(label string) (string, string, bool) {
		for _, p := range slices.Backward(posts) {
			for _, b := range p.Buttons {
				if b.Label == label {
					return b.Action, p.Text, true
				}
			}
		}
		return "", "", false
	}
	form := func(action string, value func(chat.Field) string) error {
		a, err := r.press(r.client, r.thread, action)
		if err != nil || a.Form == nil {
			return err // refused: it was done already, which the next look shows
		}
		values := map[string]string{}
		for _, f := range a.Form.Fields {
			values[f.Key] = value(f)
		}
		a, err = r.client.Submit(r.ctx, r.thread, a.Form.Action, values)
		_, err = r.do(r.client, a, err)
		return err
	}
	if a, _, ok := find("Try again"); ok {
		r.again++
		_, err := r.press(r.client, r.thread, a)
		return true, err
	}
	if a, _, ok := find("These are right"); ok {
		_, err := r.press(r.client, r.thread, a)
		return true, err
	}
	measures := func(f chat.Field) string {
		key, _, _ := strings.Cut(f.Key, "/")
		return robotTypes[key]
	}
	if a, _, ok := find("Give measurements"); ok {
		return true, form(a, measures)
	}
	for _, p := range posts {
		for _, m := range p.Menus {
			var pick []string
			switch {
			case m.Label == "Pattern sets" && strings.Contains(p.Text, "no set chosen yet"):
				pick = []string{"forearm-cuff", "shoulder-cap"}
			case m.Label == "Finish" && strings.Contains(p.Text, "Finish: not chosen yet"):
				pick = []string{"painted"}
			default:
				continue
			}
			a, err := r.client.Pick(r.ctx, r.thread, m.Action, pick...)
			_, err = r.do(r.client, a, err)
			return true, err
		}
	}
	if a, _, ok := find("Go on"); ok {
		return true, form(a, measures)
	}
	if a, text, ok := find("Approve"); ok {
		if !strings.Contains(text, "revision 1*") {
			_, err := r.press(r.client, r.thread, a)
			return true, err
		}
		change, _, _ := find("Ask for a change")
		return true, form(change, func(f chat.Field) string {
			switch f.Key {
			case "finish":
				return "weathered"
			case "what":
				return "A dark wash in the recesses, please"
			}
			return f.Value
		})
	}
	return false, nil
}

// work does what is next for the studio; false: nothing before the client has acted.
func (r *robot) work() (bool, error) {
	if r.board == "" {
		ths, err := r.studio.Threads(r.ctx)
		if err != nil {
			return false, err
		}
		i := slices.IndexFunc(ths, func(th chat.ThreadID) bool { return th != r.thread })
		if i < 0 {
			return false, nil
		}
		r.board = ths[i]
	}
	a, err := r.studio.Do(r.ctx, r.board, "orders", nil)
	if err != nil {
		return false, err
	}
	switch {
	case strings.Contains(a.Text, "is handed over"):
		return false, errOver
	case len(a.Buttons) > 0: // a deposit, or handing over
		_, err := r.press(r.studio, r.board, a.Buttons[0].Action)
		return true, err
	case !strings.Contains(a.Text, "is being made"):
		return false, nil
	}
	if a, err = r.studio.Do(r.ctx, r.board, "bench", nil); err != nil {
		return false, err
	}
	if len(a.Buttons) == 0 { // something cures
		return true, r.jump(time.Hour)
	}
	if a, err = r.press(r.studio, r.board, a.Buttons[0].Action); err != nil {
		return false, err
	}
	if strings.HasPrefix(a.Text, "Done") {
		return true, r.jump(5 * time.Minute)
	}
	return true, nil
}

// jump puts the bot's clock forward.
func (r *robot) jump(d time.Duration) error {
	r.ahead += d
	next := r.offset + ".new"
	if err := os.WriteFile(next, []byte(r.ahead.String()), 0o600); err != nil {
		return &surprise{err.Error()}
	}
	if err := os.Rename(next, r.offset); err != nil {
		return &surprise{err.Error()}
	}
	return nil
}

// desk is what the studio sees at the end, in both threads.
func (r *robot) desk() []chat.Post {
	var all []chat.Post
	for _, th := range []chat.ThreadID{r.thread, r.board} {
		posts, _, err := r.studio.Posts(r.ctx, th)
		if err != nil {
			r.t.Fatal(err)
		}
		all = append(all, posts...)
	}
	return all
}
