package floor

import (
	"fmt"
	"slices"
	"time"

	"benchbell/quote"
	"benchbell/quote/draw"
	"benchbell/quote/geom"
	"benchbell/quote/picture"
	"benchbell/quote/plan"
)

// Dimensions of the shop plan in chat: 2 mm text on a width of 90 mm is 9 of a phone's 390 pixels.
const (
	phoneWide geom.MM = 90
	phoneHigh geom.MM = 260
	// shopPixels per millimetre is twice a phone's resolution, for turning the phone or zooming in.
	shopPixels = 10
	// shownDays is how many days of the shop plan go to chat at most; what lies further ahead moves before it comes.
	shownDays = 7
	// shownCure is the shortest cure shown unless its window closes: shorter ones are over by the time the bench is
	// cleared.
	shownCure = time.Hour
	// shownPictures is the most pictures, one per day if the shop is full; a message holds only a few.
	shownPictures = 6
)

// Draw draws the coming days of the shop plan for a phone; nothing if no work is left.
func (s Shop) Draw() ([]quote.Picture, error) {
	if s.sh == nil {
		return nil, nil
	}
	var out []quote.Picture
	var scenes []draw.Scene
	for days := shownDays; days > 0 && (scenes == nil || len(scenes) > shownPictures); days-- {
		g := s.sh.picture(s.Plan, days)
		g.Width, g.Height = phoneWide, phoneHigh
		scenes = draw.Gantts(g)
	}
	for i, sc := range scenes[:min(len(scenes), shownPictures)] {
		p, err := sc.PNG(shopPixels)
		if err != nil {
			return nil, fmt.Errorf("the picture of the shop's plan could not be painted: %w", err)
		}
		out = append(out, quote.Picture{Name: fmt.Sprintf("shop-plan-%d.png", i+1), MIME: "image/png", Alt: sc.Title, Data: p})
	}
	return out, nil
}

// drawnOf says how many days of a plan are drawn.
func (sh *shop) drawnOf(s plan.Solution, from time.Time, days int) string {
	all := 0
	for _, x := range s.Operations {
		for day := from.AddDate(0, 0, all); day.Before(x.End); day = day.AddDate(0, 0, 1) {
			all++
		}
	}
	if all <= days {
		return "All of the plan is drawn."
	}
	return fmt.Sprintf("The next %d of the plan's %d days are drawn.", days, all)
}

// picture describes some days of the shop plan: a lane for each maker and place, the cures beneath, commissions marked by letter.
func (sh *shop) picture(s plan.Solution, days int) draw.PlanPicture {
	now := sh.now.In(sh.zone)
	from := time.Date(now.Year(), now.Month(), now.Day(), 0, 0, 0, 0, sh.zone)
	to := time.Date(now.Year(), now.Month(), now.Day()+days, 0, 0, 0, 0, sh.zone)
	g := draw.PlanPicture{Title: "The shop plan", Zone: sh.zone, From: from, Now: sh.now,
		Legend: []string{fmt.Sprintf("Made on %s. Cures of an hour and more, at %g °C and %g %% humidity; data sheets decide.", now.Format("Mon 2 Jan 2006, 15:04"),
			sh.studio.Room.Celsius, sh.studio.Room.Humidity), sh.drawnOf(s, from, days)}}
	number := map[string]int{}
	of := map[string]int{}
	for _, x := range s.Operations {
		of[x.Project]++
		number[x.ID] = of[x.Project]
	}
	shown := func(x plan.Scheduled) bool { return x.End.After(from) && x.Start.Before(to) }
	for _, r := range sh.studio.Resources {
		lane := draw.Lane{Title: r.Title}
		for _, x := range s.Operations {
			if !slices.Contains(x.Resources, r.ID) || !shown(x) {
				continue
			}
			bar := draw.Bar{Number: number[x.ID], Title: x.Title, Kind: x.Kind, Commission: x.Project, Critical: x.Critical, Frozen: !sh.ops[x.ID].Started.IsZero()}
			for _, sp := range x.Spans {
				if sp.To.After(from) && sp.From.Before(to) {
					bar.Spans = append(bar.Spans, draw.Span{From: latest(sp.From, from), To: earliest(sp.To, to)})
				}
			}
			lane.Bars = append(lane.Bars, bar)
		}
		g.Lanes = append(g.Lanes, lane)
	}
	critical := map[string]bool{} // a critical operation waits for it
	for _, x := range s.Operations {
		if x.Critical && x.Wait != nil && x.Wait.Why == plan.WaitCure {
			critical[x.Wait.For] = true
		}
	}
	for _, x := range s.Operations {
		c := x.Cure
		if c == nil || c.Latest.IsZero() && c.Ready.Sub(c.From) < shownCure || !c.Ready.After(from) || !c.From.Before(to) {
			continue
		}
		cure := draw.CureBar{Title: c.Material, Lane: "Curing", From: latest(c.From, from), Ready: earliest(c.Ready, to), Commission: x.Project, Critical: critical[x.ID]}
		if !c.Latest.After(to) { // a window that closes after the end of the picture does not show
			cure.Latest = c.Latest
		}
		g.Cures = append(g.Cures, cure)
	}
	for _, id := range sh.byPromise() {
		m := draw.PromiseMark{Commission: string(id)}
		if at := sh.due[id].Add(-12 * time.Hour); at.After(from) && at.Before(to) {
			m.At = at
		}
		g.Promises = append(g.Promises, m)
	}
	end := from
	for _, l := range g.Lanes {
		for _, b := range l.Bars {
			for _, sp := range b.Spans {
				end = latest(end, sp.To)
			}
		}
	}
	g.Open = picture.OpenSpans(sh.studio.Calendar, sh.zone, from, latest(end, from.AddDate(0, 0, 1)))
	return g
}
