package store

import (
	"bytes"
	"slices"

	"golang.org/x/mod/sumdb/tlog"

	"github.com/pottrail/pottrail/tracker"
)

// tooMany reports whether a bucket holds other than the keys that were asked for one by one: then it is gone through.
func (k *checkup) tooMany(in bucket) bool { return uint64(k.bucket(in).Stats().KeyN) != k.counts[in] }

// strayEntries looks for what is filed by entry and belongs to none.
func (k *checkup) strayEntries() error {
	for name, o := range k.origins {
		if left := k.hashesAfter(name, o); left > 0 {
			k.found(Finding{Part: PartEntry, Origin: name, OSeq: o.last + 1,
				Text: "The end of the log of " + name + " is missing: its tree has hashes of " + plural(left, "later entry", "later entries") + "."})
		}
		k.counts[inTree] += uint64(tlog.StoredHashIndex(0, int64(o.last)))
	}
	if k.tooMany(inTree) {
		if err := k.strayHashes(); err != nil {
			return err
		}
	}
	if k.tooMany(inIDs) {
		if err := k.strayIDs(); err != nil {
			return err
		}
	}
	if k.tooMany(inRuns) {
		k.fault(PartStretch, "", "The index of stretches holds more than there are: entries may be read as another origin's.")
	}
	if k.tooMany(inProtocols) {
		k.fault(PartAdoption, "", "The index of adopted protocols holds more than were adopted.")
	}
	return nil
}

// hashesAfter counts the leaves that an origin's tree has past its last entry.
func (k *checkup) hashesAfter(name string, o *originCheck) (n uint64) {
	for k.stored(name, o.last+1+n) != (tlog.Hash{}) {
		n++
	}
	return n
}

func plural(n uint64, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return number(n) + " " + many
}

func (k *checkup) strayHashes() error {
	ends := map[string]uint64{}
	for name, o := range k.origins {
		ends[name] = uint64(tlog.StoredHashIndex(0, int64(o.last+k.hashesAfter(name, o))))
	}
	strays := uint64(0)
	err := k.bucket(inTree).ForEach(func(key, _ []byte) error {
		i := bytes.IndexByte(key, 0)
		if end, known := ends[string(key[:max(i, 0)])]; i < 0 || len(key) != i+9 || !known || num64(key[i+1:]) >= end {
			strays++
		}
		return nil
	})
	if strays > 0 {
		k.fault(PartHash, "", "The trees hold %s of no entry.", plural(strays, "hash", "hashes"))
	}
	return err
}

func (k *checkup) strayIDs() error {
	last := lastSeq(k.tx)
	return k.bucket(inIDs).ForEach(func(key, raw []byte) error {
		seq := uint64(0)
		if len(key) == len(eventKey{}) && len(raw) >= 8 {
			seq = num64(raw)
		}
		leaf := k.look(inEntries, be64(seq))
		switch {
		case seq == 0 || len(key) != len(eventKey{}):
			k.fault(PartID, "", "The index of ids holds something that is no id.")
		case leaf == nil && seq > last:
			k.found(Finding{Part: PartEntry, Seq: seq, Text: between(seq, seq) + " missing, though its id is known: the end of the ledger was lost."})
		case leaf == nil:
		case !bytes.Contains(leaf[:min(64, len(leaf))], []byte(idOf(eventKey(key)))):
			k.found(Finding{Part: PartID, Seq: seq, Text: "The index of ids has an id for entry " + number(seq) + " that is not its own."})
		}
		return nil
	})
}

// strayThings looks for what is filed by case or bag and belongs to none.
func (k *checkup) strayThings() error {
	if k.tooMany(inThings) {
		err := k.bucket(inThings).ForEach(func(key, _ []byte) error {
			n, mark, seq, ok := splitThingKey(key)
			if !ok || mark != concernMark {
				return nil // told already
			}
			e, err := Entry{Seq: seq, Leaf: k.look(inEntries, be64(seq))}.Event()
			if err == nil && !slices.Contains(tracker.WatchedBy(e), n) {
				k.faultAt(PartFiling, Finding{Seq: seq, Origin: e.Record.Origin, OSeq: e.Record.OSeq, Kind: e.Kind}, "is filed under %s, which it does not concern.", n.Printed())
			}
			return nil
		})
		if err != nil {
			return err
		}
	}
	if k.older {
		return nil
	}
	for _, row := range []struct {
		in   bucket
		part Part
		what string
		name func(key []byte) tracker.Name
		fits func(x index, key []byte) bool
	}{
		{inDue, PartDue, "is filed to be judged again at an instant that is not its own",
			func(key []byte) tracker.Name { return tracker.Name(key[min(len(key), instantSize):]) },
			func(x index, key []byte) bool { return bytes.Equal(x.due, key) }},
		{inOpen, PartOpen, "is filed as open and is not",
			func(key []byte) tracker.Name { return tracker.Name(key) },
			func(x index, _ []byte) bool { return x.open }},
		{inFlagged, PartFlagged, "is filed as flagged in a place that is not its own", flaggedName,
			func(x index, key []byte) bool { return bytes.Equal(x.flagged, key) }},
	} {
		if !k.tooMany(row.in) {
			continue
		}
		err := k.bucket(row.in).ForEach(func(key, _ []byte) error {
			n := row.name(key)
			j, err := decodeJudged(n, k.look(inThings, snapshotKey(n)))
			switch {
			case n == "" || err != nil:
				k.fault(row.part, "", "The index %s holds something that is no case or bag.", row.in)
			case !row.fits(j.index(), key):
				k.fault(row.part, n, "%s %s.", n.Printed(), row.what)
			}
			return nil
		})
		if err != nil {
			return err
		}
	}
	return nil
}
