package main

import (
	"context"
	"errors"
	"fmt"
	"net/http"

	"benchbell/bot/board"
	"benchbell/bot/browser"
	"benchbell/bot/chat"
	"benchbell/bot/counter"
	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/quote/cure"
)

// A boarded shop has its board among the pages of the browser desk, and the desk hears what happens in the shop. The desk is
// there before the shop, so the board comes later.
type boarded struct {
	board   *board.Board
	counter *counter.Counter
	desk    *browser.Desk
	sense   func(context.Context, cure.Room) error
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
		page("orders", "Orders", (*board.Board).Orders), page("messages", "Messages", (*board.Board).Messages),
		page("days", "Days", (*board.Board).Days), page("rack", "Rack", (*board.Board).Rack), page("step", "", (*board.Board).Step), page("commission", "", (*board.Board).Commission), page("document", "", (*board.Board).Document),
		page("board.css", "", (*board.Board).Style)}
}

// own is the client's page at the desk.
func (b *boarded) own() *browser.Own {
	return &browser.Own{Title: "Your page", Assets: counter.Assets(), Serve: func(w http.ResponseWriter, r *http.Request, g browser.Guest) error {
		err := b.counter.Serve(w, r, counter.Visit{Person: g.Person, Studio: g.Studio, Of: g.Of, Part: g.Part, Base: g.Base, Path: g.Path, Assets: g.Assets,
			Token: g.Token, Events: g.Events, Thread: string(g.Thread), Words: g.Words, Said: func(ctx context.Context, most int) ([]counter.Said, error) {
				said, err := g.Said(ctx, most)
				var out []counter.Said
				for _, x := range said {
					out = append(out, counter.Said(x))
				}
				return out, err
			}})
		if errors.Is(err, counter.ErrNone) {
			return fmt.Errorf("%w: %w", browser.ErrUnknown, err)
		}
		return err
	}}
}

// Tell and Wake make it a shop.Teller: open pages look again once what happened is kept.
func (b *boarded) Tell(*ledger.Tx, shop.Told) error { return nil }

func (b *boarded) Wake() { b.desk.Changed() }
