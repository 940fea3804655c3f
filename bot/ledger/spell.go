package ledger

import (
	"time"

	"benchbell/bot/chat"
	"benchbell/quote"
)

// Spell is a stretch of work on an operation, from its start to its pause or end.
type Spell struct {
	Commission  quote.CommissionID
	Seq         int // of the operation
	N           int // 1-based, of the operation
	Round       int // of the operation then
	By          chat.PersonID
	From        time.Time // zero: it was done without having been started, and nobody knows
	Until       time.Time // zero: in hand
	Minutes     int       // that it really took, as somebody typed; 0: nobody did
	CorrectedAt time.Time
	CorrectedBy chat.PersonID
}

const spellColumns = `commission, seq, n, round, person, from_at, until_at, minutes, corrected_at, corrected_by`

func scanSpell(s scanner) (x Spell, err error) {
	return x, s.Scan(&x.Commission, &x.Seq, &x.N, &x.Round, &x.By, moment{&x.From}, moment{&x.Until}, &x.Minutes, moment{&x.CorrectedAt}, &x.CorrectedBy)
}

// AddSpell files a spell as the next of its operation.
func (t *Tx) AddSpell(x Spell) error {
	return t.exec(`insert into spells (`+spellColumns+`) select ?, ?, coalesce(max(n), 0) + 1, ?, ?, ?, ?, ?, ?, ? from spells where commission = ? and seq = ?`,
		string(x.Commission), x.Seq, x.Round, string(x.By), stamp(x.From), stamp(x.Until), x.Minutes, stamp(x.CorrectedAt), string(x.CorrectedBy),
		string(x.Commission), x.Seq)
}

// SaveSpell writes all that can change of one.
func (t *Tx) SaveSpell(x Spell) error {
	return t.exec(`update spells set until_at = ?, minutes = ?, corrected_at = ?, corrected_by = ? where commission = ? and seq = ? and n = ?`,
		stamp(x.Until), x.Minutes, stamp(x.CorrectedAt), string(x.CorrectedBy), string(x.Commission), x.Seq, x.N)
}

// DropSpell forgets one that was taken back.
func (t *Tx) DropSpell(x Spell) error {
	return t.exec(`delete from spells where commission = ? and seq = ? and n = ?`, string(x.Commission), x.Seq, x.N)
}

// Spells of a commission, by operation and in the order in which they began.
func (t *Tx) Spells(id quote.CommissionID) ([]Spell, error) {
	return all(t, scanSpell, `select `+spellColumns+` from spells where commission = ? order by seq, n`, string(id))
}

// SpellsOf are those of one operation.
func (t *Tx) SpellsOf(id quote.CommissionID, seq int) ([]Spell, error) {
	return all(t, scanSpell, `select `+spellColumns+` from spells where commission = ? and seq = ? order by n`, string(id), seq)
}
