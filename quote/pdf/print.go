package pdf

import (
	"bytes"
	"fmt"
)

// undated is used for a document without Created: the library would put the current time into the file.
func Print(d Document) (out []byte, err error) {
	defer func() {
		// The library reports some errors by panicking (an index out of its font tables); a quote that does not print is an
		// error of this document, not of the program.
		if r := recover(); r != nil {
			out, err = nil, fmt.Errorf("quote %q could not be printed: %v", d.Number, r)
		}
	}()
	// The page count is known only once everything is laid out: the first pass counts. (The library's own placeholder for
	// the count prints as boxes, because the digits that replace it are not in the embedded part of the font.)
	p, err := layOut(d, 0)
	if err != nil {
		return nil, err
	}
	p, err = layOut(d, p.page())
	if err != nil {
		return nil, err
	}
	var buf bytes.Buffer
	if err := p.PDF.Output(&buf); err != nil {
		return nil, fmt.Errorf("quote %q could not be printed: %w", d.Number, err)
	}
	return buf.Bytes(), nil
}

func layOut(d Document, pages int) (*printer, error) {
	p := newPrinter(d, pages)
	p.letterhead()
	p.made()
	p.changes()
	p.table()
	p.totals()
	p.promise()
	p.body()
	p.list("Please note", d.Cautions)
	p.closing()
	p.plan()
	p.sheets()
	if err := p.PDF.Error(); err != nil {
		return nil, fmt.Errorf("quote %q could not be printed: %w", d.Number, err)
	}
	return p, nil
}
