package desk

import (
	"fmt"
	"strings"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/bot/shop"
)

// What is said and posted of cutting, of the rack, and of the library.

func sayCutFiles(a *answer, o shop.CutSet) chat.Reply {
	c := o.Commission
	rep := chat.Reply{Text: fmt.Sprintf("*%s, revision %d*: the pattern at 1:1 and %s for the cutter. Print the pattern at 100 %% and measure its check squares before cutting.",
		c.ID, c.Revision, many(o.Cutter, "file"))}
	if !o.Approved {
		rep.Text += " *It is not approved yet.*"
	}
	if o.Cut != nil {
		rep.Text += fmt.Sprintf(" *Its foam was cut on %s, with %s, after other layouts.*", a.when(o.Cut.At), o.Cut.ID)
	}
	for _, f := range o.Files {
		rep.Files = append(rep.Files, attached(f))
	}
	return rep
}

func sayPlannedTogether(a *answer, o shop.PlannedTogether) chat.Reply {
	text := o.Plan.Summary
	if o.Layouts > o.Shown {
		text += fmt.Sprintf("\nThe first %d of %d layouts are shown, all are in the archive.", o.Shown, o.Layouts)
	}
	if len(o.Against) > 0 {
		var no []string
		for _, x := range o.Against {
			no = append(no, a.against(x))
		}
		return chat.Reply{Text: message(fmt.Sprintf("*Only a plan: %s.*\n", strings.Join(no, "; ")) + text), Files: o.Files}
	}
	return chat.Reply{Text: message(text), Files: o.Files, Buttons: []chat.Button{{Action: "cut/" + o.Plan.ID, Label: "Cut like this", Tone: chat.Good}}}
}

func wereCut(o shop.WereCut) string {
	var names []string
	for _, k := range o.Cutting.Commissions {
		names = append(names, string(k.ID))
	}
	say := fmt.Sprintf("*%s: %s are cut together.* Off the rack: %s.", o.Cutting.ID, strings.Join(names, ", "), orNone(o.Cutting.Used))
	if len(o.Racked) > 0 {
		say += " Letter what remains and put it on the rack:" + offcutLines(o.Racked)
	}
	return say
}

func sayWereCut(a *answer, o shop.WereCut) chat.Reply {
	if o.Before {
		return chat.Reply{Text: fmt.Sprintf("%s was recorded on %s; nothing is changed.", o.Cutting.ID, a.when(o.Cutting.At))}
	}
	return chat.Reply{Text: message(wereCut(o))}
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
	return p.notice(notice{key: "cutting/" + o.Cutting.ID, text: wereCut(o) + "\n" + o.Cutting.Summary, files: files})
}

func sayRack(_ *answer, rack []ledger.Offcut) chat.Reply { return racked("", rack) }

func sayOffcutRacked(_ *answer, o shop.OffcutRacked) chat.Reply {
	return racked(fmt.Sprintf("*%s is on the rack*; letter it so.", o.Offcut.ID), o.Rack)
}

func sayThrownAway(_ *answer, o shop.ThrownAway) chat.Reply {
	return racked(fmt.Sprintf("*%s is off the rack.*", o.Offcut), o.Rack)
}

// racked lists what is on the rack.
func racked(say string, rack []ledger.Offcut) chat.Reply {
	if len(rack) == 0 {
		return chat.Reply{Text: strings.TrimSpace(say + " The rack is empty.")}
	}
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n*On the rack: %s*", say, many(len(rack), "offcut"))
	for i, o := range rack {
		if i == 0 || rack[i-1].Thickness != o.Thickness {
			fmt.Fprintf(&b, "\n*%s*", o.Thickness)
		}
		b.WriteString("\n• " + offcutWords(o))
	}
	return chat.Reply{Text: message(strings.TrimSpace(b.String()))}
}

func sayRestRacked(_ *answer, o shop.RestRacked) chat.Reply {
	switch {
	case len(o.Racked) == 0:
		return chat.Reply{Text: fmt.Sprintf("“%s” of %s leaves no offcut worth keeping.", opWords(o.Operation), o.Operation.Commission)}
	case o.Before:
		return chat.Reply{Text: "That was put on the rack already:" + offcutLines(o.Racked)}
	}
	return chat.Reply{Text: "Letter what remains and put it on the rack:" + offcutLines(o.Racked)}
}

func sayPatternChecked(_ *answer, o shop.PatternChecked) chat.Reply {
	switch {
	case o.Fault != "":
		return chat.Reply{Text: message("*This pattern cannot be used yet*: " + o.Fault + "."), Files: o.Files}
	case o.Version == 0:
		return chat.Reply{Text: message("*The studio cannot quote this pattern yet*\n• " + strings.Join(o.Lacks, "\n• ") + "\n\n" + o.Words), Files: o.Files}
	}
	var b strings.Builder
	fmt.Fprintf(&b, "*%s can be used.* ", o.Title)
	if o.Drafted {
		b.WriteString("No sidecar came with it, so a first one was written: every piece is made as drawn, to one size. " +
			"To have it follow the body, complete pattern.toml and send both files again.\n")
	}
	b.WriteString("\n" + o.Words)
	return chat.Reply{Text: message(strings.TrimSpace(b.String())), Files: o.Files,
		Buttons: []chat.Button{{Action: fmt.Sprintf("shelve/%s/%d", o.Name, o.Version), Label: "Add to the library", Tone: chat.Good}}}
}

func sayShelved(_ *answer, o shop.Shelved) chat.Reply {
	return chat.Reply{Text: fmt.Sprintf("%s, version %d, is in the library. New commissions can choose it.", o.Name, o.Version)}
}

func postShelved(p *posting, o shop.Shelved) error {
	return p.note(fmt.Sprintf("pattern/%s/%d", o.Name, o.Version), fmt.Sprintf("%s put %s, version %d, into the library.", shop.OneLine(p.by.Name), o.Name, o.Version))
}

func sayWithdrawn(_ *answer, o shop.Withdrawn) chat.Reply {
	return chat.Reply{Text: o.Title + " is not offered any more. Commissions that have it keep it."}
}
