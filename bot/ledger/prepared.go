package ledger

import (
	"context"
	"database/sql"
	"sync"
)

// prepared are the statements that were used before: reading one anew takes longer than most of them run. A statement is read
// between transactions, as there is one connection and it belongs to the transaction that is open.
type prepared struct {
	mu    sync.Mutex
	known map[string]*sql.Stmt
	next  []string
}

// mostPrepared is more statements than this package has; some lists make their text as long as they are.
const mostPrepared = 300

// statement is a query in a transaction; nil where it has not been read yet.
func (p *prepared) statement(t *Tx, query string) *sql.Stmt {
	p.mu.Lock()
	defer p.mu.Unlock()
	if s := p.known[query]; s != nil {
		return t.tx.StmtContext(t.ctx, s)
	}
	if len(p.known)+len(p.next) < mostPrepared {
		p.next = append(p.next, query)
	}
	return nil
}

// more reads what was used for the first time. What cannot be read is tried as often as it is used, and fails there.
func (p *prepared) more(ctx context.Context, db *sql.DB) {
	p.mu.Lock()
	next := p.next
	p.next = nil
	p.mu.Unlock()
	for _, query := range next {
		s, err := db.PrepareContext(ctx, query)
		if err != nil {
			continue
		}
		p.mu.Lock()
		if was := p.known[query]; was != nil {
			s.Close()
		} else {
			if p.known == nil {
				p.known = map[string]*sql.Stmt{}
			}
			p.known[query] = s
		}
		p.mu.Unlock()
	}
}
