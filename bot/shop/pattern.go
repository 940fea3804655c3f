package shop

import (
	"context"
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

// CheckPattern reads a pattern of the studio's own: a drawing, with its spec sheet or without. One without a fault is filed.
type CheckPattern struct{ Files []chat.File }

// PatternChecked is what reading a pattern came to.
type PatternChecked struct {
	Name, Title string
	Version     int         // as filed; 0: it was not
	Fault       string      // why it cannot be used, in the reader's words
	Lacks       []string    // what the studio would need first, a sentence each
	Drafted     bool        // the spec sheet was written for it
	Words       string      // the reader's report in a few lines
	Files       []chat.File `json:"-"`

	source quote.PatternSource
	card   []byte
}

// inspect reads the files of a pattern.
func inspect(_ context.Context, s *Shop, _ Call, a CheckPattern, read reading) (x PatternChecked, err error) {
	if err := read(func(*job, ledger.Commission) error { return nil }); err != nil {
		return x, err
	}
	var drawing, spec *chat.File
	for i := range a.Files {
		switch f := &a.Files[i]; strings.ToLower(path.Ext(f.Name)) {
		case ".svg", ".dxf":
			drawing = f
		case ".toml":
			spec = f
		default:
			return x, &Refusal{Kind: NoPatternFile, Name: f.Name}
		}
	}
	if drawing == nil {
		return x, &Refusal{Kind: NoDrawing}
	}
	x.source = quote.PatternSource{Drawing: string(drawing.Data)}
	if spec != nil {
		x.source.TOML = string(spec.Data)
	} else {
		toml, _, _, err := pattern.Draft(drawing.Data, strings.TrimSuffix(path.Base(drawing.Name), path.Ext(drawing.Name)))
		if err != nil {
			return x.fault(err), nil
		}
		x.source.TOML, x.Drafted = string(toml), true
		x.Files = append(x.Files, chat.File{Name: "pattern.toml", MIME: "application/toml", Alt: "A first spec sheet for " + drawing.Name, Data: toml})
	}
	in, err := library.Inspect(x.source, s.cfg.Studio())
	if err != nil {
		return x.fault(err), nil
	}
	set := setOf(in.Set, x.source)
	x.Name, x.Title, x.Words, x.Lacks = set.Name, set.Title, in.Words, in.Lacks
	for i, p := range in.Pictures {
		if i == 0 {
			x.card = p.Data
		}
		x.Files = append(x.Files, chat.File{Name: p.Name, MIME: p.MIME, Alt: p.Alt, Data: p.Data})
	}
	x.Files = append(x.Files, chat.File{Name: x.Name + "-report.txt", MIME: "text/plain; charset=utf-8",
		Alt: "Report on " + x.Title, Data: []byte(in.Report)})
	return x, nil
}

// fault is a pattern that cannot be used, with a picture of the spot where the fault has one.
func (x PatternChecked) fault(err error) PatternChecked {
	x.Fault = err.Error()
	if p, ok := library.FaultPicture(err); ok {
		x.Files = []chat.File{{Name: p.Name, MIME: p.MIME, Alt: p.Alt, Data: p.Data}}
	}
	return x
}

func checkPattern(j *job, _ ledger.Commission, _ CheckPattern, x PatternChecked) (PatternChecked, error) {
	if x.Fault != "" {
		return x, nil
	}
	if j.s.builtIn(x.Name) {
		return x, &Refusal{Kind: NameTaken, Name: x.Name}
	}
	if len(x.Lacks) > 0 {
		return x, nil
	}
	version, err := j.t.AddPattern(ledger.Pattern{Name: x.Name, Source: x.source, Card: x.card, SentBy: j.by.ID, SentAt: j.now})
	if err != nil {
		return x, err
	}
	x.Version = version
	return x, j.record(ledger.Commission{}, "pattern checked", fmt.Sprintf("%s version %d", x.Name, version))
}

// Shelve puts a checked pattern into the library.
type Shelve struct {
	Name    string
	Version int
}

// Shelved is a pattern that is in the library.
type Shelved Shelve

func shelve(j *job, a Shelve) (Shelved, error) {
	err := j.t.ShelvePattern(a.Name, a.Version)
	if errors.Is(err, ledger.ErrNone) {
		return Shelved{}, &Refusal{Kind: NoVersion, Name: a.Name, Count: a.Version}
	}
	if err != nil {
		return Shelved{}, err
	}
	return Shelved(a), j.record(ledger.Commission{}, "pattern shelved", fmt.Sprintf("%s version %d", a.Name, a.Version))
}

// Withdraw takes a pattern out of the library.
type Withdraw struct{ Name string }

// Withdrawn is a pattern that is not offered any more.
type Withdrawn struct{ Name, Title string }

func withdraw(j *job, a Withdraw) (Withdrawn, error) {
	x, ok := j.s.named(a.Name)
	if !ok {
		return Withdrawn{}, j.s.unknownSet(a.Name)
	}
	a.Name = x.Name
	if j.s.builtIn(a.Name) {
		return Withdrawn{}, &Refusal{Kind: BuiltIn, Name: a.Name}
	}
	if err := j.t.WithdrawPattern(a.Name); err != nil {
		return Withdrawn{}, err
	}
	return Withdrawn{a.Name, x.Title}, j.record(ledger.Commission{}, "pattern withdrawn", a.Name)
}

// Board makes a thread the studio's notice board.
type Board struct{ Thread chat.ThreadID }

// BoardSet is the notice board as it is now.
type BoardSet struct{ Thread chat.ThreadID }

func setBoard(j *job, a Board) (BoardSet, error) {
	if a.Thread == "" {
		return BoardSet{}, &Refusal{Kind: NoThread}
	}
	if _, err := j.t.CommissionOfThread(a.Thread); err == nil {
		return BoardSet{}, &Refusal{Kind: ClientsThread}
	} else if !errors.Is(err, ledger.ErrNone) {
		return BoardSet{}, err
	}
	scheme, _, _ := strings.Cut(string(a.Thread), ":")
	if err := j.t.SetBoard(scheme, a.Thread); err != nil {
		return BoardSet{}, err
	}
	return BoardSet(a), j.record(ledger.Commission{}, "notice board", string(a.Thread))
}
