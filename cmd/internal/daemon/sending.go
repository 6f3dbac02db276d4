package daemon

import (
	"context"
	"time"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/tracker"
)

// sending is what one request has for the ledger, and where its verdicts go.
type sending struct {
	s      *Service
	ctx    context.Context
	rights *recording
	batch  []store.Intake
	raw    [][]byte // as they came
	places []int    // among the verdicts
	out    []events.Verdict
	adopts bool // a protocol is among them
}

func (b *sending) add(place int, result events.Result, sentAt time.Time) {
	b.batch, b.places = append(b.batch, store.Intake{Event: result.Event, SentAt: sentAt}), append(b.places, place)
	b.raw = append(b.raw, result.Raw)
	b.adopts = b.adopts || result.Event.Kind == tracker.KindProtocolAdopted
}

// settle sends what there is if a protocol is among it, so that what follows is judged by that.
func (b *sending) settle() error {
	if !b.adopts {
		return nil
	}
	return b.send()
}

// send takes what there is to the ledger and fills in the verdicts.
func (b *sending) send() error {
	b.rights.note()
	for len(b.batch) > 0 {
		n := min(len(b.batch), batchEvents)
		verdicts, err := b.s.intake.submit(b.ctx, b.batch[:n])
		if err != nil {
			return err
		}
		for i, v := range verdicts {
			b.out[b.places[i]] = b.rights.forSender(b.batch[i].Event, v)
			b.s.counts.verdict(b.batch[i].Event.Kind, v)
			if !v.OK && v.Error.Code != events.CodeNoSpace {
				b.s.keepRefused(v.ID, b.raw[i], v.Error)
			}
		}
		b.batch, b.raw, b.places = b.batch[n:], b.raw[n:], b.places[n:]
	}
	b.adopts = false
	return nil
}
