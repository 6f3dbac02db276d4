package store_test

import (
	"bytes"
	"context"
	"crypto/rand"
	"encoding/binary"
	"errors"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/events/evidence"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/boltfile"
	"github.com/pottrail/pottrail/store/storetest"
)

// grown makes a ledger of some days, with serials handed out, and closes it.
func grown(t *testing.T, seed uint64, cases int) string {
	t.Helper()
	path := storetest.Path(t)
	l, err := store.Open(path, store.Options{Origin: storetest.Origin})
	require.NoError(t, err)
	list := storetest.Life(seed, cases)
	for _, e := range list {
		storetest.Record(t, l, e.At.Add(time.Minute), e)
	}
	_, err = l.TakeSerials("MBY", 26, 7)
	require.NoError(t, err)
	secret, err := evidence.NewKey(rand.Reader, storetest.Origin)
	require.NoError(t, err)
	signer, err := evidence.NewSigner(secret)
	require.NoError(t, err)
	root, err := l.Root("")
	require.NoError(t, err)
	signed, err := signer.Checkpoint(root)
	require.NoError(t, err)
	_, err = l.KeepCheckpoint(list[len(list)-1].At, signed.Note)
	require.NoError(t, err)
	require.NoError(t, l.MarkStopped())
	require.NoError(t, l.Close())
	return path
}

// rot changes a closed file behind everybody's back.
func rot(t *testing.T, path string, change func(tx *bolt.Tx) error) {
	t.Helper()
	db, err := bolt.Open(path, 0o600, nil)
	require.NoError(t, err)
	require.NoError(t, db.Update(change))
	require.NoError(t, db.Close())
}

func examined(t *testing.T, path string, o store.ExamineOptions) ([]store.Finding, store.Examined) {
	t.Helper()
	before, err := os.ReadFile(path)
	require.NoError(t, err)
	var found []store.Finding
	o.Report = func(f store.Finding) { found = append(found, f) }
	out, err := store.Examine(context.Background(), path, o)
	require.NoError(t, err)
	require.EqualValues(t, len(found), out.Findings)
	after, err := os.ReadFile(path)
	require.NoError(t, err)
	require.True(t, bytes.Equal(before, after), "looking changes nothing")
	return found, out
}

func TestAWholeLedgerIsWell(t *testing.T) {
	path := grown(t, 71, 8)
	found, out := examined(t, path, store.ExamineOptions{})
	require.Empty(t, found)
	require.True(t, out.Sound)
	require.Equal(t, out.Entries, out.Looked)
	require.NotZero(t, out.Things)
	require.Equal(t, storetest.Origin, out.Origin)
	found, out = examined(t, path, store.ExamineOptions{Quick: true, Recent: 20})
	require.Empty(t, found)
	require.EqualValues(t, 20, out.Looked, "it stopped in good order: the last ones are enough")
	require.NoError(t, os.Chmod(path, 0o400))
	found, _ = examined(t, path, store.ExamineOptions{})
	require.Empty(t, found, "a backup that nobody may write to")
}

// Snapshots hold whatever they were last judged for: before their wake, after it, by an earlier protocol, with the clock a
// little back.
func TestWhatWaitsToBeJudgedIsNoDamage(t *testing.T) {
	path := grown(t, 72, 6)
	l, err := store.Open(path, store.Options{})
	require.NoError(t, err)
	list := storetest.Life(73, 2)
	last := list[len(list)-1].At
	storetest.Record(t, l, last.Add(90*24*time.Hour), list[0])
	storetest.Record(t, l, last.Add(90*24*time.Hour-30*time.Second), list[1])
	require.NoError(t, l.Close())
	found, _ := examined(t, path, store.ExamineOptions{})
	require.Empty(t, found)
}

// Each part of a ledger is damaged in turn, taken away or changed: the check says which entry or case it is, what is wrong,
// and what to do.
func TestEachDamageHasItsSentence(t *testing.T) {
	first := func([]byte) bool { return true }
	isSnapshot := func(k []byte) bool { return k[len(k)-1] == 0 && bytes.IndexByte(k, 1) < 0 }
	isConcern := func(k []byte) bool { return bytes.IndexByte(k, 1) >= 0 && k[len(k)-1] != 0 }
	edit := func(bucket string, which func(k []byte) bool, value func(v []byte) []byte) func(tx *bolt.Tx) error {
		return func(tx *bolt.Tx) error {
			b := tx.Bucket([]byte(bucket))
			c := b.Cursor()
			for k, v := c.First(); k != nil; k, v = c.Next() {
				if !which(k) {
					continue
				}
				if value == nil {
					return c.Delete()
				}
				return b.Put(bytes.Clone(k), value(bytes.Clone(v)))
			}
			t.Errorf("nothing to damage in %s", bucket)
			return nil
		}
	}
	flip := func(v []byte) []byte { v[len(v)/2] ^= 1; return v }
	put := func(bucket, key string, value []byte) func(tx *bolt.Tx) error {
		return func(tx *bolt.Tx) error { return tx.Bucket([]byte(bucket)).Put([]byte(key), value) }
	}
	entry := func(seq byte) func(k []byte) bool { return func(k []byte) bool { return k[7] == seq && k[6] == 0 } }
	say := func(old, new string) func(v []byte) []byte {
		return func(v []byte) []byte { return bytes.Replace(v, []byte(old), []byte(new), 1) }
	}
	lastEntry := func(tx *bolt.Tx) error {
		c := tx.Bucket([]byte("entries")).Cursor()
		c.Last()
		return c.Delete()
	}
	kept := func(tx *bolt.Tx) error {
		b := tx.Bucket([]byte("ids"))
		c := b.Cursor()
		for k, v := c.First(); k != nil; k, v = c.Next() {
			if len(v) > 8 {
				return b.Put(bytes.Clone(k), say(`"severity":"`, `"severitx":"`)(bytes.Clone(v)))
			}
		}
		t.Error("no verdict was kept")
		return nil
	}
	whole, err := os.ReadFile(grown(t, 81, 8))
	require.NoError(t, err)
	backup, rebuild := "put the last backup back", "`pottrail rebuild` makes this part again"
	for name, row := range map[string]struct {
		damage func(tx *bolt.Tx) error
		part   store.Part
		text   string
		remedy string
		mends  bool // a rebuild makes it well again
	}{
		"somebody else did it":            {edit("entries", entry(5), say("nurse.osei", "nurse.osey")), store.PartEntry, "Entry 5 (piece.potted, of MBY-26-00001 A02, number 5 of test-origin) is not what was recorded", backup, false},
		"an entry is cut":                 {edit("entries", entry(5), func(v []byte) []byte { return v[:len(v)-9] }), store.PartEntry, "Entry 5 (number 5 of test-origin) cannot be read: what was recorded was changed or cut", backup, false},
		"an entry says another number":    {edit("entries", entry(5), say(`"oseq":5`, `"oseq":7`)), store.PartEntry, "Entry 5 (piece.potted, of MBY-26-00001 A02, number 5 of test-origin) says that it is number 7 of test-origin", backup, false},
		"an entry is missing":             {edit("entries", entry(5), nil), store.PartEntry, "Entry 5 is missing.", backup, false},
		"the last entry is missing":       {lastEntry, store.PartEntry, "The end of the log of test-origin is missing: its tree has hashes of 1 later entry.", backup, false},
		"the hash of a leaf":              {edit("tree", first, flip), store.PartHash, "is as it was recorded, and its hash in the tree was changed", rebuild, true},
		"a hash is missing":               {edit("tree", first, nil), store.PartHash, "has no hash in the tree of its origin", rebuild, true},
		"a hash above":                    {edit("tree", func(k []byte) bool { return k[len(k)-1] == 2 }, flip), store.PartHash, "Entry 2 (", rebuild, true},
		"a hash of nothing":               {put("tree", "nobody\x00\x00\x00\x00\x00\x00\x00\x00\x01", make([]byte, 32)), store.PartHash, "The trees hold 1 hash of no entry.", rebuild, true},
		"an id is missing":                {edit("ids", first, nil), store.PartID, "cannot be found by its id: sent again it would be recorded twice, or refused", rebuild, true},
		"an id leads elsewhere":           {edit("ids", first, func(v []byte) []byte { v[7] ^= 3; return v }), store.PartID, "cannot be found by its id", rebuild, true},
		"an id too many":                  {put("ids", "0123456789abcdef", binary.BigEndian.AppendUint64(nil, 3)), store.PartID, "The index of ids has an id for entry 3 that is not its own.", rebuild, true},
		"a verdict that was given":        {kept, store.PartVerdict, "was answered with a verdict that was kept, and that was changed since", "No entry is touched by this", false},
		"the stretches are missing":       {edit("runs", first, nil), store.PartStretch, "begins a stretch of its origin's log, and that it does so is missing", rebuild, true},
		"a stretch begins elsewhere":      {edit("runs", first, func(v []byte) []byte { v[7] = 2; return v }), store.PartStretch, "begins a stretch of its origin's log, and that it does so is another", rebuild, true},
		"a stretch too many":              {put("runs", "nobody\x00\x00\x00\x00\x00\x00\x00\x00\x01", binary.BigEndian.AppendUint64(nil, 3)), store.PartStretch, "", rebuild, true},
		"an event is filed nowhere":       {edit("things", isConcern, nil), store.PartFiling, "and is not filed there: it would be left out when that is judged", rebuild, true},
		"an event is filed elsewhere":     {put("things", "HCX-26-00002\x01\x00\x00\x00\x00\x00\x00\x00\x02", nil), store.PartFiling, "Entry 2 (", rebuild, true},
		"a snapshot is missing":           {edit("things", isSnapshot, nil), store.PartSnapshot, "has events and was never judged: what was last judged of it is missing", rebuild, true},
		"a snapshot was changed":          {edit("things", isSnapshot, flip), store.PartSnapshot, "was changed and cannot be read", rebuild, true},
		"a snapshot of the first release": {edit("things", isSnapshot, func(v []byte) []byte { return say(`"known":true`, `"known":false`)(v[:len(v)-5]) }), store.PartSnapshot, "is not what its events give", rebuild, true},
		"a due time is missing":           {edit("due", first, nil), store.PartDue, "must be judged again at an instant, and its place among what is due is missing", rebuild, true},
		"a due time too many":             {put("due", "\x80\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00MBY-26-00001", nil), store.PartDue, "MBY-26-00001 is filed to be judged again at an instant that is not its own", rebuild, true},
		"an open case is missing":         {edit("open", first, nil), store.PartOpen, "is not settled, and its place among what is open is missing", rebuild, true},
		"an open case too many":           {put("open", "MBY-26-77777", nil), store.PartOpen, "The index open holds something that is no case or bag", rebuild, true},
		"a flagged case is missing":       {edit("flagged", first, nil), store.PartFlagged, "has flags, and its place among what is flagged is missing", rebuild, true},
		"a flagged case too many":         {put("flagged", "\x00\xff\xff\xff\xff\xff\xff\xff\xff\xff\xff\xff\xff\x00MBY-26-00001", nil), store.PartFlagged, "MBY-26-00001 is filed as flagged in a place that is not its own", rebuild, true},
		"an adoption too many":            {put("protocols", "MBY\x80\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x000123456789abcdef", binary.BigEndian.AppendUint64(nil, 3)), store.PartAdoption, "The index of adopted protocols holds more than were adopted", rebuild, true},
		"a row of the log of flags":       {edit("flaglog", entry(3), flip), store.PartFlagLog, "Row 3 of the log of flags was changed and cannot be read", "No entry is touched by this", false},
		"a row is missing":                {edit("flaglog", entry(3), nil), store.PartFlagLog, "The log of flags has a gap: row 4 follows row 2", "No entry is touched by this", false},
		"serials":                         {edit("serials", first, func(v []byte) []byte { v[3] = 1; return v }), store.PartSerial, `The count of serials handed out for clinic and year "MBY26" was changed`, "numbers could be given out twice", false},
		"a sweep":                         {put("sweeps", "nobody at all", nil), store.PartSweep, "The note of how far a change of rules was worked through", rebuild, true},
		"a checkpoint":                    {edit("checkpoints", first, flip), store.PartCheckpoint, "Checkpoint 1 was changed and cannot be read", "Hold the record against a checkpoint that somebody else has", false},
		"the origin":                      {edit("meta", func(k []byte) bool { return string(k) == "origin" }, flip), store.PartHead, `"origin" cannot be right`, "Do not start the daemon over it", false},
		"the last judgement":              {edit("meta", func(k []byte) bool { return string(k) == "now" }, nil), store.PartHead, `lacks "now"`, "Do not start the daemon over it", false},
	} {
		t.Run(name, func(t *testing.T) {
			path := storetest.Path(t)
			require.NoError(t, os.WriteFile(path, whole, 0o600))
			rot(t, path, row.damage)
			found, _ := examined(t, path, store.ExamineOptions{})
			i := slices.IndexFunc(found, func(f store.Finding) bool { return f.Part == row.part && strings.Contains(f.Text, row.text) })
			require.GreaterOrEqual(t, i, 0, "%v", found)
			require.Contains(t, found[i].Remedy, row.remedy)
			if !row.mends {
				return
			}
			l, err := store.Open(path, store.Options{Rebuilding: true})
			require.NoError(t, err)
			_, err = l.Record(storetest.Morning(), storetest.Intakes(storetest.Life(1, 1)...))
			require.ErrorIs(t, err, store.ErrHalfBuilt)
			require.NoError(t, l.Rebuild(storetest.Morning().Add(60*24*time.Hour), nil))
			require.NoError(t, l.Close())
			found, _ = examined(t, path, store.ExamineOptions{})
			require.Empty(t, found)
		})
	}
}

// A rebuild over an altered entry would make hashes that fit it.
func TestARebuildHidesNothing(t *testing.T) {
	path := grown(t, 81, 8)
	rot(t, path, func(tx *bolt.Tx) error {
		key := binary.BigEndian.AppendUint64(nil, 5)
		b := tx.Bucket([]byte("entries"))
		return b.Put(key, bytes.Replace(b.Get(key), []byte("nurse.osei"), []byte("nurse.osey"), 1))
	})
	l, err := store.Open(path, store.Options{Rebuilding: true})
	require.NoError(t, err)
	err = l.Rebuild(storetest.Morning(), nil)
	require.ErrorIs(t, err, store.ErrDamaged)
	require.ErrorContains(t, err, "entry 5 is not what was recorded")
	require.NoError(t, l.Close())
	found, _ := examined(t, path, store.ExamineOptions{})
	require.NotEmpty(t, found)
	for _, f := range found {
		require.NotContains(t, f.Remedy, "then `pottrail rebuild`")
	}
}

// Without the hashes a changed word that no rule looks at is not noticed: they are what finds it.
func TestTheHashesAreWhatFindsIt(t *testing.T) {
	path := grown(t, 81, 8)
	rot(t, path, func(tx *bolt.Tx) error {
		key := binary.BigEndian.AppendUint64(nil, 2)
		b := tx.Bucket([]byte("entries"))
		return b.Put(key, bytes.Replace(b.Get(key), []byte(`"station":"room-`), []byte(`"station":"roan-`), 1))
	})
	found, _ := examined(t, path, store.ExamineOptions{})
	require.NotEmpty(t, found)
	missed, _ := examined(t, path, store.ExamineOptions{NoHashes: true})
	require.Less(t, len(missed), len(found))
}

// A quick look finds what is wrong at the end, whatever the time; further back it looks while there is time.
func TestAQuickLookIsNewestFirst(t *testing.T) {
	path := grown(t, 81, 8)
	alter := func(seq uint64) {
		rot(t, path, func(tx *bolt.Tx) error {
			key := binary.BigEndian.AppendUint64(nil, seq)
			b := tx.Bucket([]byte("entries"))
			return b.Put(key, bytes.Replace(b.Get(key), []byte("nurse.osei"), []byte("nurse.osey"), 1))
		})
	}
	_, out := examined(t, path, store.ExamineOptions{Quick: true, Recent: 5})
	last := out.Entries
	alter(3)
	over, cancel := context.WithCancel(context.Background())
	cancel() // there is no time at all
	count := 0
	out, err := store.Examine(over, path, store.ExamineOptions{Quick: true, Recent: 5, Report: func(store.Finding) { count++ }})
	require.NoError(t, err)
	require.Zero(t, count)
	require.EqualValues(t, 5, out.Looked)
	alter(last - 2)
	out, err = store.Examine(over, path, store.ExamineOptions{Quick: true, Recent: 5, Report: func(f store.Finding) { count++; require.Equal(t, last-2, f.Seq) }})
	require.NoError(t, err)
	require.Equal(t, 1, count)
	require.EqualValues(t, 5, out.Looked)
	rot(t, path, func(tx *bolt.Tx) error { return tx.Bucket([]byte("meta")).Delete([]byte("stopped")) })
	found, out := examined(t, path, store.ExamineOptions{Quick: true, Recent: 5})
	require.Len(t, found, 2, "it did not stop in good order, so all is looked at while there is time")
	require.Equal(t, last, out.Looked)
}

// A file of which one header is lost opens at the commit before: that something is missing must be said.
func TestALostHeaderIsSaid(t *testing.T) {
	path := grown(t, 81, 4)
	for page := range 2 {
		data, err := os.ReadFile(path)
		require.NoError(t, err)
		data[page*os.Getpagesize()+16+50] ^= 4
		other := storetest.Path(t)
		require.NoError(t, os.WriteFile(other, data, 0o600))
		found, _ := examined(t, other, store.ExamineOptions{Quick: true})
		require.NotEmpty(t, found)
		require.Equal(t, store.PartFile, found[0].Part)
		require.Contains(t, found[0].Text, "one of the two headers of the file cannot be read: what was recorded last may be missing")
	}
}

func TestADamagedLedgerCanBeRead(t *testing.T) {
	path := grown(t, 81, 8)
	rot(t, path, func(tx *bolt.Tx) error {
		c := tx.Bucket([]byte("entries")).Cursor()
		key, leaf := c.Last()
		return errors.Join(tx.Bucket([]byte("entries")).Put(bytes.Clone(key), bytes.Clone(leaf)[:20]), tx.Bucket([]byte("serials")).Put([]byte("x"), nil))
	})
	_, err := store.Open(path, store.Options{})
	require.ErrorIs(t, err, store.ErrDamaged)
	before, err := os.ReadFile(path)
	require.NoError(t, err)
	l, err := store.Open(path, store.Options{ReadOnly: true})
	require.NoError(t, err)
	_, ok, err := l.Snapshot("MBY-26-00001")
	require.NoError(t, err)
	require.True(t, ok)
	flags, err := l.OpenFlags()
	require.NoError(t, err)
	require.NotEmpty(t, flags)
	_, err = l.Record(storetest.Morning(), storetest.Intakes(storetest.Life(1, 1)...))
	require.ErrorIs(t, err, store.ErrReadOnly)
	_, err = l.Recheck(storetest.Morning().Add(1000*time.Hour), 1)
	require.ErrorIs(t, err, store.ErrReadOnly)
	require.ErrorIs(t, l.MarkStopped(), store.ErrReadOnly)
	require.NoError(t, l.Close())
	after, err := os.ReadFile(path)
	require.NoError(t, err)
	require.True(t, bytes.Equal(before, after))
}

func TestWhatIsNoLedgerIsNotExamined(t *testing.T) {
	path := storetest.Path(t)
	require.NoError(t, os.WriteFile(path, bytes.Repeat([]byte("a shopping list\n"), 4096), 0o600))
	_, err := store.Examine(t.Context(), path, store.ExamineOptions{})
	require.ErrorIs(t, err, store.ErrForeign)
	require.NoError(t, os.Remove(path))
	_, err = store.Examine(t.Context(), path, store.ExamineOptions{})
	require.ErrorIs(t, err, os.ErrNotExist)
	require.NoError(t, boltfile.Make(path, func(tx *bolt.Tx) error { _, err := tx.CreateBucket([]byte("other")); return err }))
	found, _ := examined(t, path, store.ExamineOptions{})
	require.Len(t, found, 1)
	require.Contains(t, found[0].Text, "The file is no whole ledger")
	_, err = store.Examine(t.Context(), grownOpen(t), store.ExamineOptions{Options: store.Options{Timeout: time.Millisecond}})
	require.ErrorIs(t, err, store.ErrInUse)
	stopped, cancel := context.WithCancel(t.Context())
	cancel()
	_, err = store.Examine(stopped, grown(t, 1, 1), store.ExamineOptions{})
	require.ErrorIs(t, err, context.Canceled)
}

// grownOpen is the path of a ledger that is open.
func grownOpen(t *testing.T) string {
	path := storetest.Path(t)
	storetest.Open(t, path, store.Options{})
	return path
}
