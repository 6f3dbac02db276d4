package daemon

import (
	"context"
	"errors"
	"slices"
	"time"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/store/staff"
	"github.com/pottrail/pottrail/tracker"
)

// Staff lists who may sign in; see [ask.Staffing].
func (s *Service) Staff(_ context.Context, r ask.StaffListRequest) (*ask.StaffAnswer, error) {
	all, err := s.staff.file.People()
	if err != nil {
		return nil, s.staff.failed(err)
	}
	answer := &ask.StaffAnswer{Staff: []ask.StaffMember{}}
	for _, p := range all {
		if p.Removed.IsZero() || r.All {
			answer.Staff = append(answer.Staff, memberOf(p, time.Now()))
		}
	}
	return answer, nil
}

func memberOf(p staff.Person, now time.Time) ask.StaffMember {
	m := ask.StaffMember{Key: p.Key, Added: p.Added, AddedBy: p.AddedBy, Changed: p.Changed, ChangedBy: p.ChangedBy, Removed: p.Removed, NoPIN: p.NoPIN}
	for _, l := range p.Locked {
		lock := ask.Lock{Station: l.Station, Wrong: l.Wrong, Last: l.Last}
		if l.OpensAfter > 0 {
			lock.Opens = now.Add(l.OpensAfter).Round(time.Second)
		}
		m.Locked = append(m.Locked, lock)
	}
	return m
}

// one answers with one person.
func (s *Service) one(key string) (*ask.StaffAnswer, error) {
	all, err := s.staff.file.People()
	if err != nil {
		return nil, s.staff.failed(err)
	}
	for _, p := range all {
		if p.Key == key {
			return &ask.StaffAnswer{Staff: []ask.StaffMember{memberOf(p, time.Now())}}, nil
		}
	}
	return nil, errNobody(key)
}

func errNobody(key string) error {
	return &ask.Error{Kind: ask.NotFound, Code: "nobody", Field: "key", Text: key + " is not on the list: `pottrail staff list` shows who is"}
}

// staffFailed is signIn.failed for whoever owns the data folder, who may be told more.
func (s *Service) staffFailed(key string, err error) error {
	switch {
	case errors.Is(err, staff.ErrKnown):
		return &ask.Error{Kind: ask.Conflict, Code: "known", Field: "key", Text: key + " is on the list already; `pottrail staff pin " + key + "` gives a new PIN"}
	case errors.Is(err, staff.ErrNobody):
		return errNobody(key)
	case errors.Is(err, staff.ErrTooMany):
		return &ask.Error{Kind: ask.Conflict, Code: "full", Field: "key", Text: "nothing was changed: " + err.Error()}
	}
	return s.staff.failed(err)
}

// AddStaff puts somebody on the list; see [ask.Staffing].
func (s *Service) AddStaff(ctx context.Context, r ask.StaffRequest) (*ask.StaffAnswer, error) {
	first := !s.staff.InForce()
	if err := s.staff.file.Add(ctx, r.Key, string(r.PIN), r.By); err != nil {
		return nil, s.staffFailed(r.Key, err)
	}
	s.log.Info("somebody was put on the list of staff", "staff", r.Key, "by", r.By)
	if first {
		s.log.Info("somebody is set up: from now on people sign in")
	}
	return s.one(r.Key)
}

// SetPIN gives somebody a new PIN; see [ask.Staffing].
func (s *Service) SetPIN(ctx context.Context, r ask.StaffRequest) (*ask.StaffAnswer, error) {
	if err := s.staff.file.SetPIN(ctx, r.Key, string(r.PIN), r.By); err != nil {
		return nil, s.staffFailed(r.Key, err)
	}
	s.log.Info("somebody was given a new PIN", "staff", r.Key, "by", r.By)
	return s.one(r.Key)
}

// RemoveStaff takes somebody off the list; see [ask.Staffing].
func (s *Service) RemoveStaff(_ context.Context, r ask.StaffRequest) (*ask.StaffAnswer, error) {
	all, err := s.staff.file.People()
	if err != nil {
		return nil, s.staff.failed(err)
	}
	rules, err := s.rulesInForce()
	if err != nil {
		return nil, err
	}
	left := 0
	for _, p := range all {
		if p.Key != r.Key && p.Removed.IsZero() && administers(rules, p.Key) {
			left++
		}
	}
	if known, err := s.staff.Known(r.Key); err != nil || !known {
		return nil, errors.Join(err, errNobody(r.Key))
	}
	if left == 0 {
		return nil, &ask.Error{Kind: ask.Conflict, Code: "last-administrator", Field: "key",
			Text: r.Key + " stays: nobody else on the list would be an administrator. Put another one on it first, or in the role in the protocol"}
	}
	if err := s.staff.file.Remove(r.Key, r.By); err != nil {
		return nil, s.staffFailed(r.Key, err)
	}
	s.log.Info("somebody was taken off the list of staff", "staff", r.Key, "by", r.By)
	return s.one(r.Key)
}

// rulesInForce are those of each clinic, and those of the program when no clinic has any.
func (s *Service) rulesInForce() ([]*tracker.Rules, error) {
	clinics, err := s.ledger.Clinics()
	if err != nil {
		return nil, err
	}
	var out []*tracker.Rules
	for _, clinic := range clinics {
		out = append(out, s.rules(clinic))
	}
	if len(out) == 0 {
		out = append(out, s.fallback)
	}
	return out, nil
}

// administers reports whether somebody is an administrator in one of the protocols, as it is where people sign in.
func administers(rules []*tracker.Rules, key string) bool {
	return slices.ContainsFunc(rules, func(r *tracker.Rules) bool { return r.Permits(key, tracker.Administrators, true) })
}

// UnlockStaff lets a badge be tried again; see [ask.Staffing].
func (s *Service) UnlockStaff(_ context.Context, r ask.StaffRequest) (*ask.StaffAnswer, error) {
	if err := s.staff.file.Unlock(r.Key, r.At); err != nil {
		return nil, s.staffFailed(r.Key, err)
	}
	s.log.Info("a badge was unlocked", "staff", r.Key, "at", r.At, "by", r.By)
	return s.one(r.Key)
}

// SetUpLink makes the link of the first run; see [ask.Staffing].
func (s *Service) SetUpLink(context.Context, ask.LinkRequest) (*ask.LinkAnswer, error) {
	token, until, err := s.staff.file.NewSetUpLink()
	if errors.Is(err, staff.ErrSetUp) {
		return nil, &ask.Error{Kind: ask.Conflict, Code: "set-up", Text: "somebody is set up already: put others on the list with `pottrail staff add KEY`, enrol devices with `pottrail stations enrol KEY`"}
	}
	if err != nil {
		return nil, s.staff.failed(err)
	}
	link, only := s.staff.link(pageSetUp, token)
	return &ask.LinkAnswer{Link: link, Until: until, Only: only}, nil
}

// EnrolStation makes a link for a station; see [ask.Staffing].
func (s *Service) EnrolStation(_ context.Context, r ask.EnrolStationRequest) (*ask.LinkAnswer, error) {
	if r.Clinic != "" {
		if err := tracker.CheckClinic(r.Clinic); err != nil {
			return nil, ask.CodeFault("clinic", err)
		}
	}
	if len(r.Place) > longestPlace {
		return nil, &ask.Error{Kind: ask.Invalid, Code: "too-long", Field: "place", Text: "place: a key of the protocol, as in room-2"}
	}
	all, err := s.staff.file.Stations()
	if err != nil {
		return nil, s.staff.failed(err)
	}
	again := false
	for _, known := range all {
		again = again || known.Key == r.Key && known.Removed.IsZero()
	}
	token, until, err := s.staff.file.NewLink(staff.Station{Key: r.Key, Clinic: r.Clinic, Place: r.Place, Shared: r.Shared, By: r.By})
	switch {
	case errors.Is(err, staff.ErrStaffKey):
		err = &staff.StationKeyError{}
	case errors.Is(err, staff.ErrTooMany):
		return nil, &ask.Error{Kind: ask.Conflict, Code: "full", Text: "no link was made: " + err.Error()}
	}
	if err != nil {
		return nil, s.staff.failed(err)
	}
	link, only := s.staff.link(pageEnrol, token)
	return &ask.LinkAnswer{Link: link, Until: until, Name: r.Key, Again: again, Only: only}, nil
}

// longestPlace is the longest key of a place that is taken, in bytes. Ours.
const longestPlace = 80

// Stations lists the stations; see [ask.Staffing].
func (s *Service) Stations(_ context.Context, r ask.StationsRequest) (*ask.StationsAnswer, error) {
	all, err := s.staff.file.Stations()
	if err != nil {
		return nil, s.staff.failed(err)
	}
	answer := &ask.StationsAnswer{Stations: []ask.Station{}}
	for _, station := range all {
		if station.Removed.IsZero() || r.All {
			answer.Stations = append(answer.Stations, ask.Station(station))
		}
	}
	return answer, nil
}

// RemoveStation takes a station off the list; see [ask.Staffing].
func (s *Service) RemoveStation(ctx context.Context, r ask.RemoveStationRequest) (*ask.StationsAnswer, error) {
	err := s.staff.file.RemoveStation(r.Key)
	if errors.Is(err, staff.ErrNoStation) {
		return nil, &ask.Error{Kind: ask.NotFound, Code: "no-station", Field: "key", Text: "no station " + r.Key + " is enrolled: `pottrail stations list` shows which are"}
	}
	if err != nil {
		return nil, s.staff.failed(err)
	}
	s.log.Info("a station was taken off the list", "station", r.Key, "by", r.By)
	return s.Stations(ctx, ask.StationsRequest{})
}

// Sessions lists who is signed in; see [ask.Staffing].
func (s *Service) Sessions(_ context.Context, r ask.SessionsRequest) (*ask.SessionsAnswer, error) {
	all, err := s.staff.file.Sessions(r.Ended, r.Limit)
	if err != nil {
		return nil, s.staff.failed(err)
	}
	answer := &ask.SessionsAnswer{Sessions: []ask.SessionShown{}}
	for _, session := range all {
		answer.Sessions = append(answer.Sessions, ask.SessionShown{Number: session.Number, Staff: session.Staff, Station: session.Station, Since: session.Since, Last: session.Last,
			Idle: session.Idle, Ends: session.Ends, Ended: session.Ended, Why: endings[session.Why]})
	}
	return answer, nil
}

// EndSession ends a session; see [ask.Staffing].
func (s *Service) EndSession(ctx context.Context, r ask.EndSessionRequest) (*ask.SessionsAnswer, error) {
	err := s.staff.file.EndSession(r.Number)
	if errors.Is(err, staff.ErrNoSession) {
		return nil, &ask.Error{Kind: ask.NotFound, Code: "no-session", Field: "number", Text: "that session is not open, or no longer: `pottrail staff sessions` shows which are"}
	}
	if err != nil {
		return nil, s.staff.failed(err)
	}
	s.log.Info("a session was ended", "session", r.Number, "by", r.By)
	return s.Sessions(ctx, ask.SessionsRequest{})
}

// Doubts lists doubts; see [ask.Staffing].
func (s *Service) Doubts(_ context.Context, r ask.DoubtsRequest) (*ask.DoubtsAnswer, error) {
	list, dropped, err := s.staff.file.Doubts(r.Limit)
	if err != nil {
		return nil, s.staff.failed(err)
	}
	answer := &ask.DoubtsAnswer{Doubts: []ask.Doubt{}, Dropped: dropped}
	for _, d := range list {
		answer.Doubts = append(answer.Doubts, ask.Doubt{Event: d.ID, Kind: d.Kind, Clinic: d.Clinic, By: d.By, At: d.At, Station: d.Station, SignedIn: d.SignedIn, From: d.From,
			Recorded: d.Recorded, Why: d.Why})
	}
	return answer, nil
}
