package store

import (
	"encoding/hex"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	bolt "go.etcd.io/bbolt"
	"golang.org/x/mod/sumdb/tlog"

	"github.com/pottrail/pottrail/tracker"
)

// The leaves, roots and proofs below are the reference values of RFC 6962 trees that Certificate Transparency uses, as
// the project's notes on standards have them; computed there with two independent libraries.
func TestTheTreeIsThatOfRFC6962(t *testing.T) {
	leaves := []string{"", "00", "10", "2021", "3031", "40414243", "5051525354555657", "606162636465666768696a6b6c6d6e6f"}
	roots := []string{
		"6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
		"fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
		"aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
		"d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
		"4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
		"76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
		"ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
		"5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
	}
	inclusions := []struct {
		leaf, size int64 // leaf from 1
		path       []string
	}{
		{1, 8, []string{"96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7", "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e", "6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4"}},
		{6, 8, []string{"bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b", "ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0", "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7"}},
		{3, 3, []string{"fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125"}},
		{2, 5, []string{"6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d", "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e", "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b"}},
		{1, 1, nil},
	}
	l, err := Open(filepath.Join(t.TempDir(), "ledger.db"), Options{Origin: "vectors"})
	require.NoError(t, err)
	defer func() { require.NoError(t, l.Close()) }()
	for i, leaf := range leaves {
		raw, err := hex.DecodeString(leaf)
		require.NoError(t, err)
		err = l.change(time.Unix(0, 0), func(d *draft) error {
			d.hashes = map[int64]tlog.Hash{}
			d.oseq++
			return d.hash(raw)
		})
		require.NoError(t, err)
		require.NoError(t, l.view(func(tx *bolt.Tx) error {
			root, err := tlog.TreeHash(int64(i+1), treeOf(tx, l.origin))
			require.NoError(t, err)
			require.Equal(t, roots[i], hex.EncodeToString(root[:]), "size %d", i+1)
			return nil
		}))
	}
	require.NoError(t, l.view(func(tx *bolt.Tx) error {
		for _, row := range inclusions {
			proof, err := tlog.ProveRecord(row.size, row.leaf-1, treeOf(tx, l.origin))
			require.NoError(t, err)
			var path []string
			for _, h := range proof {
				path = append(path, hex.EncodeToString(h[:]))
			}
			require.Equal(t, row.path, path, "leaf %d of %d", row.leaf, row.size)
		}
		return nil
	}))
}

func TestKeysSortAsTimeDoes(t *testing.T) {
	instants := []time.Time{time.Date(1, 1, 1, 0, 0, 0, 0, time.UTC), time.Unix(-1, 999), time.Unix(0, 0), time.Unix(0, 1), time.Unix(1, 0),
		time.Date(2026, 3, 6, 15, 42, 10, 5, time.UTC), time.Date(9999, 12, 31, 23, 59, 59, 999_999_999, time.UTC)}
	for i, at := range instants {
		key := appendInstant(nil, at)
		back, ok := readInstant(key)
		require.True(t, ok)
		require.True(t, at.Equal(back))
		if i > 0 {
			require.Less(t, string(appendInstant(nil, instants[i-1])), string(key))
		}
	}
	_, ok := readInstant([]byte("short"))
	require.False(t, ok)
}

func TestIDsAsKeys(t *testing.T) {
	key, err := keyOf("0199f1c2-7b1e-7c3a-9d55-0a4c6f1e2b77")
	require.NoError(t, err)
	require.EqualValues(t, "0199f1c2-7b1e-7c3a-9d55-0a4c6f1e2b77", idOf(key))
	for _, wrong := range []string{"", "0199f1c2", "0199f1c27b1e7c3a9d550a4c6f1e2b7700000", "0199f1c2-7b1e-7c3a-9d55-0a4c6f1e2bzz", "------------------------------------"} {
		_, err := keyOf(tracker.EventID(wrong))
		require.Error(t, err, "%q", wrong)
	}
}
