package daemon

import (
	"context"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/tracker"
)

// Open is for those who take requests.
func (g guarded) Open(ctx context.Context, r ask.OpenRequest) (*ask.Opened, error) {
	return guard(ctx, g, deed{key: tracker.MayOpen, clinic: r.Clinic, by: r.By, station: r.Station}, g.Service.Open, r)
}

// Labels shows patients, so it is for those who print.
func (g guarded) Labels(ctx context.Context, r ask.LabelsRequest) (*ask.LabelsAnswer, error) {
	if err := g.mayEach(ctx, tracker.MayPrint, r.Items, r.By, r.Station); err != nil {
		return nil, err
	}
	return g.Service.Labels(ctx, r)
}

// Print is for those who print.
func (g guarded) Print(ctx context.Context, r ask.PrintRequest) (*ask.PrintAnswer, error) {
	if err := g.mayEach(ctx, tracker.MayPrint, r.Items, r.By, r.Station); err != nil {
		return nil, err
	}
	return g.Service.Print(ctx, r)
}

// Reserve is for those who take requests.
func (g guarded) Reserve(ctx context.Context, r ask.ReserveRequest) (*ask.Reserved, error) {
	return guard(ctx, g, deed{key: tracker.MayReserve, clinic: r.Clinic}, g.Service.Reserve, r)
}

// Bind shows patients to pick from.
func (g guarded) Bind(ctx context.Context, r ask.BindRequest) (*ask.BindAnswer, error) {
	_, clinic := thing(r.Label)
	return guard(ctx, g, deed{key: tracker.MayBind, clinic: clinic, by: r.By, station: r.Station}, g.Service.Bind, r)
}

// Protocol is for everybody who is judged by it.
func (g guarded) Protocol(ctx context.Context, r ask.ProtocolRequest) (*ask.ProtocolAnswer, error) {
	return guard(ctx, g, deed{key: tracker.MaySeeProtocol, clinic: r.Clinic}, g.Service.Protocol, r)
}

// Checkpoint is for everybody.
func (g guarded) Checkpoint(ctx context.Context, r ask.CheckpointRequest) (*ask.CheckpointAnswer, error) {
	return guard(ctx, g, deed{key: tracker.MaySeeCheckpoint}, g.Service.Checkpoint, r)
}

// Refused may show patients and results.
func (g guarded) Refused(ctx context.Context, r ask.RefusedRequest) (*ask.RefusedAnswer, error) {
	return guard(ctx, g, deed{key: tracker.MaySeeRefused, by: r.By, station: r.Station}, g.Service.Refused, r)
}

// FindPeople shows patients.
func (g guarded) FindPeople(ctx context.Context, r ask.FindRequest) (*ask.FindAnswer, error) {
	return guard(ctx, g, deed{key: tracker.MayFindPeople, by: r.By, station: r.Station}, g.Service.FindPeople, r)
}

// Forget cannot be taken back.
func (g guarded) Forget(ctx context.Context, r ask.ForgetRequest) (*ask.ForgetAnswer, error) {
	return guard(ctx, g, deed{key: tracker.MayForget, by: r.By, station: r.Station}, g.Service.Forget, r)
}

// Reads is for those who watch who reads, and not for those who are watched.
func (g guarded) Reads(ctx context.Context, r ask.ReadsRequest) (*ask.ReadsAnswer, error) {
	return guard(ctx, g, deed{key: tracker.MaySeeReads}, g.Service.Reads, r)
}

// RotateKey is set-up.
func (g guarded) RotateKey(ctx context.Context, r ask.RotateKeyRequest) (*ask.RotateKeyAnswer, error) {
	return guard(ctx, g, deed{key: tracker.MayRotateKey, by: r.By}, g.Service.RotateKey, r)
}

// Printers shows no patient.
func (g guarded) Printers(ctx context.Context, r ask.PrintersRequest) (*ask.PrintersAnswer, error) {
	return guard(ctx, g, deed{key: tracker.MaySeePrinters}, g.Service.Printers, r)
}

// Jobs shows no patient.
func (g guarded) Jobs(ctx context.Context, r ask.JobsRequest) (*ask.JobsAnswer, error) {
	return guard(ctx, g, deed{key: tracker.MaySeePrinters}, g.Service.Jobs, r)
}

// TestPrinter is for whoever stands at one.
func (g guarded) TestPrinter(ctx context.Context, r ask.TestPrinterRequest) (*ask.JobsAnswer, error) {
	return guard(ctx, g, deed{key: tracker.MayTendPrinters, by: r.By, station: r.Station}, g.Service.TestPrinter, r)
}

// Settle is for whoever stands at a printer.
func (g guarded) Settle(ctx context.Context, r ask.SettleRequest) (*ask.JobsAnswer, error) {
	return guard(ctx, g, deed{key: tracker.MayTendPrinters, by: r.By, station: r.Station}, g.Service.Settle, r)
}

// CallOff is for whoever stands at a printer.
func (g guarded) CallOff(ctx context.Context, r ask.CallOffRequest) (*ask.JobsAnswer, error) {
	return guard(ctx, g, deed{key: tracker.MayTendPrinters, by: r.By, station: r.Station}, g.Service.CallOff, r)
}

// guard does a deed if it may be done.
func guard[Q, A any](ctx context.Context, g guarded, d deed, do func(context.Context, Q) (*A, error), r Q) (*A, error) {
	if err := g.may(ctx, d); err != nil {
		return nil, err
	}
	return do(ctx, r)
}
