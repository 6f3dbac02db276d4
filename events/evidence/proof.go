package evidence

import "github.com/pottrail/pottrail/tracker"

// Proof shows that the events of a case or bag are in the record: the answer of `/v1/proof`, and what a file holds.
type Proof struct {
	Name        tracker.Name `json:"name"`
	Key         string       `json:"key"` // public, of the node that signed; worth nothing until it is compared
	Checkpoints []Signed     `json:"checkpoints"`
	Statement   string       `json:"statement"` // a signed [Statement]
	Events      []Inclusion  `json:"events"`    // in the order in which they are folded
	Older       *Older       `json:"older,omitzero"`
}

// Inclusion shows that one leaf is in its origin's tree, as of the checkpoint of that origin.
type Inclusion struct {
	Origin string `json:"origin"`
	Index  uint64 `json:"index"` // of the leaf, from 0: oseq - 1
	Leaf   string `json:"leaf"`  // the stored bytes
	Path   []Hash `json:"path"`  // from leaf to root
}

// Older shows that a tree as it was is a beginning of the same tree as of the checkpoint: that nothing was altered or
// taken out in between.
type Older struct {
	Checkpoint
	Path []Hash `json:"path"`
}

// MostEvents is how many events one proof may hold; a bag or a case with more cannot be real. Ours.
const MostEvents = 5000

// State gives the statement of what the proof is about.
func (p *Proof) State() Statement {
	s := Statement{Name: p.Name}
	for _, e := range p.Events {
		s.Entries = append(s.Entries, Listed{Origin: e.Origin, Index: e.Index, Leaf: LeafHash([]byte(e.Leaf))})
	}
	return s
}

// Checkpoint is that of one origin; ok is false when the proof has none.
func (p *Proof) Checkpoint(origin string) (c Signed, ok bool) {
	for _, c := range p.Checkpoints {
		if c.Origin == origin {
			return c, true
		}
	}
	return Signed{}, false
}
