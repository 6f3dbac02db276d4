package boltfile_test

import (
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/store/boltfile"
)

func fill(value string) func(tx *bolt.Tx) error {
	return func(tx *bolt.Tx) error {
		b, err := tx.CreateBucketIfNotExists([]byte("b"))
		return errors.Join(err, b.Put([]byte("k"), []byte(value)))
	}
}

func read(t *testing.T, db *bolt.DB) (value string) {
	require.NoError(t, boltfile.View(db, func(tx *bolt.Tx) error {
		value = string(tx.Bucket([]byte("b")).Get([]byte("k")))
		return nil
	}))
	return value
}

func TestAFileIsMadeWholeAndNeverInPlaceOfAnother(t *testing.T) {
	path := filepath.Join(t.TempDir(), "x.db")
	require.NoError(t, boltfile.Make(path, fill("first")))
	require.NoError(t, boltfile.Make(path, fill("second")), "somebody was quicker")
	failed := errors.New("no")
	require.ErrorIs(t, boltfile.Make(filepath.Join(filepath.Dir(path), "y.db"), func(*bolt.Tx) error { return failed }), failed)
	names, err := os.ReadDir(filepath.Dir(path))
	require.NoError(t, err)
	require.Len(t, names, 1, "nothing is left over")
	db, err := boltfile.Open(path, boltfile.Options(time.Second))
	require.NoError(t, err)
	require.Equal(t, "first", read(t, db))
	_, err = boltfile.Open(path, boltfile.Options(time.Millisecond))
	require.ErrorIs(t, err, boltfile.ErrInUse)
	require.NoError(t, db.Close())
	_, err = boltfile.Open(path+".none", boltfile.Options(time.Second))
	require.ErrorIs(t, err, os.ErrNotExist)
}

func TestAnErrorInsideUndoesAll(t *testing.T) {
	path := filepath.Join(t.TempDir(), "x.db")
	require.NoError(t, boltfile.Make(path, fill("first")))
	db, err := boltfile.Open(path, boltfile.Options(time.Second))
	require.NoError(t, err)
	failed := errors.New("no")
	err = boltfile.Update(db, func(tx *bolt.Tx) error { return errors.Join(fill("second")(tx), failed) })
	require.ErrorIs(t, err, failed)
	require.NotErrorIs(t, err, boltfile.ErrUncertain)
	require.Equal(t, "first", read(t, db))
	require.NoError(t, boltfile.Update(db, fill("third")))
	require.Equal(t, "third", read(t, db))
	require.ErrorIs(t, boltfile.View(db, func(*bolt.Tx) error { panic("a damaged page") }), boltfile.ErrForeign)
	require.NoError(t, db.Close())
	require.ErrorIs(t, boltfile.Update(db, fill("fourth")), boltfile.ErrUncertain, "closed")
}
