package shop

import (
	"sync"

	"benchbell/bot/ledger"
	"benchbell/quote"
)

// mostRemembered is how many quotes are kept read: more than a shop has open. Past it, all are read again.
const mostRemembered = 256

// remembered are quotes as they were read from the ledger. A revision that was quoted never changes there but for its state, and
// reading one again takes longer than anything else in a look at the shop.
type remembered struct {
	mu   sync.Mutex
	read map[quoteKey]ledger.Revision
}

type quoteKey struct {
	id quote.CommissionID
	n  int
}

// issued reads a revision that was quoted. Nothing of what it returns may be changed; its state is that of some time before.
func (j *job) issued(id quote.CommissionID, n int) (ledger.Revision, error) {
	key, m := quoteKey{id, n}, &j.s.remembered
	m.mu.Lock()
	defer m.mu.Unlock()
	if rev, ok := m.read[key]; ok {
		return rev, nil
	}
	rev, err := j.t.Revision(id, n)
	if err != nil || rev.IssuedAt.IsZero() {
		return rev, err
	}
	if m.read == nil || len(m.read) >= mostRemembered {
		m.read = map[quoteKey]ledger.Revision{}
	}
	m.read[key] = rev
	return rev, nil
}
