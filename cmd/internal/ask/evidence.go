package ask

import (
	"time"

	"github.com/pottrail/pottrail/events/evidence"
)

// ProofAnswer shows that the events of a thing are in the record: what `pottrail prove` writes into a file.
type ProofAnswer struct {
	At time.Time `json:"at"`
	evidence.Proof
}

// CheckpointRequest asks for the latest signed checkpoints of the record.
type CheckpointRequest struct {
	Make bool `json:"make,omitzero"` // sign one now, if something is new
}

// CheckpointAnswer is the latest signed checkpoint of each node whose entries the ledger has.
type CheckpointAnswer struct {
	Key         string           `json:"key"` // public, of this node
	Checkpoints []CheckpointLine `json:"checkpoints"`
}

// CheckpointLine is one checkpoint.
type CheckpointLine struct {
	evidence.Signed
	Short string    `json:"short"` // to be compared on paper
	Made  time.Time `json:"made"`
	New   uint64    `json:"new"` // entries since
}
