package ledger

import (
	"database/sql"
	"fmt"
	"strings"
	"time"

	"benchbell/bot/chat"
	"benchbell/quote"
)

// Role is what somebody does in the studio; a set of them is their sum.
type Role uint8

// Roles.
const (
	Owner     Role = 1 << iota // runs the studio: may do everything, and says who belongs to it
	Maker                      // works at the bench
	FrontDesk                  // talks with clients: quotes, deposits, dates, handing over
)

// AllRoles are every role there is.
const AllRoles = Owner | Maker | FrontDesk

var roleNames = []string{"owner", "maker", "front desk"}

// Names of the roles in the set, in a fixed order.
func (r Role) Names() []string {
	var out []string
	for i, name := range roleNames {
		if r&(1<<i) != 0 {
			out = append(out, name)
		}
	}
	return out
}

func (r Role) String() string { return strings.Join(r.Names(), ", ") }

// Member is a person of the studio.
type Member struct {
	ID      string // M1
	Name    string
	Roles   Role
	Bench   string // the maker of the settings who they are in the plan; empty: none
	AddedAt time.Time
	AddedBy chat.PersonID
	LetGoAt time.Time // zero: they belong to the studio
}

// memberScheme begins the ID of a member as a person, whichever door they came through.
const memberScheme = "member:"

// Person is the member as acts are signed.
func (m Member) Person() chat.PersonID { return chat.PersonID(memberScheme + m.ID) }

const memberColumns = `id, name, owner, maker, front_desk, bench, added_at, added_by, let_go_at`

func scanMember(s scanner) (m Member, err error) {
	var owner, maker, front bool
	err = s.Scan(&m.ID, &m.Name, &owner, &maker, &front, &m.Bench, moment{&m.AddedAt}, &m.AddedBy, moment{&m.LetGoAt})
	for role, has := range map[Role]bool{Owner: owner, Maker: maker, FrontDesk: front} {
		if has {
			m.Roles |= role
		}
	}
	return m, err
}

// AddMember files a member under the next number.
func (t *Tx) AddMember(m Member) (Member, error) {
	n, err := t.Next("member")
	if err != nil {
		return m, err
	}
	m.ID = fmt.Sprintf("M%d", n)
	return m, t.exec(`insert into members (`+memberColumns+`) values (?, ?, ?, ?, ?, ?, ?, ?, ?)`, m.ID, m.Name,
		m.Roles&Owner != 0, m.Roles&Maker != 0, m.Roles&FrontDesk != 0, m.Bench, stamp(m.AddedAt), string(m.AddedBy), stamp(m.LetGoAt))
}

// SaveMember stores name, roles, bench and when they were let go.
func (t *Tx) SaveMember(m Member) error {
	return t.exec(`update members set name = ?, owner = ?, maker = ?, front_desk = ?, bench = ?, let_go_at = ? where id = ?`, m.Name,
		m.Roles&Owner != 0, m.Roles&Maker != 0, m.Roles&FrontDesk != 0, m.Bench, stamp(m.LetGoAt), m.ID)
}

// Member by ID, or ErrNone.
func (t *Tx) Member(id string) (Member, error) {
	return one(t, scanMember, `select `+memberColumns+` from members where id = ?`, id)
}

// Members are all there ever were, in the order they were added.
func (t *Tx) Members() ([]Member, error) {
	return all(t, scanMember, `select `+memberColumns+` from members order by length(id), id`)
}

// AnyMembers reports whether there are members at all.
func (t *Tx) AnyMembers() (bool, error) {
	return one(t, func(s scanner) (is bool, err error) { return is, s.Scan(&is) }, `select exists (select 1 from members)`)
}

// MemberAs is the member that a person of some door is, let go or not, or ErrNone.
func (t *Tx) MemberAs(p chat.PersonID) (Member, error) {
	return one(t, scanMember, `select `+memberColumns+` from members where id = (select member from identities where person = ?)`, string(p))
}

// Identify says that a person of some door is a member; what was said of that person before no longer holds.
func (t *Tx) Identify(p chat.PersonID, member string, by chat.PersonID, at time.Time) error {
	return t.exec(`insert into identities (person, member, at, by) values (?, ?, ?, ?)
		on conflict (person) do update set member = excluded.member, at = excluded.at, by = excluded.by`, string(p), member, stamp(at), string(by))
}

// Identities are who a member is at each door.
func (t *Tx) Identities(member string) ([]chat.PersonID, error) {
	return all(t, func(s scanner) (p chat.PersonID, err error) { return p, s.Scan(&p) }, `select person from identities where member = ? order by person`, member)
}

// Reach are the people of the doors by whom somebody is reached who signed as that person.
func (t *Tx) Reach(p chat.PersonID) ([]chat.PersonID, error) {
	id, ok := strings.CutPrefix(string(p), memberScheme)
	if !ok {
		return []chat.PersonID{p}, nil
	}
	return t.Identities(id)
}

// LinkKind is what a link is for.
type LinkKind string

// Kinds of links.
const (
	MemberLink LinkKind = "member" // signs a member in, once
	ClientLink LinkKind = "client" // opens a commission to its client
	CodeLink   LinkKind = "code"   // makes a person of another door known as a member, once

	CalendarLink LinkKind = "calendar" // shows a calendar, a member's or a commission's
)

// Link is what lets somebody in who has its secret, of which only the hash is kept.
type Link struct {
	N          int64
	Kind       LinkKind
	SHA256     string // of the secret, hex
	Member     string
	Commission quote.CommissionID
	MadeAt     time.Time
	MadeBy     chat.PersonID
	ExpiresAt  time.Time // zero: never
	UsedAt     time.Time
	EndedAt    time.Time
}

const linkColumns = `n, kind, sha256, coalesce(member, ''), coalesce(commission, ''), made_at, made_by, expires_at, used_at, ended_at`

func scanLink(s scanner) (l Link, err error) {
	return l, s.Scan(&l.N, &l.Kind, &l.SHA256, &l.Member, &l.Commission, moment{&l.MadeAt}, &l.MadeBy, moment{&l.ExpiresAt}, moment{&l.UsedAt}, moment{&l.EndedAt})
}

func orNull(s string) any {
	if s == "" {
		return sql.NullString{}
	}
	return s
}

// AddLink files a link.
func (t *Tx) AddLink(l Link) error {
	return t.exec(`insert into links (kind, sha256, member, commission, made_at, made_by, expires_at) values (?, ?, ?, ?, ?, ?, ?)`, string(l.Kind), l.SHA256,
		orNull(l.Member), orNull(string(l.Commission)), stamp(l.MadeAt), string(l.MadeBy), stamp(l.ExpiresAt))
}

// LinkOf is the link whose secret has that hash, whatever became of it, or ErrNone.
func (t *Tx) LinkOf(sha256 string) (Link, error) {
	return one(t, scanLink, `select `+linkColumns+` from links where sha256 = ?`, sha256)
}

// LinksOf are the links of a member or of a commission that are neither used nor ended, in the order they were made.
func (t *Tx) LinksOf(kind LinkKind, member string, c quote.CommissionID) ([]Link, error) {
	return all(t, scanLink, `select `+linkColumns+` from links where kind = ? and (member = ? or commission = ?) and used_at = '' and ended_at = '' order by n`,
		string(kind), member, string(c))
}

// UseLink says that a link was used.
func (t *Tx) UseLink(n int64, at time.Time) error {
	return t.exec(`update links set used_at = ? where n = ?`, stamp(at), n)
}

// EndLink ends a link that has not ended.
func (t *Tx) EndLink(n int64, at time.Time) error {
	return t.exec(`update links set ended_at = ? where n = ? and ended_at = ''`, stamp(at), n)
}

// Session is one device on which somebody is signed in.
type Session struct {
	N          int64
	SHA256     string // of its secret, hex
	Member     string
	Commission quote.CommissionID // a client's, who came by its link
	Device     string
	MadeAt     time.Time
	SeenAt     time.Time
	EndedAt    time.Time
}

const sessionColumns = `n, sha256, coalesce(member, ''), coalesce(commission, ''), device, made_at, seen_at, ended_at`

func scanSession(s scanner) (x Session, err error) {
	return x, s.Scan(&x.N, &x.SHA256, &x.Member, &x.Commission, &x.Device, moment{&x.MadeAt}, moment{&x.SeenAt}, moment{&x.EndedAt})
}

// AddSession files a session and returns it with its number.
func (t *Tx) AddSession(x Session) (Session, error) {
	return one(t, scanSession, `insert into sessions (sha256, member, commission, device, made_at, seen_at) values (?, ?, ?, ?, ?, ?) returning `+sessionColumns,
		x.SHA256, orNull(x.Member), orNull(string(x.Commission)), x.Device, stamp(x.MadeAt), stamp(x.SeenAt))
}

// SessionOf is the session whose secret has that hash, ended or not, or ErrNone.
func (t *Tx) SessionOf(sha256 string) (Session, error) {
	return one(t, scanSession, `select `+sessionColumns+` from sessions where sha256 = ?`, sha256)
}

// Session by number, ended or not, or ErrNone.
func (t *Tx) Session(n int64) (Session, error) {
	return one(t, scanSession, `select `+sessionColumns+` from sessions where n = ?`, n)
}

// SessionsOf are those of a member or of a commission that were seen since and have not ended, the one seen last first.
func (t *Tx) SessionsOf(member string, c quote.CommissionID, since time.Time) ([]Session, error) {
	return all(t, scanSession, `select `+sessionColumns+` from sessions where (member = ? or commission = ?) and ended_at = '' and seen_at > ? order by seen_at desc, n desc`,
		member, string(c), stamp(since))
}

// SeeSession says when a session was last seen.
func (t *Tx) SeeSession(n int64, at time.Time) error {
	return t.exec(`update sessions set seen_at = ? where n = ?`, stamp(at), n)
}

// EndSession ends a session that has not ended.
func (t *Tx) EndSession(n int64, at time.Time) error {
	return t.exec(`update sessions set ended_at = ? where n = ? and ended_at = ''`, stamp(at), n)
}
