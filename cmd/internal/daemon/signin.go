package daemon

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"time"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/examine"
	"github.com/pottrail/pottrail/store/staff"
)

// keyStaff is the use of the key under which PINs are sealed.
const keyStaff = examine.KeyStaff

// Pages on which a one-time link is used. What follows "#" never leaves the browser by itself, so no log of addresses has it.
const (
	pageSetUp = "/set-up"
	pageEnrol = "/enrol"
)

// signIn is the staff file as the daemon needs it. It implements [ask.SignIn].
type signIn struct {
	file   *staff.File
	broken func(error) // told when the disk fails
	log    *slog.Logger
	// link makes an address of a page with a token; only says that it works on this machine alone.
	link func(page, token string) (link string, only bool)
}

// openStaff opens the staff file under a key that hangs on the people file's. Without that key nobody's PIN can be checked.
func (d *running) openStaff() error {
	keys, err := d.service.people.file.DerivedKeys(keyStaff)
	if err != nil {
		return err
	}
	path, o := d.folder.path(fileStaff), staff.Options{Steady: steadily(), Locked: func(key, station string, wrong int) {
		d.o.Log.Warn("a badge is locked after wrong PINs", "staff", key, "station", station, "wrong", wrong)
	}}
	var file *staff.File
	for i, key := range keys { // more than one when a change of keys was cut short
		if file, err = staff.Open(path, key, o); errors.Is(err, staff.ErrKey) {
			continue
		}
		if err == nil && i > 0 {
			if err = file.Rekey(keys[0]); err != nil {
				return errors.Join(err, file.Close())
			}
		}
		break
	}
	if errors.Is(err, staff.ErrKey) {
		d.o.Log.Warn("the key of the people file has changed: nobody's PIN can be checked any more; give each person a new one with `pottrail staff pin KEY`")
		file, err = staff.Abandon(path, keys[0], o)
	}
	if err != nil {
		return err
	}
	d.onStop(func() { d.closing("staff", file.Close) })
	d.service.staff = &signIn{file: file, broken: d.breakDown, log: d.o.Log, link: d.pageLink}
	d.service.vouch = d.service.staff
	return nil
}

// firstLink is the one-time link of the first run, made at each start of a real clinic in which nobody is set up.
func (d *running) firstLink() string {
	if d.o.Demo != nil || d.service.staff.InForce() {
		return ""
	}
	token, _, err := d.service.staff.file.NewSetUpLink()
	if err != nil {
		d.o.Log.Warn("no link for setting up could be made", "error", err.Error())
		return ""
	}
	link, _ := d.service.staff.link(pageSetUp, token)
	return link
}

// pageLink makes the address of a page for a browser, by a name under which this machine is known where it is served.
func (d *running) pageLink(page, token string) (link string, only bool) {
	u := d.pagesURL(page)
	u.Fragment = token
	return u.String(), !d.o.Beyond()
}

// InForce reports whether anybody is set up.
func (s *signIn) InForce() bool { return s.file.InForce() }

// Known reports whether somebody is set up.
func (s *signIn) Known(key string) (bool, error) {
	known, err := s.file.Known(key)
	return known, s.failed(err)
}

// WasSignedIn reports whether somebody was signed in at a station at an instant, two minutes between clocks allowed.
func (s *signIn) WasSignedIn(key, station string, at time.Time) (bool, error) {
	was, err := s.file.WasSignedIn(key, station, at)
	return was, s.failed(err)
}

// noteDoubts writes doubts down; see [vouching].
func (s *signIn) noteDoubts(doubts ...doubt) error {
	list := make([]staff.Doubt, len(doubts))
	for i, d := range doubts {
		from := d.actor.Station
		if from == "" {
			from = d.actor.Account
		}
		list[i] = staff.Doubt{ID: string(d.event.ID), Kind: string(d.event.Kind), Clinic: d.event.Clinic, By: d.event.By, At: d.event.At, Station: d.event.Station,
			SignedIn: d.actor.Staff, From: from, Recorded: d.recorded, Why: d.why}
	}
	return s.failed(s.file.NoteDoubts(list...))
}

// SetUp uses the link of the first run; see [ask.SignIn].
func (s *signIn) SetUp(ctx context.Context, r ask.SetUpRequest) (*ask.SignedIn, error) {
	in, key, err := s.file.SetUp(ctx, string(r.Token), r.Staff, string(r.PIN), r.Station)
	if err != nil {
		return nil, s.failed(err)
	}
	s.log.Info("the first administrator is set up: from now on people sign in", "staff", r.Staff, "station", r.Station)
	out := signedIn(in)
	out.StationKey = ask.Secret(key)
	return out, nil
}

// Enrol uses a station's link; see [ask.SignIn].
func (s *signIn) Enrol(_ context.Context, r ask.EnrolRequest) (*ask.Enrolled, error) {
	station, key, err := s.file.Enrol(string(r.Token))
	if err != nil {
		return nil, s.failed(err)
	}
	s.log.Info("a station is enrolled", "station", station.Key, "by", station.By)
	return &ask.Enrolled{Station: ask.Station(station), Key: ask.Secret(key)}, nil
}

// Station is whose key this is; see [ask.SignIn].
func (s *signIn) Station(_ context.Context, key ask.Secret) (*ask.Station, error) {
	station, err := s.file.Station(string(key))
	if err != nil {
		return nil, s.failed(err)
	}
	out := ask.Station(station)
	return &out, nil
}

// SignIn opens a session; see [ask.SignIn].
func (s *signIn) SignIn(ctx context.Context, r ask.SignInRequest) (*ask.SignedIn, error) {
	in, err := s.file.SignIn(ctx, string(r.Station), r.Badge, string(r.PIN))
	if err != nil {
		return nil, s.failed(err)
	}
	return signedIn(in), nil
}

// Switch brings an open session to the front; see [ask.SignIn].
func (s *signIn) Switch(_ context.Context, r ask.SwitchRequest) (*ask.SignedIn, error) {
	in, err := s.file.Switch(string(r.Station), r.Badge)
	if err != nil {
		return nil, s.failed(err)
	}
	return signedIn(in), nil
}

// SignOut ends a session; see [ask.SignIn].
func (s *signIn) SignOut(_ context.Context, session ask.Secret) error {
	return s.failed(s.file.SignOut(string(session)))
}

// Session is who has a session; see [ask.SignIn].
func (s *signIn) Session(_ context.Context, session ask.Secret) (*ask.Session, error) {
	return s.session(session, true)
}

// Look is Session without counting as use; see [ask.SignIn].
func (s *signIn) Look(_ context.Context, session ask.Secret) (*ask.Session, error) {
	return s.session(session, false)
}

func (s *signIn) session(token ask.Secret, use bool) (*ask.Session, error) {
	session, others, err := s.file.Session(string(token), use)
	if err != nil {
		return nil, s.failed(err)
	}
	out := sessionOf(session, others)
	return &out, nil
}

// Confirm checks the PIN again; see [ask.SignIn].
func (s *signIn) Confirm(ctx context.Context, session, pin ask.Secret) error {
	_, err := s.file.Confirm(ctx, string(session), string(pin))
	return s.failed(err)
}

func sessionOf(s staff.Session, others []string) ask.Session {
	return ask.Session{Staff: s.Staff, Station: s.Station, Since: s.Since, Idle: s.Idle, Ends: s.Ends, Others: others}
}

func signedIn(in *staff.SignedIn) *ask.SignedIn {
	return &ask.SignedIn{Token: ask.Secret(in.Token), Session: sessionOf(in.Session, in.Others), Station: ask.Station(in.Station)}
}

// endings say why a session ended, to whoever had it.
var endings = map[staff.Why]string{
	staff.WhyIdle:    "nothing was done for a while",
	staff.WhyLong:    "twelve hours had passed",
	staff.WhyOut:     "it was signed out",
	staff.WhyAgain:   "the same person signed in here again",
	staff.WhyEnded:   "somebody else ended it",
	staff.WhyRemoved: "the person or the station was taken off the list",
	staff.WhyPIN:     "the PIN was changed",
	staff.WhyClock:   "the clock was set, and it went on",
	staff.WhyTooMany: "too many sessions were open, and this one was used least",
}

// failed turns an error of the staff file into one for whoever asks. What it says helps nobody guess.
func (s *signIn) failed(err error) error {
	refuse := func(kind ask.Kind, code, field, text string) error {
		return &ask.Error{Kind: kind, Code: code, Field: field, Text: text}
	}
	var wait *staff.WaitError
	var pin *staff.PINError
	var ended *staff.EndedError
	switch {
	case err == nil:
		return nil
	case errors.As(err, &wait):
		return mustWait(wait)
	case errors.As(err, &pin):
		return refuse(ask.Invalid, "weak-pin", "pin", pin.Reason)
	case errors.As(err, &ended):
		return refuse(ask.Unknown, "signed-out", "", "the session has ended, since "+endings[ended.Why]+": sign in again")
	case errors.Is(err, staff.ErrNoSession):
		return refuse(ask.Unknown, "signed-out", "", "nobody is signed in here: sign in")
	case errors.Is(err, staff.ErrRefused):
		return refuse(ask.Unknown, "refused", "", "badge and PIN do not fit: scan the badge again and type the PIN. A new PIN comes from an administrator")
	case errors.Is(err, staff.ErrPINNeeded):
		return refuse(ask.Unknown, "pin-needed", "", "the PIN is needed too")
	case errors.Is(err, staff.ErrStation):
		return refuse(ask.Unknown, "no-station", "", "this device is not enrolled as a station: ask an administrator for a link")
	case errors.Is(err, staff.ErrLink):
		return refuse(ask.Unknown, "bad-link", "", "this link is not good: each is good once, and for half an hour. Ask an administrator for a new one")
	case errors.Is(err, staff.ErrBusy):
		return &ask.Error{Kind: ask.TooMany, Code: "busy", Text: "too many sign in at this moment: try again in a few seconds", Wait: 2 * time.Second}
	case errors.As(err, new(*staff.StationKeyError)):
		return refuse(ask.Invalid, "bad-key", "station", "a station is named by letters, digits, dots and hyphens, as in desk-1")
	case errors.Is(err, staff.ErrStaffKey):
		return refuse(ask.Invalid, "bad-key", "staff", "a staff key is made of letters, digits, dots and hyphens, as in nurse.osei")
	case errors.Is(err, staff.ErrNoSpace):
		return refuse(ask.NoSpace, "no-space", "", "nothing was written: the disk of the data folder is full. Make space, then do it again")
	case errors.Is(err, staff.ErrFatal):
		s.broken(err)
		return fmt.Errorf("staff: %w", err)
	}
	return fmt.Errorf("staff: %w", err)
}

// mustWait says how long a badge must wait.
func mustWait(w *staff.WaitError) error {
	e := &ask.Error{Kind: ask.TooMany, Code: "wait", Wait: w.Wait}
	long := w.Wait.Round(time.Second)
	switch {
	case w.Everywhere:
		e.Code, e.Text = "locked", "too many wrong PINs were tried with this badge: an administrator must unlock it"
	case w.Locked && w.Wait == 0:
		e.Code, e.Text = "locked", "too many wrong PINs were tried with this badge here: an administrator must unlock it. It still works at another station, and others can sign in here"
	case w.Locked:
		minutes := (w.Wait + time.Minute - 1) / time.Minute
		e.Code = "locked"
		e.Text = fmt.Sprintf("too many wrong PINs were tried with this badge here: an administrator can unlock it, or try again in %d min. It works at another station now, and others can sign in here", minutes)
	default:
		e.Text = fmt.Sprintf("that PIN was wrong, or was tried too often: wait %s, then try again", max(long, time.Second))
	}
	return e
}
