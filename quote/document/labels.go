package document

import (
	"fmt"
	"net/url"
	"strings"
	"time"

	"benchbell/quote"
	"benchbell/quote/geom"
	"benchbell/quote/pattern"
	"benchbell/quote/pdf"
)

// LabelSize is one label on its sheet, and how many of the first sheet are used up.
type LabelSize struct {
	Width, Height geom.MM
	Skip          int
}

// UsualLabel is the size of which three times eight fill an A4 sheet.
var UsualLabel = LabelSize{Width: 70, Height: 37}

// PieceLabels makes sheets of labels for a commission: one for its box, one for each piece. page is the address of the commission's page,
// empty for none; a piece's code has the piece in it.
func PieceLabels(w AtWork, page string, size LabelSize) (quote.File, error) {
	s, q := w.Snapshot, w.Quote
	shapes, err := q.ByLabel()
	if err != nil {
		return quote.File{}, err
	}
	l := pdf.Labels{Paper: pdf.Paper(s.Studio.Paper), Created: s.At.UTC(), Title: fmt.Sprintf("Labels %s, revision %d", q.Commission, q.Revision),
		Width: size.Width, Height: size.Height, Skip: size.Skip}
	var titles []string
	for _, it := range s.Items {
		set, err := pattern.Parse([]byte(s.Patterns[it.Set].Drawing), []byte(s.Patterns[it.Set].TOML))
		if err != nil {
			return quote.File{}, fmt.Errorf("the pattern %s cannot be read: %w", it.Set, err)
		}
		titles = append(titles, it.Named(set.Title))
	}
	promise := w.Promise
	if promise == "" {
		promise = q.Promise
	}
	if day, err := time.Parse(time.DateOnly, promise); err == nil {
		promise = day.Format("Mon 2 January")
	}
	box := pdf.Label{Name: string(q.Commission), Lines: append([]string{"Box, for " + promise}, titles...), Code: page}
	box.Lines = box.Lines[:min(len(box.Lines), 5)]
	l.Labels = append(l.Labels, box)
	for _, p := range q.Pieces {
		x := pdf.Label{Name: p.Label, Lines: []string{fmt.Sprintf("%s · EVA foam %s", q.Commission, p.Thickness), p.Title}, Outline: shapes[p.Label].Shape}
		if page != "" {
			x.Code = page + "&piece=" + url.QueryEscape(p.Label)
		}
		l.Labels = append(l.Labels, x)
	}
	data, err := pdf.PrintLabels(l)
	return quote.File{Name: fmt.Sprintf("%s-r%d-labels.pdf", q.Commission, q.Revision), MIME: "application/pdf", Data: data}, err
}

// OffcutLabels makes sheets of labels for offcuts on the rack, each with its own outline. of is the address to which an offcut's number is
// put for its place on the rack, empty for none.
func OffcutLabels(st quote.Studio, rack []quote.Offcut, at time.Time, of string, size LabelSize) (quote.File, error) {
	l := pdf.Labels{Paper: pdf.Paper(st.Paper), Created: at.UTC(), Title: "Labels of offcuts", Width: size.Width, Height: size.Height, Skip: size.Skip}
	var ids []string
	for _, o := range rack {
		w, h := o.Size()
		x := pdf.Label{Name: o.ID, Lines: []string{fmt.Sprintf("Offcut · EVA foam %s", o.Thickness), sizeWords(w, h)}, Outline: geom.Shape{Outer: o.Outline}}
		if of != "" {
			x.Code = of + url.QueryEscape(o.ID)
		}
		l.Labels, ids = append(l.Labels, x), append(ids, o.ID)
	}
	data, err := pdf.PrintLabels(l)
	name := "offcuts"
	if len(ids) == 1 {
		name = strings.ToLower(ids[0])
	}
	return quote.File{Name: name + "-labels.pdf", MIME: "application/pdf", Data: data}, err
}
