package storetest

import (
	"encoding/hex"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/mod/sumdb/tlog"

	"github.com/pottrail/pottrail/store"
)

// proofsHold checks proofs as an outsider would: by the leaf bytes, the path and the root alone.
func proofsHold(t *testing.T, l *store.Ledger) {
	list := Life(8, 5)
	Record(t, l, list[len(list)-1].At.Add(time.Hour), list...)
	name := list[0].Items[0].Name
	proof, err := l.Proof(name)
	require.NoError(t, err)
	require.NotEmpty(t, proof.Events)
	trail, err := l.Events(name)
	require.NoError(t, err)
	require.Len(t, proof.Events, len(trail))
	root, err := l.Root("")
	require.NoError(t, err)
	require.Equal(t, []store.Checkpoint{root}, proof.Checkpoints)
	require.EqualValues(t, len(list), root.Size)
	th, err := hex.DecodeString(root.Root)
	require.NoError(t, err)
	for _, in := range proof.Events {
		var path tlog.RecordProof
		for _, step := range in.Path {
			h, err := hex.DecodeString(step)
			require.NoError(t, err)
			path = append(path, tlog.Hash(h))
		}
		leaf := tlog.RecordHash([]byte(in.Leaf))
		require.NoError(t, tlog.CheckRecord(path, int64(root.Size), tlog.Hash(th), int64(in.Index), leaf))
		other := tlog.RecordHash([]byte(in.Leaf + " "))
		require.Error(t, tlog.CheckRecord(path, int64(root.Size), tlog.Hash(th), int64(in.Index), other), "one byte more")
	}
	none, err := l.Root("stranger")
	require.NoError(t, err)
	require.Equal(t, store.Checkpoint{Origin: "stranger", Root: "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"}, none, "RFC 6962: the hash of nothing")
}
