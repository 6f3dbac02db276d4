package storetest

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/mod/sumdb/tlog"

	"github.com/pottrail/pottrail/events/evidence"
	"github.com/pottrail/pottrail/store"
)

// proofsHold checks proofs as an outsider would: by the leaf bytes, the path and the root alone.
func proofsHold(t *testing.T, l *store.Ledger) {
	list := Life(8, 5)
	Record(t, l, list[len(list)-1].At.Add(time.Hour), list...)
	name := list[0].Items[0].Name
	root, err := l.Root("")
	require.NoError(t, err)
	require.EqualValues(t, len(list), root.Size)
	included, err := l.Proof(name, map[string]uint64{l.Origin(): root.Size}, nil)
	require.NoError(t, err)
	require.NotEmpty(t, included)
	trail, err := l.Events(name)
	require.NoError(t, err)
	require.Len(t, included, len(trail))
	for _, in := range included {
		var path tlog.RecordProof
		for _, step := range in.Path {
			path = append(path, tlog.Hash(step))
		}
		leaf := tlog.RecordHash([]byte(in.Leaf))
		require.NoError(t, tlog.CheckRecord(path, int64(root.Size), tlog.Hash(root.Root), int64(in.Index), leaf))
		other := tlog.RecordHash([]byte(in.Leaf + " "))
		require.Error(t, tlog.CheckRecord(path, int64(root.Size), tlog.Hash(root.Root), int64(in.Index), other), "one byte more")
	}
	_, err = l.Proof(name, map[string]uint64{l.Origin(): included[len(included)-1].Index}, nil)
	require.ErrorIs(t, err, store.ErrNotCovered, "a tree of before the last event")
	none, err := l.Root("stranger")
	require.NoError(t, err)
	require.Equal(t, evidence.Checkpoint{Origin: "stranger", Root: evidence.Hash(tlog.Hash{0xe3, 0xb0, 0xc4, 0x42, 0x98, 0xfc, 0x1c, 0x14, 0x9a, 0xfb, 0xf4, 0xc8, 0x99, 0x6f, 0xb9, 0x24,
		0x27, 0xae, 0x41, 0xe4, 0x64, 0x9b, 0x93, 0x4c, 0xa4, 0x95, 0x99, 0x1b, 0x78, 0x52, 0xb8, 0x55})}, none, "RFC 6962: the hash of nothing")
}
