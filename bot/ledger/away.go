package ledger

import (
	"time"

	"benchbell/bot/chat"
	"benchbell/quote"
)

// AddAway files time that a maker is not at work.
func (t *Tx) AddAway(a quote.Away, by chat.PersonID, at time.Time) error {
	return t.exec(`insert into away (maker, from_at, to_at, told_at, told_by) values (?, ?, ?, ?, ?)`,
		a.Maker, stamp(a.From), stamp(a.To), stamp(at), string(by))
}

// Away is who is not at work when, as far as it is not over, by its beginning.
func (t *Tx) Away(now time.Time) ([]quote.Away, error) {
	return all(t, func(s scanner) (a quote.Away, err error) { return a, s.Scan(&a.Maker, moment{&a.From}, moment{&a.To}) },
		`select maker, from_at, to_at from away where to_at > ? order by from_at, n`, stamp(now))
}

// EndAway ends all that is not over of a maker: what has begun now, and what was to come not at all.
func (t *Tx) EndAway(maker string, now time.Time) error {
	if err := t.exec(`delete from away where maker = ? and from_at >= ?`, maker, stamp(now)); err != nil {
		return err
	}
	return t.exec(`update away set to_at = ? where maker = ? and to_at > ?`, stamp(now), maker, stamp(now))
}
