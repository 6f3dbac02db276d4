package main

import (
	"cmp"
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"runtime"
	"strconv"
	"time"

	"github.com/pottrail/pottrail/cmd/internal/daemon"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/people"
	"github.com/pottrail/pottrail/store/prints"
	"github.com/pottrail/pottrail/store/staff"
	"github.com/pottrail/pottrail/store/storetest"
	"github.com/pottrail/pottrail/tracker"
)

// The files of a data folder that hold what must not be lost.
const (
	ledgerFile = "ledger.db"
	peopleFile = "people.db"
	keyFile    = "people.key"
	printsFile = "prints.db"
	staffFile  = "staff.db"
)

// clinic is all that is kept on disk of one clinic, opened.
type clinic struct {
	ledger *store.Ledger
	people *people.File
	prints *prints.Queue
	staff  *staff.File
}

// openClinic opens the files in the order in which a daemon does. The first error that wraps nothing else is told with its file.
func openClinic(folder string) (c *clinic, err error) {
	c = &clinic{}
	defer func() {
		if err != nil {
			err = errors.Join(err, c.close())
		}
	}()
	if c.ledger, err = store.Open(filepath.Join(folder, ledgerFile), store.Options{Origin: storetest.Origin, MapSize: 8 << 20, Timeout: 10 * time.Second}); err != nil {
		return c, err
	}
	if c.people, err = people.Open(filepath.Join(folder, peopleFile), filepath.Join(folder, keyFile), people.Options{}); err != nil {
		return c, err
	}
	keys, err := c.people.DerivedKeys("printing")
	if err != nil {
		return c, err
	}
	for _, key := range keys {
		if c.staff, err = staff.Open(filepath.Join(folder, staffFile), key, staff.Options{Cost: staff.Cost{Memory: 8, Time: 1, Lanes: 1}}); !errors.Is(err, staff.ErrKey) {
			break
		}
	}
	if err != nil {
		return c, err
	}
	for _, key := range keys {
		if c.prints, err = prints.Open(filepath.Join(folder, printsFile), key); !errors.Is(err, prints.ErrKey) {
			break
		}
	}
	if err != nil {
		return c, err
	}
	return c, c.rekey()
}

// rekey ends a change of the master key.
func (c *clinic) rekey() error {
	key, err := c.people.DerivedKey("printing")
	if err != nil {
		return err
	}
	if err := c.prints.Rekey(key); err != nil {
		return err
	}
	if err := c.staff.Rekey(key); err != nil {
		return err
	}
	return c.people.Settle()
}

func (c *clinic) close() (err error) {
	if c.prints != nil {
		err = errors.Join(err, c.prints.Close())
	}
	if c.staff != nil {
		err = errors.Join(err, c.staff.Close())
	}
	if c.people != nil {
		err = errors.Join(err, c.people.Close())
	}
	if c.ledger != nil {
		err = errors.Join(err, c.ledger.Close())
	}
	return err
}

// teller says what a run is about to do and what is done, so that the trace has it between the writes.
type teller struct {
	out   io.Writer
	err   error
	lying bool // says that all is done, whatever came of it: for a control
}

// Words of a teller, before a key and its value.
const (
	saysTry  = "try"
	saysDone = "done"
	saysLate = "late" // it was done when it was tried again after an error of which nobody knows what it left
)

// step does something about a key that then has a value, or one that do gives.
func (t *teller) step(key, value string, do func() (string, error)) {
	if t.err != nil {
		return
	}
	t.say(saysTry, key, value)
	given, err := do()
	if isFull(err) {
		given, err = do() // nothing of it was written, and it may be tried again
	}
	if err != nil && !t.lying {
		t.err = fmt.Errorf("%s: %w", key, err)
		if key == keptCheckpoints {
			return // its file is opened anew each time, so it may be tried again
		}
		if given, again := do(); again == nil && !isFull(err) {
			t.say(saysLate, key, given)
		}
		return
	}
	t.say(saysDone, key, cmp.Or(given, value))
}

// isFull reports whether there was no space and nothing was written.
func isFull(err error) bool {
	return errors.Is(err, store.ErrNoSpace) || errors.Is(err, prints.ErrNoSpace) || errors.Is(err, people.ErrNoSpace) || errors.Is(err, staff.ErrNoSpace)
}

// then does something of which nothing is told.
func (t *teller) then(do func() error) {
	if t.err == nil {
		t.err = do()
	}
}

func (t *teller) say(word, key, value string) {
	_, err := fmt.Fprintf(t.out, "%s\t%s\t%s\n", word, key, value) // one write
	t.err = errors.Join(t.err, err)
}

// refOf is the ref of an invented patient.
func refOf(n int) string { return fmt.Sprintf("%032x", 0xabcdef0000+n) }

// patientOf is an invented patient.
func patientOf(n, version int) people.Person {
	return people.Person{Family: fmt.Sprintf("Family%cv%d", 'a'+n%26, version), Given: "Given", BirthDate: "1961-02-14", RecordNumber: "R" + strconv.Itoa(1000+n)}
}

// forgotten is the value of a patient whose record was destroyed.
const forgotten = "forgotten"

// powerRun makes the files of a clinic and does a stretch of work, one thing after the other, telling of each.
func powerRun(folder string, work int, seed uint64, lying bool, out io.Writer) (err error) {
	runtime.LockOSThread() // so that the system's calls are those of one thread, which strace counts by themselves
	c, err := openClinic(folder)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, c.close()) }()
	t := &teller{out: out, lying: lying}
	for i, e := range powerEvents(seed, work) {
		t.step("event/"+string(e.ID), "", func() (string, error) {
			verdicts, err := c.ledger.Record(e.At.Add(time.Minute), storetest.Intakes(e))
			if err == nil && !verdicts[0].OK {
				err = verdicts[0].Error
			}
			if err != nil {
				return "", err
			}
			return strconv.FormatUint(verdicts[0].Seq, 10), nil
		})
		if i%3 == 0 {
			c.patients(t, i/3)
		}
		if i%5 == 0 {
			c.label(t, i/5)
		}
		if i%6 == 0 {
			c.colleagues(t, i/6)
		}
		if i%15 == 7 {
			t.step(keptCheckpoints, "0", func() (string, error) {
				key, kept, err := daemon.SignOnce(context.Background(), folder, c.ledger)
				if err == nil {
					t.say(saysDone, signingKey, key)
				}
				return strconv.Itoa(kept), err
			})
		}
		if i%10 == 9 {
			t.step("count/serial", "0", func() (string, error) {
				first, err := c.ledger.TakeSerials("HCX", 27, 1)
				return strconv.Itoa(first), err
			})
			t.then(func() error { _, err := c.ledger.Recheck(e.At.Add(time.Minute), 20); return err })
		}
	}
	return t.err
}

// signingKey is what the public key of checkpoints is told under: there is one, for ever.
const signingKey = "key/signing"

// keptCheckpoints is what is told how many checkpoints the file beside the ledger has.
const keptCheckpoints = "count/checkpoints"

// powerEvents are the events of a run: so many of a longer life, in the order in which they happen.
func powerEvents(seed uint64, n int) []*tracker.Event {
	return storetest.Life(seed, n/10+4)[:n]
}

// patients keeps one more patient, changes and forgets others, and notes a read.
func (c *clinic) patients(t *teller, n int) {
	write := func(n, version int) {
		p := patientOf(n, version)
		t.step("person/"+strconv.Itoa(n), p.Family, func() (string, error) { return "", c.people.Put(refOf(n), p) })
	}
	write(n, 1)
	if n%4 == 3 {
		write(n-2, 2)
	}
	at := storetest.Morning().Add(time.Duration(n) * time.Minute)
	t.step("count/reads", strconv.Itoa(n+1), func() (string, error) {
		return "", c.people.NoteReads(people.Read{At: at, By: "nurse.osei", Ref: refOf(n), How: "find"})
	})
	if n%12 == 10 {
		t.step("person/"+strconv.Itoa(n-5), forgotten, func() (string, error) {
			_, err := c.people.Forget(refOf(n-5), at)
			return "", err
		})
		t.then(c.rekey)
	}
	if n%12 == 5 {
		t.then(func() error { return c.people.Rotate("") })
		t.then(c.rekey)
	}
}

// colleagues puts somebody on the list of those who sign in, takes others off, and notes a doubt.
func (c *clinic) colleagues(t *teller, n int) {
	name := func(n int) string { return fmt.Sprintf("nurse.n%d", n) }
	t.step("staff/"+name(n), onTheList, func() (string, error) {
		return "", c.staff.Add(context.Background(), name(n), "739154", "admin.ray")
	})
	if n%4 == 3 {
		t.step("staff/"+name(n-2), "", func() (string, error) { return "", c.staff.Remove(name(n-2), "admin.ray") })
	}
	t.step("count/doubts", strconv.Itoa(n+1), func() (string, error) {
		return "", c.staff.NoteDoubts(staff.Doubt{ID: "e" + strconv.Itoa(n), Kind: "custody.taken", By: name(n), Station: "desk", Why: "nobody was signed in"})
	})
}

// onTheList is the value of somebody who may sign in.
const onTheList = "on the list"

// label takes one label through the print queue, as far as its number says.
func (c *clinic) label(t *teller, n int) {
	at := storetest.Morning().Add(time.Duration(n) * time.Minute)
	name, err := tracker.CaseName("MBY", 26, 1000+n)
	if err != nil {
		t.err = errors.Join(t.err, err)
		return
	}
	id := uint64(n + 1) // the queue counts from 1
	step := func(state prints.State, do func() error) {
		t.step("job/"+strconv.FormatUint(id, 10), string(state), func() (string, error) { return "", do() })
	}
	step(prints.Prepared, func() error {
		j, err := c.prints.Prepare(at, prints.Job{Printer: "room", Name: name, Copy: '1', Layout: "pot", By: "nurse.osei", Station: "room-1",
			Event: tracker.EventID("018f0000-0000-7000-8000-" + hex.EncodeToString([]byte(fmt.Sprintf("%06d", n))))}, []byte("\x00\x01 a label"))
		if err == nil && j.ID != id {
			err = fmt.Errorf("it has the number %d", j.ID)
		}
		return err
	})
	if n%5 == 0 {
		return
	}
	step(prints.Queued, func() error { return c.prints.Queue(id, at) })
	if n%5 == 1 {
		step(prints.NotPrinted, func() error { return c.prints.CallOff(id, at, "nurse.osei", "room-1") })
		return
	}
	step(prints.Unknown, func() error { // what was being sent is unknown after a start
		_, _, ok, err := c.prints.Take("room", at)
		if err == nil && !ok {
			err = errors.New("nothing to print")
		}
		return err
	})
	step(prints.Sent, func() error { return c.prints.Sent(id, at) })
	if n%5 == 3 {
		step(prints.Confirmed, func() error { _, err := c.prints.Confirm(name, '1', at); return err })
	}
}
