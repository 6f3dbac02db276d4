package daemon

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"time"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/config"
	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/protocol"
)

// protocolAnswer is the protocol in force for a clinic, with who adopted it; without an adoption the one inside the program.
func protocolAnswer(l *store.Ledger, clinic string) *ask.ProtocolAnswer {
	a, adopted := l.Adoption(clinic)
	if !adopted {
		p := protocol.Default()
		return &ask.ProtocolAnswer{Clinic: clinic, Title: p.Title, SHA256: p.SHA256, Text: p.Text}
	}
	answer := &ask.ProtocolAnswer{Clinic: clinic, SHA256: a.SHA256, Text: a.Text, Adopted: a.At, By: a.By, Seq: a.Seq}
	if a.Fault != nil {
		answer.Fault = a.Fault.Error()
	} else if rules, ok := l.Adopted(clinic); ok {
		answer.Title = rules.Protocol().Title
	}
	return answer
}

// StoppedProtocol is the protocol in force for a clinic, read from the ledger of a data folder itself. It is for when no
// daemon runs, and shows a protocol that this release cannot use as well. It needs the ledger to itself.
func StoppedProtocol(o config.Options, clinic string) (answer *ask.ProtocolAnswer, err error) {
	err = stopped(o, func(l *store.Ledger) error {
		answer = protocolAnswer(l, clinic)
		return nil
	})
	return answer, err
}

// StoppedAdopt records the adoption of a protocol in the ledger of a data folder itself, for when no daemon can run since the
// last one adopted cannot be used. What is open is judged anew when the daemon starts. It needs the ledger to itself.
func StoppedAdopt(o config.Options, e *tracker.Event) (verdict events.Verdict, err error) {
	if _, ok := e.Data.(*tracker.ProtocolAdopted); !ok {
		return events.Verdict{}, fmt.Errorf("%s is no adoption of a protocol: only that is recorded while the daemon is stopped", e.Kind)
	}
	err = stopped(o, func(l *store.Ledger) error {
		verdicts, err := l.Record(time.Now(), []store.Intake{{Event: e}})
		if err == nil {
			verdict = verdicts[0]
		}
		return err
	})
	return verdict, err
}

// stopped opens the ledger of a data folder for a moment.
func stopped(o config.Options, do func(*store.Ledger) error) error {
	path := folder{o.Folder.Dir}.path(fileLedger)
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("%s: there is no ledger: %w", path, ErrForeign)
	}
	if err := readable(path); err != nil {
		return err
	}
	ledger, err := store.Open(path, store.Options{MaxSize: o.Store.MaxSize, Reserve: o.Store.Reserve, Mend: true})
	if err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	if err := errors.Join(do(ledger), ledger.Close()); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	return nil
}
