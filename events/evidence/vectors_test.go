package evidence_test

import (
	"encoding/hex"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"
	"pgregory.net/rapid"

	"github.com/transparency-dev/merkle/proof"
	"github.com/transparency-dev/merkle/rfc6962"

	"github.com/pottrail/pottrail/events/evidence"
)

// Leaves, roots and proofs of the reference tree of RFC 6962 that Certificate Transparency uses, as the project's notes
// on standards have them in section F; computed there with two independent libraries.
var (
	vectorLeaves = []string{"", "00", "10", "2021", "3031", "40414243", "5051525354555657", "606162636465666768696a6b6c6d6e6f"}
	vectorRoots  = []string{
		"e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
		"6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
		"fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
		"aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
		"d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
		"4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
		"76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
		"ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
		"5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
	}
	vectorEarlier = []struct {
		before, now uint64
		path        []string
	}{
		{1, 8, []string{"96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7", "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e", "6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4"}},
		{6, 8, []string{"0ebc5d3437fbe2db158b9f126a1d118e308181031d0a949f8dededebc558ef6a", "ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0", "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7"}},
		{2, 5, []string{"5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e", "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b"}},
		{1, 1, nil},
	}
)

func vectorBook(t *testing.T) *book {
	b := newBook()
	for _, leaf := range vectorLeaves {
		raw, err := hex.DecodeString(leaf)
		require.NoError(t, err)
		b.add(home, raw)
	}
	return b
}

func TestRootsAndWaysBackAreThoseOfRFC6962(t *testing.T) {
	b := vectorBook(t)
	for size, want := range vectorRoots {
		root, err := b.RootAt(home, uint64(size))
		require.NoError(t, err)
		require.Equal(t, want, root.String(), "size %d", size)
	}
	for _, row := range vectorEarlier {
		path, err := tlog.ProveTree(int64(row.now), int64(row.before), b.reader(home))
		require.NoError(t, err)
		require.Len(t, path, len(row.path))
		for i, h := range path {
			require.Equal(t, row.path[i], evidence.Hash(h).String(), "%d to %d", row.before, row.now)
		}
	}
}

// The note is the published example of the package documentation of golang.org/x/mod/sumdb/note.
func TestThePublishedNoteIsAccepted(t *testing.T) {
	const key = "PeterNeumann+c74f20a3+ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW"
	const text = "If you think cryptography is the answer to your problem,\nthen you don't know what your problem is.\n"
	const signed = text + "\n— PeterNeumann x08go/ZJkuBS9UG/SffcvIAQxVBtiFupLLr8pAcElZInNIuGUgYN1FFYC2pZSNXgKvqfqdngotpRZb6KE6RyyBwJnAM=\n"
	require.NoError(t, evidence.CheckKey(key))
	require.Equal(t, "PeterNeumann+c74f20a3", evidence.KeyName(key))
	v, err := note.NewVerifier(key)
	require.NoError(t, err)
	n, err := note.Open([]byte(signed), note.VerifierList(v))
	require.NoError(t, err)
	require.Equal(t, text, n.Text)
	_, err = evidence.OpenCheckpoint(signed, key)
	require.ErrorIs(t, err, evidence.ErrNote, "signed, and no checkpoint")
}

// What a checkpoint looks like: C2SP tlog-checkpoint, three lines, signed as a note.
func TestACheckpointIsWrittenAsC2SPHasIt(t *testing.T) {
	s := signer(t, home, 1)
	b := vectorBook(t)
	c := b.checkpoint(t, s, home, 8)
	require.True(t, strings.HasPrefix(c.Note, "pottrail/marram-bay-1\n8\nXcnaeacGWamtVZy3Ad7ZoqudgjqtL0lgz+Nw7/RgQyg=\n\n— pottrail/marram-bay-1 "), c.Note)
	require.Equal(t, "8 5DC9-DA79-A706-59A9-AD55", c.Short())
	opened, err := evidence.OpenCheckpoint(c.Note, s.Key())
	require.NoError(t, err)
	require.Equal(t, c, opened)
	size, root, err := evidence.ParseShort(" 8  5dc9 da79a706-59A9-AD55")
	require.NoError(t, err)
	require.EqualValues(t, 8, size)
	require.True(t, strings.HasPrefix(c.Root.String(), root))
	for _, wrong := range []string{"", "8", "8 5DC9", "x 5DC9-DA79-A706-59A9-AD55", "8 5DC9-DA79-A706-59A9-ADXX", "8 5DC9-DA79-A706-59A9-AD5555"} {
		_, _, err := evidence.ParseShort(wrong)
		require.ErrorIs(t, err, evidence.ErrShort, wrong)
	}
}

// Another library, written by others, agrees with every path and every way back of random records.
func TestAnotherLibraryAgrees(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := newBook()
		for _, leaf := range rapid.SliceOfN(rapid.SliceOfN(rapid.Byte(), 0, 40), 1, 70).Draw(t, "leaves") {
			b.add(home, leaf)
		}
		size := uint64(len(b.leaves[home]))
		root, err := b.RootAt(home, size)
		require.NoError(t, err)
		index := rapid.Uint64Range(0, size-1).Draw(t, "leaf")
		path, err := tlog.ProveRecord(int64(size), int64(index), b.reader(home))
		require.NoError(t, err)
		leaf := rfc6962.DefaultHasher.HashLeaf(b.leaves[home][index])
		ours := evidence.LeafHash(b.leaves[home][index])
		require.Equal(t, leaf, ours[:])
		require.NoError(t, proof.VerifyInclusion(rfc6962.DefaultHasher, index, size, leaf, bytesOf(path), root[:]))
		before := rapid.Uint64Range(1, size).Draw(t, "before")
		back, err := tlog.ProveTree(int64(size), int64(before), b.reader(home))
		require.NoError(t, err)
		was, err := b.RootAt(home, before)
		require.NoError(t, err)
		require.NoError(t, proof.VerifyConsistency(rfc6962.DefaultHasher, before, size, bytesOf(back), was[:], root[:]))
	})
}

func bytesOf(path []tlog.Hash) [][]byte {
	out := make([][]byte, len(path))
	for i := range path {
		out[i] = path[i][:]
	}
	return out
}
