package daemon

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"sync"
	"time"

	"github.com/pottrail/pottrail/cmd/internal/examine"
	"github.com/pottrail/pottrail/cmd/internal/web"
	"github.com/pottrail/pottrail/store"
)

// damage is what is known to be wrong with the ledger.
type damage struct {
	log *slog.Logger
	mu  sync.Mutex
	say string
}

// note keeps the first thing that is wrong, and logs all.
func (d *damage) note(text string) {
	d.log.Error("the ledger is damaged: nothing is recorded any more", "what", text, "do", store.DamagedProcedure)
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.say == "" {
		d.say = text
	}
}

// what is wrong, a sentence; "" when all is well.
func (d *damage) what() string {
	if d == nil {
		return ""
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.say
}

func (d *damage) found() bool { return d.what() != "" }

// What may be done with a ledger.
type ledgerMode int

const (
	ledgerWhole    ledgerMode = iota // or there is none yet
	ledgerReadOnly                   // something does not fit, and it can be read
	ledgerUnsafe                     // reading it may end the process
)

const (
	// quickMS is about how long the check at the start may take, in milliseconds.
	quickMS = 700
	// quickMost is how long its process may take before the start is given up: a disk that is this slow is ill.
	quickMost = time.Minute
	// mostLogged is how many findings go to the log.
	mostLogged = 20
)

// lookAtLedger has a process of its own look at the end of the ledger before this one opens it.
func (d *running) lookAtLedger() (ledgerMode, error) {
	path := d.folder.path(fileLedger)
	if !there(path) {
		return ledgerWhole, nil
	}
	ctx, cancel := context.WithTimeout(context.Background(), quickMost)
	defer cancel()
	job := examine.Job{Ledger: path, Quick: true, BudgetMS: quickMS}
	if known, err := known(d.folder, mostWitness); err == nil { // else opening it says why
		known.into(&job, mostInspected)
	}
	r, err := examine.Run(ctx, d.o.Self, job, nil)
	if err != nil {
		return ledgerWhole, fmt.Errorf("%s: %w", path, err)
	}
	if len(r.Troubles) > 0 {
		t := r.Troubles[0]
		if errors.Is(t, fs.ErrNotExist) { // it went just now
			return ledgerWhole, nil
		}
		return ledgerWhole, fmt.Errorf("%s: %w", path, t) // in use, empty, another program's: opening it would say the same
	}
	for i, f := range r.Findings {
		if i < mostLogged {
			d.damage.note(f.Text)
		}
	}
	switch {
	case r.Well():
		return ledgerWhole, nil
	case r.Safe():
		return ledgerReadOnly, nil
	}
	return ledgerUnsafe, nil
}

// openReadOnly serves what can still be read: no event is taken in, nothing is printed, no flag is raised by time.
func (d *running) openReadOnly() error {
	d.health.damage = d.damage
	for _, step := range []func() error{d.openStores, d.openIntake, d.openNoPrinting, d.openLink, d.openPages} {
		if err := step(); err != nil {
			return err
		}
	}
	d.service.intake.refuse()
	return nil
}

// openClosed serves nothing but the sentence that the ledger cannot be read.
func (d *running) openClosed() error {
	d.health.damage = d.damage
	server, err := web.NewClosed(web.Options{Health: &d.health, Log: d.o.Log, Hosts: d.hosts(), Beyond: d.o.Beyond(), Certificates: d.certificates, Demo: d.o.Demo != nil, Version: d.o.Version, Damaged: d.damage.what})
	if err != nil {
		return err
	}
	return d.serve(server)
}

// openNoPrinting leaves printers and their queue alone.
func (d *running) openNoPrinting() error {
	d.service.printing = &printing{log: d.o.Log, scans: newScans(), stopping: make(chan struct{})}
	return nil
}

// giveUp ends recording after an error, and stops the daemon. Over a ledger that turns out to be damaged nothing more is
// answered as recorded; the next start looks closer.
func (d *running) giveUp(err error) {
	if errors.Is(err, store.ErrDamaged) && !errors.Is(err, store.ErrFatal) {
		d.damage.note(err.Error())
		d.service.intake.refuse()
	}
	d.breakDown(err)
}

// startOver ends what was opened of a record that is not what was signed, and opens it to be read.
func (d *running) startOver(found error) error {
	d.damage.note(found.Error())
	d.stop()
	return d.openReadOnly()
}

// origin is the name of this node's log, as far as it can be read.
func (d *running) origin() string {
	if d.ledger == nil {
		return ""
	}
	return d.ledger.Origin()
}

// closeLedger marks the ledger as stopped in good order, and closes it.
func (d *running) closeLedger() {
	if !d.damage.found() && !d.ledger.HalfBuilt() {
		if err := d.ledger.MarkStopped(); err != nil {
			d.o.Log.Warn("the next start looks at more of the ledger", "error", err.Error())
		}
	}
	d.closing("ledger", d.ledger.Close)
}
