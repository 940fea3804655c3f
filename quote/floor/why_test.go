package floor

import (
	"regexp"
	"slices"
	"testing"

	"benchbell/quote/plan"
)

var (
	cureWait   = regexp.MustCompile(`^“(.+)” waits (.+) for (.+) to cure$`)
	clientWait = regexp.MustCompile(`^“(.+)” waits (.+) for the client$`)
	placeWait  = regexp.MustCompile(`^“(.+)” waits (.+?) for ([^,]+)(?:, busy with (C\d+))?$`)
)

// What is said to hold a date up is so: the operation named is left, it begins no earlier than the time said after the
// work before it, that work leaves what cures, or the maker or place named has other work until then.
func TestShopPlanReasonsAreTrue(t *testing.T) {
	var all []Outlook
	for _, n := range []int{1, 2, 4} { // alone, a commission waits for its cures, among others for makers and places
		all = append(all, planned(t, opened(t, n), shopNow).Outlooks...)
	}
	named := map[string]string{}
	for _, r := range shopStudio().Resources {
		named[r.Title] = r.ID
	}
	all = append(all, planned(t, props(t), shopNow).Outlooks...) // which no client comes for
	cures, places, clients := 0, 0, 0
	for _, l := range all {
		of := func(title string) []plan.Scheduled {
			var out []plan.Scheduled
			for _, x := range l.Left {
				if x.Title == title {
					out = append(out, x)
				}
			}
			return out
		}
		switch {
		case cureWait.MatchString(l.Why):
			m := cureWait.FindStringSubmatch(l.Why)
			cures++
			// Some work of the commission leaves that cure, and the operation begins no earlier than so long after it.
			if !slices.ContainsFunc(of(m[1]), func(x plan.Scheduled) bool {
				return slices.ContainsFunc(l.Left, func(before plan.Scheduled) bool {
					return before.Cure != nil && before.Cure.Material == m[3] && !x.Start.Before(before.Cure.Ready) && hours(before.Cure.Ready.Sub(before.End)) == m[2]
				})
			}) {
				t.Errorf("%s: nothing left bears out %q", l.Commission, l.Why)
			}
		case clientWait.MatchString(l.Why):
			m := clientWait.FindStringSubmatch(l.Why)
			clients++
			if !slices.ContainsFunc(of(m[1]), func(x plan.Scheduled) bool { return x.Kind == "fit" }) {
				t.Errorf("%s: %q, and no client comes for that", l.Commission, l.Why)
			}
		case placeWait.MatchString(l.Why):
			m := placeWait.FindStringSubmatch(l.Why)
			places++
			id := named[m[3]]
			if id == "" || !slices.ContainsFunc(of(m[1]), func(x plan.Scheduled) bool { return slices.Contains(x.Resources, id) || x.Rack == id }) {
				t.Errorf("%s: %q, and %q is on no %q", l.Commission, l.Why, m[1], m[3])
			}
			if m[4] == string(l.Commission) {
				t.Errorf("%s is said to wait for itself: %q", l.Commission, l.Why)
			}
			if m[4] != "" && !slices.ContainsFunc(all, func(o Outlook) bool {
				return string(o.Commission) == m[4] && slices.ContainsFunc(o.Left, func(x plan.Scheduled) bool { return slices.Contains(x.Resources, id) || x.Rack == id })
			}) {
				t.Errorf("%s: %q, and %s has no work there", l.Commission, l.Why, m[4])
			}
		case l.Why != "the work left takes until then":
			t.Errorf("%s: %q is no reason that fresh work can have", l.Commission, l.Why)
		}
		t.Log(l.Commission, l.Why)
	}
	if cures == 0 || places == 0 || clients == 0 {
		t.Errorf("%d cures, %d makers or places and %d clients are waited for, so little is shown", cures, places, clients)
	}
}
