package ledger

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"time"

	"benchbell/bot/chat"
	"benchbell/jobs"
	"benchbell/quote"
)

// RevisionState says what became of a revision.
type RevisionState string

// Revision states.
const (
	RevComputing RevisionState = "computing"
	RevFailed    RevisionState = "failed"
	RevQuoted    RevisionState = "quoted"
	RevApproved  RevisionState = "approved"
	RevReplaced  RevisionState = "replaced"
	RevDeclined  RevisionState = "declined"
	RevExpired   RevisionState = "expired"
	RevDropped   RevisionState = "dropped" // cancelled
)

// Revision of a commission's quote.
type Revision struct {
	Commission quote.CommissionID
	Revision   int
	State      RevisionState
	AskedAt    time.Time
	Change     string
	Snapshot   quote.Snapshot
	Quote      quote.Quote // without PDF and Pictures; zero until quoted
	SHA256     string
	IssuedAt   time.Time
	ExpiresAt  time.Time
}

// AddRevision stores a revision to be computed.
func (t *Tx) AddRevision(r Revision) error {
	snap, err := encode(r.Snapshot)
	if err != nil {
		return err
	}
	return t.exec(`insert into revisions (commission, revision, state, asked_at, change, snapshot) values (?, ?, ?, ?, ?, ?)`,
		string(r.Commission), r.Revision, string(RevComputing), stamp(r.AskedAt), r.Change, snap)
}

// Revision by number.
func (t *Tx) Revision(id quote.CommissionID, n int) (Revision, error) {
	return one(t, func(s scanner) (r Revision, err error) {
		return r, s.Scan(&r.Commission, &r.Revision, &r.State, moment{&r.AskedAt}, &r.Change, encoded{&r.Snapshot}, encoded{&r.Quote},
			&r.SHA256, moment{&r.IssuedAt}, moment{&r.ExpiresAt})
	}, `select commission, revision, state, asked_at, change, snapshot, quote, sha256, issued_at, expires_at
		from revisions where commission = ? and revision = ?`, string(id), n)
}

// Expiry is when a revision's quote ends; zero where it is not quoted yet.
func (t *Tx) Expiry(id quote.CommissionID, n int) (time.Time, error) {
	return one(t, func(s scanner) (at time.Time, err error) { return at, s.Scan(moment{&at}) },
		`select expires_at from revisions indexed by revisions_heads where commission = ? and revision = ?`, string(id), n)
}

// RevisionHead is a revision without its snapshot and quote.
type RevisionHead struct {
	Revision  int
	State     RevisionState
	AskedAt   time.Time
	Change    string
	IssuedAt  time.Time // zero: there is no quote
	ExpiresAt time.Time
	SHA256    string
}

const revisionHeadsSQL = `select revision, state, asked_at, change, issued_at, expires_at, sha256 from revisions indexed by revisions_heads where commission = ? order by revision`

// RevisionHeads are all revisions of a commission, the first first.
func (t *Tx) RevisionHeads(id quote.CommissionID) ([]RevisionHead, error) {
	return all(t, func(s scanner) (r RevisionHead, err error) {
		return r, s.Scan(&r.Revision, &r.State, moment{&r.AskedAt}, &r.Change, moment{&r.IssuedAt}, moment{&r.ExpiresAt}, &r.SHA256)
	}, revisionHeadsSQL, string(id))
}

// FileHead is a file that is kept, without its bytes.
type FileHead struct {
	N         int
	Name, Alt string
}

func scanFileHead(s scanner) (f FileHead, err error) { return f, s.Scan(&f.N, &f.Name, &f.Alt) }

// RevisionPictureHeads are the pictures filed with a revision.
func (t *Tx) RevisionPictureHeads(id quote.CommissionID, n int) ([]FileHead, error) {
	return all(t, scanFileHead, `select n, name, alt from revision_files where commission = ? and revision = ? order by n`, string(id), n)
}

// RevisionPicture is one of them, or ErrNone.
func (t *Tx) RevisionPicture(id quote.CommissionID, revision, n int) (chat.File, error) {
	return one(t, func(s scanner) (f chat.File, err error) { return f, s.Scan(&f.Name, &f.MIME, &f.Alt, &f.Data) },
		`select name, mime, alt, data from revision_files where commission = ? and revision = ? and n = ?`, string(id), revision, n)
}

// DueQuotes are the commissions whose current quote has run out.
func (t *Tx) DueQuotes(now time.Time) ([]Commission, error) {
	return all(t, scanCommission, `select `+commissionColumns+` from commissions c where state = 'quoted' and exists (
		select 1 from revisions r where r.commission = c.id and r.revision = c.revision and r.expires_at <= ?) order by id`, stamp(now))
}

// SetRevisionState moves a revision on.
func (t *Tx) SetRevisionState(id quote.CommissionID, n int, s RevisionState) error {
	return t.exec(`update revisions set state = ? where commission = ? and revision = ?`, string(s), string(id), n)
}

// SetSnapshot replaces the snapshot of a revision that is computed anew after a failure.
func (t *Tx) SetSnapshot(id quote.CommissionID, n int, s quote.Snapshot) error {
	snap, err := encode(s)
	if err != nil {
		return err
	}
	return t.exec(`update revisions set snapshot = ?, state = 'computing' where commission = ? and revision = ?`, snap, string(id), n)
}

// StoreQuote files a computed quote: the PDF with the hash of its stored bytes, the pictures, the rest as JSON.
func (t *Tx) StoreQuote(id quote.CommissionID, n int, q quote.Quote) (sha string, err error) {
	sum := sha256.Sum256(q.PDF)
	sha = hex.EncodeToString(sum[:])
	pdf, pics := q.PDF, q.Pictures
	q.PDF, q.Pictures, q.SHA256 = nil, nil, sha
	text, err := encode(q)
	if err != nil {
		return "", err
	}
	err = t.exec(`update revisions set state = 'quoted', quote = ?, pdf = ?, sha256 = ?, issued_at = ?, expires_at = ?
		where commission = ? and revision = ?`, text, pdf, sha, stamp(q.Issued), stamp(q.Expires), string(id), n)
	if err != nil {
		return "", err
	}
	for i, p := range pics {
		err := t.exec(`insert into revision_files (commission, revision, n, name, mime, alt, data) values (?, ?, ?, ?, ?, ?, ?)`,
			string(id), n, i+1, p.Name, p.MIME, p.Alt, p.Data)
		if err != nil {
			return "", err
		}
	}
	return sha, nil
}

// PDF is a revision's document as stored, with the hash of these very bytes; an error where they are not the bytes
// that were filed.
func (t *Tx) PDF(id quote.CommissionID, n int) (pdf []byte, sha string, err error) {
	type row struct {
		pdf []byte
		sha string
	}
	r, err := one(t, func(s scanner) (r row, err error) { return r, s.Scan(&r.pdf, &r.sha) },
		`select pdf, sha256 from revisions where commission = ? and revision = ?`, string(id), n)
	if err != nil {
		return nil, "", err
	}
	sum := sha256.Sum256(r.pdf)
	sha = hex.EncodeToString(sum[:])
	if len(r.pdf) == 0 || sha != r.sha {
		return nil, "", fmt.Errorf("the stored PDF of %s revision %d is not the one that was filed: restore the ledger from a backup", id, n)
	}
	return r.pdf, sha, nil
}

// RevisionPictures are the pictures filed with a revision.
func (t *Tx) RevisionPictures(id quote.CommissionID, n int) ([]chat.File, error) {
	return all(t, func(s scanner) (f chat.File, err error) { return f, s.Scan(&f.Name, &f.MIME, &f.Alt, &f.Data) },
		`select name, mime, alt, data from revision_files where commission = ? and revision = ? order by n`, string(id), n)
}

// Approval of a revision; a commission has at most one.
type Approval struct {
	Commission quote.CommissionID
	Revision   int
	Person     chat.PersonID
	Name       string
	OnBehalfOf string // the client's name where the studio approved
	At         time.Time
	SHA256     string
}

// AddApproval records the approval; a second one is an error.
func (t *Tx) AddApproval(a Approval) error {
	return t.exec(`insert into approvals (commission, revision, person, person_name, on_behalf_of, at, sha256) values (?, ?, ?, ?, ?, ?, ?)`,
		string(a.Commission), a.Revision, string(a.Person), a.Name, a.OnBehalfOf, stamp(a.At), a.SHA256)
}

// Approval of a commission, or ErrNone.
func (t *Tx) Approval(id quote.CommissionID) (Approval, error) {
	return one(t, func(s scanner) (a Approval, err error) {
		return a, s.Scan(&a.Commission, &a.Revision, &a.Person, &a.Name, &a.OnBehalfOf, moment{&a.At}, &a.SHA256)
	}, `select commission, revision, person, person_name, on_behalf_of, at, sha256 from approvals where commission = ?`, string(id))
}

// RequestState says whether a computation is still wanted.
type RequestState string

// Request states.
const (
	ReqOpen    RequestState = "open"
	ReqDone    RequestState = "done"
	ReqFailed  RequestState = "failed"
	ReqDropped RequestState = "dropped"
)

// Request is a computation asked of the workers.
type Request struct {
	ID         jobs.RequestID
	Commission quote.CommissionID
	Revision   int
	Attempt    int
	Deadline   time.Time
	State      RequestState
	Stage      quote.Stage
	Share      float64
}

const requestColumns = `id, commission, revision, attempt, deadline, state, stage, share`

func scanRequest(s scanner) (r Request, err error) {
	return r, s.Scan(&r.ID, &r.Commission, &r.Revision, &r.Attempt, moment{&r.Deadline}, &r.State, &r.Stage, &r.Share)
}

// AddRequest stores an open request under its first attempt.
func (t *Tx) AddRequest(r Request, at time.Time) error {
	return t.exec(`insert into requests (id, commission, revision, attempt, deadline, state, asked_at) values (?, ?, ?, ?, ?, 'open', ?)`,
		string(r.ID), string(r.Commission), r.Revision, r.Attempt, stamp(r.Deadline), stamp(at))
}

// Request by ID.
func (t *Tx) Request(id jobs.RequestID) (Request, error) {
	return one(t, scanRequest, `select `+requestColumns+` from requests where id = ?`, string(id))
}

// LastRequest is the latest request of a revision; ErrNone where there is none.
func (t *Tx) LastRequest(id quote.CommissionID, n int) (Request, error) {
	return one(t, scanRequest, `select `+requestColumns+` from requests where commission = ? and revision = ? order by asked_at desc, id desc limit 1`, string(id), n)
}

// RequestCount is how many requests a revision has had.
func (t *Tx) RequestCount(id quote.CommissionID, n int) (int, error) {
	return one(t, func(s scanner) (k int, err error) { return k, s.Scan(&k) },
		`select count(*) from requests where commission = ? and revision = ?`, string(id), n)
}

// OverdueRequests are open ones whose deadline has passed.
func (t *Tx) OverdueRequests(now time.Time) ([]Request, error) {
	return all(t, scanRequest, `select `+requestColumns+` from requests where state = 'open' and deadline <= ? order by deadline, id`, stamp(now))
}

// MoveRequest stores attempt, deadline and progress of an open request.
func (t *Tx) MoveRequest(r Request) error {
	return t.exec(`update requests set attempt = ?, deadline = ?, stage = ?, share = ? where id = ? and state = 'open'`,
		r.Attempt, stamp(r.Deadline), string(r.Stage), r.Share, string(r.ID))
}

// SettleRequest closes a request; by is the attempt whose answer was taken, 0 for none.
func (t *Tx) SettleRequest(id jobs.RequestID, s RequestState, by int, cause string, at time.Time) error {
	return t.exec(`update requests set state = ?, settled_by = ?, cause = ?, settled_at = ? where id = ?`,
		string(s), by, cause, stamp(at), string(id))
}

// DropRequests closes every open request of a commission.
func (t *Tx) DropRequests(id quote.CommissionID, at time.Time) error {
	return t.exec(`update requests set state = 'dropped', settled_at = ? where commission = ? and state = 'open'`, stamp(at), string(id))
}
