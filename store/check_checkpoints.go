package store

import (
	"golang.org/x/mod/sumdb/tlog"
)

// checkpoints holds each checkpoint that the ledger keeps against the tree that it was made of. Whose signature it bears is
// for whoever knows the key.
func (k *checkup) checkpoints() error {
	b := k.bucket(inCheckpoints)
	if b == nil {
		return nil // none was made yet
	}
	next := uint64(1)
	return b.ForEach(func(key, raw []byte) error {
		if len(key) != 8 || num64(key) != next {
			k.fault(PartCheckpoint, "", "The checkpoints have a gap: number %d follows number %d.", num64(key), next-1)
		}
		next = num64(key) + 1
		kept, err := readKept(key, raw)
		if err != nil {
			k.fault(PartCheckpoint, "", "Checkpoint %d was changed and cannot be read.", num64(key))
			return nil
		}
		size := uint64(0)
		if o := k.origins[kept.Origin]; o != nil {
			size = o.last
		}
		if kept.Size > size {
			k.fault(PartCheckpoint, "", "Checkpoint %d is of %d entries of %s, and there are %d: later ones are missing.", num64(key), kept.Size, kept.Origin, size)
			return nil
		}
		root, err := tlog.TreeHash(int64(kept.Size), treeOf(k.tx, kept.Origin))
		if (err != nil || root != tlog.Hash(kept.Root)) && !k.noHashes {
			k.fault(PartCheckpoint, "", "Checkpoint %d was made of other entries: the first %d of %s are not what was signed.", num64(key), kept.Size, kept.Origin)
		}
		return nil
	})
}
