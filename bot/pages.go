package main

import (
	"context"
	"errors"
	"fmt"
	"net/http"

	"benchbell/bot/board"
	"benchbell/bot/browser"
	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/quote/cure"
)

// A boarded shop has its board among the pages of the browser desk, and the desk hears what happens in the shop. The desk is
// there before the shop, so the board comes later.
type boarded struct {
	board *board.Board
	desk  *browser.Desk
	sense func(context.Context, cure.Room) error
}

// sensor is the air's, where a token for it is set.
func (b *boarded) sensor(token string) *browser.Sensor {
	if token == "" {
		return nil
	}
	return &browser.Sensor{Token: token, Take: func(ctx context.Context, celsius, humidity float64) error {
		err := b.sense(ctx, cure.Room{Celsius: celsius, Humidity: humidity})
		var no *shop.Refusal
		if errors.As(err, &no) {
			return &chat.Refusal{Say: fmt.Sprintf("%s is not the air of a workshop: %v", no.Name, no.Cause)}
		}
		return err
	}}
}

// pages are the board's at the desk, under its names.
func (b *boarded) pages() []browser.Page {
	page := func(name, title string, serve func(*board.Board, http.ResponseWriter, *http.Request, board.Visit) error) browser.Page {
		return browser.Page{Name: name, Title: title, Serve: func(w http.ResponseWriter, r *http.Request, v browser.Visitor) error {
			return serve(b.board, w, r, board.Visit(v))
		}}
	}
	return []browser.Page{page("today", "Today", (*board.Board).Today), page("curing", "Curing", (*board.Board).Curing),
		page("step", "", (*board.Board).Step), page("board.css", "", (*board.Board).Style)}
}

// Tell and Wake make it a shop.Teller: open pages look again once what happened is kept.
func (b *boarded) Tell(*ledger.Tx, shop.Told) error { return nil }

func (b *boarded) Wake() { b.desk.Changed() }
