package ledger

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"time"

	"benchbell/bot/chat"
	"benchbell/quote"
)

// PatternState says whether a set is offered.
type PatternState string

// Pattern states.
const (
	PatternChecked   PatternState = "checked"   // read without a fault, not offered yet
	PatternShelved   PatternState = "shelved"   // in the library
	PatternWithdrawn PatternState = "withdrawn" // not offered any more; commissions that have it keep it
)

// Pattern is one version of a set that the studio brought itself.
type Pattern struct {
	Name    string
	Version int
	Source  quote.PatternSource
	Card    []byte // PNG
	SentBy  chat.PersonID
	SentAt  time.Time
	State   PatternState
}

// AddPattern files a set that was read without a fault and returns its version; the same files again are the same version.
func (t *Tx) AddPattern(p Pattern) (version int, err error) {
	sum := sha256.Sum256([]byte(p.Source.Drawing + "\x00" + p.Source.TOML))
	sha := hex.EncodeToString(sum[:])
	number := func(s scanner) (n int, err error) { return n, s.Scan(&n) }
	version, err = one(t, number, `select version from patterns where name = ? and sha256 = ?`, p.Name, sha)
	if err == nil || !errors.Is(err, ErrNone) {
		return version, err
	}
	if version, err = one(t, number, `select coalesce(max(version), 0) + 1 from patterns where name = ?`, p.Name); err != nil {
		return 0, err
	}
	return version, t.exec(`insert into patterns (name, version, drawing, spec, sha256, card, sent_by, sent_at, state)
		values (?, ?, ?, ?, ?, ?, ?, ?, 'checked')`, p.Name, version, []byte(p.Source.Drawing), p.Source.TOML, sha, p.Card,
		string(p.SentBy), stamp(p.SentAt))
}

// ShelvePattern offers a version of a set in the library, in place of any other version; ErrNone where there is none.
func (t *Tx) ShelvePattern(name string, version int) error {
	_, err := one(t, func(s scanner) (n int, err error) { return n, s.Scan(&n) },
		`select 1 from patterns where name = ? and version = ?`, name, version)
	if err != nil {
		return err
	}
	if err := t.WithdrawPattern(name); err != nil {
		return err
	}
	return t.exec(`update patterns set state = 'shelved' where name = ? and version = ?`, name, version)
}

// WithdrawPattern takes a set out of the library.
func (t *Tx) WithdrawPattern(name string) error {
	return t.exec(`update patterns set state = 'withdrawn' where name = ? and state = 'shelved'`, name)
}

// Patterns are the sets that are or were in the library, by name, the latest such version of each.
func (t *Tx) Patterns() ([]Pattern, error) {
	return all(t, func(s scanner) (p Pattern, err error) {
		var drawing []byte
		err = s.Scan(&p.Name, &p.Version, &drawing, &p.Source.TOML, &p.Card, &p.SentBy, moment{&p.SentAt}, &p.State)
		p.Source.Drawing = string(drawing)
		return p, err
	}, `select name, version, drawing, spec, card, sent_by, sent_at, state from patterns p where state <> 'checked'
		and not exists (select 1 from patterns o where o.name = p.name and o.state <> 'checked'
			and (o.state = 'shelved' and p.state <> 'shelved' or o.state = p.state and o.version > p.version))
		order by name`)
}
