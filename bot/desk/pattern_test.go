package desk

import (
	"os"
	"strings"
	"testing"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/quote"
	"benchbell/quote/price"
)

// drawingFile is a drawing that was made in a vector editor.
func drawingFile(t *testing.T) chat.File {
	t.Helper()
	b, err := os.ReadFile("../../worker/testdata/knee-plate.svg")
	if err != nil {
		t.Fatal(err)
	}
	return chat.File{Name: "Knee Plate.svg", MIME: "image/svg+xml", Data: b}
}

// A maker sends a bare drawing, reads what was made of it, puts it into the library, sends a better spec sheet, and takes
// it out again; a client who has chosen it keeps it.
func TestPattern(t *testing.T) {
	p := newPlay(t)
	drawing := drawingFile(t)
	send := func(files ...chat.File) (chat.Reply, error) {
		return p.do(chat.Incoming{Person: boss, Command: "pattern", Files: files})
	}
	p.refused(p.command(mara, "pattern"), "for the studio")
	p.refused(p.command(boss, "pattern"), "attach the drawing")
	_, err := send(chat.File{Name: "plate.png", MIME: "image/png", Data: []byte("x")})
	p.refused(err, "neither a drawing")
	rep, err := send(chat.File{Name: "bow.svg", Data: []byte(`<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" viewBox="0 0 100 100"><path d="M10 10 L90 90 L90 10 L10 90 Z"/></svg>`)})
	p.ok(err)
	if len(rep.Files) != 1 || rep.Files[0].Name != "fault.png" {
		t.Errorf("a crossing outline comes without the picture of the spot: %v", names(rep.Files))
	}
	rep, err = send(drawing) // the draft names finishes that this studio has not
	p.ok(err)
	if !strings.Contains(rep.Text, "none of its finishes") || len(rep.Buttons) > 0 {
		t.Errorf("a pattern that cannot be quoted is offered to the library: %s", rep.Text)
	}
	finishes := p.studio
	p.studio = func() quote.Studio {
		s := finishes()
		s.Finishes = append(s.Finishes, quote.Finish{Key: "painted", Title: "Painted"})
		s.Prices.Sheets = []price.Sheet{{Key: "eva-5", Thickness: 5, Width: 1000, Height: 500}}
		return s
	}
	rep, err = send(drawing)
	p.ok(err)
	if got := strings.Join(names(rep.Files), " "); got != "pattern.toml knee-plate-checked.png knee-plate-report.txt" {
		t.Errorf("files with the report: %s", got)
	}
	p.refused(p.command(mara, "commission", "set", "knee-plate"), "there is no pattern set")
	p.refused(p.press(mara, "shelve/knee-plate/1"), "only the studio")
	p.refused(p.press(boss, "shelve/knee-plate/7"), "is not known")
	p.ok(p.press(boss, "shelve/knee-plate/1"))
	p.ok(p.press(boss, "shelve/knee-plate/1"))
	p.restart()
	p.ok(p.command(mara, "commission", "set", "knee-plate"))

	spec := string(rep.Files[0].Data)
	better := strings.Replace(spec, `summary = "A pattern of 2 pieces."`, `summary = "A plain knee plate."`, 1)
	if better == spec {
		t.Fatalf("the draft has no such summary:\n%s", spec)
	}
	_, err = send(drawing, chat.File{Name: "pattern.toml", Data: []byte(better)})
	p.ok(err)
	_, err = send(drawing, chat.File{Name: "pattern.toml", Data: []byte(better)}) // the same files are the same version
	p.ok(err)
	p.ok(p.press(boss, "shelve/knee-plate/2"))
	_, err = send(drawing, chat.File{Name: "pattern.toml", Data: []byte(strings.Replace(spec, `name = "knee-plate"`, `name = "cuff"`, 1))})
	p.refused(err, "another name")
	_, err = send(drawing, chat.File{Name: "pattern.toml", Data: []byte("name = ")})
	p.ok(err)

	p.refused(p.command(boss, "pattern", "withdraw", "cuff"), "comes with the program")
	p.refused(p.command(boss, "pattern", "withdraw", "nothing"), "there is no pattern set")
	p.ok(p.command(boss, "pattern", "withdraw", "knee-plate"))
	p.ok(p.pick(mara, "count/C0001/knee-plate", "2"))
	p.ok(p.pick(mara, "finish/C0001", "painted"))
	p.ok(p.press(mara, "measure/C0001"))
	p.ok(p.press(mara, "right/C0001"))
	p.want(ledger.Computing)
	if src := p.q.last().Snapshot.Patterns["knee-plate"]; src != (quote.PatternSource{Drawing: string(drawing.Data), TOML: better}) {
		t.Error("the snapshot does not hold the version that was shelved last")
	}
	p.golden()
}

func names(files []chat.File) []string {
	var out []string
	for _, f := range files {
		out = append(out, f.Name)
	}
	return out
}
