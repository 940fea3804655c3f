package browser_test

import (
	"context"
	"log/slog"
	"testing"

	"benchbell/bot/browser"
	"benchbell/bot/browser/browsertest"
	"benchbell/bot/chat"
	"benchbell/bot/chat/chattest"
)

func TestTransport(t *testing.T) {
	chattest.Conformance(t, func(t *testing.T) chattest.Bench {
		d, err := browser.New(browser.Options{Listen: "127.0.0.1:0", Log: slog.New(slog.DiscardHandler)})
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { d.Close() })
		client := func(id chat.PersonID, name string) chattest.Peer {
			return browsertest.Later(id, func(ctx context.Context) (*browsertest.Peer, error) {
				return browsertest.Client(ctx, d.URL(), name)
			})
		}
		return chattest.Bench{
			Transport: d, Client: client("browser:mara", "Mara"), Other: client("browser:ilo", "Ilo"),
			Studio: browsertest.Later(browser.StudioID, func(ctx context.Context) (*browsertest.Peer, error) {
				return browsertest.Studio(ctx, d.URL())
			}),
		}
	})
}
