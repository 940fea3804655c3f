// Package pdf prints a quote.
//
// It takes a Document, which is text and pictures ready to print (amounts and dates already formatted), and lays it out on
// A4 or Letter with the Go fonts. It knows nothing of prices, plans or patterns.
//
// It refuses nothing: characters the fonts lack are replaced, long texts wrap or continue on the next page. What always
// holds: the same document gives the same bytes; every page has its number and the page count; no two documents share
// memory, so any number can be printed at once.
package pdf

import (
	"time"

	"benchbell/quote/draw"
)

// Paper is a page size.
type Paper string

// Papers; sizes from ISO 216 and ANSI/ASME Y14.1.
const (
	A4     Paper = "A4"
	Letter Paper = "Letter"
)

// Document is a quote ready to print.
type Document struct {
	Paper     Paper
	Created   time.Time // goes into the file's metadata
	Studio    string
	Address   []string
	Contact   string
	TaxNumber string
	Number    string // "C0007"
	Revision  int
	Client    string
	Issued    string // formatted date
	ValidTo   string
	Intro     []string     // what is made: one paragraph each
	Facts     []Fact       // finish, weight, wanted by …
	Drawings  []draw.Scene // of what is made, each kept on one page
	Lines     []Line
	Totals    []Fact       // subtotal, discount, net, tax, total, deposit, balance; the Strong one stands out
	Promise   string       // sentence with the date and its probability
	Plan      []draw.Scene // a page each
	PlanNote  string
	Changes   []string // against the revision before
	Sheets    []Captioned
	Body      []Fact // measurements the quote is based on, in both unit systems
	Cautions  []string
	Terms     []string
}

// Fact is a label with its value.
type Fact struct {
	Label, Value string
	Strong       bool
}

// Line is a line of the quote; a line with only Title is a section heading.
type Line struct {
	Title, Quantity, Amount string
	Heading                 bool
}

// Captioned is a picture with its caption.
type Captioned struct {
	Caption string
	Scene   draw.Scene
}
