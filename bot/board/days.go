package board

import (
	"cmp"
	"fmt"
	"mime"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"benchbell/bot/shop"
	"benchbell/quote"
	"benchbell/quote/geom"
)

// alone is the policy of a file opened by itself, as the desk's files have it: it runs nothing and reaches nothing.
const alone = "sandbox; default-src 'none'; style-src 'unsafe-inline'; img-src data:"

// dayLine is something that is done, dries or is agreed on a day.
type dayLine struct {
	Who, When, Commission, What string
	Class                       string
}

// dayOf is one of the coming days in words.
type dayOf struct {
	ID, Rev, Name        string
	Agreed, Work, Drying []dayLine
}

// printable is a commission of which something can be printed.
type printable struct{ Commission, Promise, Traveller, Labels string }

type daysView struct {
	frame
	Picture, Alt, Rev string
	Prints            []crumb
	Days              []dayOf
	Work              []printable
	Refused           string
	Width, Height     int
}

// Days answers the page of the coming days, their picture, and what is printed from there.
func (b *Board) Days(w http.ResponseWriter, r *http.Request, v Visit) error {
	q := r.URL.Query()
	if ask, ok := printOf(q, v); ok {
		p, err := see[shop.Printed](r.Context(), b, v, ask)
		if no := refusalIn(err); no != nil {
			return b.daysPage(w, r, v, refusedPrint(no))
		}
		if err != nil {
			return err
		}
		return download(w, p.File)
	}
	paper := q.Get("print")
	if paper == "" && q.Get("picture") == "" {
		return b.daysPage(w, r, v, "")
	}
	d, err := see[shop.ComingDays](r.Context(), b, v, shop.Days{Paper: paper, Print: paper != ""})
	no := refusalIn(err)
	switch {
	case no != nil:
		return b.daysPage(w, r, v, refusedPrint(no))
	case err != nil:
		return err
	case paper != "":
		return download(w, d.File)
	}
	w.Header().Set("Content-Type", "image/svg+xml")
	w.Header().Set("Content-Security-Policy", alone)
	w.Write(d.Picture) // fails where the browser has gone away
	return nil
}

// printOf reads what is to be printed of a commission or of the rack.
func printOf(q url.Values, v Visit) (shop.Act, bool) {
	if c := q.Get("traveller"); c != "" {
		return shop.Traveller{Of: shop.On(quote.CommissionID(strings.ToUpper(c))), Desk: v.Desk}, true
	}
	c := q.Get("labels")
	if c == "" {
		return nil, false
	}
	number := func(key string) int {
		n, _ := strconv.Atoi(q.Get(key)) // what is no number is no size, which is refused
		return n
	}
	labels := shop.Labels{Of: shop.On(quote.CommissionID(strings.ToUpper(c))), Desk: v.Desk}
	if q.Has("width") || q.Has("height") {
		labels.Size.Width, labels.Size.Height = max(geom.MM(number("width")), 1), max(geom.MM(number("height")), 1)
	}
	labels.Size.Skip = number("used")
	if c == "rack" {
		return shop.OffcutLabels{Desk: v.Desk, Size: labels.Size}, true
	}
	return labels, true
}

// refusedPrint says why something is not printed.
func refusedPrint(no *shop.Refusal) string {
	switch {
	case no.Kind == shop.NoCommission:
		return fmt.Sprintf("There is no commission %s.", no.Name)
	case no.Cause != nil:
		return quote.Capital(no.Cause.Error()) + "."
	case no.Kind == shop.NotQuoted:
		return "It has no quote yet, so there is nothing to print."
	}
	return "It cannot be printed now: " + string(no.Kind) + "."
}

func download(w http.ResponseWriter, f quote.File) error {
	w.Header().Set("Content-Type", f.MIME)
	w.Header().Set("Content-Disposition", cmp.Or(mime.FormatMediaType("attachment", map[string]string{"filename": f.Name}), "attachment"))
	w.Header().Set("Content-Length", strconv.Itoa(len(f.Data)))
	w.Write(f.Data) // fails where the browser has gone away
	return nil
}

func (b *Board) daysPage(w http.ResponseWriter, r *http.Request, v Visit, refused string) error {
	d, err := see[shop.ComingDays](r.Context(), b, v, shop.Days{})
	if err != nil {
		return err
	}
	return render(w, "days", b.daysView(v, d, refused))
}

func (b *Board) daysView(v Visit, d shop.ComingDays, refused string) daysView {
	o := daysView{frame: b.frame(v, "Days", d.At), Refused: refused, Width: 70, Height: 37}
	o.Rev = revision(string(d.Picture))
	o.Picture = "days?picture=" + o.Rev
	for _, p := range d.Papers {
		o.Prints = append(o.Prints, crumb{Name: p, Path: "days?print=" + p})
	}
	for i, x := range d.Days.Days {
		date := x.Opens.Format(time.DateOnly)
		clock := func(t time.Time) string { return t.In(o.Zone).Format("15:04") }
		day := dayOf{ID: "day-" + date, Name: x.Opens.Format("Mon 2 Jan")}
		for _, a := range x.Agreed {
			l := dayLine{Commission: string(a.Commission), What: cmp.Or(a.What, "promised")}
			if a.What != "" {
				l.When = clock(a.At)
			}
			day.Agreed = append(day.Agreed, l)
		}
		for _, row := range d.Rows {
			if !row.Maker {
				continue
			}
			for _, s := range d.Lines(row, i) {
				l := dayLine{Who: row.Title, When: clock(s.From) + " to " + clock(s.To), Commission: string(s.Commission), What: strings.Join(s.Titles, ", "), Class: "planned"}
				switch {
				case s.Done:
					l.Class, l.What = "done", l.What+", done"
				case s.InHand:
					l.Class, l.What = "inhand", l.What+", in hand"
				}
				day.Work = append(day.Work, l)
			}
		}
		for _, s := range d.Dry(i) {
			l := dayLine{When: "dry " + clock(s.To), Commission: string(s.Commission), What: s.Material, Class: "wet"}
			if s.Planned {
				l.What += ", planned"
			}
			day.Drying = append(day.Drying, l)
		}
		day.Rev = revision(day)
		o.Days = append(o.Days, day)
	}
	if n := len(o.Days); n > 0 {
		o.Alt = fmt.Sprintf("The days from %s to %s, by maker and place; the lists below say the same in words", o.Days[0].Name, o.Days[n-1].Name)
	}
	for _, c := range d.AtWork {
		p := printable{Commission: string(c.Commission), Traveller: "days?traveller=" + url.QueryEscape(string(c.Commission))}
		if c.Promise != "" {
			p.Promise = "promised for " + quote.ShortDate(c.Promise)
		}
		o.Work = append(o.Work, p)
	}
	return o
}
