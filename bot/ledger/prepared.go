package ledger

import (
	"context"
	"database/sql"
	"slices"
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

// statement is a query in a transaction, which closes it at its end.
type statement interface {
	ExecContext(context.Context, ...any) (sql.Result, error)
	QueryContext(context.Context, ...any) (*sql.Rows, error)
	QueryRowContext(context.Context, ...any) *sql.Row
}

// unread is a query that is read each time.
type unread struct {
	tx   *sql.Tx
	text string
}

func (u unread) ExecContext(ctx context.Context, args ...any) (sql.Result, error) {
	return u.tx.ExecContext(ctx, u.text, args...)
}

func (u unread) QueryContext(ctx context.Context, args ...any) (*sql.Rows, error) {
	return u.tx.QueryContext(ctx, u.text, args...)
}

func (u unread) QueryRowContext(ctx context.Context, args ...any) *sql.Row {
	return u.tx.QueryRowContext(ctx, u.text, args...)
}

// statement is a query as it was read before, or else unread.
func (p *prepared) statement(t *Tx, query string) statement {
	p.mu.Lock()
	defer p.mu.Unlock()
	if s := p.known[query]; s != nil {
		return t.tx.StmtContext(t.ctx, s)
	}
	if len(p.known)+len(p.next) < mostPrepared && !slices.Contains(p.next, query) {
		p.next = append(p.next, query)
	}
	return unread{t.tx, query}
}

// more reads what was used for the first time. What cannot be read is tried as often as it is used, and fails there.
func (p *prepared) more(ctx context.Context, db *sql.DB) {
	p.mu.Lock()
	next := p.next
	p.next = nil
	p.mu.Unlock()
	for _, query := range next {
		s, err := db.PrepareContext(ctx, query) //nolint:sqlclosecheck // kept until the file is closed
		if err != nil {
			continue
		}
		p.mu.Lock()
		if p.known == nil {
			p.known = map[string]*sql.Stmt{}
		}
		p.known[query] = s // closed with the file
		p.mu.Unlock()
	}
}
