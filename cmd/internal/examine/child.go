package examine

import (
	"context"
	"fmt"
	"io"
	"os"
	"sync"
	"time"

	"github.com/go-json-experiment/json"

	"github.com/pottrail/pottrail/events/evidence"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/boltfile"
	"github.com/pottrail/pottrail/store/people"
	"github.com/pottrail/pottrail/store/prints"
	"github.com/pottrail/pottrail/store/staff"
)

// defaultBudget is about how long a quick look may take.
const defaultBudget = time.Second

// KeyPrinting is the use of the people file's key by which labels wait for their printers.
const KeyPrinting = "print queue"

// KeyStaff is the use of the people file's key by which PINs are sealed.
const KeyStaff = "staff file"

// Child reads a job from in, looks at its files, and tells what it finds on out. It is what the hidden command does; an error
// says that nobody listens, or that there was no job.
func Child(ctx context.Context, in io.Reader, out io.Writer) error {
	var job Job
	if err := json.UnmarshalRead(in, &job); err != nil {
		return fmt.Errorf("what is to be looked at cannot be read: %w", err)
	}
	t := &teller{out: out}
	look(ctx, job, t.tell)
	t.tell(line{End: true})
	return t.err
}

// teller writes lines, one at a time.
type teller struct {
	mu   sync.Mutex
	out  io.Writer
	last time.Time // when progress was told
	err  error
}

// tellEvery is how often progress is told.
const tellEvery = 50 * time.Millisecond

func (t *teller) tell(l line) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if l.Progress != nil {
		if time.Since(t.last) < tellEvery {
			return
		}
		t.last = time.Now()
	}
	text, err := json.Marshal(l, json.Deterministic(true))
	if err == nil {
		_, err = t.out.Write(append(text, '\n'))
	}
	if err != nil && t.err == nil {
		t.err = err
	}
}

// look goes through the files of a job. What one of them does to this goroutine is told as a finding.
func look(ctx context.Context, job Job, tell func(line)) {
	for _, row := range []struct {
		file, path string
		do         func(context.Context, Job, func(line)) error
	}{
		{FileLedger, job.Ledger, lookAtLedger},
		{FilePeople, job.People, lookAtPeople},
		{FilePrints, job.Prints, lookAtPrints},
		{FileStaff, job.Staff, lookAtStaff},
	} {
		if row.path == "" {
			continue
		}
		if err := guarded(func() error { return row.do(ctx, job, tell) }); err != nil {
			t := troubleOf(row.file, err)
			tell(line{Trouble: &t})
			continue
		}
		tell(line{Looked: row.file})
	}
}

// guarded makes a fault of reading mapped memory an error, where the system lets it be one.
func guarded(do func() error) (err error) {
	back := boltfile.FaultsPanic()
	defer back()
	defer boltfile.Guard(func(fault any) { err = fmt.Errorf("reading it went wrong: %T", fault) })
	return do()
}

const unread = "The ledger has its own copy of each checkpoint. Copy the data folder and keep the copy: if a line was taken away, so may others have been."

func lookAtLedger(ctx context.Context, job Job, tell func(line)) error {
	if job.Quick {
		budget := time.Duration(job.BudgetMS) * time.Millisecond
		if budget == 0 {
			budget = defaultBudget
		}
		limited, cancel := context.WithTimeout(ctx, budget)
		defer cancel()
		ctx = limited
	}
	others := []evidence.Kept{}
	for _, c := range job.Checkpoints {
		if signed, err := evidence.ReadCheckpoint(c.Note); err != nil {
			job.Unread++
		} else {
			others = append(others, evidence.Kept{Signed: signed, At: c.Made, Where: c.Where})
		}
	}
	if job.Unread > 0 {
		tell(line{Finding: &Finding{FileCheckpoints, store.Finding{Part: store.PartCheckpoint,
			Text: fmt.Sprintf("%d lines of the file of checkpoints cannot be read: somebody changed it, or the disk did.", job.Unread), Remedy: unread}}})
	}
	out, err := store.Examine(ctx, job.Ledger, store.ExamineOptions{Quick: job.Quick, NoHashes: job.NoHashes, Others: others, Keys: job.Keys, Paper: job.Paper,
		Report: func(f store.Finding) { tell(line{Finding: &Finding{FileLedger, f}}) },
		Progress: func(stage string, done, total uint64) {
			tell(line{Progress: &Progress{FileLedger, stage, done, total}})
		}})
	if err == nil {
		tell(line{Ledger: &out})
	}
	return err
}

// sound walks over a file's pages before anything follows what they say.
func sound(ctx context.Context, file, path, remedy string, tell func(line)) (bool, error) {
	walk, err := boltfile.WalkPages(ctx, path, func(done, total uint64) { tell(line{Progress: &Progress{file, "pages", done, total}}) })
	if err != nil {
		return false, err
	}
	for _, fault := range []error{walk.Header, walk.Pages} {
		if fault != nil {
			tell(line{Finding: &Finding{file, store.Finding{Part: store.PartFile, Text: fmt.Sprintf("The file %s: %v.", file, fault), Remedy: remedy}}})
		}
	}
	return walk.Pages == nil, nil
}

func lookAtPeople(ctx context.Context, job Job, tell func(line)) error {
	f, err := people.OpenToRead(job.People, job.Key, people.Options{Timeout: time.Second, KeyGiven: job.KeyGiven})
	if err != nil {
		return err
	}
	defer func() { _ = f.Close() }() // nothing was written
	if ok, err := sound(ctx, FilePeople, job.People, "Copy the data folder first, then put the last backup of the people file back. The ledger is not touched by this.", tell); err != nil || !ok {
		return err
	}
	return f.Check(ctx, func(p people.Fault) {
		tell(line{Finding: &Finding{FilePeople, store.Finding{Part: store.Part(p.Part), Text: p.Text, Remedy: p.Remedy}}})
	}, func(done, total uint64) { tell(line{Progress: &Progress{FilePeople, "records", done, total}}) })
}

func lookAtPrints(ctx context.Context, job Job, tell func(line)) error {
	key, err := job.keyFor(KeyPrinting)
	if err != nil {
		return fmt.Errorf("the print queue is sealed by a key of the people file: %w", err)
	}
	q, err := prints.OpenToRead(job.Prints, key)
	if err != nil {
		return err
	}
	defer func() { _ = q.Close() }() // nothing was written
	if ok, err := sound(ctx, FilePrints, job.Prints, "Nothing that was recorded hangs on it. Copy the data folder, then move prints.db away: the daemon begins an empty queue.", tell); err != nil || !ok {
		return err
	}
	return q.Examine(ctx, func(p prints.Fault) {
		tell(line{Finding: &Finding{FilePrints, store.Finding{Part: store.Part(p.Part), Text: p.Text, Remedy: p.Remedy}}})
	}, func(done, total uint64) { tell(line{Progress: &Progress{FilePrints, "jobs", done, total}}) })
}

// keyFor gives a key that hangs on the people file's.
func (j Job) keyFor(use string) ([]byte, error) {
	f, err := people.OpenToRead(j.People, j.Key, people.Options{Timeout: time.Second, KeyGiven: j.KeyGiven})
	if err != nil {
		return nil, err
	}
	key, err := f.DerivedKey(use)
	_ = f.Close() // nothing was written
	return key, err
}

func lookAtStaff(ctx context.Context, job Job, tell func(line)) error {
	key, err := job.keyFor(KeyStaff)
	if err != nil {
		return fmt.Errorf("PINs are sealed by a key of the people file: %w", err)
	}
	if ok, err := sound(ctx, FileStaff, job.Staff, "Nothing that was recorded hangs on it. Copy the data folder first, then put staff.db of the last backup in its place.", tell); err != nil || !ok {
		return err
	}
	return staff.Examine(job.Staff, key, func(p staff.Fault) {
		tell(line{Finding: &Finding{FileStaff, store.Finding{Part: store.Part(p.Part), Text: p.Text, Remedy: p.Remedy}}})
	})
}

// Hidden is the command by which a program that holds [Child] is started to look at files.
const Hidden = "look-at-files"

// Self is how this program is started as its own child.
func Self() ([]string, error) {
	program, err := os.Executable()
	if err != nil {
		return nil, fmt.Errorf("where this program lies is not known: %w", err)
	}
	return []string{program, Hidden}, nil
}
