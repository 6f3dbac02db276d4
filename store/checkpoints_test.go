package store_test

import (
	"bytes"
	"context"
	"crypto/rand"
	"encoding/binary"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	bolt "go.etcd.io/bbolt"
	"golang.org/x/mod/sumdb/tlog"

	"github.com/pottrail/pottrail/events/evidence"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/storetest"
)

func newSigner(t testing.TB, origin string) *evidence.Signer {
	secret, err := evidence.NewKey(rand.Reader, origin)
	require.NoError(t, err)
	s, err := evidence.NewSigner(secret)
	require.NoError(t, err)
	return s
}

// keep signs the ledger as it is and keeps the checkpoint.
func keep(t testing.TB, l *store.Ledger, s *evidence.Signer, at time.Time) store.KeptCheckpoint {
	root, err := l.Root("")
	require.NoError(t, err)
	signed, err := s.Checkpoint(root)
	require.NoError(t, err)
	kept, err := l.KeepCheckpoint(at, signed.Note)
	require.NoError(t, err)
	return kept
}

func TestCheckpointsAreKeptInOrderThroughEverything(t *testing.T) {
	path := storetest.Path(t)
	l := storetest.Open(t, path, store.Options{})
	s := newSigner(t, l.Origin())
	list := storetest.Life(11, 4)
	now := list[len(list)-1].At.Add(time.Hour)
	none, err := l.LastCheckpoints(5)
	require.NoError(t, err)
	require.Empty(t, none)
	var made []store.KeptCheckpoint
	for i := range 6 {
		storetest.Record(t, l, now, list[i*8:(i+1)*8]...)
		made = append(made, keep(t, l, s, now.Add(time.Duration(i)*time.Hour)))
	}
	_, err = l.KeepCheckpoint(now, "hello")
	require.ErrorIs(t, err, evidence.ErrNote)
	require.NoError(t, l.Rebuild(now, nil), "it is no derived data")
	require.NoError(t, l.Check())
	require.NoError(t, l.Close())
	l = storetest.Open(t, path, store.Options{})
	got, err := l.Checkpoints(1, 0)
	require.NoError(t, err)
	require.Equal(t, made, got)
	got, err = l.Checkpoints(3, 2)
	require.NoError(t, err)
	require.Equal(t, made[2:4], got)
	got, err = l.LastCheckpoints(2)
	require.NoError(t, err)
	require.Equal(t, made[4:], got)
	kept := make([]evidence.Kept, len(made))
	for i, c := range made {
		require.EqualValues(t, i+1, c.Position)
		require.Equal(t, l.Origin(), c.Origin)
		kept[i] = c.Kept
	}
	require.NoError(t, l.Inspect(t.Context(), kept, s.Key()))
	require.NoError(t, l.Spoil(func(tx *bolt.Tx) error { // a hash below the first root, and what stands above it
		key := append([]byte(l.Origin()), 0)
		tree := tx.Bucket([]byte("tree"))
		for index := range tlog.StoredHashCount(8) {
			if err := tree.Put(binary.BigEndian.AppendUint64(bytes.Clone(key), uint64(index)), make([]byte, 32)); err != nil {
				return err
			}
		}
		return nil
	}))
	var m *evidence.Mismatch
	require.ErrorAs(t, l.Inspect(t.Context(), nil, s.Key()), &m)
	require.EqualValues(t, 8, m.Kept.Size, "the first that does not fit")
	require.Contains(t, m.Text, "The checkpoint in the ledger, made ")
	require.NoError(t, l.Rebuild(now, nil), "made again from the entries, which are as they were")
	require.NoError(t, l.Inspect(t.Context(), kept, s.Key()))
	origins, err := l.Origins()
	require.NoError(t, err)
	require.Equal(t, []string{l.Origin()}, origins)
	clinics, err := l.Clinics()
	require.NoError(t, err)
	require.Equal(t, []string{"HCX", "MBY"}, clinics)
}

// A ledger that was made before there were checkpoints is read, and takes them.
func TestALedgerFromBeforeCheckpoints(t *testing.T) {
	path := storetest.Path(t)
	l := storetest.Open(t, path, store.Options{})
	storetest.Record(t, l, storetest.Morning(), storetest.Life(11, 1)[:3]...)
	require.NoError(t, l.Spoil(func(tx *bolt.Tx) error { return tx.DeleteBucket([]byte("checkpoints")) }))
	require.NoError(t, l.Close())
	l = storetest.Open(t, path, store.Options{})
	none, err := l.Checkpoints(1, 0)
	require.NoError(t, err)
	require.Empty(t, none)
	require.EqualValues(t, 1, keep(t, l, newSigner(t, l.Origin()), storetest.Morning()).Position)
}

// What a disk or a hand changed is found before it is signed: a byte of an entry, and any hash of the tree.
func TestNothingIsVouchedForThatIsNotAsItWasHashed(t *testing.T) {
	list := storetest.Life(11, 3)
	now := list[len(list)-1].At.Add(time.Hour)
	fresh := func(t *testing.T) *store.Ledger {
		l, err := store.Open(storetest.Path(t), store.Options{Origin: storetest.Origin})
		require.NoError(t, err)
		t.Cleanup(func() { require.NoError(t, l.Close()) })
		storetest.Record(t, l, now, list[:20]...)
		require.NoError(t, l.Audit(context.Background(), l.Origin(), 0, 20))
		return l
	}
	for _, seq := range []uint64{1, 7, 20} {
		l := fresh(t)
		require.NoError(t, l.Spoil(func(tx *bolt.Tx) error {
			b, key := tx.Bucket([]byte("entries")), binary.BigEndian.AppendUint64(nil, seq)
			return b.Put(key, bytes.Replace(b.Get(key), []byte("nurse.osei"), []byte("nurse.osey"), 1))
		}))
		err := l.Audit(context.Background(), l.Origin(), 0, 20)
		require.ErrorIs(t, err, store.ErrDamaged)
		require.ErrorContains(t, err, "is not what was hashed")
		require.NoError(t, l.Audit(context.Background(), l.Origin(), seq, 20), "it is looked for where it was asked for")
	}
	for index := range tlog.StoredHashCount(20) {
		if index%3 > 0 {
			continue
		}
		l := fresh(t)
		require.NoError(t, l.Spoil(func(tx *bolt.Tx) error {
			key := append([]byte(l.Origin()), 0)
			return tx.Bucket([]byte("tree")).Put(binary.BigEndian.AppendUint64(key, uint64(index)), make([]byte, 32))
		}))
		require.ErrorIs(t, l.Audit(context.Background(), l.Origin(), 0, 20), store.ErrDamaged, "hash %d", index)
	}
	l := fresh(t)
	require.ErrorIs(t, l.Audit(context.Background(), l.Origin(), 15, 25), store.ErrDamaged, "entries that are not there")
	stopped, stop := context.WithCancel(t.Context())
	stop()
	require.ErrorIs(t, l.Audit(stopped, l.Origin(), 0, 20), context.Canceled)
}

func TestTheWayBack(t *testing.T) {
	l := storetest.Open(t, storetest.Path(t), store.Options{})
	list := storetest.Life(12, 2)
	storetest.Record(t, l, list[len(list)-1].At, list...)
	size := uint64(len(list))
	root, err := l.Root("")
	require.NoError(t, err)
	for before := uint64(1); before <= size; before++ {
		o, err := l.Earlier(l.Origin(), before, size)
		require.NoError(t, err)
		path := make(tlog.TreeProof, len(o.Path))
		for i, h := range o.Path {
			path[i] = tlog.Hash(h)
		}
		require.NoError(t, tlog.CheckTree(path, int64(size), tlog.Hash(root.Root), int64(before), tlog.Hash(o.Root)))
	}
	for _, wrong := range [][2]uint64{{0, size}, {size + 1, size + 1}, {3, 2}} {
		_, err := l.Earlier(l.Origin(), wrong[0], wrong[1])
		require.ErrorIs(t, err, store.ErrNotCovered)
	}
}
