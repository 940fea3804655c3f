// Package ledger is the studio's memory: one SQLite file with every commission, its measurements, revisions, approval,
// plan, cures and appointments, the people of the studio and how they sign in, the rack of offcuts and the days on which foam
// was cut together, what is still to be posted or computed, and an audit trail nobody can edit.
//
// Everything happens in Tx: the change, its event and the outbox rows it causes are written together or not at all, so
// a process killed at any instant loses and doubles nothing. Times are RFC 3339 text in UTC, amounts and lengths plain
// numbers, snapshots JSON: any SQLite tool reads the file.
//
// It refuses a file written by a newer version. It is the only package that knows SQL and knows nothing of how the
// conversation goes: which state may follow which is decided in package shop.
package ledger

import (
	"context"
	"database/sql"
	"embed"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"path/filepath"
	"slices"
	"time"

	_ "modernc.org/sqlite" // the driver "sqlite"

	"benchbell/quote"
)

//go:embed migrations/*.sql
var migrations embed.FS

// ErrNone says that what was asked for is not in the ledger.
var ErrNone = errors.New("not in the ledger")

// Ledger is an open ledger file. It is safe for concurrent use; transactions run one after another.
type Ledger struct {
	db       *sql.DB
	read     readOps
	prepared prepared
}

// Open opens the ledger at path, making and migrating it as needed.
func Open(ctx context.Context, path string) (*Ledger, error) {
	return openWith(ctx, path, "FULL")
}

// OpenScratch is Open for a ledger that nobody needs any more once its process has ended: it is not written to the disk with
// every transaction, and the file may be broken after a power cut.
func OpenScratch(ctx context.Context, path string) (*Ledger, error) {
	return openWith(ctx, path, "OFF")
}

func openWith(ctx context.Context, path, synchronous string) (*Ledger, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, fmt.Errorf("ledger %s: %w", path, err)
	}
	u := url.URL{Scheme: "file", Path: filepath.ToSlash(abs)}
	// The driver ignores spellings it does not know; a test reads every pragma back.
	dsn := u.String() + "?_pragma=busy_timeout(10000)&_pragma=journal_mode(WAL)&_pragma=foreign_keys(1)" +
		"&_pragma=synchronous(" + synchronous + ")&_txlock=immediate"
	db, err := sql.Open("sqlite", dsn)
	if err != nil {
		return nil, fmt.Errorf("ledger %s: %w", path, err)
	}
	db.SetMaxOpenConns(1) // one writer: transactions queue here instead of failing as busy
	l := &Ledger{db: db}
	if err := l.migrate(ctx); err != nil {
		db.Close()
		return nil, fmt.Errorf("ledger %s: %w", path, err)
	}
	return l, nil
}

// Close closes the file.
func (l *Ledger) Close() error { return l.db.Close() }

func (l *Ledger) migrate(ctx context.Context) error {
	names, err := fs.Glob(migrations, "migrations/*.sql")
	if err != nil {
		return err
	}
	slices.Sort(names)
	tx, err := l.db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback()
	var have int
	if err := tx.QueryRowContext(ctx, "pragma user_version").Scan(&have); err != nil {
		return err
	}
	if have > len(names) {
		return fmt.Errorf("the file is of version %d, this program knows versions up to %d: run a newer program", have, len(names))
	}
	for i := have; i < len(names); i++ {
		text, err := migrations.ReadFile(names[i])
		if err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, string(text)); err != nil {
			return fmt.Errorf("migration %s: %w", names[i], err)
		}
		if _, err := tx.ExecContext(ctx, fmt.Sprintf("pragma user_version = %d", i+1)); err != nil {
			return err
		}
	}
	return tx.Commit()
}

// Pragmas reads back the settings that durability rests on.
func (l *Ledger) Pragmas(ctx context.Context) (map[string]string, error) {
	out := map[string]string{}
	for _, p := range []string{"journal_mode", "busy_timeout", "foreign_keys", "synchronous", "user_version"} {
		var v string
		if err := l.db.QueryRowContext(ctx, "pragma "+p).Scan(&v); err != nil {
			return nil, err
		}
		out[p] = v
	}
	return out, nil
}

// Tx is a transaction; its methods may be used only inside the function it was given to.
type Tx struct {
	ctx     context.Context
	tx      *sql.Tx
	changed bool
	read    *readOps
	known   *prepared
	// changedOps are the commissions whose operations were changed in this transaction; they are read from the file.
	changedOps map[quote.CommissionID]bool
}

// Tx runs f in a transaction that is committed when f returns nil and rolled back otherwise. f must not call the
// Ledger's own methods.
func (l *Ledger) Tx(ctx context.Context, f func(*Tx) error) error {
	tx, err := l.db.BeginTx(ctx, nil)
	if err != nil {
		return fmt.Errorf("ledger: %w", err)
	}
	defer func() {
		tx.Rollback()
		l.prepared.more(ctx, l.db)
	}()
	t := &Tx{ctx: ctx, tx: tx, read: &l.read, known: &l.prepared}
	if err := l.read.begun(t); err != nil {
		return err
	}
	if err := f(t); err != nil {
		return err
	}
	if err := tx.Commit(); err != nil {
		return fmt.Errorf("ledger: %w", err)
	}
	return nil
}

// Changed reports whether an event was recorded in this transaction.
func (t *Tx) Changed() bool { return t.changed }

func (t *Tx) exec(query string, args ...any) error {
	if _, err := t.known.statement(t, query).ExecContext(t.ctx, args...); err != nil {
		return fmt.Errorf("ledger: %w", err)
	}
	return nil
}

type scanner interface{ Scan(...any) error }

func one[T any](t *Tx, scan func(scanner) (T, error), query string, args ...any) (T, error) {
	v, err := scan(t.known.statement(t, query).QueryRowContext(t.ctx, args...))
	if errors.Is(err, sql.ErrNoRows) {
		return v, ErrNone
	}
	if err != nil {
		return v, fmt.Errorf("ledger: %w", err)
	}
	return v, nil
}

func all[T any](t *Tx, scan func(scanner) (T, error), query string, args ...any) ([]T, error) {
	rows, err := t.known.statement(t, query).QueryContext(t.ctx, args...)
	if err != nil {
		return nil, fmt.Errorf("ledger: %w", err)
	}
	defer rows.Close()
	var out []T
	for rows.Next() {
		v, err := scan(rows)
		if err != nil {
			return nil, fmt.Errorf("ledger: %w", err)
		}
		out = append(out, v)
	}
	if err := rows.Err(); err != nil {
		return nil, fmt.Errorf("ledger: %w", err)
	}
	return out, nil
}

// Next counts the named counter up and returns it; the first is 1.
func (t *Tx) Next(counter string) (int64, error) {
	return one(t, func(s scanner) (n int64, err error) { return n, s.Scan(&n) },
		`insert into counters (name, value) values (?, 1) on conflict (name) do update set value = value + 1 returning value`, counter)
}

// stampLayout has fixed width, so that text order is time order.
const stampLayout = "2006-01-02T15:04:05.000Z"

func stamp(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.UTC().Format(stampLayout)
}

// moment scans a stamp; the empty text is the zero time.
type moment struct{ to *time.Time }

func (m moment) Scan(v any) error {
	s, ok := v.(string)
	if !ok {
		return fmt.Errorf("a time is stored as %T, not text", v)
	}
	if s == "" {
		*m.to = time.Time{}
		return nil
	}
	t, err := time.Parse(time.RFC3339Nano, s)
	if err != nil {
		return err
	}
	*m.to = t.UTC()
	return nil
}

// encoded scans JSON text.
type encoded struct{ to any }

func (e encoded) Scan(v any) error {
	switch v := v.(type) {
	case string:
		if v == "" {
			return nil
		}
		return json.Unmarshal([]byte(v), e.to)
	case []byte:
		return json.Unmarshal(v, e.to)
	}
	return fmt.Errorf("JSON is stored as %T, not text", v)
}

func encode(v any) (string, error) {
	b, err := json.Marshal(v)
	if err != nil {
		return "", fmt.Errorf("ledger: %w", err)
	}
	return string(b), nil
}

// Event is one line of the audit trail.
type Event struct {
	N          int64
	At         time.Time
	Commission quote.CommissionID
	Person     string
	Name       string // as they were called then; empty where it happened by itself
	OnBehalf   string
	What       string // "approved"
	Detail     string
}

// Record appends an event; events are never changed.
func (t *Tx) Record(e Event) error {
	t.changed = true
	return t.exec(`insert into events (at, commission, person, name, on_behalf, what, detail) values (?, ?, ?, ?, ?, ?, ?)`,
		stamp(e.At), string(e.Commission), e.Person, e.Name, e.OnBehalf, e.What, e.Detail)
}

// Happened reports whether an event of a kind is recorded of a commission.
func (t *Tx) Happened(id quote.CommissionID, what string) (bool, error) {
	return one(t, func(s scanner) (yes bool, err error) { return yes, s.Scan(&yes) },
		`select exists (select 1 from events where commission = ? and what = ?)`, string(id), what)
}

func scanEvent(s scanner) (e Event, err error) {
	return e, s.Scan(&e.N, moment{&e.At}, &e.Commission, &e.Person, &e.Name, &e.OnBehalf, &e.What, &e.Detail)
}

// Events of a commission, oldest first.
func (t *Tx) Events(id quote.CommissionID) ([]Event, error) {
	return all(t, scanEvent, `select n, at, commission, person, name, on_behalf, what, detail from events where commission = ? order by n`, string(id))
}

const eventsPageSQL = `select n, at, commission, person, name, on_behalf, what, detail from events where commission = ? order by n desc limit ? offset ?`

// EventsPage are events of a commission, latest first.
func (t *Tx) EventsPage(id quote.CommissionID, limit, offset int) ([]Event, error) {
	return all(t, scanEvent, eventsPageSQL, string(id), limit, offset)
}
