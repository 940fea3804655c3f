package board

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"

	"benchbell/bot/shop"
)

// offcut is one on the rack, as the page shows it.
type offcut struct {
	ID    string
	Rev   string
	Path  string // its outline
	Size  string
	From  string
	Here  bool // somebody came by its label
	Asked bool // throwing it away was pressed, and is asked
	Told  bool
	Token string
}

// thickness is the offcuts of one.
type thickness struct {
	Name    string
	Offcuts []offcut
}

type rackView struct {
	frame
	Count  int
	Foams  []thickness
	Of     string // the one that a label leads to and that is not there any more
	Stray  string
	Labels string
}

// Rack answers the page of the offcuts there are, by thickness, and throws one away for who presses that twice.
func (b *Board) Rack(w http.ResponseWriter, r *http.Request, v Visit) error {
	if r.Method == http.MethodPost {
		return b.throw(w, r, v)
	}
	rack, err := see[shop.OnRack](r.Context(), b, v, shop.Rack{})
	if err != nil {
		return err
	}
	list := rack.Offcuts
	q := r.URL.Query()
	n, _ := b.notes.find(q.Get("note"), v.Person)
	o := rackView{frame: b.frame(v, "Rack", rack.At), Count: len(list), Of: strings.ToUpper(q.Get("of")), Labels: v.Base + "days?labels=rack"}
	for _, x := range list {
		width, height := x.Size()
		c := offcut{ID: x.ID, Path: path(x.Outline, wholeBox), Size: fmt.Sprintf("%.0f × %.0f mm", float64(width), float64(height)), Here: x.ID == o.Of, Token: v.Token}
		if area := float64(x.Outline.Area()); float64(width)*float64(height)-area > 1 {
			c.Size += fmt.Sprintf(" at most, %.0f cm²", area/100)
		}
		if from, sheet, ok := strings.Cut(x.Origin, "/"); ok {
			c.From = fmt.Sprintf("from %s, sheet %s", from, sheet)
		}
		if n.No != nil && n.Typed == x.ID {
			c.Asked, c.Told = n.No.Kind == shop.Grave, true
		}
		c.Rev = revision(c)
		if c.Here {
			o.Of = ""
		}
		if k := len(o.Foams); k == 0 || o.Foams[k-1].Name != x.Thickness.String() {
			o.Foams = append(o.Foams, thickness{Name: x.Thickness.String()})
		}
		f := &o.Foams[len(o.Foams)-1]
		f.Offcuts = append(f.Offcuts, c)
	}
	if n.No != nil && n.No.Kind != shop.Grave {
		o.Stray = noThrow(n)
	}
	return render(w, "rack", o)
}

// noThrow words what refused throwing an offcut away.
func noThrow(n note) string {
	switch n.No.Kind {
	case shop.OffcutUsed:
		return fmt.Sprintf("%s was used meanwhile; it is not on the rack any more", n.Typed)
	case shop.OffcutThrown, shop.NoOffcut:
		return fmt.Sprintf("%s is not on the rack any more", n.Typed)
	case shop.NotYourPart:
		return "offcuts are thrown away by makers; ask one of them"
	}
	return fmt.Sprintf("%s cannot be thrown away now; look at the rack anew", n.Typed)
}

// throw throws an offcut away, or asks first, and leads back to the page.
func (b *Board) throw(w http.ResponseWriter, r *http.Request, v Visit) error {
	f := r.PostForm
	id := f.Get("offcut")
	no, err := b.do(r, v, f.Get("act"), shop.ThrowAway{Offcut: id, Sure: f.Get("do") == "sure"})
	to := v.Base + "rack"
	switch {
	case no != nil:
		to += "?" + url.Values{"note": {b.notes.keep(note{Person: string(v.Person.ID), Typed: id, No: no})}}.Encode() + "#told"
	case err != nil:
		return err
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
	return nil
}
