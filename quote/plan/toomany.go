package plan

import "fmt"

// TooMany is the error for a problem that is larger than any shop's.
type TooMany struct {
	What    string // "operations", "projects", "resources" and so on
	N, Most int
}

func (e *TooMany) Error() string {
	return fmt.Sprintf("the problem has %d %s, give at most %d", e.N, e.What, e.Most)
}
