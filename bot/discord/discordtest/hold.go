package discordtest

import (
	"context"
	"fmt"
)

// Hold looks at a button now and presses it later, as somebody does whose screen has not caught up with an edit. The
// service takes such a press.
func (p *Person) Hold(channel, id string) (press func(context.Context) (Outcome, error), err error) {
	p.s.mu.Lock()
	defer p.s.mu.Unlock()
	m, c := p.component(channel, id)
	if m == nil || c.Type != Button {
		return nil, fmt.Errorf("%s sees no button %s", p.name, id)
	}
	seen := *m
	return func(ctx context.Context) (Outcome, error) {
		return p.do(ctx, channel, func() (*act, error) {
			return p.s.begin(p, componentAct, channel, &seen, map[string]any{"custom_id": id, "component_type": Button}), nil
		})
	}, nil
}
