package evidence_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/events/evidence"
)

// A proof file is read in one spelling or not at all, and checking what was read never panics.
func FuzzParseProof(f *testing.F) {
	b := someBook(7, 2)
	s := signer(f, home, 1)
	for _, name := range b.cases() {
		f.Add(evidence.Format(b.prove(f, s, name, 3)))
	}
	f.Add([]byte("pottrail proof v1\nabout \nkey \n\nevent\norigin \nindex 0\nleaf \nend\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := evidence.Parse(data)
		if err != nil {
			require.ErrorIs(t, err, evidence.ErrUnreadable)
			return
		}
		require.Equal(t, string(data), string(evidence.Format(p)))
		_ = evidence.Verify(p, evidence.Against{Paper: "1 0000-0000-0000-0000-0000"})
		if evidence.Verify(p, evidence.Against{Keys: []string{s.Key()}}) == nil {
			require.Positive(t, len(p.Events))
		}
	})
}

// A checkpoint is read in one spelling or not at all.
func FuzzReadCheckpoint(f *testing.F) {
	s := signer(f, home, 1)
	b := someBook(7, 2)
	c := b.checkpoint(f, s, home, 5)
	f.Add(c.Note)
	f.Add("pottrail/x\n0\n47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU=\n\n— x AAAAAAA=\n")
	f.Fuzz(func(t *testing.T, signed string) {
		c, err := evidence.ReadCheckpoint(signed)
		if err != nil {
			require.ErrorIs(t, err, evidence.ErrNote)
			return
		}
		again, err := s.Checkpoint(c.Checkpoint)
		require.NoError(t, err)
		text, _, _ := strings.Cut(signed, "\n\n")
		require.True(t, strings.HasPrefix(again.Note, text+"\n\n"), "another spelling was taken")
		size, _, err := evidence.ParseShort(c.Short())
		require.NoError(t, err)
		require.Equal(t, c.Size, size)
	})
}

// FuzzParseShort holds on any text that is typed off paper, and on any that stands for a hash.
func FuzzParseShort(f *testing.F) {
	for _, seed := range []string{"1,204 a1b2-c3d4-e5f6-0718-2930", "1 00000000000000000000", "9f", "\xff 1"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if _, root, err := evidence.ParseShort(text); err == nil && len(root) != 20 {
			t.Fatalf("%q reads as root %q", text, root)
		}
		var h evidence.Hash
		if err := h.UnmarshalText([]byte(text)); err == nil && len(text) != 64 {
			t.Fatalf("%q reads as %s", text, h)
		}
	})
}
