package store

import (
	"bytes"
	"encoding/binary"
	"errors"
	"time"

	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/tracker"
)

// SetFree makes the disk look as if it had so many bytes left; less than none means that nobody knows.
func (l *Ledger) SetFree(free func() (int64, bool)) { l.free = free }

// OpenReads is how many reading transactions are open now.
func (l *Ledger) OpenReads() int { stats := l.db.Stats(); return stats.OpenTxN }

// FreePages is how many pages of the file hold nothing, those included that only a reader keeps from being used again.
func (l *Ledger) FreePages() int { stats := l.db.Stats(); return stats.FreePageN + stats.PendingPageN }

// Shares is how many bytes of the file each bucket takes up, in whole pages, and how many hold something.
func (l *Ledger) Shares() (taken, used map[string]int, err error) {
	taken, used = map[string]int{}, map[string]int{}
	err = l.view(func(tx *bolt.Tx) error {
		for b := range bucketCount {
			s := tx.Bucket([]byte(b.String())).Stats()
			taken[b.String()] = s.LeafAlloc + s.BranchAlloc
			used[b.String()] = s.LeafInuse + s.BranchInuse
		}
		return nil
	})
	return taken, used, err
}

// HoldRead keeps a reading transaction open until back is called, as nothing in this package does.
func (l *Ledger) HoldRead() (back func(), err error) {
	tx, err := l.db.Begin(false)
	if err != nil {
		return nil, err
	}
	return func() { _ = tx.Rollback() }, nil
}

// Spoil changes the file behind the ledger's back.
func (l *Ledger) Spoil(change func(tx *bolt.Tx) error) error { return l.db.Update(change) }

// AgeSnapshots makes a file look as if an earlier fold had written it.
func AgeSnapshots(path string) error {
	db, err := bolt.Open(path, 0o600, nil)
	if err != nil {
		return err
	}
	err = db.Update(func(tx *bolt.Tx) error {
		things := tx.Bucket([]byte(inThings.String()))
		var keys, values [][]byte
		err := things.ForEach(func(key, value []byte) error {
			if _, mark, _, ok := splitThingKey(key); ok && mark == snapshotMark {
				keys, values = append(keys, bytes.Clone(key)), append(values, bytes.Clone(value))
			}
			return nil
		})
		for i := range keys {
			binary.BigEndian.PutUint16(values[i], foldVersion+1)
			err = errors.Join(err, things.Put(keys[i], append(values[i][:snapshotHead:snapshotHead], `{"older":"shape"}`...)))
		}
		return errors.Join(err, tx.Bucket([]byte(inMeta.String())).Put([]byte(metaFold), binary.BigEndian.AppendUint32(nil, foldVersion+1)))
	})
	return errors.Join(err, db.Close())
}

// Unfile makes a closed file look as if the first fold had written it: nothing is filed under the days of rooms.
func Unfile(path string) error {
	db, err := bolt.Open(path, 0o600, nil)
	if err != nil {
		return err
	}
	err = db.Update(func(tx *bolt.Tx) error {
		things := tx.Bucket([]byte(inThings.String()))
		var keys [][]byte
		err := things.ForEach(func(key, _ []byte) error {
			if n, _, _, ok := splitThingKey(key); ok && n.Thing() == tracker.ThingRoomDay {
				keys = append(keys, bytes.Clone(key))
			}
			return nil
		})
		for _, key := range keys {
			err = errors.Join(err, things.Delete(key))
		}
		return errors.Join(err, tx.Bucket([]byte(inMeta.String())).Put([]byte(metaFold), binary.BigEndian.AppendUint32(nil, filedSince-1)))
	})
	return errors.Join(err, db.Close())
}

// Meta writes one value of the meta bucket of a closed file.
func Meta(path, key string, value []byte) error {
	db, err := bolt.Open(path, 0o600, nil)
	if err != nil {
		return err
	}
	err = db.Update(func(tx *bolt.Tx) error { return tx.Bucket([]byte(inMeta.String())).Put([]byte(key), value) })
	return errors.Join(err, db.Close())
}

// JudgeEverything does what a rebuild does, but for the writing: decode, fold and check.
func (l *Ledger) JudgeEverything(now time.Time) error {
	var kept []*tracker.Event
	var names []tracker.Name
	err := l.db.View(func(tx *bolt.Tx) error {
		for {
			next := uint64(len(kept) + 1)
			page := readEntries(tx, nil, next, ^uint64(0), rebuildEntries)
			list, err := decodeAll(page, next)
			if err != nil || len(list) == 0 {
				return err
			}
			kept = append(kept, list...)
		}
	})
	if err != nil {
		return err
	}
	err = l.db.View(func(tx *bolt.Tx) error {
		return tx.Bucket([]byte(inThings.String())).ForEach(func(key, _ []byte) error {
			if n, mark, _, ok := splitThingKey(key); ok && mark == snapshotMark {
				names = append(names, n)
			}
			return nil
		})
	})
	if err != nil {
		return err
	}
	_, err = l.judgeAll(names, l.state.laws, now, kept)
	return err
}
