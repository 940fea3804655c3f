package desk

import (
	"context"
	"fmt"
	"testing"
	"time"

	"benchbell/bot/ledger"
	"benchbell/quote"
	"benchbell/quote/floor"
	"benchbell/quote/plan/schedule"
)

// The studio asks whether a commission can be ready by a day; asking changes nothing.
func TestWhatIf(t *testing.T) {
	p := newPlay(t)
	p.refused(p.command(mara, "whatif", "number", "C0001", "date", "12 December"), "for the studio")
	p.whatIf = func(_ context.Context, open []floor.Open, _ quote.Studio, _ time.Time, id quote.CommissionID, by string) ([]floor.Choice, error) {
		if len(open) != 1 || open[0].Snapshot.Commission != id {
			return nil, fmt.Errorf("%d commissions are open, want %s alone", len(open), id)
		}
		if by == "2026-11-03" {
			return nil, fmt.Errorf("there is no room")
		}
		return []floor.Choice{
			{Way: schedule.ByVariation, Name: "Plain", Kept: true, Cost: -4200, P80: by},
			{Way: floor.ByEarlierFitting, Name: "first fitting (Thu 3 Dec, 10:00)", Kept: true, P80: by},
			{Way: schedule.ByParts, Kept: true, P80: "2026-12-18", First: []string{"Cuff"}},
			{Way: schedule.ByOvertime, Name: "3 evenings", Kept: true, Cost: 22050, Full: 22050, P80: by,
				Others: []floor.Effect{{Commission: "C0002", From: "2026-12-10", To: "2026-12-14", Danger: true}, {Commission: "C0003", From: "2026-12-16", To: "2026-12-15"}}},
			{Way: schedule.ByHire, Name: "another maker", Cost: 60000, P80: "2026-12-14"},
			{Way: schedule.AsPlanned, P80: "2026-12-16"},
		}, nil
	}
	p.toWorking(&stageShop{})
	pending := func() (events int) {
		p.ok(p.led.Tx(t.Context(), func(tx *ledger.Tx) error {
			e, err := tx.Events("C0001")
			events = len(e)
			return err
		}))
		return events
	}
	p.studio = func() quote.Studio {
		s := testStudio()
		s.Prices.Currency = "EUR"
		return s
	}
	before := pending()
	p.ok(p.command(boss, "what-if", "number", "c0001", "date", "12 December"))
	p.ok(p.command(boss, "whatif", "number", "C0001", "date", "1 March"))
	p.refused(p.command(boss, "whatif", "number", "C0001", "date", "whenever"), "is not a day")
	p.refused(p.command(boss, "whatif", "number", "C0001"), "say by which day")
	p.refused(p.command(boss, "whatif", "number", "C0007", "date", "12 December"), "no commission")
	p.refused(p.command(boss, "whatif", "number", "C0001", "date", "3 November 2026"), "no room")
	if after := pending(); after != before {
		t.Errorf("asking left %d events", after-before)
	}
	p.golden()
}
