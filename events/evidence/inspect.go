package evidence

import (
	"errors"
	"fmt"
	"time"
)

// Kept is a checkpoint that was made earlier, and where it was kept.
type Kept struct {
	Signed
	At    time.Time // when it was made, by the node's clock
	Where string    // "checkpoints.log, line 7", "the ledger"
}

// Tree is a record as it is now.
type Tree interface {
	// Size is how many entries of an origin there are.
	Size(origin string) (uint64, error)
	// RootAt is the root that an origin's tree had with so many entries.
	RootAt(origin string, size uint64) (Hash, error)
}

// Mismatch says that the record is not what a checkpoint was made of. It is an error for [errors.As].
type Mismatch struct {
	Kept    Kept
	Altered bool   // the checkpoint itself was changed after it was signed
	Behind  bool   // the record is shorter than it was: an older copy was put in its place
	Size    uint64 // of the record now
	Text    string // a sentence
}

// Error is the sentence.
func (m *Mismatch) Error() string { return m.Text }

// Inspect holds checkpoints that were made earlier against a record as it is now. The error is a [*Mismatch] for the
// first that does not fit, or what kept the record from being read. Keys are this node's own: a checkpoint that none of
// them signed is held against the record all the same.
func Inspect(kept []Kept, tree Tree, keys ...string) error {
	for _, k := range kept {
		size, err := tree.Size(k.Origin)
		if err != nil {
			return err
		}
		mismatch := func(behind bool, format string, args ...any) error {
			return &Mismatch{Kept: k, Behind: behind, Size: size, Text: fmt.Sprintf(format, args...)}
		}
		made := k.At.UTC().Format("2006-01-02 15:04:05 MST")
		if err := checkSignature(k.Note, keys); errors.Is(err, ErrSignature) {
			return &Mismatch{Kept: k, Altered: true, Size: size, Text: fmt.Sprintf("The checkpoint in %s, made %s, was changed after it was signed.", k.Where, made)}
		}
		if k.Size > size {
			return mismatch(true, "The checkpoint in %s, made %s, is of %d entries of %s, and the ledger has %d: an older copy of the ledger was put here, or another one.",
				k.Where, made, k.Size, NodeName(k.Origin), size)
		}
		root, err := tree.RootAt(k.Origin, k.Size)
		if err != nil {
			return err
		}
		if root != k.Root {
			return mismatch(false, "The checkpoint in %s, made %s, is of %d entries of %s with another root than they have now: something recorded before it was changed.",
				k.Where, made, k.Size, NodeName(k.Origin))
		}
	}
	return nil
}
