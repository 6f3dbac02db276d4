package daemon

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"maps"
	"os"
	"runtime"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/pottrail/pottrail/events/evidence"
	"github.com/pottrail/pottrail/store"
)

// notary signs checkpoints of the record: at set times when something is new, when a proof needs one, and at the end.
// Each is kept in the ledger and in a file apart from it. Nil is one that signs nothing: over a ledger that can only be read
// there is none.
type notary struct {
	ledger  *store.Ledger
	signer  *evidence.Signer
	witness *witness
	log     *slog.Logger
	broken  func(error) // told once when the ledger turns out to be damaged
	damaged func() bool // whether it turned out so elsewhere; nil: it did not

	making sync.Mutex // held while one is made, which can take a while
	mu     sync.Mutex // guards last
	last   map[string]store.KeptCheckpoint
}

// Errors of the key that signs.
var (
	// ErrSigningKey says that the key for checkpoints cannot be used.
	ErrSigningKey = errors.New("the key that signs checkpoints cannot be used")
	// ErrEvidence says that the record is not what an earlier checkpoint was made of.
	ErrEvidence = errors.New("the record is not what was signed")
)

// openSigner reads the key in the folder, or makes one at the first run. fresh says that it was made.
func openSigner(f folder, origin string) (s *evidence.Signer, fresh bool, err error) {
	path := f.path(fileSigning)
	info, err := os.Stat(path)
	if errors.Is(err, fs.ErrNotExist) {
		secret, err := evidence.NewKey(rand.Reader, origin)
		if err != nil {
			return nil, false, fmt.Errorf("%w: %w", ErrSigningKey, err)
		}
		text := "# Signs checkpoints of the record. Whoever has it can sign another record: no copy of it belongs into a backup.\n" + secret + "\n"
		if err := f.writeWhole(fileSigning, []byte(text)); err != nil {
			return nil, false, fmt.Errorf("%w: %w", ErrSigningKey, err)
		}
		s, err := evidence.NewSigner(secret)
		return s, true, err
	}
	if err != nil {
		return nil, false, fmt.Errorf("%w: %w", ErrSigningKey, err)
	}
	if mode := info.Mode().Perm(); mode&0o077 != 0 && runtime.GOOS != "windows" {
		return nil, false, fmt.Errorf("%w: others can read %s (its mode is %04o): make it so with chmod 600, and think about who may have read it", ErrSigningKey, path, mode)
	}
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, false, fmt.Errorf("%w: %w", ErrSigningKey, err)
	}
	for line := range strings.Lines(string(text)) {
		if line = strings.TrimSpace(line); line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		if s, err = evidence.NewSigner(line); err != nil {
			return nil, false, fmt.Errorf("%w: %s: %w", ErrSigningKey, path, err)
		}
	}
	if s == nil {
		return nil, false, fmt.Errorf("%w: %s is empty", ErrSigningKey, path)
	}
	return s, false, nil
}

// newNotary goes on from what the ledger keeps.
func newNotary(l *store.Ledger, s *evidence.Signer, w *witness, log *slog.Logger, broken func(error)) (*notary, error) {
	n := &notary{ledger: l, signer: s, witness: w, log: log, broken: broken, last: map[string]store.KeptCheckpoint{}}
	for from := uint64(1); ; {
		page, err := l.Checkpoints(from, 0)
		if err != nil {
			return nil, err
		}
		if len(page) == 0 {
			return n, nil
		}
		for _, kept := range page {
			n.last[kept.Origin] = kept
		}
		from = page[len(page)-1].Position + 1
	}
}

// latest is the last checkpoint of each origin, by origin.
func (n *notary) latest() map[string]store.KeptCheckpoint {
	n.mu.Lock()
	defer n.mu.Unlock()
	return maps.Clone(n.last)
}

// key is the public key; "" where nothing is signed.
func (n *notary) key() string {
	if n == nil {
		return ""
	}
	return n.signer.Key()
}

// short is the latest checkpoint of this node's own log, for paper.
func (n *notary) short() (short string, made time.Time, ok bool) {
	if n == nil {
		return "", time.Time{}, false
	}
	c, ok := n.latest()[n.ledger.Origin()]
	return c.Short(), c.At, ok
}

// make signs a checkpoint of each origin that has something new, and says how many it made. What it signs it has read
// back from the ledger and hashed again.
func (n *notary) make(ctx context.Context) (made int, err error) {
	n.making.Lock()
	defer n.making.Unlock()
	origins, err := n.ledger.Origins()
	if err != nil {
		return 0, err
	}
	slices.Sort(origins)
	for _, origin := range origins {
		again, err := n.makeOne(ctx, origin)
		if errors.Is(err, store.ErrDamaged) && n.broken != nil {
			n.broken(fmt.Errorf("%w: %w", ErrEvidence, err))
			n.broken = nil
		}
		if err != nil {
			return made, fmt.Errorf("checkpoint of %s: %w", origin, err)
		}
		if again {
			made++
		}
	}
	return made, nil
}

func (n *notary) makeOne(ctx context.Context, origin string) (made bool, err error) {
	size, err := n.ledger.Size(origin)
	if err != nil {
		return false, err
	}
	before := n.latest()[origin]
	switch {
	case size == before.Size:
		return false, nil
	case size < before.Size:
		return false, fmt.Errorf("%w: it has %d entries, and had %d", store.ErrDamaged, size, before.Size)
	}
	if before.Size > 0 {
		root, err := n.ledger.RootAt(origin, before.Size)
		if err != nil {
			return false, err
		}
		if root != before.Root {
			return false, fmt.Errorf("%w: its first %d entries have another root than when they were signed", store.ErrDamaged, before.Size)
		}
	}
	if err := n.ledger.Audit(ctx, origin, before.Size, size); err != nil {
		return false, err
	}
	root, err := n.ledger.RootAt(origin, size)
	if err != nil {
		return false, err
	}
	signed, err := n.signer.Checkpoint(evidence.Checkpoint{Origin: origin, Size: size, Root: root})
	if err != nil {
		return false, err
	}
	kept, err := n.ledger.KeepCheckpoint(time.Now(), signed.Note)
	if err != nil {
		return false, err
	}
	n.mu.Lock()
	n.last[origin] = kept
	n.mu.Unlock()
	if err := n.witness.add(kept); err != nil { // the ledger has it; the file is made good at the next start
		n.log.Warn("a checkpoint is in the ledger and not in the file beside it", "file", fileWitness, "error", err.Error())
	}
	n.log.Info("checkpoint", "origin", origin, "entries", size, "root", kept.Root.String())
	return true, nil
}

// keep makes checkpoints until the context ends: at once, when the last run left something uncovered, and then as long
// after something new as every says. While nothing is recorded it sleeps.
func (n *notary) keep(ctx context.Context, every time.Duration) {
	for {
		changed := n.ledger.Changed()
		if _, err := n.make(ctx); err != nil && ctx.Err() == nil {
			n.log.Error("no checkpoint could be made; it is tried again", "error", err.Error())
		} else {
			select {
			case <-ctx.Done():
				return
			case <-changed:
			}
		}
		select {
		case <-ctx.Done():
			return
		case <-time.After(every):
		}
	}
}

// lastTime is how long the checkpoint at the end may take. What it does not cover, the next start does.
const lastTime = 5 * time.Second

// end makes a last checkpoint. Nothing is added to a ledger that is known to be damaged.
func (n *notary) end() {
	if n == nil || n.damaged != nil && n.damaged() {
		return
	}
	ctx, cancel := context.WithTimeout(context.Background(), lastTime)
	defer cancel()
	if _, err := n.make(ctx); err != nil {
		n.log.Warn("no checkpoint at the end; the next start makes one", "error", err.Error())
	}
}
