package desk

import (
	"errors"
	"fmt"
	"path"
	"strings"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/quote"
	"benchbell/quote/library"
	"benchbell/quote/pattern"
)

// inspected is what reading a pattern came to.
type inspected struct {
	problem error // why it cannot be used
	source  quote.PatternSource
	set     Set
	drafted bool // the sidecar was written by us
	words   string
	lacks   []string // what the studio would need first
	card    []byte
	files   []chat.File
}

// inspect reads the files of a pattern: a drawing, and a sidecar or none.
func (d *Desk) inspect(files []chat.File) *inspected {
	var drawing, sidecar *chat.File
	for i := range files {
		switch f := &files[i]; strings.ToLower(path.Ext(f.Name)) {
		case ".svg", ".dxf":
			drawing = f
		case ".toml":
			sidecar = f
		default:
			return &inspected{problem: refuse("%q is neither a drawing (.svg, .dxf) nor a sidecar (.toml)", f.Name)}
		}
	}
	if drawing == nil {
		return nil
	}
	x := &inspected{source: quote.PatternSource{Drawing: string(drawing.Data)}}
	if sidecar != nil {
		x.source.TOML = string(sidecar.Data)
	} else {
		name := strings.TrimSuffix(path.Base(drawing.Name), path.Ext(drawing.Name))
		toml, _, _, err := pattern.Draft(drawing.Data, name)
		if err != nil {
			return x.fault(err)
		}
		x.source.TOML, x.drafted = string(toml), true
		x.files = append(x.files, chat.File{Name: "pattern.toml", MIME: "application/toml", Alt: "A first sidecar for " + drawing.Name, Data: toml})
	}
	in, err := library.Inspect(x.source, d.cfg.Studio())
	if err != nil {
		return x.fault(err)
	}
	x.set = setOf(in.Set, x.source)
	x.words, x.lacks = in.Words, in.Lacks
	for i, p := range in.Pictures {
		if i == 0 {
			x.card = p.Data
		}
		x.files = append(x.files, pictured(p))
	}
	x.files = append(x.files, chat.File{Name: x.set.Name + "-report.txt", MIME: "text/plain; charset=utf-8",
		Alt: "Report on " + x.set.Title, Data: []byte(in.Report)})
	return x
}

// fault is a pattern that cannot be used, with a picture of the spot where the fault has one.
func (x *inspected) fault(err error) *inspected {
	x.problem = err
	if p, ok := library.FaultPicture(err); ok {
		x.files = []chat.File{pictured(p)}
	}
	return x
}

// patternSent answers a pattern with its report; one without a fault is filed and can be added to the library.
func (w *work) patternSent() (chat.Reply, error) {
	if name := strings.TrimSpace(w.in.Values["withdraw"]); name != "" {
		return w.withdraw(strings.ToLower(name))
	}
	x := w.pattern
	if x == nil {
		return chat.Reply{}, refuse("attach the drawing of a pattern, SVG or DXF, and its pattern.toml if there is one")
	}
	if x.problem != nil {
		var no *chat.Refusal
		if errors.As(x.problem, &no) {
			return chat.Reply{}, x.problem
		}
		return chat.Reply{Text: clip("*This pattern cannot be used yet*: "+x.problem.Error()+".", chat.MaxText), Files: x.files}, nil
	}
	if w.d.builtIn(x.set.Name) {
		return chat.Reply{}, refuse("the library has a set named %q; give yours another name in pattern.toml", x.set.Name)
	}
	if len(x.lacks) > 0 {
		return chat.Reply{Text: clip("*The studio cannot quote this pattern yet*\n• "+strings.Join(x.lacks, "\n• ")+"\n\n"+x.words, chat.MaxText), Files: x.files}, nil
	}
	version, err := w.t.AddPattern(ledger.Pattern{Name: x.set.Name, Source: x.source, Card: x.card, SentBy: w.in.Person.ID, SentAt: w.now})
	if err != nil {
		return chat.Reply{}, err
	}
	if err := w.t.Record(ledger.Event{At: w.now, Person: string(w.in.Person.ID), What: "pattern checked", Detail: fmt.Sprintf("%s version %d", x.set.Name, version)}); err != nil {
		return chat.Reply{}, err
	}
	var b strings.Builder
	fmt.Fprintf(&b, "*%s can be used.* ", x.set.Title)
	if x.drafted {
		b.WriteString("No sidecar came with it, so a first one was written: every piece is made as drawn, to one size. " +
			"To have it follow the body, complete pattern.toml and send both files again.\n")
	}
	b.WriteString("\n" + x.words)
	return chat.Reply{Text: clip(strings.TrimSpace(b.String()), chat.MaxText), Files: x.files,
		Buttons: []chat.Button{{Action: fmt.Sprintf("shelve/%s/%d", x.set.Name, version), Label: "Add to the library", Tone: chat.Good}}}, nil
}

// shelve puts a checked pattern into the library; "shelve/knee-cup/2".
func (w *work) shelve(p []string) (chat.Reply, error) {
	if err := w.studioOnly(); err != nil {
		return chat.Reply{}, err
	}
	if len(p) != 3 {
		return chat.Reply{}, refuse("this button is not known any more; send the pattern again")
	}
	name, version := p[1], number(p, 2)
	err := w.t.ShelvePattern(name, version)
	if errors.Is(err, ledger.ErrNone) {
		return chat.Reply{}, refuse("version %d of %q is not known; send the pattern again", version, name)
	}
	if err != nil {
		return chat.Reply{}, err
	}
	w.shelved = true
	say := fmt.Sprintf("%s, version %d, is in the library. New commissions can choose it.", name, version)
	if err := w.note(fmt.Sprintf("pattern/%s/%d", name, version), fmt.Sprintf("%s put %s, version %d, into the library.", oneLine(w.in.Person.Name), name, version), nil, nil); err != nil {
		return chat.Reply{}, err
	}
	return chat.Reply{Text: say}, w.t.Record(ledger.Event{At: w.now, Person: string(w.in.Person.ID), What: "pattern shelved", Detail: fmt.Sprintf("%s version %d", name, version)})
}

func (w *work) withdraw(name string) (chat.Reply, error) {
	s, ok := w.d.set(name)
	if !ok {
		return chat.Reply{}, w.unknownSet(name)
	}
	if w.d.builtIn(name) {
		return chat.Reply{}, refuse("%q comes with the program and cannot be withdrawn", name)
	}
	if err := w.t.WithdrawPattern(name); err != nil {
		return chat.Reply{}, err
	}
	w.shelved = true
	return chat.Reply{Text: s.Title + " is not offered any more. Commissions that have it keep it."},
		w.t.Record(ledger.Event{At: w.now, Person: string(w.in.Person.ID), What: "pattern withdrawn", Detail: name})
}
