package prints_test

import (
	"encoding/binary"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/store/boltfile"
	"github.com/pottrail/pottrail/store/prints"
)

// used is a queue with jobs in every state, closed again.
func used(t *testing.T) string {
	path := filepath.Join(t.TempDir(), "prints.db")
	q := openAt(t, path)
	for serial := range 12 {
		j := queued(t, q, label("room", pot(serial+1), '1'))
		_, _, ok, err := q.Take("room", morning)
		require.NoError(t, err)
		require.True(t, ok)
		switch serial % 3 {
		case 0:
			require.NoError(t, q.Sent(j.ID, morning))
		case 1:
			require.NoError(t, q.Lost(j.ID, morning, "it went away"))
		default:
			require.NoError(t, q.Refuse(j.ID, morning, "wrong language"))
		}
	}
	queued(t, q, label("room", pot(20), '1'))
	prepared(t, q, label("lab", pot(21), '1'))
	require.NoError(t, q.Close())
	return path
}

func TestTwoCannotHaveOneQueue(t *testing.T) {
	path := filepath.Join(t.TempDir(), "prints.db")
	openAt(t, path)
	_, err := prints.Open(path, key(1))
	require.ErrorIs(t, err, prints.ErrInUse)
}

func TestALaterReleasesQueueIsLeftAlone(t *testing.T) {
	path := filepath.Join(t.TempDir(), "prints.db")
	q := openAt(t, path)
	require.NoError(t, q.Spoil(func(tx *bolt.Tx) error {
		return tx.Bucket([]byte("meta")).Put([]byte("format"), binary.BigEndian.AppendUint32(nil, 99))
	}))
	require.NoError(t, q.Close())
	before, err := os.ReadFile(path)
	require.NoError(t, err)
	_, err = prints.Open(path, key(1))
	require.ErrorIs(t, err, prints.ErrNewer)
	require.ErrorContains(t, err, "format 99")
	_, err = prints.Abandon(path, key(2), morning)
	require.ErrorIs(t, err, prints.ErrNewer)
	after, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, before, after)
}

// What is no queue, or what is left of one, is an error in a sentence and never the end of the program, as long as its pages hang
// together; where they do not, `pottrail fsck` says so out of a process of its own.
func TestWhatIsNoQueueIsSaidToBeNone(t *testing.T) {
	whole, err := os.ReadFile(used(t))
	require.NoError(t, err)
	open := func(name string, raw []byte) error {
		path := filepath.Join(t.TempDir(), "prints.db")
		require.NoError(t, os.WriteFile(path, raw, 0o600))
		walk, err := boltfile.WalkPages(t.Context(), path, nil)
		require.NoError(t, err)
		if name == "spoiled" && walk.Pages != nil { // bbolt may read and write anywhere over pages that lead astray: that is for a process of its own
			return walk.Pages
		}
		q, err := prints.Open(path, key(1))
		if err == nil { // what was damaged lies elsewhere, or nowhere
			_, _ = q.Jobs(prints.Filter{})
			_, _ = q.Owed()
			_, _, _, _ = q.Take("room", morning)
			_ = q.Close()
			return nil
		}
		require.Regexp(t, `^open print queue .+: .+`, err.Error(), name)
		return err
	}
	require.NoError(t, open("whole", whole))
	require.ErrorIs(t, open("empty", nil), prints.ErrForeign)
	require.ErrorIs(t, open("text", []byte("room-2: 3 labels\n")), prints.ErrForeign)
	require.ErrorIs(t, open("a picture of nothing", make([]byte, 64<<10)), prints.ErrForeign)
	for n := 1; n < 16; n++ {
		_ = open("the beginning", whole[:len(whole)*n/16])
	}
	require.Error(t, open("one page", whole[:4096]))
	r := rand.New(rand.NewPCG(7, 7))
	failed := 0
	for range 300 {
		spoiled := append([]byte(nil), whole...)
		for range 1 + r.IntN(8) {
			spoiled[r.IntN(len(spoiled))] ^= byte(1 + r.IntN(255))
		}
		if open("spoiled", spoiled) != nil {
			failed++
		}
	}
	t.Logf("of 300 spoiled files %d were refused at opening", failed)
}

// An index that does not fit its records is found when the queue is opened.
func TestAnIndexThatDoesNotFitIsFound(t *testing.T) {
	for name, spoil := range map[string]func(tx *bolt.Tx) error{
		"a job is missing": func(tx *bolt.Tx) error { return tx.Bucket([]byte("jobs")).Delete(be64(13)) },
		"a job is no JSON": func(tx *bolt.Tx) error { return tx.Bucket([]byte("jobs")).Put(be64(13), []byte(`{"job":13`)) },
		"a job is another": func(tx *bolt.Tx) error {
			b := tx.Bucket([]byte("jobs"))
			return b.Put(be64(13), append([]byte(nil), b.Get(be64(12))...))
		},
		"its place is none": func(tx *bolt.Tx) error {
			return tx.Bucket([]byte("open")).Put(append([]byte("room\x00"), be64(13)...), []byte("queued"))
		},
		"it is filed elsewhere": func(tx *bolt.Tx) error {
			return tx.Bucket([]byte("open")).Put(append([]byte("room\x00"), be64(13)...), append(be64(13), "sending"...))
		},
	} {
		path := used(t)
		q := openAt(t, path)
		require.NoError(t, q.Spoil(spoil), name)
		require.NoError(t, q.Close())
		_, err := prints.Open(path, key(1))
		require.ErrorIs(t, err, prints.ErrDamaged, name)
	}
}

// Bytes that were changed, or are those of another job, are never sent: the job is settled, and the next one goes.
func TestChangedBytesAreNeverSent(t *testing.T) {
	for name, spoil := range map[string]func(b *bolt.Bucket) error{
		"a changed bit": func(b *bolt.Bucket) error {
			raw := append([]byte(nil), b.Get(be64(1))...)
			raw[len(raw)/2] ^= 1
			return b.Put(be64(1), raw)
		},
		"those of another job": func(b *bolt.Bucket) error { return b.Put(be64(1), append([]byte(nil), b.Get(be64(2))...)) },
		"none":                 func(b *bolt.Bucket) error { return b.Delete(be64(1)) },
	} {
		q := fresh(t)
		first, second := queued(t, q, label("room", pot(1), '1')), queued(t, q, label("room", pot(2), '1'))
		require.NoError(t, q.Spoil(func(tx *bolt.Tx) error { return spoil(tx.Bucket([]byte("bodies"))) }))
		j, body, ok, err := q.Take("room", morning)
		require.NoError(t, err, name)
		require.True(t, ok)
		require.Equal(t, second.ID, j.ID)
		require.Equal(t, bytesOf, string(body))
		got, err := q.Job(first.ID)
		require.NoError(t, err)
		require.Equal(t, prints.NotPrinted, got.State)
		require.Contains(t, got.Problem, "can no longer be read")
	}
}

func be64(n uint64) []byte { return binary.BigEndian.AppendUint64(nil, n) }

func TestAClosedQueueSaysSo(t *testing.T) {
	q := fresh(t)
	j := queued(t, q, label("room", pot(1), '1'))
	require.NoError(t, q.Close())
	require.NoError(t, q.Close())
	_, err := q.Prepare(morning, label("room", pot(2), '1'), []byte(bytesOf))
	require.ErrorIs(t, err, prints.ErrClosed)
	_, _, _, err = q.Take("room", morning)
	require.ErrorIs(t, err, prints.ErrClosed)
	_, err = q.Job(j.ID)
	require.ErrorIs(t, err, prints.ErrClosed)
}
