package daemon

import (
	"context"
	"errors"
	"fmt"
	"log/slog"

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

// openNotary holds what was signed before against the record, and gives who goes on signing. Fresh says that there was no
// key, bad how many lines of the file beside the ledger cannot be read. Nothing is recorded onto a record that is not what was
// signed.
func openNotary(f folder, l *store.Ledger, log *slog.Logger, broken func(error)) (n *notary, fresh bool, bad int, err error) {
	signer, fresh, err := openSigner(f, l.Origin())
	if err != nil {
		return nil, fresh, 0, err
	}
	w := &witness{path: f.path(fileWitness)}
	found, err := w.read(mostWitness)
	if err != nil {
		return nil, fresh, 0, err
	}
	if found.bad > 0 {
		log.Warn("lines of the file of checkpoints cannot be read: somebody changed it, or the disk did", "file", fileWitness, "lines", found.bad)
	}
	if err := inspectEvidence(l, found, signer.Key()); err != nil {
		return nil, fresh, found.bad, err
	}
	if signer.Origin() != l.Origin() {
		return nil, fresh, found.bad, fmt.Errorf("%w: it is of %s, and the ledger here is of %s", ErrSigningKey, evidence.NodeName(signer.Origin()), evidence.NodeName(l.Origin()))
	}
	if err := w.mend(l, found); err != nil {
		log.Warn("the file of checkpoints could not be brought up to date", "error", err.Error())
	}
	n, err = newNotary(l, signer, w, log, broken)
	return n, fresh, found.bad, err
}

// openEvidence signs from now on.
func (d *running) openEvidence() error {
	n, fresh, _, err := openNotary(d.folder, d.ledger, d.o.Log, d.giveUp)
	if err != nil {
		return err
	}
	if fresh && len(n.last) > 0 {
		d.o.Log.Warn("the key that signed checkpoints before is gone, and a new one was made: give its public part to those who check", "key", n.signer.Key())
	}
	n.damaged = d.damage.found
	d.service.notary = n
	d.service.counts.registry.MustRegister(signedCollector{n})
	d.onStop(n.end) // after the last event was recorded
	return nil
}

// SignOnce does about evidence what a daemon does at its start, over a ledger that somebody else has open: what was signed
// before is held against the record, what is new is signed. It gives the public key, and how many checkpoints the file beside
// the ledger has then; lines of it that cannot be read are an error. It is for trials of what a crash leaves.
func SignOnce(ctx context.Context, dir string, l *store.Ledger) (key string, kept int, err error) {
	f := folder{dir}
	n, _, bad, err := openNotary(f, l, slog.New(slog.DiscardHandler), nil)
	if err != nil {
		return "", 0, err
	}
	if bad > 0 {
		return "", 0, fmt.Errorf("%w: %d lines of %s cannot be read", ErrEvidence, bad, fileWitness)
	}
	if _, err := n.make(ctx); err != nil {
		return "", 0, err
	}
	found, err := n.witness.read(mostWitness)
	return n.key(), len(found.kept), err
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
