package daemon

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"sync"
	"time"

	"github.com/pottrail/pottrail/cmd/internal/say"
	"github.com/pottrail/pottrail/store/backup"
)

// retryBackup is how long after a failed nightly backup the next try is: long enough for somebody to plug a disk in.
const retryBackup = time.Hour

// nightly makes backups by night into a folder, and removes old ones once the new one is good.
type nightly struct {
	schedule func() backup.Schedule
	// once makes one backup and rotates; it is never called twice at once.
	once  func(ctx context.Context) error
	log   *slog.Logger
	moved func() // tells the timer that next has moved

	ctx    context.Context
	cancel context.CancelFunc
	work   sync.WaitGroup

	mu      sync.Mutex
	busy    bool
	wanted  time.Time // when the next one is to begin
	good    time.Time // when the last good one was begun; zero when there is none
	problem error     // of the last try; nil when it was good
	failed  time.Time // when that was
	fails   int       // since the start
}

// startNightly says when the first is wanted: at once, when the last night's was missed or there never was one.
func startNightly(n *nightly, now, last time.Time) *nightly {
	n.ctx, n.cancel = context.WithCancel(context.Background())
	n.good, n.wanted = last, now
	if s := n.schedule(); !last.Before(s.Last(now)) {
		n.wanted = s.Next(now)
	}
	return n
}

// next is the instant at which the timer must call ring; ok is false while one is being made.
func (n *nightly) next() (at time.Time, ok bool) {
	n.mu.Lock()
	defer n.mu.Unlock()
	return n.wanted, !n.busy
}

// ring begins a backup if one is due, and returns at once.
func (n *nightly) ring(now time.Time) {
	n.mu.Lock()
	defer n.mu.Unlock()
	if n.busy || now.Before(n.wanted) || n.ctx.Err() != nil {
		return
	}
	n.busy = true
	n.work.Go(func() { n.run(now) })
}

func (n *nightly) run(begun time.Time) {
	err := n.once(n.ctx)
	if n.ctx.Err() != nil {
		return // the daemon stops; the next start sees that the night's is missing
	}
	now := time.Now()
	n.mu.Lock()
	n.busy, n.problem = false, err
	n.wanted = n.schedule().Next(now)
	if err == nil {
		n.good = begun
	} else {
		n.fails++
		n.failed = now
		if again := now.Add(retryBackup); again.Before(n.wanted) {
			n.wanted = again
		}
	}
	wanted := n.wanted
	n.mu.Unlock()
	if err != nil {
		n.log.Error("the nightly backup failed", "error", err.Error(), "again", wanted.Format(time.RFC3339))
	}
	n.moved()
}

func (n *nightly) stop() {
	n.cancel()
	n.work.Wait()
}

// trouble is one sentence while the last try failed, else "". It names no folder: the page shows it to everybody.
func (n *nightly) trouble() string {
	n.mu.Lock()
	defer n.mu.Unlock()
	if n.problem == nil {
		return ""
	}
	zone := n.schedule().Zone
	text := "The nightly backup failed " + say.Instant(n.failed, zone, n.failed) + " and is tried again " + say.Instant(n.wanted, zone, n.failed) + "; "
	if n.good.IsZero() {
		return text + "there is none yet."
	}
	return text + "the last good one is of " + say.Instant(n.good, zone, n.failed) + "."
}

// figures are for metrics.
func (n *nightly) figures() (good time.Time, fails int) {
	n.mu.Lock()
	defer n.mu.Unlock()
	return n.good, n.fails
}

// openNightly starts nightly backups where a folder for them is named. A folder that is not there now is no reason not to
// serve: it is tried again.
func (b *backups) openNightly(d *running) error {
	o := d.o.Backup
	if o.Dir == "" {
		return nil
	}
	hour, minute, err := o.TimeOfDay()
	if err != nil {
		return err
	}
	var last time.Time
	if list, err := backup.List(o.Dir, d.ledger.Origin()); err != nil {
		d.o.Log.Warn("no nightly backup can be made yet: make the folder, or connect its disk", "error", err.Error())
	} else if len(list) > 0 {
		last = list[0].At
	}
	n := &nightly{log: d.o.Log, moved: d.alarm.tell,
		schedule: func() backup.Schedule {
			return backup.Schedule{Hour: hour, Minute: minute, Zone: d.service.homeZone()}
		},
		once: func(ctx context.Context) error {
			rotation := backup.Rotation{Daily: o.Daily, Weekly: o.Weekly, Zone: d.service.homeZone()}
			return b.keep(ctx, o.Dir, d.ledger.Origin(), rotation, d.o.Log)
		}}
	b.nightly = startNightly(n, time.Now(), last)
	d.service.nightly = b.nightly
	d.service.backups = backupsKept{folder: o.Dir, days: backup.Rotation{Daily: o.Daily, Weekly: o.Weekly}.Longest()}
	d.onStop(b.nightly.stop)
	d.service.counts.registry.MustRegister(backupCollector{b.nightly})
	return nil
}

// keep makes one backup in a folder and, when it is verified and under its name, removes those that are too old.
func (b *backups) keep(ctx context.Context, dir, origin string, rotation backup.Rotation, log *slog.Logger) error {
	if _, err := os.Stat(dir); err != nil {
		return fmt.Errorf("the folder of backups: %w", err) // never made here: its disk may not be connected
	}
	start := time.Now()
	making := filepath.Join(dir, "."+folderMaking+"-"+origin)
	err := b.make(ctx, making, nil, func(m backup.Manifest, at string) error {
		name := backup.FileName(origin, m.Created)
		_, err := backup.WriteFile(filepath.Join(dir, name), false, func(w io.Writer) error { return backup.Write(stopping{ctx, w}, m, at, nil) }, nil)
		if err != nil {
			return err
		}
		log.Info("backup made and verified", "file", name, "events", m.Ledger.Entries, "bytes", m.Total(), "took", time.Since(start).Round(time.Millisecond).String())
		return nil
	})
	if err != nil {
		return err
	}
	removed, err := rotation.Rotate(dir, origin)
	for _, name := range removed {
		log.Info("old backup removed", "file", name)
	}
	if err != nil { // the new one is good all the same
		log.Warn("some old backups stay", "error", err.Error())
	}
	return nil
}

// stopping is a writer that ends with its context.
type stopping struct {
	ctx context.Context
	w   io.Writer
}

// Write writes while the context lasts.
func (s stopping) Write(b []byte) (int, error) {
	if err := s.ctx.Err(); err != nil {
		return 0, err
	}
	return s.w.Write(b)
}

// homeZone is the time zone of this node's clinic: of the first, by its key, of which the ledger has anything, else of the
// protocol inside the program.
func (s *Service) homeZone() *time.Location {
	if clinics, err := s.ledger.Clinics(); err == nil && len(clinics) > 0 {
		return s.rules(clinics[0]).Zone()
	}
	return s.fallback.Zone()
}

// alarm wakes the timer when what is due moved otherwise than by a change of the ledger.
type alarm chan struct{}

func (a alarm) tell() {
	select {
	case a <- struct{}{}:
	default: // it is told already
	}
}
