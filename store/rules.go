package store

import (
	"bytes"
	"errors"
	"fmt"
	"maps"
	"time"

	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/protocol"
)

// law is a protocol in force for a clinic.
type law struct {
	rules    *tracker.Rules
	mark     lawMark
	key      []byte // its place among the clinic's adoptions; nil for the default
	adoption Adoption
}

// Adoption is the last protocol that a clinic adopted.
type Adoption struct {
	Seq    uint64    // of its entry; 0 while it is being recorded
	At     time.Time // when it happened
	By     string    // staff key
	SHA256 string
	Text   string
	// Fault says why this release cannot use it; the clinic then goes by the default. It is set only under [Options.Mend].
	Fault error
}

// makeLaw reads a protocol.
func makeLaw(p *protocol.Protocol, zones func(string) (*time.Location, error)) (law, error) {
	rules, err := tracker.NewRules(p, zones)
	if err != nil {
		return law{}, err
	}
	return law{rules: rules, mark: lawMarkOf(rules)}, nil
}

// lawFrom reads the protocol of an adoption.
func (l *Ledger) lawFrom(e *tracker.Event) (law, error) {
	adopted, ok := e.Data.(*tracker.ProtocolAdopted)
	if !ok {
		return law{}, fmt.Errorf("%w: %s is no adoption of a protocol", ErrDamaged, e.ID)
	}
	p, err := protocol.Parse([]byte(adopted.Text))
	if err != nil {
		return law{}, err
	}
	made, err := makeLaw(p, l.options.Zones)
	made.adoption = adoptionOf(e)
	return made, err
}

// newLaw reads the protocol of an adoption that is to be recorded; what is wrong with it is a refusal.
func (l *Ledger) newLaw(e *tracker.Event) (law, error) {
	made, err := l.lawFrom(e)
	if err == nil || errors.Is(err, ErrDamaged) {
		return made, err
	}
	return law{}, &events.Refusal{Code: events.CodeBadProtocol, Field: "data.text",
		Text: "The protocol cannot be used, so it was not adopted: " + err.Error() + ". Mend the file, try it with `pottrail protocol check FILE`, and adopt it again."}
}

// adoptionOf says who adopted what and when.
func adoptionOf(e *tracker.Event) Adoption {
	a := Adoption{Seq: e.Record.Seq, At: e.When(), By: e.By}
	if adopted, ok := e.Data.(*tracker.ProtocolAdopted); ok {
		a.SHA256, a.Text = adopted.SHA256, adopted.Text
	}
	return a
}

// adopt puts a law in force, unless a later one of the clinic is. The map is never changed, since readers share it.
func adopt(laws map[string]law, clinic string, made law) (map[string]law, bool) {
	if have, ok := laws[clinic]; ok && bytes.Compare(have.key, made.key) > 0 {
		return laws, false
	}
	changed := maps.Clone(laws)
	if changed == nil {
		changed = map[string]law{}
	}
	changed[clinic] = made
	return changed, true
}

// readLaws finds the protocol in force of each clinic.
func (l *Ledger) readLaws(tx *bolt.Tx) (map[string]law, error) {
	last := map[string]Entry{}
	keys := map[string][]byte{}
	c := tx.Bucket([]byte(inProtocols.String())).Cursor()
	for key, value := c.First(); key != nil; key, value = c.Next() {
		if len(key) < instantSize+16+1 {
			return nil, fmt.Errorf("%w: a key of %d bytes among the protocols", ErrDamaged, len(key))
		}
		clinic := string(key[:len(key)-instantSize-16])
		last[clinic] = Entry{Seq: num64(value), Leaf: tx.Bucket([]byte(inEntries.String())).Get(value)}
		keys[clinic] = bytes.Clone(key)
	}
	var laws map[string]law
	for clinic, entry := range last {
		e, err := entry.Event()
		if err != nil {
			return nil, fmt.Errorf("%w: entry %d: %w", ErrDamaged, entry.Seq, err)
		}
		made, err := l.lawFrom(e)
		switch {
		case err != nil && l.options.Mend:
			made = l.standard
			made.adoption = adoptionOf(e)
			made.adoption.Fault = err
		case err != nil:
			return nil, fmt.Errorf("%w: that of %s (entry %d, adopted %s by %s): %w", ErrProtocol, clinic, entry.Seq,
				e.When().Format(time.RFC3339), e.By, err)
		}
		made.key = keys[clinic]
		laws, _ = adopt(laws, clinic, made)
	}
	return laws, nil
}

// lawOf is the law for a clinic: what it adopted, else the default.
func (l *Ledger) lawOf(laws map[string]law, clinic string) law {
	if made, ok := laws[clinic]; ok {
		return made
	}
	return l.standard
}

// Rules are what a clinic's cases are judged by: the protocol that it adopted, else the default.
func (l *Ledger) Rules(clinic string) *tracker.Rules {
	return l.lawOf(l.current().laws, clinic).rules
}

// Adopted is the protocol in force for a clinic; ok is false when it adopted none and the default holds.
func (l *Ledger) Adopted(clinic string) (r *tracker.Rules, ok bool) {
	made, ok := l.current().laws[clinic]
	return made.rules, ok
}

// Adoptions are all protocols that were ever in force for a clinic, in order: first the default, then what it adopted. One
// that this release cannot read has no rules.
func (l *Ledger) Adoptions(clinic string) ([]tracker.Adoption, error) {
	all := []tracker.Adoption{{Rules: l.standard.rules}}
	err := l.view(func(tx *bolt.Tx) error {
		c := tx.Bucket([]byte(inProtocols.String())).Cursor()
		for key, value := c.Seek([]byte(clinic)); key != nil && bytes.HasPrefix(key, []byte(clinic)); key, value = c.Next() {
			entry := Entry{Seq: num64(value), Leaf: tx.Bucket([]byte(inEntries.String())).Get(value)}
			e, err := entry.Event()
			if err != nil {
				return fmt.Errorf("%w: entry %d: %w", ErrDamaged, entry.Seq, err)
			}
			adoption := tracker.Adoption{When: e.When(), By: e.By}
			if made, err := l.lawFrom(e); err == nil {
				adoption.Rules = made.rules
			}
			all = append(all, adoption)
		}
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("protocols of %s: %w", clinic, err)
	}
	return all, nil
}

// Adoption says who adopted the protocol in force for a clinic, and when; ok is false when it adopted none.
func (l *Ledger) Adoption(clinic string) (a Adoption, ok bool) {
	made, ok := l.current().laws[clinic]
	return made.adoption, ok
}
