package desk

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"rsc.io/qr"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/quote"
)

// What is said of the studio's people and of the links that let somebody in. A link is told to the acting person alone and never
// posted, since posts are kept.

const (
	peopleMenu   = "members"  // of the studio's people
	sessionsMenu = "sessions" // of one member's devices

	maxDeviceShown = 60 // characters: fits a menu's line on every transport
)

// Keys of a member's form.
const (
	nameKey  = "name"
	ownerKey = "owner"
	makerKey = "maker"
	frontKey = "front-desk"
	benchKey = "bench"
)

// link is what is told of a secret: the address, and a picture of it for a phone's camera. to makes the address; nil: there is none.
func (w words) link(to func(secret string) string, secret string) (at string, files []chat.File) {
	if to == nil {
		return "", nil
	}
	at = to(secret)
	code, err := qr.Encode(at, qr.M)
	if err != nil { // the words say it too
		w.d.log.Error("a link cannot be drawn as a QR code", "err", err)
		return at, nil
	}
	code.Scale = 6
	return at, []chat.File{{Name: "link.png", MIME: "image/png", Alt: "The link as a QR code, for a phone's camera", Data: code.PNG()}}
}

// linkReply says a link that lets somebody in, or why it is not said.
func (w words) linkReply(head, secret, foot string, buttons ...chat.Button) chat.Reply {
	return w.addressReply(w.d.cfg.Link, head, secret, foot, buttons...)
}

func (w words) addressReply(to func(secret string) string, head, secret, foot string, buttons ...chat.Button) chat.Reply {
	at, files := w.link(to, secret)
	switch {
	case secret == "":
		return chat.Reply{Text: head + " It was shown once and is not kept; make another if it is lost.", Buttons: buttons}
	case at == "":
		return chat.Reply{Text: head + " But the desk in the browser is off, so there is nowhere to open it; set BENCHBELL_LISTEN and make another.", Buttons: buttons}
	}
	return chat.Reply{Text: head + "\n" + at + "\n" + foot, Files: files, Buttons: buttons}
}

func sayPeople(a *answer, o shop.Peopled) chat.Reply {
	if len(o.Members) == 0 {
		r := chat.Reply{Text: "Nobody is named yet: everybody at this desk shares the studio's seat. Once the owner is named, each person signs in by a link of their own, and signs what they do."}
		if chat.Scheme(a.in.in.Person.ID) != a.d.cfg.SignsIn {
			r.Buttons = []chat.Button{{Action: "become-owner", Label: "I am the owner", Tone: chat.Good}}
		} else {
			r.Text += " Name the owner under *People* beside your list of commissions."
		}
		return r
	}
	var lines []string
	menu := chat.Menu{Action: peopleMenu, Label: "Links, devices and roles of …", Min: 1, Max: 1}
	for _, p := range o.Members {
		m := p.Member
		line := fmt.Sprintf("• *%s*: %s", m.Name, m.Roles)
		if m.Bench != "" {
			line += "; at the bench as " + a.maker(m.Bench)
		}
		if o.Owner || m.ID == o.Me {
			menu.Options = append(menu.Options, chat.Option{Value: "member/" + m.ID, Label: m.Name, Note: m.Roles.String()})
			switch n := len(p.Sessions); {
			case n > 0:
				line += fmt.Sprintf("; signed in on %s", devices(n))
			case len(p.Links) > 0:
				line += "; their link is not opened yet"
			}
		}
		lines = append(lines, line)
	}
	r := chat.Reply{Text: a.limits.Fit("*The people of the studio*", lines, "", nil)}
	if len(menu.Options) > 0 {
		r.Menus = a.limits.Pages(menu)
	}
	if o.Owner {
		r.Buttons = append(r.Buttons, chat.Button{Action: "new-member", Label: "Add a member", Tone: chat.Good})
	}
	if o.Me != "" {
		r.Buttons = append(r.Buttons, chat.Button{Action: "code", Label: "A code for another door"})
	}
	return r
}

func devices(n int) string {
	if n == 1 {
		return "1 device"
	}
	return fmt.Sprintf("%d devices", n)
}

// sayMember shows a member, or the form to add or change one: "member/M2", "new-member", "change-member/M2", "door/M2".
func sayMember(a *answer, p shop.Persona) chat.Reply {
	m := p.Member
	switch a.in.path[0] {
	case "new-member", "change-member":
		return chat.Reply{Form: a.memberForm(m)}
	case "door":
		return chat.Reply{Form: &chat.Form{Action: "door/" + m.ID, Title: chat.Clip(m.Name+" at another door", a.limits.Title),
			Fields: []chat.Field{{Key: "person", Label: "Who they are there", Hint: "discord:1234567890, the number that the service gives them"}}}}
	}
	lines := []string{"• " + quote.Capital(m.Roles.String())}
	if m.Bench != "" {
		lines = append(lines, "• At the bench as "+a.maker(m.Bench))
	}
	for _, k := range p.Known {
		lines = append(lines, "• Known as "+string(k))
	}
	for _, l := range p.Links {
		lines = append(lines, fmt.Sprintf("• A sign-in link was made on %s and counts until %s", a.when(l.MadeAt), a.when(l.ExpiresAt)))
	}
	menu := chat.Menu{Action: sessionsMenu, Label: "Sign out on …", Min: 1, Max: 1}
	for _, x := range p.Sessions {
		lines = append(lines, fmt.Sprintf("• Signed in since %s on %s, last seen %s", a.when(x.MadeAt), x.Device, a.when(x.SeenAt)))
		menu.Options = append(menu.Options, chat.Option{Value: fmt.Sprintf("end-session/%d", x.N), Label: chat.Clip(x.Device, maxDeviceShown), Note: "last seen " + a.when(x.SeenAt)})
	}
	r := chat.Reply{Text: a.limits.Fit("*"+m.Name+"*", lines, "", nil),
		Buttons: []chat.Button{{Action: "sign-in/" + m.ID, Label: "Make a sign-in link", Tone: chat.Good}}}
	if len(menu.Options) > 0 {
		menu.Options = menu.Options[:chat.Within(a.limits.Options, len(menu.Options))]
		r.Menus = []chat.Menu{menu}
	}
	r.Buttons = append(r.Buttons, chat.Button{Action: "change-member/" + m.ID, Label: "Change"}, chat.Button{Action: "door/" + m.ID, Label: "Known at another door"},
		chat.Button{Action: "member-calendar/" + m.ID, Label: "Calendar"},
		chat.Button{Action: "let-go/" + m.ID, Label: "Let go", Tone: chat.Grave})
	return r
}

// memberForm asks for a member's name and parts, of a new one without an ID.
func (a *answer) memberForm(m ledger.Member) *chat.Form {
	f := &chat.Form{Action: "member", Title: "Add a member"}
	if m.ID != "" {
		f.Action, f.Title = "member/"+m.ID, chat.Clip("Change "+m.Name, a.limits.Title)
	}
	is := func(r ledger.Role) string {
		switch {
		case m.ID == "":
			return ""
		case m.Roles&r != 0:
			return "yes"
		}
		return "no"
	}
	f.Fields = []chat.Field{
		{Key: nameKey, Label: "Name", Value: m.Name, Hint: "as what they do is signed"},
		{Key: makerKey, Label: "Maker: works at the bench", Value: is(ledger.Maker), Options: yesNo, Optional: true},
		{Key: frontKey, Label: "Front desk: talks with clients", Value: is(ledger.FrontDesk), Options: yesNo, Optional: true},
		{Key: ownerKey, Label: "Owner: may do everything", Value: is(ledger.Owner), Options: yesNo, Optional: true}}
	var makers []string
	for _, r := range a.studio.Resources {
		if r.Kind == "maker" {
			makers = append(makers, r.Title)
		}
	}
	bench := ""
	if m.Bench != "" {
		bench = a.maker(m.Bench)
	}
	f.Fields = append(f.Fields, chat.Field{Key: benchKey, Label: "In the plan they are", Value: bench, Options: makers, Optional: true})
	return f
}

// roles reads a member's form.
func roles(v map[string]string) (r ledger.Role) {
	for key, role := range map[string]ledger.Role{ownerKey: ledger.Owner, makerKey: ledger.Maker, frontKey: ledger.FrontDesk} {
		if yes := adult(v[key]); yes != nil && *yes {
			r |= role
		}
	}
	return r
}

func (w words) signInReply(m ledger.Member, until time.Time, secret string) chat.Reply {
	return w.linkReply(fmt.Sprintf("A link that signs *%s* in, once, until %s:", m.Name, w.when(until)), secret, fmt.Sprintf("Send it to %s, or have them scan the code. Nobody else should see it.", m.Name))
}

func sayOwnerNamed(a *answer, o shop.OwnerNamed) chat.Reply {
	return a.signInReply(o.Member, o.Member.AddedAt.Add(shop.SignInLasts), o.Secret)
}

func sayMemberAdded(a *answer, o shop.MemberAdded) chat.Reply {
	return a.signInReply(o.Member, o.Member.AddedAt.Add(shop.SignInLasts), o.Secret)
}

func saySignInMade(a *answer, o shop.SignInMade) chat.Reply {
	return a.signInReply(o.Member, o.Until, o.Secret)
}

func sayMemberChanged(a *answer, o shop.MemberChanged) chat.Reply {
	return chat.Reply{Text: fmt.Sprintf("%s: %s.", o.Member.Name, o.Member.Roles)}
}

func sayLetGo(_ *answer, o shop.WasLetGo) chat.Reply {
	say := fmt.Sprintf("%s does not belong to the studio any more.", o.Member.Name)
	if o.Sessions > 0 {
		say += fmt.Sprintf(" They were signed out on %s.", devices(o.Sessions))
	}
	return chat.Reply{Text: say + " What they signed keeps their name."}
}

func saySessionEnded(_ *answer, o shop.SessionEnded) chat.Reply {
	return chat.Reply{Text: fmt.Sprintf("%s is signed out on %s.", o.Member.Name, o.Session.Device)}
}

func sayCode(a *answer, o shop.CodeMade) chat.Reply {
	if o.Code == "" {
		return chat.Reply{Text: "The code was shown once and is not kept; make another if it is lost."}
	}
	return chat.Reply{Text: fmt.Sprintf("Your code is *%s*, until %s. Use “member” with it at the other door, and you are known there as the same person.",
		o.Code, a.local(o.Until).Format("15:04"))}
}

func sayPersonLinked(_ *answer, o shop.PersonLinked) chat.Reply {
	return chat.Reply{Text: fmt.Sprintf("%s is known as *%s* now: %s.", o.Person, o.Member.Name, o.Member.Roles)}
}

func sayPersonNamed(a *answer, o shop.PersonNamed) chat.Reply {
	return sayPersonLinked(a, shop.PersonLinked(o))
}

func sayAskedFor(a *answer, o shop.AskedFor) chat.Reply {
	id := o.Commission.ID
	r := a.clientLink(id, fmt.Sprintf("Commission %s is open for *%s*. This link opens it to them, and nothing else:", id, o.Commission.ClientName), o.Secret)
	r.Thread = chat.ThreadID(openMark + string(id))
	return r
}

func sayClientLink(a *answer, o shop.ClientLinkMade) chat.Reply {
	return a.clientLink(o.Commission.ID, fmt.Sprintf("A private link to %s:", o.Commission.ID), o.Secret)
}

func (w words) clientLink(id quote.CommissionID, head, secret string) chat.Reply {
	return w.linkReply(head, secret, "Whoever has it can see and decide everything about this commission. Keep it, open it on any device, and end it if it falls into the wrong hands.",
		chat.Button{Action: "calendar/" + string(id), Label: "Calendar"},
		chat.Button{Action: "end-links/" + string(id), Label: "End all links to " + string(id), Tone: chat.Grave})
}

func sayLinksEnded(_ *answer, o shop.ClientLinksEnded) chat.Reply {
	return chat.Reply{Text: fmt.Sprintf("No link opens %s any more; whoever came by one is signed out.", o.Commission.ID),
		Buttons: []chat.Button{linkButton(o.Commission.ID)}}
}

func linkButton(id quote.CommissionID) chat.Button {
	return chat.Button{Action: "link/" + string(id), Label: "Private link"}
}

// postLink offers a client the private link to their commission. Until the studio's people are named, clients come by their names.
func (p *posting) postLink(c ledger.Commission) error {
	named, err := p.t.AnyMembers()
	if err != nil || !named {
		return err
	}
	return p.put(c.ID, chat.Post{Key: string(c.ID) + "/link", Text: "Your private link opens this commission on any of your devices. Only you are shown it.",
		Buttons: []chat.Button{linkButton(c.ID)}})
}

// session is the number of a device: "end-session/12".
func (r *reading) session() int64 {
	n, err := strconv.ParseInt(r.part(1), 10, 64)
	if err != nil {
		return 0 // there is no such session
	}
	return n
}

// someRoles words who may do what somebody else may not.
func someRoles(names []string) string {
	var out []string
	for _, n := range names {
		switch n {
		case "maker":
			out = append(out, "a maker")
		default:
			out = append(out, "the "+n)
		}
	}
	return strings.Join(out, " or ")
}
