package desk

import (
	"fmt"
	"strings"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/quote/price"
)

// What is said and posted of cutting, of the rack, and of the library.

func sayCutFiles(a *answer, o shop.CutSet) chat.Reply {
	c := o.Commission
	rep := chat.Reply{Text: fmt.Sprintf("*%s, revision %d*: the pattern at 1:1 and %s for the cutter. Print the pattern at 100 %% and measure its check squares before cutting.",
		c.ID, c.Revision, price.Counted(o.Cutter, "file"))}
	if !o.Approved {
		rep.Text += " *It is not approved yet.*"
	}
	if o.Cut != nil {
		rep.Text += fmt.Sprintf(" *Its foam was cut on %s with %s, from other layouts.*", a.when(o.Cut.At), o.Cut.ID)
	}
	for _, f := range o.Files {
		rep.Files = append(rep.Files, attached(f))
	}
	rep.Files = attach(a.limits, rep.Files)
	rep.Buttons = []chat.Button{{Action: "traveller/" + string(c.ID), Label: "Traveller"}, {Action: "labels/" + string(c.ID), Label: "Labels"}}
	return rep
}

// sayPrinted gives what is to be printed.
func sayPrinted(a *answer, o shop.Printed) chat.Reply {
	return chat.Reply{Text: "Print it at 100 %.", Files: attach(a.limits, []chat.File{attached(o.File)})}
}

func sayPlannedTogether(a *answer, o shop.PlannedTogether) chat.Reply {
	lines, foot := strings.Split(o.Plan.Summary, "\n"), ""
	if o.Layouts > o.Shown {
		foot = fmt.Sprintf("The first %d of %d layouts are shown; all of them are in the archive.", o.Shown, o.Layouts)
	}
	if len(o.Against) > 0 {
		var no []string
		for _, x := range o.Against {
			no = append(no, a.against(x))
		}
		return chat.Reply{Text: a.limits.Fit(fmt.Sprintf("*Only a plan: %s.*", strings.Join(no, "; ")), lines, foot, nil), Files: attach(a.limits, o.Files)}
	}
	return chat.Reply{Text: a.limits.Fit("", lines, foot, nil), Files: attach(a.limits, o.Files), Buttons: []chat.Button{{Action: "cut/" + o.Plan.ID, Label: "Cut like this", Tone: chat.Good}}}
}

// wereCut says that commissions are cut, and lists what remains of the sheets.
func wereCut(o shop.WereCut) (say string, rests []string) {
	var names []string
	for _, k := range o.Cutting.Commissions {
		names = append(names, string(k.ID))
	}
	say = fmt.Sprintf("*%s: %s are cut together.* Used from the rack: %s.", o.Cutting.ID, strings.Join(names, ", "), orNone(o.Cutting.Used))
	if len(o.Racked) > 0 {
		say += " Label what is left and put it on the rack:"
	}
	return say, offcutLines(o.Racked)
}

func sayWereCut(a *answer, o shop.WereCut) chat.Reply {
	if o.Before {
		return chat.Reply{Text: fmt.Sprintf("%s was recorded on %s; nothing changes.", o.Cutting.ID, a.when(o.Cutting.At))}
	}
	say, rests := wereCut(o)
	return chat.Reply{Text: a.limits.Fit(say, rests, "", nil)}
}

func postWereCut(p *posting, o shop.WereCut) error {
	if o.Before {
		return nil
	}
	for _, c := range o.Working { // its own layouts are on the board already
		if err := p.noteCutting(c); err != nil {
			return err
		}
	}
	files, err := p.t.CuttingFiles(o.Cutting.ID)
	if err != nil {
		return err
	}
	say, rests := wereCut(o)
	return p.notice(notice{key: "cutting/" + o.Cutting.ID, text: say, lines: rests, foot: o.Cutting.Summary, files: files})
}

func sayRack(a *answer, o shop.OnRack) chat.Reply { return a.racked("", o.Offcuts) }

func sayOffcutRacked(a *answer, o shop.OffcutRacked) chat.Reply {
	return a.racked(fmt.Sprintf("*%s is on the rack*; write the number on it.", o.Offcut.ID), o.Rack)
}

func sayThrownAway(a *answer, o shop.ThrownAway) chat.Reply {
	return a.racked(fmt.Sprintf("*%s is off the rack.*", o.Offcut), o.Rack)
}

// racked lists what is on the rack.
func (a *answer) racked(say string, rack []ledger.Offcut) chat.Reply {
	if len(rack) == 0 {
		return chat.Reply{Text: strings.TrimSpace(say + " The rack is empty.")}
	}
	var lines []string
	for i, o := range rack {
		line := "• " + offcutWords(o)
		if i == 0 || rack[i-1].Thickness != o.Thickness {
			line = fmt.Sprintf("*%s*\n%s", o.Thickness, line)
		}
		lines = append(lines, line)
	}
	head := strings.TrimSpace(fmt.Sprintf("%s\n*On the rack: %s*", say, price.Counted(len(rack), "offcut")))
	return chat.Reply{Text: a.limits.Fit(head, lines, "", nil), Buttons: []chat.Button{{Action: "offcut-labels", Label: "Labels"}}}
}

func sayRestRacked(a *answer, o shop.RestRacked) chat.Reply {
	switch {
	case len(o.Racked) == 0:
		return chat.Reply{Text: fmt.Sprintf("“%s” of %s leaves no offcut worth keeping.", o.Operation.Words(), o.Operation.Commission)}
	case o.Before:
		return chat.Reply{Text: a.limits.Fit("Already on the rack:", offcutLines(o.Racked), "", nil)}
	}
	return chat.Reply{Text: a.limits.Fit("Label what is left and put it on the rack:", offcutLines(o.Racked), "", nil)}
}

func sayPatternChecked(a *answer, o shop.PatternChecked) chat.Reply {
	switch {
	case o.Fault != "":
		return chat.Reply{Text: a.limits.Clip("*This pattern cannot be used yet*: " + o.Fault + "."), Files: attach(a.limits, o.Files)}
	case o.Version == 0:
		text := "*The studio cannot quote this pattern yet*\n• " + strings.Join(o.Lacks, "\n• ")
		return chat.Reply{Text: a.limits.Fit(text+"\n", strings.Split(o.Words, "\n"), "", nil), Files: attach(a.limits, o.Files)}
	}
	text := fmt.Sprintf("*%s can be used.*", o.Title)
	if o.Drafted {
		text += " It came without a spec sheet, so a first one was written: every piece is made as drawn, in one size. " +
			"To make it follow the body, complete pattern.toml and send both files again.\n"
	}
	return chat.Reply{Text: a.limits.Fit(text, strings.Split(o.Words, "\n"), "", nil), Files: attach(a.limits, o.Files),
		Buttons: []chat.Button{{Action: fmt.Sprintf("shelve/%s/%d", o.Name, o.Version), Label: "Add to the library", Tone: chat.Good}}}
}

func sayShelved(_ *answer, o shop.Shelved) chat.Reply {
	return chat.Reply{Text: fmt.Sprintf("%s, version %d, is in the library. New commissions can choose it.", o.Name, o.Version)}
}

func postShelved(p *posting, o shop.Shelved) error {
	return p.note(fmt.Sprintf("pattern/%s/%d", o.Name, o.Version), fmt.Sprintf("%s put %s, version %d, into the library.", shop.OneLine(p.by.Name), o.Name, o.Version))
}

func sayWithdrawn(_ *answer, o shop.Withdrawn) chat.Reply {
	return chat.Reply{Text: o.Title + " is no longer offered. Commissions that have it keep it."}
}
