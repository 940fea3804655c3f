package cutting

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"slices"
	"strings"

	"benchbell/quote"
	"benchbell/quote/draw"
	"benchbell/quote/picture"
)

// Name is the plan's name in file names: "C0007-C0009".
func (p Plan) Name() string {
	var ids []string
	for _, c := range p.Parts {
		ids = append(ids, string(c.Commission))
	}
	return strings.Join(ids, "-")
}

// Pictures are the layouts as PNG, one per sheet: pieces with their commission, the offcut to keep, defects and key.
func (p Plan) Pictures() ([]quote.Picture, error) {
	var out []quote.Picture
	for _, s := range p.Sheets {
		pic, err := picture.Paint(fmt.Sprintf("%s-sheet-%d.png", p.Name(), s.Number), draw.Layout(p.sheetPicture(s)), "Cut layout, "+p.sheetTitle(s))
		if err != nil {
			return nil, err
		}
		out = append(out, pic)
	}
	return out, nil
}

func (p Plan) sheetTitle(s Sheet) string {
	what := ""
	if s.RackID != "" {
		what = "offcut " + s.RackID + " · "
	}
	return fmt.Sprintf("sheet %d of %d · %sEVA foam %s · %.0f × %.0f mm · %.0f %% used", s.Number, len(p.Sheets), what, s.Thickness,
		float64(s.Layout.Width), float64(s.Layout.Height), 100*s.Layout.Used)
}

// sheetPicture describes a sheet for draw.Layout. A piece has its commission's own label, with the commission beside it if
// the sheet is shared.
func (p Plan) sheetPicture(s Sheet) draw.SheetPicture {
	sp := draw.SheetPicture{Title: p.sheetTitle(s), Width: s.Layout.Width, Height: s.Layout.Height, Edge: s.Outline, Offcut: s.Offcut,
		Pieces: picture.LaidPieces(s.Layout, p.shapes)}
	var owners []string
	for i := range sp.Pieces {
		l := &sp.Pieces[i]
		l.Label = strings.TrimPrefix(l.Label, l.Owner+" ")
		if !slices.Contains(owners, l.Owner) {
			owners = append(owners, l.Owner)
		}
	}
	slices.Sort(owners)
	sp.Commission = strings.Join(owners, " + ")
	return sp
}

// CutFiles are the plan's sheets as files for a knife, laser or router, like CutFiles of one commission; pieces are
// labelled with their commission.
func (p Plan) CutFiles() ([]quote.File, error) {
	var out []quote.File
	for _, s := range p.Sheets {
		fs, err := cutFiles(fmt.Sprintf("%s-sheet-%d-%gmm", p.Name(), s.Number, float64(s.Thickness)), p.sheetTitle(s), s.SheetLayout,
			p.shapes, p.studio.Bench.Kerf)
		if err != nil {
			return nil, err
		}
		out = append(out, fs...)
	}
	return out, nil
}

// CutList writes the pieces as CSV (RFC 4180): the columns of a quote's cut list, preceded by the commission and the sheet.
func (p Plan) CutList() quote.File {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.Write(append([]string{"commission", "from"}, cutColumns...))
	for _, c := range p.Pieces {
		id, _, _ := strings.Cut(c.Label, " ")
		w.Write(append([]string{id, p.Sheets[c.Sheet-1].Layout.Sheet}, row(c, p.shapes[c.Label])...))
	}
	w.Flush() // a bytes.Buffer never fails
	return quote.File{Name: "cut-list-" + p.Name() + ".csv", MIME: "text/csv", Data: b.Bytes()}
}
