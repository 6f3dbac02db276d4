package boltfile_test

import (
	"context"
	"encoding/binary"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/store/boltfile"
)

// forest is a file with every sort of page: branches, leaves, a value over several pages, a small bucket, free pages.
func forest(t testing.TB) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "x.db")
	require.NoError(t, boltfile.Make(path, func(tx *bolt.Tx) error {
		for _, name := range []string{"large", "small"} {
			b, err := tx.CreateBucket([]byte(name))
			if err != nil {
				return err
			}
			for i := range 400 {
				if name == "small" && i > 2 {
					break
				}
				if err := b.Put(fmt.Appendf(nil, "key %04d", i*7), make([]byte, i)); err != nil {
					return err
				}
			}
		}
		return tx.Bucket([]byte("large")).Put([]byte("much"), make([]byte, 3*os.Getpagesize()))
	}))
	db, err := bolt.Open(path, 0o600, boltfile.Options(0))
	require.NoError(t, err)
	for i := range 20 {
		require.NoError(t, db.Update(func(tx *bolt.Tx) error {
			return tx.Bucket([]byte("large")).Put(fmt.Appendf(nil, "key %04d", i), []byte("more"))
		}))
	}
	require.NoError(t, db.Close())
	return path
}

func TestWholePagesAreWhole(t *testing.T) {
	told := uint64(0)
	walk, err := boltfile.WalkPages(t.Context(), forest(t), func(done, _ uint64) { told = done })
	require.NoError(t, err)
	require.True(t, walk.Whole(), "%+v", walk)
	require.Equal(t, walk.Total, walk.Done)
	require.LessOrEqual(t, told, walk.Done)
	stopped, cancel := context.WithCancel(t.Context())
	cancel()
	_, err = boltfile.WalkPages(stopped, forest(t), nil)
	require.ErrorIs(t, err, context.Canceled)
	_, err = boltfile.WalkPages(t.Context(), filepath.Join(t.TempDir(), "none"), nil)
	require.ErrorIs(t, err, os.ErrNotExist)
}

// What a walk calls whole, bbolt reads without coming to harm; whatever is there, the walk comes to its end.
func TestNoPageLeadsAWalkAstray(t *testing.T) {
	path := forest(t)
	whole, err := os.ReadFile(path)
	require.NoError(t, err)
	page := os.Getpagesize()
	r := rand.New(rand.NewPCG(7, 7))
	found := 0
	for range 600 {
		bad := append([]byte{}, whole...)
		switch r.IntN(4) {
		case 0: // a head of a page
			bad[r.IntN(len(bad)/page)*page+r.IntN(16)] ^= 1 << r.IntN(8)
		case 1: // where items lie
			bad[r.IntN(len(bad)/page)*page+16+r.IntN(64)] ^= 1 << r.IntN(8)
		case 2: // a page in place of another
			from, to := r.IntN(len(bad)/page), r.IntN(len(bad)/page)
			copy(bad[to*page:], whole[from*page:(from+1)*page])
		case 3:
			bad = bad[:r.IntN(len(bad))]
		}
		require.NoError(t, os.WriteFile(path, bad, 0o600))
		walk, err := boltfile.WalkPages(t.Context(), path, nil)
		require.NoError(t, err)
		if !walk.Whole() {
			found++
			require.LessOrEqual(t, walk.Done, walk.Total)
			continue
		}
		db, err := boltfile.Open(path, boltfile.ReadOnly(0))
		require.NoError(t, err, "%+v", walk)
		require.NoError(t, boltfile.View(db, func(tx *bolt.Tx) error {
			for err := range tx.Check() {
				return err
			}
			return nil
		}))
		require.NoError(t, db.Close())
	}
	t.Logf("%d of 600 were found", found)
	require.Greater(t, found, 100)
}

func FuzzWalkPages(f *testing.F) {
	whole, err := os.ReadFile(forest(f))
	require.NoError(f, err)
	f.Add(uint32(0), uint64(0))
	f.Add(uint32(2*os.Getpagesize()), uint64(1))
	f.Fuzz(func(t *testing.T, at uint32, word uint64) {
		bad := append([]byte{}, whole...)
		place := int(at) % (len(bad) - 8)
		binary.LittleEndian.PutUint64(bad[place:], word)
		path := filepath.Join(t.TempDir(), "x.db")
		require.NoError(t, os.WriteFile(path, bad, 0o600))
		_, err := boltfile.WalkPages(t.Context(), path, nil)
		require.NoError(t, err)
	})
}
