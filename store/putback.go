package store

import (
	"fmt"
	"slices"
	"time"

	"github.com/go-json-experiment/json"

	"github.com/pottrail/pottrail/tracker"
)

// PutBack is what a ledger knows of having been put back from a copy.
type PutBack struct {
	Seq    uint64    `json:"seq"`              // its last entry then
	From   time.Time `json:"from"`             // until when the copy knows what happened
	To     time.Time `json:"to"`               // when it was put back; between the two labels may have been printed that it does not know
	Copies int       `json:"copies"`           // of a label that are passed over
	Passed []Moved   `json:"passed,omitempty"` // serials that are
}

// PutBacks lists when the ledger was put back from copies, the first time first; mostly there is none.
func (l *Ledger) PutBacks() []PutBack { return slices.Clone(l.current().putBacks) }

// readPutBacks reads what is stored, nil for nothing.
func readPutBacks(raw []byte) ([]PutBack, error) {
	if raw == nil {
		return nil, nil
	}
	text, err := cutSum(inMeta, []byte(metaPutBack), raw, 0)
	if err != nil {
		return nil, err
	}
	return parsePutBacks(text)
}

func parsePutBacks(raw []byte) (list []PutBack, err error) {
	if err := json.Unmarshal(raw, &list); err != nil {
		return nil, fmt.Errorf("%w: when it was put back from a backup", ErrDamaged)
	}
	return list, nil
}

// addPutBack adds one to those that are stored, and gives what is to be stored then.
func addPutBack(raw []byte, p PutBack) ([]byte, error) {
	list, err := readPutBacks(raw)
	if err != nil {
		return nil, err
	}
	text, err := json.Marshal(append(list, p), json.Deterministic(true))
	if err != nil {
		return nil, fmt.Errorf("when it was put back: %w", err)
	}
	return withSum(inMeta, []byte(metaPutBack), text), nil
}

// Passes reports whether the serial of a case or bag, or of what belongs to one, was passed over: a label with it may be on
// something, printed after the copy was made.
func (p PutBack) Passes(name tracker.Name) bool {
	if name.Thing() == 0 || name.Thing() == tracker.ThingRoomDay {
		return false
	}
	of := func(clinic string) int {
		return slices.IndexFunc(p.Passed, func(m Moved) bool { return m.Clinic == clinic && m.Year == name.Year() })
	}
	i := of(name.Clinic())
	if i < 0 {
		if i = of(anyClinic); i < 0 {
			return false
		}
	}
	m := p.Passed[i]
	return name.Serial() > m.Last && (m.Next == 0 || name.Serial() < m.Next)
}

// concerns reports whether labels of a thing may have been printed between copy and putting back: it was known before, or its
// serial was passed over. First is its first entry, 0 if there is none.
func (p PutBack) concerns(name tracker.Name, first uint64) bool {
	return first > 0 && first <= p.Seq || p.Passes(name)
}

// lastPutBack is the last one that concerns a thing, or nil.
func lastPutBack(list []PutBack, name tracker.Name, first uint64) *PutBack {
	for _, p := range slices.Backward(list) {
		if p.concerns(name, first) {
			return &p
		}
	}
	return nil
}
