package ask

import (
	"context"
	"time"
)

// Staffing is what commands may ask of who may sign in and where, over the socket in the data folder and nowhere else: whoever
// owns the folder can always put things right.
type Staffing interface {
	// Staff lists who may sign in.
	Staff(ctx context.Context, r StaffListRequest) (*StaffAnswer, error)
	// AddStaff puts somebody on the list, with a PIN.
	AddStaff(ctx context.Context, r StaffRequest) (*StaffAnswer, error)
	// SetPIN gives somebody on the list a new PIN; their badge is unlocked, and their sessions end.
	SetPIN(ctx context.Context, r StaffRequest) (*StaffAnswer, error)
	// RemoveStaff takes somebody off the list, but not the last administrator.
	RemoveStaff(ctx context.Context, r StaffRequest) (*StaffAnswer, error)
	// UnlockStaff lets a badge be tried again after wrong PINs.
	UnlockStaff(ctx context.Context, r StaffRequest) (*StaffAnswer, error)
	// SetUpLink makes the one-time link by which the first administrator is set up.
	SetUpLink(ctx context.Context, r LinkRequest) (*LinkAnswer, error)
	// EnrolStation makes a one-time link by which a device becomes a station.
	EnrolStation(ctx context.Context, r EnrolStationRequest) (*LinkAnswer, error)
	// Stations lists the stations.
	Stations(ctx context.Context, r StationsRequest) (*StationsAnswer, error)
	// RemoveStation takes a station off the list: its key is good no longer.
	RemoveStation(ctx context.Context, r RemoveStationRequest) (*StationsAnswer, error)
	// Sessions lists who is signed in where and, if that is asked for, who was.
	Sessions(ctx context.Context, r SessionsRequest) (*SessionsAnswer, error)
	// EndSession ends a session of somebody else.
	EndSession(ctx context.Context, r EndSessionRequest) (*SessionsAnswer, error)
	// Doubts lists physical steps that were recorded though nobody vouched for whom they name.
	Doubts(ctx context.Context, r DoubtsRequest) (*DoubtsAnswer, error)
}

// StaffListRequest asks who may sign in.
type StaffListRequest struct {
	All bool `json:"all,omitzero"` // also who was taken off the list
}

// StaffRequest is about one person.
type StaffRequest struct {
	Key     string `json:"key"`
	PIN     Secret `json:"pin,omitzero"`
	At      string `json:"at,omitzero"` // to unlock: at this station alone
	By      string `json:"by"`
	Station string `json:"station"`
}

// StaffAnswer lists people by key.
type StaffAnswer struct {
	Staff []StaffMember `json:"staff"`
}

// StaffMember is somebody who may sign in, or once might.
type StaffMember struct {
	Key       string    `json:"key"`
	Added     time.Time `json:"added"`
	AddedBy   string    `json:"added_by"`
	Changed   time.Time `json:"changed"`
	ChangedBy string    `json:"changed_by"`
	Removed   time.Time `json:"removed,omitzero"`
	NoPIN     bool      `json:"no_pin,omitzero"` // it was sealed under a key that is lost: they need a new one
	Locked    []Lock    `json:"locked,omitzero"` // where too many wrong PINs were tried
}

// Lock is where a badge cannot sign in for wrong PINs.
type Lock struct {
	Station string    `json:"station,omitzero"` // "": at each
	Wrong   int       `json:"wrong"`            // PINs in a row
	Last    time.Time `json:"last"`
	Opens   time.Time `json:"opens,omitzero"` // by itself, for one try
}

// LinkRequest says who asks for a link.
type LinkRequest struct {
	By      string `json:"by"`
	Station string `json:"station"`
}

// LinkAnswer is a link that is good once.
type LinkAnswer struct {
	Link  string    `json:"link"`
	Until time.Time `json:"until"`
	Name  string    `json:"name,omitzero"`  // of the station that it enrols
	Again bool      `json:"again,omitzero"` // a station of that name is enrolled; it has its key until the link is used
	// Only says that the pages are served on this machine alone, so that the link works nowhere else.
	Only bool `json:"only,omitzero"`
}

// EnrolStationRequest is a station to be.
type EnrolStationRequest struct {
	Key     string `json:"key"`
	Clinic  string `json:"clinic,omitzero"`
	Place   string `json:"place,omitzero"`
	Shared  bool   `json:"shared,omitzero"` // several people use it
	By      string `json:"by"`
	Station string `json:"station"`
}

// StationsRequest asks for the stations.
type StationsRequest struct {
	All bool `json:"all,omitzero"` // also those that were taken off the list
}

// RemoveStationRequest is a station to be taken off the list.
type RemoveStationRequest struct {
	Key     string `json:"key"`
	By      string `json:"by"`
	Station string `json:"station"`
}

// StationsAnswer lists stations by key.
type StationsAnswer struct {
	Stations []Station `json:"stations"`
}

// SessionsRequest asks who is signed in where.
type SessionsRequest struct {
	Ended bool `json:"ended,omitzero"` // also who was
	Limit int  `json:"limit,omitzero"` // of those that have ended; 0: all that are kept
}

// SessionsAnswer lists sessions, the open ones first, each the latest first.
type SessionsAnswer struct {
	Sessions []SessionShown `json:"sessions"`
}

// SessionShown is a session as others may see it.
type SessionShown struct {
	Number  uint64    `json:"number"`
	Staff   string    `json:"staff"`
	Station string    `json:"station"`
	Since   time.Time `json:"since"`
	Last    time.Time `json:"last"` // use, to within a minute
	Idle    time.Time `json:"idle,omitzero"`
	Ends    time.Time `json:"ends,omitzero"`
	Ended   time.Time `json:"ended,omitzero"`
	Why     string    `json:"why,omitzero"` // it ended, in words
}

// EndSessionRequest names a session by its number.
type EndSessionRequest struct {
	Number  uint64 `json:"number"`
	By      string `json:"by"`
	Station string `json:"station"`
}

// DoubtsRequest asks for doubts.
type DoubtsRequest struct {
	Limit int `json:"limit,omitzero"` // 0: all
}

// DoubtsAnswer lists doubts, the latest first.
type DoubtsAnswer struct {
	Doubts  []Doubt `json:"doubts"`
	Dropped uint64  `json:"dropped,omitzero"` // older ones that are no longer kept
}

// Doubt is a physical step that was recorded though nobody vouched for whom it names.
type Doubt struct {
	Event    string    `json:"event"` // its id
	Kind     string    `json:"kind"`
	Clinic   string    `json:"clinic,omitzero"`
	By       string    `json:"by"` // whom it names
	At       time.Time `json:"at"`
	Station  string    `json:"station"`            // that it names
	SignedIn string    `json:"signed_in,omitzero"` // who was signed in
	From     string    `json:"from,omitzero"`      // the enrolled station or account that sent it
	Recorded time.Time `json:"recorded"`
	Why      string    `json:"why"`
}
