package drawing

import (
	"encoding/xml"
	"fmt"
	"strings"
	"testing"
)

// attributes makes a node's attributes from names and values.
func attributes(pairs ...string) []xml.Attr {
	var all []xml.Attr
	for i := 0; i < len(pairs); i += 2 {
		all = append(all, xml.Attr{Name: xml.Name{Local: pairs[i]}, Value: pairs[i+1]})
	}
	return all
}

// looks is stroke, fill and what else a line's style says.
func looks(l Line) string {
	s := l.Stroke + "/" + l.Fill
	if l.Dashed {
		s += " dashed"
	}
	if l.Hidden {
		s += " hidden"
	}
	return s
}

// The cascade by CSS 2.1, 6.4, and inheritance by SVG 1.1, 6.
func TestStyles(t *testing.T) {
	const p = `d="M0 0h1"`
	for svg, want := range map[string]string{
		`<path ` + p + `/>`:                                                                      "/",
		`<path ` + p + ` stroke="red" fill="none"/>`:                                             "#ff0000/",
		`<path ` + p + ` style="stroke:#ABC;fill:blue"/>`:                                        "#aabbcc/#0000ff",
		`<path ` + p + ` stroke="red" style=" STROKE : green "/>`:                                "#008000/",
		`<g stroke="red"><path ` + p + `/></g>`:                                                  "#ff0000/",
		`<g stroke="red"><path ` + p + ` stroke="none"/></g>`:                                    "/",
		`<g stroke="red"><path ` + p + ` stroke="inherit"/></g>`:                                 "#ff0000/",
		`<g stroke="red"><path ` + p + ` stroke="rubbish"/></g>`:                                 "#ff0000/",
		`<g stroke="red"><path ` + p + ` style="stroke:initial"/></g>`:                           "/",
		`<g color="#123456" stroke="currentColor"><path ` + p + ` color="red"/></g>`:             "#ff0000/",
		`<g color="#123456"><path ` + p + ` fill="currentColor"/></g>`:                           "/#123456",
		`<path ` + p + ` stroke="currentColor"/>`:                                                "/",
		`<g stroke="red"><path ` + p + ` style="stroke:unset;fill:initial;visibility:odd"/></g>`: "#ff0000/#000000",
		`<g stroke-dasharray="2" visibility="hidden"><path ` + p + ` style="stroke-dasharray:initial;visibility:initial;display:unset"/></g>`: "/",
		`<path ` + p + ` stroke="url(#grad" fill="rgb(1,2"/>`:                                           "/",
		`<path ` + p + ` stroke="rgb(1,2)" fill="#xyz"/>`:                                               "/",
		`<path ` + p + ` stroke-dasharray="3 1"/>`:                                                      "/ dashed",
		`<path ` + p + ` stroke-dasharray="3"/>`:                                                        "/ dashed",
		`<path ` + p + ` style="stroke-dasharray:3px, 1px"/>`:                                           "/ dashed",
		`<path ` + p + ` stroke-dasharray="0"/>`:                                                        "/",
		`<path ` + p + ` stroke-dasharray="3 0"/>`:                                                      "/",
		`<path ` + p + ` stroke-dasharray="none"/>`:                                                     "/",
		`<path ` + p + ` stroke-dasharray="3,-1"/>`:                                                     "/",
		`<g stroke-dasharray="3 1"><path ` + p + ` stroke-dasharray="none"/></g>`:                       "/",
		`<path ` + p + ` display="none"/>`:                                                              "/ hidden",
		`<g display="none"><path ` + p + ` display="inline"/></g>`:                                      "/ hidden",
		`<g style="display:none"><path ` + p + `/></g>`:                                                 "/ hidden",
		`<path ` + p + ` visibility="hidden"/>`:                                                         "/ hidden",
		`<g visibility="hidden"><path ` + p + ` visibility="visible"/></g>`:                             "/",
		`<g visibility="collapse"><path ` + p + `/></g>`:                                                "/ hidden",
		`<path ` + p + ` stroke="rgb(1,2,3)" fill="rgb(100%, 50%, 0%)"/>`:                               "#010203/#ff8000",
		`<path ` + p + ` stroke="rgb(300,-2,3.6)" fill="rgb(1 2 3 / 50%)"/>`:                            "#ff0004/#010203",
		`<path ` + p + ` stroke="rgba(1,2,3,0)" fill="#11223300"/>`:                                     "/",
		`<path ` + p + ` stroke="#1234" fill="#112233ff"/>`:                                             "#112233/#112233",
		`<path ` + p + ` stroke="url(#grad) red" fill="url(#grad)"/>`:                                   "#ff0000/",
		`<path ` + p + ` stroke="#123456 icc-color(a, 1)" fill="LightGoldenrodYellow"/>`:                "#123456/#fafad2",
		`<path ` + p + ` stroke="#12345" fill="transparent"/>`:                                          "/",
		`<path ` + p + ` style="fill:url('a;b:c');stroke:red"/>`:                                        "#ff0000/",
		`<style>path{stroke:red}</style><path ` + p + `/>`:                                              "#ff0000/",
		`<path ` + p + `/><style>path{stroke:red}</style>`:                                              "#ff0000/",
		`<style>path{stroke:red}</style><path ` + p + ` stroke="blue"/>`:                                "#ff0000/",
		`<style>path{stroke:red}</style><path ` + p + ` style="stroke:blue"/>`:                          "#0000ff/",
		`<style>path{stroke:red!important}</style><path ` + p + ` style="stroke:blue"/>`:                "#ff0000/",
		`<style>path{stroke:red!important}</style><path ` + p + ` style="stroke:blue ! IMPORTANT"/>`:    "#0000ff/",
		`<style>.a{stroke:red} path{stroke:blue}</style><path class="b a" ` + p + `/>`:                  "#ff0000/",
		`<style>.a{stroke:red} .b{stroke:blue}</style><path class="b a" ` + p + `/>`:                    "#0000ff/",
		`<style>.a.b{stroke:red} .b{stroke:blue}</style><path class="b a" ` + p + `/>`:                  "#ff0000/",
		`<style>path.a{stroke:red} .a{stroke:blue}</style><path class="a" ` + p + `/>`:                  "#ff0000/",
		`<style>#i{stroke:red} path.a.b{stroke:blue}</style><path class="a b" id="i" ` + p + `/>`:       "#ff0000/",
		`<style>*{stroke:red} path{fill:blue}</style><path ` + p + `/>`:                                 "#ff0000/#0000ff",
		`<style>rect, path , .x{stroke:red}</style><path ` + p + `/>`:                                   "#ff0000/",
		`<style>rect.a{stroke:red} #j{fill:red} .c{fill:red}</style><path class="a" id="i" ` + p + `/>`: "/",
		`<style>/* .a{ */ .a{stroke:/**/red}/* open</style><path class="a" ` + p + `/>`:                 "#ff0000/",
		`<style><![CDATA[ <!-- .a{stroke:red} --> ]]></style><path class="a" ` + p + `/>`:               "#ff0000/",
		`<style>.a{stroke:red;stroke:rubbish;;:;fill}</style><path class="a" ` + p + `/>`:               "#ff0000/",
		`<style>.a{stroke:red</style><path class="a" ` + p + `/>`:                                       "#ff0000/",
		`<style>.a{stroke:red} .a{fill:blue}</style><path class="a" ` + p + `/>`:                        "#ff0000/#0000ff",
		`<style>g{stroke:red} .a{display:none}</style><g><path class="a" ` + p + `/></g>`:               "#ff0000/ hidden",
		`<style>@media screen{.a{fill:red}} .a{stroke:red}</style><path class="a" ` + p + `/>`:          "#ff0000/",
		`<style>@charset "utf-8"; .a-b_1{stroke:red}</style><path class="a-b_1" ` + p + `/>`:            "#ff0000/",
	} {
		d := drawn(t, inMM(svg))
		if len(d.Lines) != 1 {
			t.Errorf("%s: %d lines", svg, len(d.Lines))
		} else if got := looks(d.Lines[0]); got != want {
			t.Errorf("%s: %q, want %q", svg, got, want)
		}
	}
}

// A use hands its style down to what it draws (SVG 2, 5.6).
func TestUseInherits(t *testing.T) {
	d := drawn(t, inMM(`<defs><path id="p" d="M0 0h1"/><path id="q" d="M0 0h1" stroke="blue"/></defs>
		<use href="#p" stroke="red"/><use href="#q" stroke="red" display="none"/>`))
	if got := looks(d.Lines[0]) + " " + looks(d.Lines[1]); got != "#ff0000/ #0000ff/ hidden" {
		t.Errorf("got %q", got)
	}
}

func TestStyleSheetsAreBounded(t *testing.T) {
	rules := "<style>" + strings.Repeat(".a{fill:red}", maxRules+1) + "</style>"
	if _, err := Read([]byte(inMM(rules))); err == nil || !strings.Contains(err.Error(), fmt.Sprint(maxRules)) {
		t.Errorf("%v, want a bound on rules", err)
	}
	long := "<style>" + strings.Repeat(".a", maxParts+1) + "{fill:red}</style>"
	if d := drawn(t, inMM(long)); len(d.Notes) != 1 {
		t.Errorf("notes %q", d.Notes)
	}
	many := "<style>"
	for i := range maxNotes * 2 {
		many += fmt.Sprintf("a b%d{}", i)
	}
	if d := drawn(t, inMM(many+"</style>")); len(d.Notes) != maxNotes {
		t.Errorf("%d notes, want %d", len(d.Notes), maxNotes)
	}
}
