package quote

import (
	"strings"

	"benchbell/quote/plan"
)

// How an appointment with the client is held.
type How string

// Ways to hold a fitting, and to hand over what is finished.
const (
	InPerson   How = "in person" // the client comes to the workshop
	ByPictures How = "pictures"  // the client puts it on elsewhere and sends pictures
	Collect    How = "collect"   // the client comes for it
	Ship       How = "ship"      // it is posted
)

// Operations at which the client tries on what is worn: once before anything is sealed or primed, once when all is finished.
const (
	FirstFitting = "fit-first"
	FinalFitting = "fit-final"
)

// Appointments are how a studio meets its clients, where they choose nothing else.
type Appointments struct {
	Fittings    How `json:"fittings,omitempty"`      // InPerson or ByPictures; empty, in a snapshot older than this: in person
	Notice      int `json:"notice_days,omitempty"`   // days that a client has to make room for a fitting
	Pictures    int `json:"pictures_days,omitempty"` // days until a client's pictures are here
	HandingOver How `json:"handing_over,omitempty"`  // Collect or Ship; empty: collect
}

const day = plan.Minutes(24 * 60)

// Ahead is the notice that a client has of a fitting.
func (a Appointments) Ahead() plan.Minutes { return plan.Minutes(a.Notice) * day }

// ByPost is how long pictures take: until the mock-up is with the client, is tried on, and pictures of it are here.
func (a Appointments) ByPost() plan.Minutes { return plan.Minutes(a.Pictures) * day }

// Cuts reports whether an operation of this ID cuts foam.
func Cuts(id string) bool { return strings.HasPrefix(id, cutting) }

// cutting begins the ID of an operation that cuts foam.
const cutting = "cut-"
