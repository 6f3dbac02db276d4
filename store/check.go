package store

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"strings"

	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/events/evidence"
	"github.com/pottrail/pottrail/store/boltfile"
	"github.com/pottrail/pottrail/tracker"
)

// mostFaults is how many faults [Ledger.Check] tells.
const mostFaults = 20

// Check recomputes every hash, index and snapshot from the entries and says what does not fit, with [ErrDamaged]. It
// changes nothing, and lets nothing be recorded while it runs. [Examine] does the same to a file that is not open.
func (l *Ledger) Check() error {
	defer l.alone()()
	var faults []error
	k := &checkup{ctx: context.Background(), l: l, state: l.current(), report: func(f Finding) {
		if len(faults) < mostFaults {
			faults = append(faults, f)
		}
	}}
	walk, err := boltfile.WalkPages(k.ctx, l.path, nil)
	k.pages(walk)
	if err == nil && walk.Pages == nil { // else what follows would read damaged pages
		err = l.view(k.run)
	}
	if err = errors.Join(append(faults, err)...); err != nil {
		return fmt.Errorf("check of %s: %w:\n%w", l.path, ErrDamaged, err)
	}
	return nil
}

// checkup recomputes what a ledger holds.
type checkup struct {
	ctx      context.Context
	l        *Ledger
	state    state
	tx       *bolt.Tx
	report   func(Finding)
	progress func(stage string, done, total uint64) // nil: nobody wants to know
	others   []evidence.Kept                        // checkpoints that are known beside those in the ledger
	keys     []string                               // this node's public ones
	paper    string                                 // a checkpoint as it is printed
	noHashes bool                                   // entries are not held against the tree: to show that this is what finds most

	altered  bool                // an entry is not what was recorded: nothing may be made again from it
	counts   [bucketCount]uint64 // keys that should be there
	origins  map[string]*originCheck
	runs     []run
	things   uint64
	headless bool // one header of the file is lost
	unfiled  bool // an earlier fold filed events otherwise: what it did is made anew when the ledger is opened
	older    bool // some snapshots are of an earlier fold, so that their places in the indexes are not known
}

func (k *checkup) tell(stage string, done, total uint64) {
	if k.progress != nil {
		k.progress(stage, done, total)
	}
}

// fault reports something that is about no entry.
func (k *checkup) fault(p Part, n tracker.Name, format string, args ...any) {
	k.found(Finding{Part: p, Item: n, Text: fmt.Sprintf(format, args...)})
}

// faultAt reports something about an entry; the sentence goes on after "Entry 5 (…)".
func (k *checkup) faultAt(p Part, at Finding, format string, args ...any) {
	at.Part = p
	at.Text = at.about() + " " + fmt.Sprintf(format, args...)
	k.found(at)
}

// found reports a finding with what to do about it.
func (k *checkup) found(f Finding) {
	k.altered = k.altered || f.Part == PartEntry || f.Part == PartFile
	f.Remedy = f.Part.remedy(k.altered)
	k.report(f)
}

// pages reports what a walk over the file found.
func (k *checkup) pages(w boltfile.Walk) {
	if w.Header != nil {
		k.headless = true
		k.fault(PartFile, "", "The file: %v.", w.Header)
	}
	if w.Pages != nil {
		k.fault(PartFile, "", "The file's pages do not fit together, so it cannot be read safely: %v.", w.Pages)
	}
}

func (k *checkup) bucket(in bucket) *bolt.Bucket { return k.tx.Bucket([]byte(in.String())) }

// look finds a key without taking anything for granted: nil when it is not there, empty when its value is.
func (k *checkup) look(in bucket, key []byte) []byte {
	found, value := k.bucket(in).Cursor().Seek(key)
	if !bytes.Equal(found, key) {
		return nil
	}
	if value == nil {
		return []byte{}
	}
	return value
}

// expect looks for a key, and for its value if that is not nil, and says "" or what is wrong.
func (k *checkup) expect(in bucket, key, value []byte) string {
	k.counts[in]++
	switch found := k.look(in, key); {
	case found == nil:
		return "is missing"
	case value != nil && !bytes.Equal(found, value):
		return "is another"
	}
	return ""
}

func (k *checkup) run(tx *bolt.Tx) error {
	k.tx = tx
	if !k.headless { // bbolt's own check takes both headers for granted
		broken := false
		for err := range tx.Check() {
			broken = true
			k.fault(PartFile, "", "The file: %v.", err)
		}
		if broken {
			return nil
		}
	}
	if k.l.HalfBuilt() {
		k.fault(PartSnapshot, "", "A rebuild did not finish: what is derived from the entries is not whole, so nothing can be held against it.")
		return k.headers()
	}
	for _, step := range []func() error{k.headers, k.entries, k.strayEntries, k.judgements, k.strayThings, k.flagLog, k.checkpoints} {
		if err := step(); err != nil {
			return err
		}
		if err := k.ctx.Err(); err != nil {
			return err
		}
	}
	return nil
}

// headers looks at what the file says of itself, at serials and sweeps.
func (k *checkup) headers() error {
	meta := k.bucket(inMeta)
	for _, row := range []struct {
		key  string
		head int
		must bool
		fits func(v []byte) bool
	}{
		{metaFormat, 4, true, func(v []byte) bool { return len(v) == 4 && binary.BigEndian.Uint32(v) > 0 }},
		{metaOrigin, 0, true, func(v []byte) bool { return len(v) > 0 }},
		{metaFold, 4, true, func(v []byte) bool { return len(v) == 4 }},
		{metaNow, instantSize, k.state.seq > 0, func(v []byte) bool { return len(v) == instantSize }},
		{metaPutBack, 0, false, func(v []byte) bool { _, err := parsePutBacks(v); return err == nil }},
		{metaStopped, 8, false, func(v []byte) bool { return len(v) == 8 && num64(v) <= k.state.seq }},
	} {
		raw := meta.Get([]byte(row.key))
		if raw == nil {
			if row.must {
				k.fault(PartHead, "", "What the file says of itself lacks %q.", row.key)
			}
			continue
		}
		if value, err := cutSum(inMeta, []byte(row.key), raw, row.head); err != nil || !row.fits(value) {
			k.fault(PartHead, "", "What the file says of itself was changed: %q cannot be right.", row.key)
		}
	}
	err := k.bucket(inSerials).ForEach(func(key, raw []byte) error {
		last, err := readSerial(key, raw)
		if err != nil || !isSerialKey(key) || last < 0 || last > tracker.MaxSerial {
			k.fault(PartSerial, "", "The count of serials handed out for clinic and year %q was changed.", key)
		}
		return nil
	})
	if err != nil {
		return err
	}
	return k.bucket(inSweeps).ForEach(func(key, raw []byte) error {
		if _, err := cutSum(inSweeps, key, raw, 0); err != nil || string(key) != everyClinic && tracker.CheckClinic(string(key)) != nil {
			k.fault(PartSweep, "", "The note of how far a change of rules was worked through for %q was changed.", key)
		}
		return nil
	})
}

// isSerialKey reports whether a key of the serials is a clinic and the last two digits of a year.
func isSerialKey(key []byte) bool {
	clinic := string(key[:max(0, len(key)-2)])
	return (clinic == anyClinic || tracker.CheckClinic(clinic) == nil) && strings.Trim(string(key[len(clinic):]), "0123456789") == ""
}

// flagLog looks for gaps, and plays the log, where it is whole, against what is flagged.
func (k *checkup) flagLog() error {
	type flag struct {
		kind tracker.FlagKind
		item tracker.Name
		of   tracker.Name
	}
	open := map[flag]tracker.Flag{}
	first, next, sound := uint64(0), uint64(0), true
	err := k.bucket(inFlagLog).ForEach(func(key, value []byte) error {
		if first == 0 {
			first, next = num64(key), num64(key)
		}
		if num64(key) != next || len(key) != 8 {
			k.fault(PartFlagLog, "", "The log of flags has a gap: row %d follows row %d.", num64(key), next-1)
			sound = false
		}
		next = num64(key) + 1
		row, err := readFlagLog(key, value)
		if err != nil {
			k.fault(PartFlagLog, "", "Row %d of the log of flags was changed and cannot be read.", num64(key))
			sound = false
			return nil
		}
		at := flag{row.Flag.Kind, row.Flag.Item, row.Flag.Case}
		if row.Change == events.ChangeCleared {
			delete(open, at)
		} else {
			open[at] = row.Flag
		}
		return nil
	})
	if err != nil || first > 1 || !sound || k.older {
		return err
	}
	as := map[flag]bool{} // whether a flag was told as it is; of two twins, as one of them is
	err = k.bucket(inFlagged).ForEach(func(key, _ []byte) error {
		n := flaggedName(key)
		j, err := decodeJudged(n, k.look(inThings, snapshotKey(n)))
		if err != nil {
			return nil // told already
		}
		for _, f := range j.Findings.Flags {
			at := flag{f.Kind, f.Item, f.Case}
			told, ok := open[at]
			as[at] = as[at] || ok && sameFlag(&told, &f)
		}
		return nil
	})
	for at, told := range as {
		delete(open, at)
		if !told {
			k.fault(PartFlagLog, at.item, "The log of flags never told of %s on %s as it stands now: rows of it are missing.", at.kind, at.item.Printed())
		}
	}
	for at := range open {
		k.fault(PartFlagLog, at.item, "The log of flags never told that %s on %s was cleared: rows of it are missing.", at.kind, at.item.Printed())
	}
	return err
}
