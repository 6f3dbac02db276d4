package daemon

import (
	"context"
	"errors"
	"fmt"

	"github.com/pottrail/pottrail/events/evidence"
	"github.com/pottrail/pottrail/store"
)

// mostInspected is how many of the latest checkpoints of each kind are held against the ledger at each start. All of them
// are by fsck.
const mostInspected = 1000

// inspectEvidence holds the checkpoints that are known, in the ledger and in the file beside it, against the ledger's
// trees: an entry that was changed, or an older copy in the ledger's place, is found by it, as far back as a checkpoint
// that is still known. The error is [ErrEvidence] with an [evidence.Mismatch], which says which checkpoint and why; or
// what kept it from being found out.
func inspectEvidence(l *store.Ledger, found witnessed, key string) error {
	stored, err := l.LastCheckpoints(mostInspected)
	if err != nil {
		return err
	}
	kept := found.kept[max(0, len(found.kept)-mostInspected):]
	for _, c := range stored {
		kept = append(kept, c.Kept)
	}
	if err := evidence.Inspect(kept, l, key); err != nil {
		if errors.As(err, new(*evidence.Mismatch)) || errors.Is(err, store.ErrDamaged) {
			return fmt.Errorf("%w: %w", ErrEvidence, err)
		}
		return err
	}
	return nil
}

// openEvidence holds what was signed before against the record, and goes on signing. Nothing is recorded onto a record
// that is not what was signed.
func (d *running) openEvidence() error {
	signer, fresh, err := openSigner(d.folder, d.ledger.Origin())
	if err != nil {
		return err
	}
	w := &witness{path: d.folder.path(fileWitness)}
	found, err := w.read()
	if err != nil {
		return err
	}
	if found.bad > 0 {
		d.o.Log.Warn("lines of the file of checkpoints cannot be read: somebody changed it, or the disk did", "file", fileWitness, "lines", found.bad)
	}
	if err := inspectEvidence(d.ledger, found, signer.Key()); err != nil {
		return err
	}
	if signer.Origin() != d.ledger.Origin() {
		return fmt.Errorf("%w: it is of %s, and the ledger here is of %s", ErrSigningKey, evidence.NodeName(signer.Origin()), evidence.NodeName(d.ledger.Origin()))
	}
	if err := w.mend(d.ledger, found); err != nil {
		d.o.Log.Warn("the file of checkpoints could not be brought up to date", "error", err.Error())
	}
	n, err := newNotary(d.ledger, signer, w, d.o.Log, d.breakDown)
	if err != nil {
		return err
	}
	if fresh && len(n.last) > 0 {
		d.o.Log.Warn("the key that signed checkpoints before is gone, and a new one was made: give its public part to those who check", "key", signer.Key())
	}
	d.service.notary = n
	d.service.counts.registry.MustRegister(signedCollector{n})
	d.onStop(n.end) // after the last event was recorded
	return nil
}

// openCheckpoints starts signing at set times. It ends before the link does, so that the last one is not waited for twice.
func (d *running) openCheckpoints() error {
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() {
		defer close(done)
		d.service.notary.keep(ctx, d.o.Evidence.Every)
	}()
	d.onStop(func() { cancel(); <-done })
	return nil
}
