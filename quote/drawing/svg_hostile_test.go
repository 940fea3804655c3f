package drawing

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"runtime"
	"strings"
	"testing"

	"benchbell/quote/geom"
)

// mostAllocated bounds what any file, however hostile, allocates until it is read or refused. It is the sum over the whole
// run, so less is held at any one time. Ordinary files take a few hundred kilobytes.
const mostAllocated = 256 << 20

// allocated is the total that a function allocates.
func allocated(f func()) uint64 {
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	f()
	runtime.ReadMemStats(&after)
	return after.TotalAlloc - before.TotalAlloc
}

// filled repeats a text to a sixteenth of maxBytes: cost is linear in that, and the tests should be quick.
func filled(text string) string { return strings.Repeat(text, maxBytes/16/len(text)) }

// useBomb has uses of uses, tenfold at each of ten levels.
func useBomb(leaf string) string {
	var b strings.Builder
	b.WriteString(`<defs><g id="a0">` + leaf + `</g>`)
	for i := 1; i <= 10; i++ {
		fmt.Fprintf(&b, `<g id="a%d">%s</g>`, i, strings.Repeat(fmt.Sprintf(`<use xlink:href="#a%d"/>`, i-1), 10))
	}
	return b.String() + `</defs><use xlink:href="#a10"/>`
}

// numbered repeats a text with the numbers from 0.
func numbered(n int, text string) string {
	var b strings.Builder
	for i := range n {
		fmt.Fprintf(&b, text, i)
	}
	return b.String()
}

// Editors name namespaces by entities; such a drawing reads as if they were written out.
func TestPlainEntities(t *testing.T) {
	want, err := Read([]byte(inMM(`<path id="a" d="M1 1h5"/><text x="1" y="1">left</text>`)))
	if err != nil {
		t.Fatal(err)
	}
	for _, head := range []string{
		`<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd" [ <!ENTITY ns_svg "http://www.w3.org/2000/svg"> <!ENTITY w 'left'> ]>`,
		`<!DOCTYPE svg SYSTEM 'svg.dtd' [<!-- names --><!ENTITY w "left"><!ENTITY ns_svg "http://www.w3.org/2000/svg">]>`,
		`<?xml version="1.0"?><!DOCTYPE svg [<!ENTITY ns_svg "http://www.w3.org/2000/svg"><!ENTITY w "left">]>`,
	} {
		file := head + strings.Replace(inMM(`<path id="a" d="M1 1h5"/><text x="1" y="1">&w;</text>`), `"http://www.w3.org/2000/svg"`, `"&ns_svg;"`, 1)
		got, err := Read([]byte(file))
		if err != nil || len(got.Texts) != 1 || got.Texts[0].Value != "left" || len(got.Lines) != 1 || !reflect.DeepEqual(got.Lines[0].Points, want.Lines[0].Points) {
			t.Errorf("%s: %v, %+v", head, err, got)
		}
	}
}

func chained(n int) string {
	var b strings.Builder
	b.WriteString(`<defs><path id="c0" d="M0 0h1"/>`)
	for i := 1; i <= n; i++ {
		fmt.Fprintf(&b, `<use id="c%d" href="#c%d"/>`, i, i-1)
	}
	return b.String() + fmt.Sprintf(`</defs><use href="#c%d"/>`, n)
}

func TestHostileSVGIsBounded(t *testing.T) {
	entities := "<!DOCTYPE svg [<!ENTITY a0 \"boom\">"
	for i := 1; i < 10; i++ {
		entities += fmt.Sprintf("<!ENTITY a%d \"%s\">", i, strings.Repeat(fmt.Sprintf("&a%d;", i-1), 10))
	}
	classes := strings.Repeat("a ", maxClasses)
	rulesOnAll := "<style>" + strings.Repeat(strings.Repeat(".a", maxParts-1)+".b{fill:red}", maxRules) + "</style>" +
		strings.Repeat(`<g class="`+classes+`"/>`, maxNodes-10)
	longPath := `<path id="p" d="` + strings.Repeat(" ", maxBytes/8) + `M0 0h1"/>`
	for name, c := range map[string]struct {
		file string
		want string // "" where it is read
		most uint64 // bytes, 0 for mostAllocated
	}{
		"entity bomb":             {entities + `]>` + inMM(`<text>&a9;</text>`), "document type", 1 << 20},
		"outside entity":          {`<!DOCTYPE svg SYSTEM "file:///etc/passwd" [<!ENTITY x SYSTEM "file:///etc/passwd">]>` + inMM(`<text>&x;</text>`), "document type", 1 << 20},
		"entities of entities":    {`<!DOCTYPE svg [<!ENTITY a "b"><!ENTITY c "&a;">]>` + inMM(`<text>&c;</text>`), "document type", 1 << 20},
		"entity of markup":        {`<!DOCTYPE svg [<!ENTITY a "<path/>">]>` + inMM(`&a;`), "document type", 1 << 20},
		"entity by number":        {`<!DOCTYPE svg [<!ENTITY a "&#38;b;">]>` + inMM(`<text>&a;</text>`), "document type", 1 << 20},
		"parameter entity":        {`<!DOCTYPE svg [<!ENTITY % a "b">%a;]>` + inMM(``), "document type", 1 << 20},
		"parameter in a text":     {`<!DOCTYPE svg [<!ENTITY a "%b;">]>` + inMM(``), "document type", 1 << 20},
		"attribute list":          {`<!DOCTYPE svg [<!ATTLIST svg width CDATA "9mm">]>` + inMM(``), "document type", 1 << 20},
		"entity declared twice":   {`<!DOCTYPE svg [<!ENTITY a "b"><!ENTITY a "c">]>` + inMM(``), "twice", 1 << 20},
		"two document types":      {`<!DOCTYPE svg [<!ENTITY a "b">]><!DOCTYPE svg [<!ENTITY c "d">]>` + inMM(``), "document type", 1 << 20},
		"late document type":      {inMM(`<text>&a;</text>`) + `<!DOCTYPE svg [<!ENTITY a "b">]>`, "not well-formed", 1 << 20},
		"document type inside":    {inMM(`<!DOCTYPE svg [<!ENTITY a "b">]><text>&a;</text>`), "document type", 1 << 20},
		"unknown entity":          {`<!DOCTYPE svg [<!ENTITY a "b">]>` + inMM(`<text>&c;</text>`), "not well-formed", 1 << 20},
		"many entities":           {`<!DOCTYPE svg [` + numbered(maxEntities+1, `<!ENTITY a%d "b">`) + `]>` + inMM(``), "more than 20 entities", 1 << 20},
		"long entity":             {`<!DOCTYPE svg [<!ENTITY a "` + strings.Repeat("b", maxEntityBytes+1) + `">]>` + inMM(``), "more than 200 bytes", 1 << 20},
		"entity over and over":    {`<!DOCTYPE svg [<!ENTITY a "` + strings.Repeat("b", maxEntityBytes) + `">]>` + inMM(`<text>`+filled("&a;")+`</text>`), "stand for more than", 4 << 20},
		"million elements":        {inMM(strings.Repeat("<path/>", 1_000_000)), fmt.Sprint("more than ", maxNodes), 32 << 20},
		"million empty groups":    {inMM(strings.Repeat("<g/>", 1_000_000)), fmt.Sprint("more than ", maxNodes), 32 << 20},
		"million others":          {inMM(strings.Repeat(`<x:y xmlns:x="u:"/>`, 400_000)), fmt.Sprint("more than ", maxNodes), 32 << 20},
		"million scraps of text":  {inMM("<text>" + strings.Repeat("a<!---->", 1_000_000) + "</text>"), fmt.Sprint("more than ", maxNodes), 32 << 20},
		"deep nesting":            {inMM(strings.Repeat("<g>", 500_000)), "nested more than", 1 << 20},
		"deep others":             {inMM(strings.Repeat("<x:y xmlns:x='u:'>", 300_000)), "nested more than", 1 << 20},
		"deep uses":               {inMM(chained(100)), "nested more than", 1 << 20},
		"use bomb":                {inMM(useBomb(`<path d="M0 0h1"/>`)), "counting every use", 32 << 20},
		"use bomb of nothing":     {inMM(useBomb("")), "counting every use", 32 << 20},
		"use bomb of circles":     {inMM(useBomb(`<circle r="9999"/>`)), "points", 64 << 20},
		"use bomb of symbols":     {strings.NewReplacer("<g ", "<symbol ", "</g>", "</symbol>").Replace(inMM(useBomb(`<path d="M0 0h1"/>`))), "counting every use", 32 << 20},
		"cycle":                   {inMM(`<g id="a"><use href="#b"/></g><symbol id="b"><g id="c"><use href="#a"/></g></symbol>`), "these uses include themselves", 1 << 20},
		"cycle through the root":  {strings.Replace(inMM(`<use href="#root"/>`), "<svg ", `<svg id="root" `, 1), "these uses include themselves", 1 << 20},
		"path used over and over": {inMM(longPath + strings.Repeat(`<use href="#p"/>`, 10_000)), "repeat too much path data", 64 << 20},
		"points":                  {inMM(`<path d="M0 0` + strings.Repeat("l1 1-1-1", maxPoints/2) + `"/>`), "points", 0},
		"moves":                   {inMM(`<path d="` + strings.Repeat("M0 0", maxPoints+1) + `"/>`), "points", 0},
		"curves":                  {inMM(`<path d="M0 0` + filled("C9999 0 0 9999 1 1") + `"/>`), "points", 0},
		"arcs":                    {inMM(`<path d="M0 0` + filled("a9999 9999 0 111 1") + `"/>`), "points", 0},
		"circles":                 {inMM(strings.Repeat(`<circle r="19000"/>`, maxNodes-2)), "points", 0},
		"lines of one path":       {inMM(`<path d="` + strings.Repeat("M0 0h1", maxPoints/2) + `"/>`), "", 0},
		"attributes":              {inMM(`<g` + filled(` a=""`) + `/>`), "attributes", 1 << 20},
		"attributes everywhere":   {inMM(strings.Repeat(`<g`+strings.Repeat(` a=""`, 81)+`/>`, maxNodes-1)), "", 0},
		"classes":                 {inMM(`<g class="` + filled("a ") + `"/>`), "classes", 64 << 20},
		"digits":                  {inMM(`<path d="M0 ` + filled("9") + `"/>`), "too large", 64 << 20},
		"decimals":                {inMM(`<path d="M0 0.` + filled("9") + `h1"/>`), "", 64 << 20},
		"exponent":                {inMM(`<path d="M0 1e-` + filled("9") + `h1"/>`), "", 64 << 20},
		"style rules":             {inMM(`<style>` + filled(".a{fill:red}") + `</style>`), "rules", 64 << 20},
		"style rules on all":      {inMM(rulesOnAll), "too many rules for so many elements", 0},
		"style selectors":         {inMM(`<style>` + filled(".a,") + `.a{}</style>`), "rules", 64 << 20},
		"style declarations":      {inMM(`<path style="` + filled("fill:red;") + `" d="M0 0h1"/>`), "", 64 << 20},
		"style comments":          {inMM(`<style>` + filled("/**/") + `</style>`), "", 64 << 20},
		"style blocks":            {inMM(`<style>@a` + filled("{") + `</style>`), "", 64 << 20},
		"style at-rules":          {inMM(`<style>` + filled("@a;") + `</style>`), "rules", 64 << 20},
		"dashes":                  {inMM(`<path d="M0 0h1" stroke-dasharray="` + filled("1 ") + `"/>`), "", 64 << 20},
		"transforms":              {inMM(`<path d="M0 0h1" transform="` + filled("scale(1)") + `"/>`), "", 64 << 20},
		"growing transforms":      {inMM(`<path d="M0 0h1" transform="` + filled("scale(9)") + `"/>`), "transform", 64 << 20},
		"shear of a right angle":  {inMM(`<path d="M0 0l1 1" transform="skewX(90)"/>`), "the limit is", 1 << 20},
		"tiny page":               {`<svg xmlns="http://www.w3.org/2000/svg" width="1mm" height="1mm" viewBox="0 0 1e-300 1e-300"><path d="M0 0h1"/></svg>`, "differ too much", 1 << 20},
		"comments":                {inMM(filled("<!---->")), "", 0},
		"instructions":            {inMM(filled("<?a?>")), "", 0},
		"unclosed quote":          {inMM(`<g a="` + filled("<")), "not well-formed", 64 << 20},
		"zeroes":                  {"<" + filled("\x00"), "not well-formed", 64 << 20},
	} {
		t.Run(name, func(t *testing.T) {
			if len(c.file) > maxBytes {
				t.Fatalf("the file has %d bytes and would be refused for that", len(c.file))
			}
			var d *Drawing
			var err error
			data := []byte(c.file)
			got := allocated(func() { d, err = Read(data) })
			if c.most == 0 {
				c.most = mostAllocated
			}
			if got > c.most {
				t.Errorf("allocated %d bytes, at most %d are allowed", got, c.most)
			}
			t.Logf("%d kB", got>>10)
			switch {
			case c.want == "" && err != nil:
				t.Errorf("%.200v", err)
			case c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want)):
				t.Errorf("%.200v, want %q", err, c.want)
			case err != nil && len(err.Error()) > 1000:
				t.Errorf("an error of %d bytes", len(err.Error()))
			}
			if err == nil {
				lawful(t, d)
			}
		})
	}
	if _, err := Read(make([]byte, maxBytes+1)); err == nil {
		t.Error("a file past MaxBytes was read")
	}
}

// lawful checks what must always hold for a drawing.
func lawful(t testing.TB, d *Drawing) {
	t.Helper()
	points := len(d.Texts)
	inside := func(p geom.Point) bool {
		return p.Finite() && math.Abs(p.X) <= float64(maxExtent) && math.Abs(p.Y) <= float64(maxExtent)
	}
	for _, l := range d.Lines {
		points += len(l.Points)
		if len(l.Points) < 2 || (l.Closed && (len(l.Points) < 3 || l.Points[0] == l.Points[len(l.Points)-1])) {
			t.Fatalf("a line of %d points, closed %v: %v", len(l.Points), l.Closed, l.Points)
		}
		for _, p := range l.Points {
			if !inside(p) {
				t.Fatalf("a point at %v", p)
			}
		}
		if c := l.Circle; c != nil && (!inside(c.Centre) || !(c.Radius > 0) || c.Radius > maxExtent || !l.Closed) {
			t.Fatalf("a circle %v", *c)
		}
		for _, paint := range []string{l.Stroke, l.Fill} {
			if paint != "" && (len(paint) != 7 || paint[0] != '#' || strings.Trim(paint[1:], "0123456789abcdef") != "") {
				t.Fatalf("a paint %q", paint)
			}
		}
		if l.At == "" {
			t.Fatal("a line that stands nowhere")
		}
	}
	for _, x := range d.Texts {
		if !inside(x.Place) || x.Value == "" {
			t.Fatalf("a text %+v", x)
		}
	}
	if points > maxPoints {
		t.Fatalf("%d points", points)
	}
}

// No input panics; what is read is lawful, and is read alike again.
func FuzzReadSVG(f *testing.F) {
	f.Add([]byte(`<!DOCTYPE svg [<!ENTITY ns "http://www.w3.org/2000/svg">]><svg xmlns="&ns;" viewBox="0 0 9 9"><path d="M0 0h1"/></svg>`))
	files, err := filepath.Glob("testdata/*.svg")
	if err != nil {
		f.Fatal(err)
	}
	for _, file := range files {
		data, err := os.ReadFile(file)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	for _, inside := range []string{
		`<path d="M1.5.5-3A5 5 0 01.5.5zm1 1C1 2 3 4 5 6S7 8 9 10Q1 2 3 4T5 6H7V8z"/>`, useBomb(`<circle r="3"/>`), chained(3),
		`<style>/**/@a{};*.b#c{stroke:rgb(1,2,3)!important}</style><rect class="b" id="c" width="3%" height="1mm" rx="1" transform="skewX(3)rotate(3 4 5)"/>`,
		`<svg viewBox="0 0 1 1" preserveAspectRatio="xMaxYMid slice" width="5"><ellipse rx="1"/><polyline points="1 2 3 4"/><line x2="1"/></svg>`,
		`<switch><g systemLanguage="de"/><text x="1 2"><tspan x="3">a</tspan>b</text></switch>`,
	} {
		f.Add([]byte(inMM(inside)))
	}
	f.Add([]byte("\xff\xfe<\x00s\x00v\x00g\x00/\x00>\x00"))
	f.Add([]byte(`<?xml version="1.0" encoding="windows-1252"?><!DOCTYPE svg><svg/>`))
	f.Fuzz(func(t *testing.T, data []byte) {
		if plain, err := plainText(data); err != nil || !isXML(plain) {
			return
		}
		d, err := Read(data)
		again, errAgain := Read(data)
		if !reflect.DeepEqual(d, again) || fmt.Sprint(err) != fmt.Sprint(errAgain) {
			t.Fatal("read otherwise the second time")
		}
		if err == nil {
			lawful(t, d)
		}
	})
}

// The same for path data alone, which is where most of a file's grammar is.
func FuzzPathData(f *testing.F) {
	for _, d := range []string{"M0 0", "m1.5.5-3-1z", "M0 0a5 8 3e1 00.5.5C1 2 3 4 5 6S7 8 9 10z", "M1 1Q2 3 4 5T6 7 8 9H1V2Z", "M0,0A1e9 1e9 0 0 1 1 0", "M1e9 1e9"} {
		f.Add(d)
	}
	f.Fuzz(func(t *testing.T, data string) {
		paths, err := traced(data)
		if err != nil {
			return
		}
		d := Drawing{}
		for _, s := range paths {
			d.Lines = append(d.Lines, Line{Points: s.points, Closed: s.closed, Circle: s.circle, At: "here"})
		}
		lawful(t, &d)
	})
}
