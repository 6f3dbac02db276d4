package prints

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"os"

	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/store/boltfile"
)

// Fault is one thing that [Queue.Examine] found wrong. Nothing in it tells who a patient is.
type Fault struct {
	Part   string // "job", "index", "body", "head"
	Text   string // what is wrong, a sentence
	Remedy string // what to do about it
}

// OpenToRead opens a queue without changing a byte of it, for looking at it while nobody has it open. Errors are those of
// [Open], and the system's when there is none.
func OpenToRead(path string, key []byte) (*Queue, error) {
	_, err := os.Stat(path)
	var q *Queue
	if err == nil {
		q, err = attach(path, key, boltfile.ReadOnly(openWait))
	}
	if err == nil {
		if err = q.checkKey(); err != nil {
			_ = q.Close()
		}
	}
	if err != nil {
		return nil, fmt.Errorf("open print queue %s: %w", path, err)
	}
	return q, nil
}

const (
	askAround = "Nothing that was recorded hangs on it. Copy the data folder; then ask at the printers which labels came out, and print anew, as the next copy, what did not."
	startAnew = "Nothing that was recorded hangs on it. Copy the data folder, then move prints.db away: the daemon begins an empty queue. Labels that waited are printed anew, as the next copy."
)

// Examine holds every job, and the indexes against the jobs. Each fault goes to report; progress may be nil.
func (q *Queue) Examine(ctx context.Context, report func(Fault), progress func(done, total uint64)) error {
	q.keys.RLock()
	defer q.keys.RUnlock()
	return q.view(func(tx *bolt.Tx) error {
		x := &examination{ctx: ctx, q: q, tx: tx, report: report, want: map[string]map[string]string{inOpen: {}, inDone: {}, inNames: {}, inBodies: {}, inOwed: {}}}
		return errors.Join(x.jobs(progress), x.indexes())
	})
}

type examination struct {
	ctx    context.Context
	q      *Queue
	tx     *bolt.Tx
	report func(Fault)
	want   map[string]map[string]string // by bucket: keys that should be there, and their values
	broken bool                         // some job cannot be read, so that its places are not known
}

func (x *examination) jobs(progress func(done, total uint64)) error {
	jobs := x.tx.Bucket([]byte(inJobs))
	total, seen, done := uint64(jobs.Stats().KeyN), uint64(0), uint64(0)
	err := jobs.ForEach(func(key, raw []byte) error {
		if seen++; progress != nil && seen%100 == 0 {
			progress(seen, total)
		}
		id := idAtEnd(key)
		r, err := parse(id, raw)
		if err != nil {
			x.broken = true
			x.report(Fault{"job", fmt.Sprintf("Print job %d cannot be read, or is in a state that there is not.", id), askAround})
			return x.ctx.Err()
		}
		if r.State.Done() {
			done++
			x.want[inDone][string(doneKey(&r))] = ""
		} else {
			x.want[inOpen][string(openKey(&r))] = string(openValue(&r))
		}
		if r.Name != "" {
			x.want[inNames][string(nameKey(r.Name, r.Copy, r.ID))] = ""
		}
		if r.State.keepsBody() {
			x.want[inBodies][string(key)] = ""
			if _, err := x.q.body(x.tx, &r); err != nil {
				x.report(Fault{"body", fmt.Sprintf("What print job %d is to print cannot be opened: it was changed.", id), askAround})
			}
		}
		return x.ctx.Err()
	})
	if err == nil && !x.broken && done != countDone(x.tx) {
		x.report(Fault{"head", "The count of print jobs that are done is wrong.", startAnew})
	}
	return err
}

func (x *examination) indexes() error {
	if x.broken {
		return nil
	}
	for _, in := range []string{inOpen, inDone, inNames, inBodies, inOwed} {
		wrong := map[uint64]bool{}
		seen := 0
		err := x.tx.Bucket([]byte(in)).ForEach(func(key, value []byte) error {
			wanted, ok := x.want[in][string(key)]
			switch {
			case in == inOwed:
				if r, err := load(x.tx, idAtEnd(key)); err != nil || r.State != NotPrinted {
					wrong[idAtEnd(key)] = true
				}
			case !ok || in == inOpen && !bytes.Equal(value, []byte(wanted)):
				wrong[idAtEnd(key)] = true
			default:
				seen++
			}
			return nil
		})
		if err != nil {
			return err
		}
		for id := range wrong {
			x.report(Fault{"index", fmt.Sprintf("Print job %d is filed as %s, and is not, or otherwise.", id, in), startAnew})
		}
		if missing := len(x.want[in]) - seen - len(wrong); in != inOwed && missing > 0 {
			x.report(Fault{"index", fmt.Sprintf("%d print jobs are missing from the index %s.", missing, in), startAnew})
		}
	}
	return nil
}

// idAtEnd is the number at the end of a key; 0 when there is none.
func idAtEnd(key []byte) uint64 {
	if len(key) < 8 {
		return 0
	}
	return binary.BigEndian.Uint64(key[len(key)-8:])
}
