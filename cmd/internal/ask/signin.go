package ask

import (
	"context"
	"fmt"
	"log/slog"
	"time"
)

// SignIn is how people at enrolled stations say who they are. Badges name, PINs prove; a station has a key of its own, so
// that a short PIN is never the only thing that stands before a stranger.
//
// Its errors are [Error] of kind [Unknown] or [TooMany], with these codes; what they say is the same for a badge that is
// unknown, a PIN that is wrong and a person who was taken off the list. SetUp with a good link may also say, of kind
// [Invalid], that the PIN ("weak-pin") or a key ("bad-key") is not taken; the link stays good.
//
//	Unknown  "refused"     badge and PIN do not fit
//	         "pin-needed"  the badge alone will not do
//	         "signed-out"  the session has ended
//	         "no-station"  the station's key is not good: the device must be enrolled
//	         "bad-link"    a one-time link is not good
//	TooMany  "wait"        wrong PINs: wait so long ([Error].Wait)
//	         "locked"      so many that another person must unlock the badge, or a quarter of an hour pass
//	         "busy"        too many sign in at this moment
type SignIn interface {
	// InForce reports whether anybody is set up. Until then this machine alone is served, and staff keys are believed.
	InForce() bool
	// SetUp uses the one-time link of the first run: it enrols the station, adds the first administrator and signs in.
	SetUp(ctx context.Context, r SetUpRequest) (*SignedIn, error)
	// Enrol uses a station's one-time link and gives the station its key.
	Enrol(ctx context.Context, r EnrolRequest) (*Enrolled, error)
	// Station is whose key this is.
	Station(ctx context.Context, key Secret) (*Station, error)
	// SignIn opens a session with a badge and its PIN. Sessions of others at the same station stay open until they are idle
	// for too long.
	SignIn(ctx context.Context, r SignInRequest) (*SignedIn, error)
	// Switch brings somebody to the front whose session at this station is still open, by the badge alone. An error of code
	// "pin-needed" says that theirs is not open: sign in.
	Switch(ctx context.Context, r SwitchRequest) (*SignedIn, error)
	// SignOut ends a session.
	SignOut(ctx context.Context, session Secret) error
	// Session is who has a session, and counts as use of it; code "signed-out" when it ended, with why in the text.
	Session(ctx context.Context, session Secret) (*Session, error)
	// Look is Session without counting as use: for what a page asks for by itself while nobody is there. Otherwise a board
	// that follows changes would keep a session open for ever.
	Look(ctx context.Context, session Secret) (*Session, error)
	// Confirm checks the PIN again, before what cannot be undone.
	Confirm(ctx context.Context, session Secret, pin Secret) error
}

// Secret is a PIN, a session's or a station's key. It prints as "[secret]" everywhere but in JSON.
type Secret string

// String hides the secret.
func (Secret) String() string { return "[secret]" }

// Format hides the secret from every verb.
func (Secret) Format(f fmt.State, _ rune) { _, _ = f.Write([]byte("[secret]")) }

// LogValue hides the secret from logs.
func (Secret) LogValue() slog.Value { return slog.StringValue("[secret]") }

// SetUpRequest is the first run's form.
type SetUpRequest struct {
	Token   Secret `json:"token"`   // of the link
	Staff   string `json:"staff"`   // key of the first administrator, as "nurse.osei"
	PIN     Secret `json:"pin"`     // chosen by them
	Station string `json:"station"` // key of this station, as "desk-1"
}

// EnrolRequest is a station's link, opened on that station.
type EnrolRequest struct {
	Token Secret `json:"token"`
}

// Enrolled is a station's key, given once.
type Enrolled struct {
	Station Station `json:"station"`
	Key     Secret  `json:"key"`
}

// Station is a screen, phone or scanner that is enrolled.
type Station struct {
	Key      string    `json:"key"` // "room-2": what events call it
	Clinic   string    `json:"clinic,omitzero"`
	Place    string    `json:"place,omitzero"` // where it stands, if it stands
	Shared   bool      `json:"shared"`         // several people use it: a short idle limit
	Enrolled time.Time `json:"enrolled"`
	By       string    `json:"by"`
	Seen     time.Time `json:"seen,omitzero"`
	Removed  time.Time `json:"removed,omitzero"`
}

// SignInRequest is a badge and its PIN at an enrolled station.
type SignInRequest struct {
	Station Secret `json:"station"` // its key
	Badge   string `json:"badge"`   // as scanned, "B:nurse.osei", or the staff key typed
	PIN     Secret `json:"pin"`
}

// SwitchRequest is a badge alone.
type SwitchRequest struct {
	Station Secret `json:"station"`
	Badge   string `json:"badge"`
}

// SignedIn is a session that was opened or brought to the front.
type SignedIn struct {
	Token   Secret  `json:"token"` // new at each sign-in
	Session Session `json:"session"`
	Station Station `json:"station"`
	// StationKey is given once, by SetUp.
	StationKey Secret `json:"station_key,omitzero"`
}

// Session is who is signed in where.
type Session struct {
	Staff   string    `json:"staff"`
	Station string    `json:"station"`
	Since   time.Time `json:"since"`
	Idle    time.Time `json:"idle"` // when it ends if nothing is done
	Ends    time.Time `json:"ends"` // when it ends in any case
	// Others are the staff keys whose sessions at the same station are open.
	Others []string `json:"others,omitzero"`
}
