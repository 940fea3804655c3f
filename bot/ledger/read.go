package ledger

import (
	"slices"

	"benchbell/quote"
)

// readOps are the operations of commissions as they were read last. Whoever looks at the shop reads all that is open, many times
// for each that changes. Only transactions use it, and those run one after another.
type readOps struct {
	version int64 // the file's, by which writes of another process are seen
	of      map[quote.CommissionID][]Operation
}

// mostRead is how many commissions are kept read: more than a shop has open. Past it, all are read again.
const mostRead = 1024

// begun forgets what another process may have changed since the last transaction.
func (r *readOps) begun(t *Tx) error {
	v, err := one(t, func(s scanner) (v int64, err error) { return v, s.Scan(&v) }, `pragma data_version`)
	if err != nil {
		return err
	}
	if v != r.version || len(r.of) >= mostRead {
		r.version, r.of = v, map[quote.CommissionID][]Operation{}
	}
	return nil
}

// Operations of a commission in planned order. The lists in an operation are not to be changed.
func (t *Tx) Operations(id quote.CommissionID) ([]Operation, error) {
	if ops, ok := t.read.of[id]; ok {
		return slices.Clone(ops), nil
	}
	ops, err := all(t, scanOp, `select `+opColumns+` from operations where commission = ? order by seq`, string(id))
	if err == nil && !t.changedOps[id] {
		t.read.of[id] = slices.Clone(ops)
	}
	return ops, err
}

// execOps changes operations of a commission.
func (t *Tx) execOps(id quote.CommissionID, query string, args ...any) error {
	if t.changedOps == nil {
		t.changedOps = map[quote.CommissionID]bool{}
	}
	t.changedOps[id] = true
	delete(t.read.of, id) // whatever becomes of the transaction
	return t.exec(query, args...)
}
