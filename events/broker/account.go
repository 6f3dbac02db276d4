package broker

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/nats-io/nkeys"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/tracker"
)

// Account is a program or device outside that has a name, a key and a role of its own. It is an account of the NATS server
// with one user, so that nothing of another's is there for it to see: no inbox, no subject, no stream.
type Account struct {
	Name    string   // small letters, digits and hyphens
	Role    string   // what it stands for, one word; the recorder and the answerer are told
	Key     string   // its public nkey, "U…"; the seed is its own
	Clinics []string // whose events it may send, and of whom it may ask and read
	Asks    []string // words of the questions that it may ask
	Reads   []string // what it may read as it happens, after "trail.v1.<clinic>.": "event.>", "flag.>", "flag.pot-lost", "checkpoint.*"
}

// Sender is whose request came in over NATS: the name and role of an [Account], which it cannot choose itself. It is
// empty for the user of [Options], who is the owner of the data folder, and for connections from inside.
type Sender struct {
	Name string
	Role string
}

// MaxAccounts is how many accounts there may be. Ours: far more than programs and devices around one clinic.
const MaxAccounts = 200

// Limits of an account. Ours, several times what a hatch or a laboratory's program needs.
const (
	maxName       = 40
	maxClinics    = 64
	maxConns      = 16                         // connections at once
	maxSubs       = 256                        // subscriptions of one connection
	accountPay    = events.MaxRequest + 64<<10 // bytes of one message: a whole request with its headers
	accountPrefix = "account"                  // first word of the subjects on which our side hears accounts
)

// ErrAccount says that an account cannot be as it is described.
var ErrAccount = errors.New("no account of NATS can be like this")

// check says what is wrong with an account. Everything in it becomes part of subjects.
func (a Account) check() error {
	wrong := func(format string, args ...any) error {
		return fmt.Errorf("%w: %s", ErrAccount, fmt.Sprintf(format, args...))
	}
	switch {
	case !word(a.Name, maxName):
		return wrong("a name is 1 to %d small letters, digits and hyphens, the first a letter", maxName)
	case !word(a.Role, maxName):
		return wrong("%s: its role is no word", a.Name)
	case !nkeys.IsValidPublicUserKey(a.Key):
		return wrong("%s: its key is no public key of a NATS user", a.Name)
	case len(a.Clinics) == 0 || len(a.Clinics) > maxClinics:
		return wrong("%s: it is for 1 to %d clinics", a.Name, maxClinics)
	}
	for _, clinic := range a.Clinics {
		if err := tracker.CheckClinic(clinic); err != nil {
			return wrong("%s: %v", a.Name, err)
		}
	}
	for _, what := range a.Asks {
		if !word(what, maxName) {
			return wrong("%s: %q is no question", a.Name, what)
		}
	}
	for _, what := range a.Reads {
		first, rest, ok := strings.Cut(what, ".")
		if !ok || !slices.Contains([]string{"event", "flag", "checkpoint"}, first) || rest != ">" && rest != "*" && !word(rest, maxName) {
			return wrong("%s: %q cannot be read", a.Name, what)
		}
	}
	return nil
}

// word reports whether a text is one word of a subject, the first a letter.
func word(text string, most int) bool {
	for i, r := range text {
		if letter := r >= 'a' && r <= 'z'; !letter && (i == 0 || r != '-' && (r < '0' || r > '9')) {
			return false
		}
	}
	return text != "" && len(text) <= most
}

// prefix is what stands before an account's own subjects where our side hears them. The server puts it there.
func (s Sender) prefix() string { return accountPrefix + "." + s.Role + "." + s.Name + "." }

func (a Account) sender() Sender { return Sender{Name: a.Name, Role: a.Role} }

// Sends lists the subjects that an account may send to.
func (a Account) Sends() []string {
	var list []string
	for _, clinic := range a.Clinics {
		list = append(list, events.RecordSubject(clinic))
		for _, what := range a.Asks {
			list = append(list, events.AskSubject(clinic, what))
		}
	}
	return list
}

// Subscribes lists the subjects of ours that an account may subscribe to.
func (a Account) Subscribes() []string {
	var list []string
	for _, clinic := range a.Clinics {
		for _, what := range a.Reads {
			list = append(list, events.ClinicSubject(clinic, what))
		}
	}
	return list
}
