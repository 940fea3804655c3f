package browsertest

import (
	"context"
	"sync"

	"benchbell/bot/chat"
	"benchbell/bot/chat/chattest"
)

// later takes its seat when it is first used.
type later struct {
	id   chat.PersonID
	take func(context.Context) (*Peer, error)
	mu   sync.Mutex
	peer *Peer
}

func (l *later) sit(ctx context.Context) (*Peer, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.peer == nil {
		p, err := l.take(ctx)
		if err != nil {
			return nil, err
		}
		l.peer = p
	}
	return l.peer, nil
}

func (l *later) act(ctx context.Context, do func(*Peer) (chattest.Answer, error)) (chattest.Answer, error) {
	p, err := l.sit(ctx)
	if err != nil {
		return chattest.Answer{}, err
	}
	return do(p)
}

func (l *later) ID() chat.PersonID { return l.id }

func (l *later) Commands(ctx context.Context) ([]string, error) {
	p, err := l.sit(ctx)
	if err != nil {
		return nil, err
	}
	return p.Commands(ctx)
}

func (l *later) Do(ctx context.Context, th chat.ThreadID, command string, o map[string]string, fs ...chat.File) (chattest.Answer, error) {
	return l.act(ctx, func(p *Peer) (chattest.Answer, error) { return p.Do(ctx, th, command, o, fs...) })
}

func (l *later) Press(ctx context.Context, th chat.ThreadID, action string) (chattest.Answer, error) {
	return l.act(ctx, func(p *Peer) (chattest.Answer, error) { return p.Press(ctx, th, action) })
}

func (l *later) Pick(ctx context.Context, th chat.ThreadID, action string, v ...string) (chattest.Answer, error) {
	return l.act(ctx, func(p *Peer) (chattest.Answer, error) { return p.Pick(ctx, th, action, v...) })
}

func (l *later) Submit(ctx context.Context, th chat.ThreadID, action string, v map[string]string) (chattest.Answer, error) {
	return l.act(ctx, func(p *Peer) (chattest.Answer, error) { return p.Submit(ctx, th, action, v) })
}

func (l *later) Send(ctx context.Context, th chat.ThreadID, fs ...chat.File) (chattest.Answer, error) {
	return l.act(ctx, func(p *Peer) (chattest.Answer, error) { return p.Send(ctx, th, fs...) })
}

func (l *later) Again(ctx context.Context) (chattest.Answer, error) {
	return l.act(ctx, func(p *Peer) (chattest.Answer, error) { return p.Again(ctx) })
}

func (l *later) Threads(ctx context.Context) ([]chat.ThreadID, error) {
	p, err := l.sit(ctx)
	if err != nil {
		return nil, err
	}
	return p.Threads(ctx)
}

func (l *later) Posts(ctx context.Context, th chat.ThreadID) ([]chat.Post, []chat.PersonID, error) {
	p, err := l.sit(ctx)
	if err != nil {
		return nil, nil, err
	}
	return p.Posts(ctx, th)
}

func (l *later) Private(ctx context.Context, th chat.ThreadID) (string, error) {
	p, err := l.sit(ctx)
	if err != nil {
		return "", err
	}
	return p.Private(ctx, th)
}
