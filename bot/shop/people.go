package shop

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/quote"
)

const (
	// SignInLasts is how long a sign-in link can be used: one sent on a Friday evening is opened on Monday.
	SignInLasts = 72 * time.Hour
	// sessionLasts is how long somebody stays signed in on a device on which they are not seen.
	sessionLasts = 30 * 24 * time.Hour
	// codeLasts is how long a code counts: as long as it takes to go from one device to the other.
	codeLasts = 10 * time.Minute

	seenEvery    = 5 * time.Minute // how exactly it is known when a device was last seen: each time is a write
	mostSessions = 10              // of one member or one commission: past it, the device not seen for longest is signed out
	mostLinks    = 5               // of one commission that open it: past it, the oldest ends
	maxName      = 40              // characters of a member's name: fits a phone's line
	maxDevice    = 80              // characters kept of what a browser says of itself

	// browserScheme is the door that members sign in at.
	browserScheme = "browser"
)

// knownAs is whom the studio knows somebody as.
type knownAs struct {
	member   ledger.Member // none: no member
	roles    ledger.Role
	stranger bool // in the studio's seat, while the studio has members and this is none of them
}

// identify says who somebody is. Until the studio has a member, everybody in its seat may do everything.
func (j *job) identify() error {
	p := j.door
	if p.ID == "" || p.Only != "" { // a private link makes nobody a member, whoever is the client
		j.by.Studio = false
		return nil
	}
	m, err := j.t.MemberAs(p.ID)
	switch {
	case err == nil && m.LetGoAt.IsZero():
		j.by = chat.Person{ID: m.Person(), Name: m.Name, Studio: true}
		j.member, j.roles = m, m.Roles
		return nil
	case err == nil:
		j.by.Studio, j.stranger = false, p.Studio
		return nil
	case !errors.Is(err, ledger.ErrNone):
		return err
	}
	if !p.Studio {
		return nil
	}
	named, err := j.t.AnyMembers()
	if err != nil {
		return err
	}
	if named {
		j.by.Studio, j.stranger = false, true
	} else {
		j.roles = ledger.AllRoles
	}
	return nil
}

// entitled refuses by the table who may not do what is for those; c is the commission it is about, if any.
func (j *job) entitled(who Who, c ledger.Commission) error {
	clients := who == Owner || who == Shown
	switch {
	case who == Comers && j.door.Only != "":
		return &Refusal{Kind: OnlyThis, Name: j.door.Only}
	case who == Anybody, who == Comers:
		return nil
	case clients && c.ID != "" && j.door.ID == c.Client && (j.door.Only == "" || j.door.Only == string(c.ID)):
		return nil
	case j.roles&(parts[who]|ledger.Owner) != 0:
		return nil
	case j.by.Studio:
		return &Refusal{Kind: NotYourPart, Names: (parts[who] | ledger.Owner).Names()}
	case j.stranger:
		return &Refusal{Kind: NotAMember}
	case clients:
		return &Refusal{Kind: NotYours, Commission: c}
	}
	return &Refusal{Kind: OnlyStudio}
}

// doorOf is what a person's ID says of the door they come through: "browser" of "browser:M1".
func doorOf(p chat.PersonID) string {
	scheme, _, _ := strings.Cut(string(p), ":")
	return scheme
}

// newSecret is what lets somebody in, of 130 random bits, and its hash, which alone is kept.
func newSecret() (secret, sum string) {
	secret = strings.ToLower(rand.Text())
	return secret, hashOf(secret)
}

func hashOf(secret string) string {
	sum := sha256.Sum256([]byte(secret))
	return hex.EncodeToString(sum[:])
}

// Persona is a member with what they sign in by.
type Persona struct {
	Member   ledger.Member
	Known    []chat.PersonID // who they are at other doors
	Sessions []ledger.Session
	Links    []ledger.Link // that were not opened yet
}

// People asks who belongs to the studio.
type People struct{}

// Peopled are the studio's members.
type Peopled struct {
	Members []Persona // without sessions and links where they are not the asking person's to see
	Me      string    // the member who asks; empty: nobody is named yet
	Owner   bool      // who asks may change it
}

func people(j *job, _ People) (o Peopled, err error) {
	ms, err := j.t.Members()
	if err != nil {
		return o, err
	}
	o.Me, o.Owner = j.member.ID, j.roles&ledger.Owner != 0
	for _, m := range ms {
		if !m.LetGoAt.IsZero() {
			continue
		}
		p := Persona{Member: m}
		if o.Owner || m.ID == o.Me {
			if p, err = j.persona(m); err != nil {
				return o, err
			}
		}
		o.Members = append(o.Members, p)
	}
	return o, nil
}

func (j *job) persona(m ledger.Member) (Persona, error) {
	p := Persona{Member: m}
	ids, err := j.t.Identities(m.ID)
	if err != nil {
		return p, err
	}
	for _, id := range ids {
		if doorOf(id) != browserScheme {
			p.Known = append(p.Known, id)
		}
	}
	if p.Sessions, err = j.t.SessionsOf(m.ID, "", j.now.Add(-sessionLasts)); err != nil {
		return p, err
	}
	p.Links, err = j.t.LinksOf(ledger.MemberLink, m.ID, "")
	p.Links = slices.DeleteFunc(p.Links, func(l ledger.Link) bool { return !j.now.Before(l.ExpiresAt) })
	return p, err
}

// MemberOf asks for one member; without an ID, for what is known of one who is still to be added, which is nothing.
type MemberOf struct{ Member string }

func memberOf(j *job, a MemberOf) (Persona, error) {
	if a.Member == "" && j.roles&ledger.Owner != 0 {
		return Persona{}, nil
	}
	m, err := j.own(a.Member)
	if err != nil {
		return Persona{}, err
	}
	return j.persona(m)
}

// serving finds a member who belongs to the studio.
func (j *job) serving(id string) (ledger.Member, error) {
	m, err := j.t.Member(strings.ToUpper(OneLine(id)))
	if errors.Is(err, ledger.ErrNone) {
		return m, &Refusal{Kind: NoMember, Name: OneLine(id)}
	}
	if err == nil && !m.LetGoAt.IsZero() {
		return m, &Refusal{Kind: GoneAlready, Name: m.Name, Until: m.LetGoAt}
	}
	return m, err
}

// own finds a member whose affairs are those of the acting person. Others hear the same of who is there and who is not.
func (j *job) own(id string) (ledger.Member, error) {
	if j.roles&ledger.Owner == 0 && strings.ToUpper(OneLine(id)) != j.member.ID {
		return ledger.Member{}, &Refusal{Kind: NotYourPart, Names: ledger.Owner.Names()}
	}
	return j.serving(id)
}

// owners are the members who run the studio, but for one.
func (j *job) owners(but string) (int, error) {
	ms, err := j.t.Members()
	n := 0
	for _, m := range ms {
		if m.LetGoAt.IsZero() && m.Roles&ledger.Owner != 0 && m.ID != but {
			n++
		}
	}
	return n, err
}

// BecomeOwner names the first person of the studio, who is its owner. From then on nobody sits at the desk by a name alone.
type BecomeOwner struct{ Name string }

// OwnerNamed is the first owner, with the secret of the link that signs them in; it is nowhere else.
type OwnerNamed struct {
	Member ledger.Member
	Secret string `json:"-"`
}

func becomeOwner(j *job, a BecomeOwner) (o OwnerNamed, err error) {
	named, err := j.t.AnyMembers()
	if err != nil {
		return o, err
	}
	if named {
		return o, &Refusal{Kind: OwnerAlready}
	}
	x, err := j.add(ledger.Member{Name: a.Name, Roles: ledger.AllRoles})
	return OwnerNamed(x), err
}

// AddMember adds a person to the studio.
type AddMember struct {
	Name  string
	Roles ledger.Role
	Bench string // a maker of the settings, by ID or name; empty: none
}

// MemberAdded is a new member, with the secret of the link that signs them in; it is nowhere else.
type MemberAdded struct {
	Member ledger.Member
	Secret string `json:"-"`
}

func addMember(j *job, a AddMember) (o MemberAdded, err error) {
	named, err := j.t.AnyMembers()
	if err != nil {
		return o, err
	}
	if !named {
		return o, &Refusal{Kind: NoOwnerYet}
	}
	return j.add(ledger.Member{Name: a.Name, Roles: a.Roles, Bench: a.Bench})
}

func (j *job) add(m ledger.Member) (o MemberAdded, err error) {
	if m, err = j.proper(m); err != nil {
		return o, err
	}
	m.AddedAt, m.AddedBy = j.now, j.by.ID
	if m, err = j.t.AddMember(m); err != nil {
		return o, err
	}
	if err := j.t.Identify(chat.PersonID(browserScheme+":"+m.ID), m.ID, j.by.ID, j.now); err != nil {
		return o, err
	}
	if j.roles&ledger.Owner != 0 && j.member.ID == "" && doorOf(j.door.ID) != browserScheme { // the first owner, where nobody shares the seat
		if err := j.t.Identify(j.door.ID, m.ID, j.by.ID, j.now); err != nil {
			return o, err
		}
	}
	o.Member = m
	if err := j.record(ledger.Commission{}, "added a member", describe(m)); err != nil {
		return o, err
	}
	o.Secret, err = j.signIn(m)
	return o, err
}

// describe says of a member what the trail keeps.
func describe(m ledger.Member) string {
	s := fmt.Sprintf("%s %s, %s", m.ID, m.Name, m.Roles)
	if m.Bench != "" {
		s += ", at the bench as " + m.Bench
	}
	return s
}

// proper checks what a member is to be.
func (j *job) proper(m ledger.Member) (ledger.Member, error) {
	m.Name = OneLine(m.Name)
	if m.Name == "" || utf8.RuneCountInString(m.Name) > maxName {
		return m, &Refusal{Kind: NoName, Most: maxName}
	}
	if m.Roles&ledger.AllRoles == 0 || m.Roles&^ledger.AllRoles != 0 {
		return m, &Refusal{Kind: NoRole}
	}
	ms, err := j.t.Members()
	if err != nil {
		return m, err
	}
	for _, o := range ms {
		if o.ID != m.ID && o.LetGoAt.IsZero() && strings.EqualFold(o.Name, m.Name) {
			return m, &Refusal{Kind: SameName, Name: o.Name}
		}
	}
	if OneLine(m.Bench) != "" {
		r, err := j.maker(m.Bench)
		if err != nil {
			return m, err
		}
		m.Bench = r.ID
	} else {
		m.Bench = ""
	}
	return m, nil
}

// signIn makes the one link there is that signs a member in.
func (j *job) signIn(m ledger.Member) (string, error) {
	old, err := j.t.LinksOf(ledger.MemberLink, m.ID, "")
	if err != nil {
		return "", err
	}
	for _, l := range old {
		if err := j.t.EndLink(l.N, j.now); err != nil {
			return "", err
		}
	}
	secret, sum := newSecret()
	return secret, j.t.AddLink(ledger.Link{Kind: ledger.MemberLink, SHA256: sum, Member: m.ID, MadeAt: j.now, MadeBy: j.by.ID, ExpiresAt: j.now.Add(SignInLasts)})
}

// ChangeMember changes name, roles and place at the bench of a member.
type ChangeMember struct {
	Member, Name string
	Roles        ledger.Role
	Bench        string
}

// MemberChanged is a member who was changed.
type MemberChanged struct{ Was, Member ledger.Member }

func changeMember(j *job, a ChangeMember) (o MemberChanged, err error) {
	if o.Was, err = j.serving(a.Member); err != nil {
		return o, err
	}
	m := o.Was
	m.Name, m.Roles, m.Bench = a.Name, a.Roles, a.Bench
	if m, err = j.proper(m); err != nil {
		return o, err
	}
	if o.Was.Roles&ledger.Owner != 0 && m.Roles&ledger.Owner == 0 {
		if others, err := j.owners(m.ID); err != nil || others == 0 {
			return o, errors.Join(err, &Refusal{Kind: LastOwner, Name: o.Was.Name})
		}
	}
	if err := j.t.SaveMember(m); err != nil {
		return o, err
	}
	o.Member = m
	return o, j.record(ledger.Commission{}, "changed a member", describe(m))
}

// LetGo ends that somebody belongs to the studio, with their sessions and links. What they signed keeps their name.
type LetGo struct{ Member string }

// WasLetGo is a member who was let go.
type WasLetGo struct {
	Member   ledger.Member
	Sessions int // that were ended
}

func letGo(j *job, a LetGo) (o WasLetGo, err error) {
	if o.Member, err = j.serving(a.Member); err != nil {
		return o, err
	}
	if o.Member.Roles&ledger.Owner != 0 {
		if others, err := j.owners(o.Member.ID); err != nil || others == 0 {
			return o, errors.Join(err, &Refusal{Kind: LastOwner, Name: o.Member.Name})
		}
	}
	o.Member.LetGoAt = j.now
	if err := j.t.SaveMember(o.Member); err != nil {
		return o, err
	}
	if o.Sessions, err = j.signOut(o.Member.ID, "", 0); err != nil {
		return o, err
	}
	for _, kind := range []ledger.LinkKind{ledger.MemberLink, ledger.CodeLink, ledger.CalendarLink} {
		if err := j.endLinks(kind, o.Member.ID, "", 0); err != nil {
			return o, err
		}
	}
	return o, j.record(ledger.Commission{}, "let go", describe(o.Member))
}

// signOut ends the sessions of a member or a commission but for those seen last.
func (j *job) signOut(member string, c quote.CommissionID, keep int) (int, error) {
	all, err := j.t.SessionsOf(member, c, time.Time{})
	if err != nil || len(all) <= keep {
		return 0, err
	}
	for _, x := range all[keep:] {
		if err := j.t.EndSession(x.N, j.now); err != nil {
			return 0, err
		}
	}
	return len(all) - keep, nil
}

// endLinks ends links of a kind but for the newest.
func (j *job) endLinks(kind ledger.LinkKind, member string, c quote.CommissionID, keep int) error {
	all, err := j.t.LinksOf(kind, member, c)
	if err != nil {
		return err
	}
	for _, l := range all[:max(len(all)-keep, 0)] {
		if err := j.t.EndLink(l.N, j.now); err != nil {
			return err
		}
	}
	return nil
}

// MakeSignIn makes a link that signs a member in once, in place of one not yet used.
type MakeSignIn struct{ Member string }

// SignInMade is such a link. Delivered again it comes without the secret, which is nowhere else.
type SignInMade struct {
	Member ledger.Member
	Until  time.Time
	Secret string `json:"-"`
}

func makeSignIn(j *job, a MakeSignIn) (o SignInMade, err error) {
	if o.Member, err = j.own(a.Member); err != nil {
		return o, err
	}
	o.Until = j.now.Add(SignInLasts)
	if o.Secret, err = j.signIn(o.Member); err != nil {
		return o, err
	}
	return o, j.record(ledger.Commission{}, "made a sign-in link", o.Member.ID+" "+o.Member.Name)
}

// EndSession signs a member out on one device.
type EndSession struct{ Session int64 }

// SessionEnded is a session that was ended.
type SessionEnded struct {
	Session ledger.Session
	Member  ledger.Member
}

func endSession(j *job, a EndSession) (o SessionEnded, err error) {
	no := &Refusal{Kind: NoSession} // the same for somebody else's and for none
	o.Session, err = j.t.Session(a.Session)
	if errors.Is(err, ledger.ErrNone) || err == nil && (o.Session.Member == "" || !o.Session.EndedAt.IsZero()) {
		return o, no
	}
	if err != nil {
		return o, err
	}
	if j.roles&ledger.Owner == 0 && o.Session.Member != j.member.ID {
		return o, no
	}
	if o.Member, err = j.t.Member(o.Session.Member); err != nil {
		return o, err
	}
	if err := j.t.EndSession(o.Session.N, j.now); err != nil {
		return o, err
	}
	return o, j.record(ledger.Commission{}, "ended a session", fmt.Sprintf("%s %s, %s", o.Member.ID, o.Member.Name, o.Session.Device))
}

// MakeCode makes a code that a member types at another door, so that they are known there, too.
type MakeCode struct{}

// CodeMade is such a code. Delivered again it comes without it.
type CodeMade struct {
	Until time.Time
	Code  string `json:"-"`
}

func makeCode(j *job, _ MakeCode) (o CodeMade, err error) {
	if j.member.ID == "" {
		return o, &Refusal{Kind: NoOwnerYet}
	}
	if err := j.endLinks(ledger.CodeLink, j.member.ID, "", 0); err != nil {
		return o, err
	}
	// Of 50 bits: short enough to type, and gone in ten minutes.
	secret, _ := newSecret()
	o.Code, o.Until = secret[:10], j.now.Add(codeLasts)
	err = j.t.AddLink(ledger.Link{Kind: ledger.CodeLink, SHA256: hashOf(o.Code), Member: j.member.ID, MadeAt: j.now, MadeBy: j.by.ID, ExpiresAt: o.Until})
	return o, errors.Join(err, j.record(ledger.Commission{}, "made a code", j.member.ID))
}

// UseCode makes the acting person known as the member who made the code.
type UseCode struct{ Code string }

// PersonLinked is a person of some door who is known as a member.
type PersonLinked struct {
	Person chat.PersonID
	Member ledger.Member
}

func useCode(j *job, a UseCode) (o PersonLinked, err error) {
	code := strings.ToLower(strings.ReplaceAll(OneLine(a.Code), " ", ""))
	l, err := j.t.LinkOf(hashOf(code))
	if errors.Is(err, ledger.ErrNone) || err == nil && (l.Kind != ledger.CodeLink || !l.UsedAt.IsZero() || !l.EndedAt.IsZero() || !j.now.Before(l.ExpiresAt)) {
		return o, &Refusal{Kind: CodeUnknown}
	}
	if err != nil {
		return o, err
	}
	if err := j.t.UseLink(l.N, j.now); err != nil {
		return o, err
	}
	return j.known(j.door.ID, l.Member)
}

func (j *job) known(p chat.PersonID, member string) (o PersonLinked, err error) {
	if o.Member, err = j.serving(member); err != nil {
		return o, err
	}
	o.Person = p
	if err := j.t.Identify(p, o.Member.ID, j.by.ID, j.now); err != nil {
		return o, err
	}
	return o, j.record(ledger.Commission{}, "known as a member", string(p)+" "+o.Member.ID+" "+o.Member.Name)
}

// LinkPerson says that a person of another door, such as discord:1234, is a member.
type LinkPerson struct {
	Member string
	Person chat.PersonID
}

// PersonNamed is such a person.
type PersonNamed PersonLinked

func linkPerson(j *job, a LinkPerson) (PersonNamed, error) {
	p := chat.PersonID(OneLine(string(a.Person)))
	scheme, id, ok := strings.Cut(string(p), ":")
	if !ok || scheme == "" || id == "" || scheme == browserScheme { // at the desk in the browser they sign in
		return PersonNamed{}, &Refusal{Kind: NoSuchPerson, Name: string(p)}
	}
	o, err := j.known(p, a.Member)
	return PersonNamed(o), err
}

// AskFor begins a commission for a client who has not come by themselves.
type AskFor struct{ Client, Set string }

// AskedFor is such a commission, with the secret of the client's link.
type AskedFor struct {
	Asked
	Secret string `json:"-"`
}

func askFor(j *job, a AskFor) (o AskedFor, err error) {
	name := OneLine(a.Client)
	if name == "" || utf8.RuneCountInString(name) > maxName {
		return o, &Refusal{Kind: NoName, Most: maxName}
	}
	// The client is known by this commission's links alone, and so named after it; no name that is typed at the desk gives that.
	if o.Asked, err = j.open(ledger.Commission{ClientName: name, Scheme: browserScheme}, a.Set); err != nil {
		return o, err
	}
	o.Secret, err = j.clientLink(o.Commission)
	return o, err
}

// MakeClientLink makes a private link that opens one commission to its client, on any device, until it is ended.
type MakeClientLink struct{ Of }

// ClientLinkMade is such a link. Delivered again it comes without the secret.
type ClientLinkMade struct {
	Commission ledger.Commission
	Secret     string `json:"-"`
}

func makeClientLink(j *job, c ledger.Commission, _ MakeClientLink) (o ClientLinkMade, err error) {
	o.Commission = c
	if o.Secret, err = j.clientLink(c); err != nil {
		return o, err
	}
	return o, j.record(c, "made a private link", "")
}

func (j *job) clientLink(c ledger.Commission) (string, error) {
	if err := j.endLinks(ledger.ClientLink, "", c.ID, mostLinks-1); err != nil {
		return "", err
	}
	secret, sum := newSecret()
	return secret, j.t.AddLink(ledger.Link{Kind: ledger.ClientLink, SHA256: sum, Commission: c.ID, MadeAt: j.now, MadeBy: j.by.ID})
}

// EndClientLinks ends all private links of a commission, that to its calendar too, and signs out everybody who came by one.
type EndClientLinks struct{ Of }

// ClientLinksEnded says how many links and devices there were.
type ClientLinksEnded struct {
	Commission      ledger.Commission
	Links, Sessions int
}

func endClientLinks(j *job, c ledger.Commission, _ EndClientLinks) (o ClientLinksEnded, err error) {
	o.Commission = c
	all, err := j.t.LinksOf(ledger.ClientLink, "", c.ID)
	if err != nil {
		return o, err
	}
	o.Links = len(all)
	for _, kind := range []ledger.LinkKind{ledger.ClientLink, ledger.CalendarLink} {
		if err := j.endLinks(kind, "", c.ID, 0); err != nil {
			return o, err
		}
	}
	if o.Sessions, err = j.signOut("", c.ID, 0); err != nil {
		return o, err
	}
	return o, j.record(c, "ended the private links", fmt.Sprint(o.Links))
}

// SignIn opens a link: a member's once, a client's any time until it is ended.
type SignIn struct{ Secret, Device string }

// SignedIn is a session on a device, with its own secret.
type SignedIn struct {
	Session ledger.Session
	Member  ledger.Member
	Secret  string `json:"-"`
}

func signIn(j *job, a SignIn) (o SignedIn, err error) {
	l, c, err := j.opens(a.Secret)
	if err != nil {
		return o, err
	}
	if l.Kind == ledger.MemberLink {
		if o.Member, err = j.serving(l.Member); err != nil {
			return o, err
		}
		if err := j.t.UseLink(l.N, j.now); err != nil {
			return o, err
		}
		j.by = chat.Person{ID: o.Member.Person(), Name: o.Member.Name, Studio: true}
	} else {
		j.by = chat.Person{ID: c.Client, Name: c.ClientName}
	}
	j.door = j.by
	if _, err := j.signOut(l.Member, l.Commission, mostSessions-1); err != nil {
		return o, err
	}
	secret, sum := newSecret()
	o.Secret = secret
	device := []rune(OneLine(a.Device))
	o.Session, err = j.t.AddSession(ledger.Session{SHA256: sum, Member: l.Member, Commission: l.Commission, Device: string(device[:min(len(device), maxDevice)]),
		MadeAt: j.now, SeenAt: j.now})
	if err != nil {
		return o, err
	}
	return o, j.record(c, "signed in", o.Session.Device)
}

// opens is the link of a secret, if it still opens something, and the commission if it is a client's.
func (j *job) opens(secret string) (l ledger.Link, c ledger.Commission, err error) {
	l, err = j.t.LinkOf(hashOf(strings.ToLower(strings.TrimSpace(secret))))
	switch {
	case errors.Is(err, ledger.ErrNone), err == nil && l.Kind != ledger.MemberLink && l.Kind != ledger.ClientLink:
		return l, c, &Refusal{Kind: LinkUnknown}
	case err != nil:
		return l, c, err
	case !l.UsedAt.IsZero():
		return l, c, &Refusal{Kind: LinkUsed, Until: l.UsedAt}
	case !l.EndedAt.IsZero():
		return l, c, &Refusal{Kind: LinkEnded}
	case !l.ExpiresAt.IsZero() && !j.now.Before(l.ExpiresAt):
		return l, c, &Refusal{Kind: LinkExpired, Until: l.ExpiresAt}
	case l.Kind == ledger.ClientLink:
		c, err = j.t.Commission(l.Commission)
	}
	return l, c, err
}

// Leave ends the session that has this secret.
type Leave struct{ Secret string }

// Left is a session that its own person ended.
type Left struct{ Session ledger.Session }

func leave(j *job, a Leave) (o Left, err error) {
	s, err := j.seated(a.Secret)
	if err != nil {
		return o, err
	}
	o.Session = s.Session
	if err := j.t.EndSession(s.Session.N, j.now); err != nil {
		return o, err
	}
	j.by = chat.Person{ID: s.Commission.Client, Name: s.Commission.ClientName}
	if s.Member.ID != "" {
		j.by = chat.Person{ID: s.Member.Person(), Name: s.Member.Name, Studio: true}
	}
	j.door = j.by
	return o, j.record(s.Commission, "left", s.Session.Device)
}

// Seated is who has a session: a member, or the client of one commission.
type Seated struct {
	Session    ledger.Session
	Member     ledger.Member
	Commission ledger.Commission
}

// seated is who has the session of that secret, or a refusal.
func (j *job) seated(secret string) (s Seated, err error) {
	no := &Refusal{Kind: NoSession}
	s.Session, err = j.t.SessionOf(hashOf(secret))
	switch {
	case errors.Is(err, ledger.ErrNone):
		return s, no
	case err != nil:
		return s, err
	case !s.Session.EndedAt.IsZero() || j.now.Sub(s.Session.SeenAt) > sessionLasts:
		return s, no
	case s.Session.Member == "":
		s.Commission, err = j.t.Commission(s.Session.Commission)
		return s, err
	}
	s.Member, err = j.t.Member(s.Session.Member)
	if err == nil && !s.Member.LetGoAt.IsZero() {
		return s, no
	}
	return s, err
}

// Seated says whose session has this secret; a *Refusal where nobody's has. It counts as having seen the device.
func (s *Shop) Seated(ctx context.Context, secret string) (out Seated, err error) {
	err = s.inTx(ctx, s.cfg.Now(), chat.Person{}, func(j *job) error {
		if out, err = j.seated(secret); err != nil || j.now.Sub(out.Session.SeenAt) < seenEvery {
			return err
		}
		return j.t.SeeSession(out.Session.N, j.now)
	})
	return out, err
}

// Opens says whom a link would let in, without using it: a member, or the client of a commission.
func (s *Shop) Opens(ctx context.Context, secret string) (m ledger.Member, c ledger.Commission, err error) {
	err = s.inTx(ctx, s.cfg.Now(), chat.Person{}, func(j *job) error {
		var l ledger.Link
		if l, c, err = j.opens(secret); err != nil || l.Member == "" {
			return err
		}
		m, err = j.serving(l.Member)
		return err
	})
	return m, c, err
}

// Named reports whether the studio's people are named: from then on they sign in, and nobody sits by a name alone.
func (s *Shop) Named(ctx context.Context) (is bool, err error) {
	err = s.inTx(ctx, s.cfg.Now(), chat.Person{}, func(j *job) error {
		is, err = j.t.AnyMembers()
		return err
	})
	return is, err
}
