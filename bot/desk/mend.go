package desk

import (
	"encoding/json"
	"fmt"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
)

// mend reopens an order whose quote could not be worked out: what failed may be a measurement or a choice, and trying
// again would only fail again. All that was given stays; the next confirmation makes a new revision.
func (w *work) mend(c ledger.Commission) (chat.Reply, error) {
	if c.State != ledger.Failed {
		if err := w.mustDraft(c); err != nil {
			return chat.Reply{}, err
		}
		return chat.Reply{}, refuse("%s is open for changes already", c.ID)
	}
	was, err := w.t.Revision(c.ID, c.Revision)
	if err != nil {
		return chat.Reply{}, err
	}
	if err := w.retire(c, ledger.RevReplaced, "could not be worked out; set aside for a change."); err != nil {
		return chat.Reply{}, err
	}
	if len(was.Snapshot.Changes) > 0 { // what it was to change against the revision before still holds
		text, err := json.Marshal(changeTyped{Revision: c.Revision, Asked: was.Snapshot.Changes})
		if err != nil {
			return chat.Reply{}, err
		}
		c.ChangeTyped = string(text)
	}
	c.State = ledger.Measuring
	if err := w.save(&c, "reopened after a failure", fmt.Sprintf("revision %d", c.Revision)); err != nil {
		return chat.Reply{}, err
	}
	items, err := w.t.Items(c.ID)
	if err != nil {
		return chat.Reply{}, err
	}
	if err := w.putCard(c, false); err != nil {
		return chat.Reply{}, err
	}
	for _, it := range items {
		if err := w.putItem(c, it); err != nil {
			return chat.Reply{}, err
		}
	}
	rep, err := w.measure(c)
	if err != nil {
		return chat.Reply{}, err
	}
	if rep.Form == nil {
		rep.Text = "Correct the measurements below, or sets, finish and details at the top of the thread; then confirm once more."
	}
	return rep, nil
}
