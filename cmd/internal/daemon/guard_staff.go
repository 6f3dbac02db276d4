package daemon

import (
	"context"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/tracker"
)

// Staff shows who may sign in, and who is locked out.
func (g guarded) Staff(ctx context.Context, r ask.StaffListRequest) (*ask.StaffAnswer, error) {
	return guard(ctx, g, deed{key: tracker.MayManageStaff, owner: true}, g.Service.Staff, r)
}

// AddStaff is set-up.
func (g guarded) AddStaff(ctx context.Context, r ask.StaffRequest) (*ask.StaffAnswer, error) {
	return guard(ctx, g, deed{key: tracker.MayManageStaff, by: r.By, station: r.Station, owner: true}, g.Service.AddStaff, r)
}

// SetPIN is set-up.
func (g guarded) SetPIN(ctx context.Context, r ask.StaffRequest) (*ask.StaffAnswer, error) {
	return guard(ctx, g, deed{key: tracker.MayManageStaff, by: r.By, station: r.Station, owner: true}, g.Service.SetPIN, r)
}

// RemoveStaff is set-up.
func (g guarded) RemoveStaff(ctx context.Context, r ask.StaffRequest) (*ask.StaffAnswer, error) {
	return guard(ctx, g, deed{key: tracker.MayManageStaff, by: r.By, station: r.Station, owner: true}, g.Service.RemoveStaff, r)
}

// UnlockStaff is set-up.
func (g guarded) UnlockStaff(ctx context.Context, r ask.StaffRequest) (*ask.StaffAnswer, error) {
	return guard(ctx, g, deed{key: tracker.MayManageStaff, by: r.By, station: r.Station, owner: true}, g.Service.UnlockStaff, r)
}

// SetUpLink is set-up.
func (g guarded) SetUpLink(ctx context.Context, r ask.LinkRequest) (*ask.LinkAnswer, error) {
	return guard(ctx, g, deed{key: tracker.MayManageStaff, by: r.By, station: r.Station, owner: true}, g.Service.SetUpLink, r)
}

// EnrolStation is set-up.
func (g guarded) EnrolStation(ctx context.Context, r ask.EnrolStationRequest) (*ask.LinkAnswer, error) {
	return guard(ctx, g, deed{key: tracker.MayManageStations, by: r.By, station: r.Station, owner: true}, g.Service.EnrolStation, r)
}

// Stations shows what is enrolled.
func (g guarded) Stations(ctx context.Context, r ask.StationsRequest) (*ask.StationsAnswer, error) {
	return guard(ctx, g, deed{key: tracker.MayManageStations, owner: true}, g.Service.Stations, r)
}

// RemoveStation is set-up.
func (g guarded) RemoveStation(ctx context.Context, r ask.RemoveStationRequest) (*ask.StationsAnswer, error) {
	return guard(ctx, g, deed{key: tracker.MayManageStations, by: r.By, station: r.Station, owner: true}, g.Service.RemoveStation, r)
}

// Sessions shows who is signed in where.
func (g guarded) Sessions(ctx context.Context, r ask.SessionsRequest) (*ask.SessionsAnswer, error) {
	return guard(ctx, g, deed{key: tracker.MayManageStaff, owner: true}, g.Service.Sessions, r)
}

// EndSession signs somebody else out.
func (g guarded) EndSession(ctx context.Context, r ask.EndSessionRequest) (*ask.SessionsAnswer, error) {
	return guard(ctx, g, deed{key: tracker.MayManageStaff, by: r.By, station: r.Station, owner: true}, g.Service.EndSession, r)
}

// Doubts shows what nobody signed in for.
func (g guarded) Doubts(ctx context.Context, r ask.DoubtsRequest) (*ask.DoubtsAnswer, error) {
	return guard(ctx, g, deed{key: tracker.MaySeeDoubts, owner: true}, g.Service.Doubts, r)
}
