package ledger

import (
	"time"

	"benchbell/bot/chat"
)

// Air is what the air at the bench was.
type Air struct {
	At       time.Time
	Celsius  float64
	Humidity float64 // relative, percent
	By       chat.PersonID
}

func scanAir(s scanner) (a Air, err error) {
	return a, s.Scan(moment{&a.At}, &a.Celsius, &a.Humidity, &a.By)
}

// AddAir files what the air is.
func (t *Tx) AddAir(a Air) error {
	return t.exec(`insert into airs (at, celsius, humidity, person) values (?, ?, ?, ?)`, stamp(a.At), a.Celsius, a.Humidity, string(a.By))
}

// Airs are those since a moment, in their order.
func (t *Tx) Airs(since time.Time) ([]Air, error) {
	return all(t, scanAir, `select at, celsius, humidity, person from airs where at >= ? order by at, n`, stamp(since))
}
