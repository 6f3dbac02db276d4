package store_test

import (
	"crypto/rand"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/events/evidence"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/storetest"
)

// signedLife makes a ledger with a checkpoint every 5 entries, kept beside it, and a copy of when there were 10.
func signedLife(t *testing.T) (path, older, key string, kept []evidence.Kept) {
	t.Helper()
	path, older = storetest.Path(t), storetest.Path(t)
	l, err := store.Open(path, store.Options{Origin: storetest.Origin})
	require.NoError(t, err)
	secret, err := evidence.NewKey(rand.Reader, storetest.Origin)
	require.NoError(t, err)
	signer, err := evidence.NewSigner(secret)
	require.NoError(t, err)
	for i, e := range storetest.Life(3, 4)[:20] {
		storetest.Record(t, l, e.At.Add(time.Minute), e)
		if (i+1)%5 != 0 {
			continue
		}
		root, err := l.Root("")
		require.NoError(t, err)
		signed, err := signer.Checkpoint(root)
		require.NoError(t, err)
		kept = append(kept, evidence.Kept{Signed: signed, At: e.At, Where: "checkpoints.log"})
		if i+1 == 10 {
			_, err = l.Copy(t.Context(), older, nil)
			require.NoError(t, err)
		}
	}
	require.NoError(t, l.Close())
	return path, older, signer.Key(), kept
}

// A ledger that fits itself, and does not fit what was signed: told is the first checkpoint, and where to look.
func TestCheckpointsBesideALedgerShowWhatItCannotShowItself(t *testing.T) {
	path, older, key, kept := signedLife(t)
	for _, quick := range []bool{false, true} {
		found, _ := examined(t, path, store.ExamineOptions{Others: kept, Keys: []string{key}, Quick: quick})
		require.Empty(t, found)

		found, _ = examined(t, older, store.ExamineOptions{Quick: quick})
		require.Empty(t, found, "the twin: by itself nothing is wrong with it")
		found, _ = examined(t, older, store.ExamineOptions{Others: kept, Keys: []string{key}, Quick: quick})
		require.Len(t, found, 1)
		require.Equal(t, store.PartCheckpoint, found[0].Part)
		require.EqualValues(t, 11, found[0].OSeq)
		require.Contains(t, found[0].Text, "is of 15 entries of pottrail/test-origin, and the ledger has 10: an older copy of the ledger was put here, or another one. What is missing begins with number 11 of that log; 1 later checkpoints do not fit either.")
	}
	changed := kept[1]
	changed.Note = strings.Replace(changed.Note, "\n10\n", "\n11\n", 1)
	found, _ := examined(t, path, store.ExamineOptions{Others: []evidence.Kept{changed}, Keys: []string{key}})
	require.Len(t, found, 1)
	require.Contains(t, found[0].Text, "was changed after it was signed")
}

// What is printed on the handoff sheet is enough to see that a ledger was put back.
func TestAPrintedCheckpointShowsAnOlderCopy(t *testing.T) {
	path, older, _, kept := signedLife(t)
	last := kept[len(kept)-1].Short()
	found, _ := examined(t, path, store.ExamineOptions{Paper: last})
	require.Empty(t, found)
	found, _ = examined(t, older, store.ExamineOptions{Paper: last})
	require.Len(t, found, 1)
	require.Contains(t, found[0].Text, "The printed checkpoint is of 20 entries of this node's log, and the ledger has 10")
	found, _ = examined(t, path, store.ExamineOptions{Paper: "10 0000-1111-2222-3333-4444"})
	require.Len(t, found, 1)
	require.Contains(t, found[0].Text, "one of them was changed, or it is a checkpoint of another node")
	_, err := store.Examine(t.Context(), path, store.ExamineOptions{Paper: "ten"})
	require.ErrorIs(t, err, evidence.ErrShort)
}
