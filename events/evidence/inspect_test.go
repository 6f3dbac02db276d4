package evidence_test

import (
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/events/evidence"
)

func TestAnEarlierCheckpointFindsWhatWasChangedAndWhatWentBack(t *testing.T) {
	s := signer(t, home, 1)
	b := someBook(7, 3)
	at := time.Date(2026, 3, 6, 18, 0, 0, 0, time.UTC)
	keep := func(c evidence.Signed) evidence.Kept {
		return evidence.Kept{Signed: c, At: at, Where: "checkpoints.log, position 4"}
	}
	kept := []evidence.Kept{keep(b.checkpoint(t, s, home, 3)), keep(b.checkpoint(t, s, home, 8)), keep(b.checkpoint(t, s, away, 2))}
	require.NoError(t, evidence.Inspect(kept, b, s.Key()))
	require.NoError(t, evidence.Inspect(kept, b, signer(t, home, 2).Key()), "a key from before: the roots are compared all the same")

	altered, shorter := newBook(), newBook()
	for i, leaf := range b.leaves[home] {
		if i < 7 {
			shorter.add(home, leaf)
		}
		if i == 5 {
			leaf = []byte(strings.ReplaceAll(string(leaf), "nurse", "nurze"))
		}
		altered.add(home, leaf)
	}
	var m *evidence.Mismatch
	require.ErrorAs(t, evidence.Inspect(kept, altered, s.Key()), &m)
	require.False(t, m.Behind)
	require.EqualValues(t, 8, m.Kept.Size, "the first three entries are as they were")
	require.Equal(t, "The checkpoint in checkpoints.log, position 4, made 2026-03-06 18:00:00 UTC, is of 8 entries of pottrail/marram-bay-1 with another root than they have now: something recorded before it was changed.", m.Text)
	require.ErrorAs(t, evidence.Inspect(kept, shorter, s.Key()), &m)
	require.True(t, m.Behind)
	require.Contains(t, m.Text, "the ledger has 7: an older copy of the ledger was put here, or another one")
	forged := kept[0]
	forged.Note = strings.Replace(forged.Note, "\n3\n", "\n2\n", 1)
	require.ErrorAs(t, evidence.Inspect([]evidence.Kept{forged}, b, s.Key()), &m)
	require.Contains(t, m.Text, "was changed after it was signed")
	broken := errors.New("disk")
	require.ErrorIs(t, evidence.Inspect(kept, failing{broken}, s.Key()), broken)
}

type failing struct{ err error }

func (f failing) Size(string) (uint64, error)                  { return 0, f.err }
func (f failing) RootAt(string, uint64) (evidence.Hash, error) { return evidence.Hash{}, f.err }

func TestKeys(t *testing.T) {
	for seed := range byte(40) { // some have a plus in their base64
		s := signer(t, home, seed)
		c, err := s.Checkpoint(evidence.Checkpoint{Origin: home, Size: 1})
		require.NoError(t, err)
		_, err = evidence.OpenCheckpoint(c.Note, s.Key())
		require.NoError(t, err, "the public key is the secret one's")
	}
	for _, wrong := range []string{"", "PRIVATE+KEY+x", "PRIVATE+KEY+pottrail/a+00000000+AAAA"} {
		_, err := evidence.NewSigner(wrong)
		require.ErrorIs(t, err, evidence.ErrKey)
		if wrong != "" {
			require.NotContains(t, err.Error(), wrong, "a key is never said")
		}
	}
}
