package evidence

import (
	"errors"
	"strings"

	"golang.org/x/mod/sumdb/tlog"
)

// older checks the way back to an earlier state of the record: the one that the proof brings, and the one that is asked
// for.
func (v *verifying) older() *Fault {
	if o := v.p.Older; o != nil {
		c, ok := v.p.Checkpoint(o.Origin)
		if !ok {
			return fault(CodeOlder, 0, "The file leads back to an older state of %s, and has no checkpoint of it.", NodeName(o.Origin))
		}
		if !leadsBack(c.Checkpoint, *o) {
			return fault(CodeOlder, 0, "The record of %s as it was with %d entries is not the beginning of the record as of the checkpoint, with %d: the way back was changed, or the record was.", NodeName(o.Origin), o.Size, c.Size)
		}
	}
	if v.against.Older != "" {
		if f := v.olderNote(); f != nil {
			return f
		}
	}
	if v.against.Paper != "" {
		return v.olderPaper()
	}
	return nil
}

// leadsBack reports whether an older state is a beginning of a checkpoint's tree.
func leadsBack(now Checkpoint, o Older) bool {
	if o.Size == 0 || o.Size > now.Size {
		return false
	}
	return tlog.CheckTree(tlogHashes(o.Path), int64(now.Size), tlog.Hash(now.Root), int64(o.Size), tlog.Hash(o.Root)) == nil
}

func (v *verifying) olderNote() *Fault {
	given, err := ReadCheckpoint(v.against.Older)
	if err != nil {
		return fault(CodeOlderSignature, 0, "The older checkpoint is no signed checkpoint.")
	}
	if f := v.signed("The older checkpoint", v.against.Older, CodeOlderSignature); f != nil {
		return f
	}
	c, ok := v.p.Checkpoint(given.Origin)
	if !ok {
		return fault(CodeOlder, 0, "The older checkpoint is of %s, and the file has nothing of that node.", NodeName(given.Origin))
	}
	return v.sameHistory(c.Checkpoint, given.Size, func(root Hash) bool { return root == given.Root })
}

// sameHistory holds an earlier state, of which the size is known and something by which to know its root, against the
// checkpoint of the proof.
func (v *verifying) sameHistory(now Checkpoint, size uint64, same func(Hash) bool) *Fault {
	root := now.Root
	switch o := v.p.Older; {
	case size > now.Size:
		return fault(CodeOlder, 0, "The older checkpoint was made when %s had %d entries, and the checkpoint in the file says %d: the record went backwards, or the two are the wrong way round.", NodeName(now.Origin), size, now.Size)
	case size == now.Size: // the very state of the checkpoint
	case o == nil || o.Origin != now.Origin || o.Size != size:
		return fault(CodeOlderNoProof, 0, "The file does not lead back to the older checkpoint, of %d entries: ask for one that does, with `pottrail prove %s --older FILE`.", size, v.p.Name)
	default:
		root = o.Root
	}
	if !same(root) {
		return fault(CodeOlder, 0, "The older checkpoint is of another record: with %d entries %s had another root then. What was recorded before it has been changed since, or two records are kept.", size, NodeName(now.Origin))
	}
	return nil
}

func (v *verifying) olderPaper() *Fault {
	size, root, err := ParseShort(v.against.Paper)
	if err != nil {
		return fault(CodeOlderSignature, 0, "The checkpoint from paper cannot be read: %v.", err)
	}
	same := func(h Hash) bool { return strings.HasPrefix(h.String(), root) }
	var first *Fault
	for _, c := range v.p.Checkpoints { // paper says no node: any will do
		f := v.sameHistory(c.Checkpoint, size, same)
		if f == nil {
			return nil
		}
		if first == nil {
			first = f
		}
	}
	return first
}

// ErrShort says that a checkpoint from paper cannot be read.
var ErrShort = errors.New("write it as it is printed, the number of entries and five groups of four digits: \"1234 53F1-A0C4-77AA-90BE-12CD\"")
