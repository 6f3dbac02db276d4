package store

import (
	"bytes"
	"errors"
	"fmt"
	"sync"
	"time"

	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/tracker"
)

// mostPast is how many protocols of the past are kept ready for [Ledger.RulesThen]; a clinic adopts a few a year.
const mostPast = 32

// past keeps protocols ready that are no longer in force, by the position of their adoption.
type past struct {
	mu    sync.Mutex
	rules map[uint64]*tracker.Rules
}

// RulesThen are the rules of a clinic that were in force when an event happened that is not recorded yet: by the adoptions
// that stand before it in the order of what happened, as far as they are known now. An event that says it lies ahead of now
// is taken as of now. What this release cannot read any more gives the rules in force today, which say the most of who may
// do what.
func (l *Ledger) RulesThen(e *tracker.Event, now time.Time) (*tracker.Rules, error) {
	made, ok := l.current().laws[e.Clinic]
	if !ok {
		return l.standard.rules, nil
	}
	id, err := keyOf(e.ID)
	if err != nil {
		return made.rules, nil // the ledger will refuse it
	}
	when := e.At
	if when.After(now) {
		when = now
	}
	key := protocolKey(e.Clinic, when, id)
	if bytes.Compare(made.key, key) < 0 {
		return made.rules, nil
	}
	before, err := l.adoptionBefore(e.Clinic, key)
	if err != nil {
		return nil, fmt.Errorf("the protocol of %s at %s: %w", e.Clinic, when.Format(time.RFC3339), err)
	}
	if before.Seq == 0 {
		return l.standard.rules, nil
	}
	return l.past.of(before, func() (*tracker.Rules, error) {
		adopted, err := before.Event()
		if err != nil {
			return nil, fmt.Errorf("%w: entry %d: %w", ErrDamaged, before.Seq, err)
		}
		then, err := l.lawFrom(adopted)
		if err != nil {
			return made.rules, nil
		}
		return then.rules, nil
	})
}

// of gives the rules of an adoption, made if they are not at hand.
func (p *past) of(adopted Entry, make func() (*tracker.Rules, error)) (*tracker.Rules, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if known := p.rules[adopted.Seq]; known != nil {
		return known, nil
	}
	rules, err := make()
	if err != nil {
		return nil, err
	}
	if p.rules == nil || len(p.rules) >= mostPast {
		p.rules = map[uint64]*tracker.Rules{}
	}
	p.rules[adopted.Seq] = rules
	return rules, nil
}

// adoptionBefore is the entry of a clinic's last adoption before a key of its; the zero entry when there is none.
func (l *Ledger) adoptionBefore(clinic string, key []byte) (before Entry, err error) {
	err = l.view(func(tx *bolt.Tx) error {
		c := tx.Bucket([]byte(inProtocols.String())).Cursor()
		found, _ := c.Seek(key)
		var value []byte
		if found == nil {
			found, value = c.Last()
		} else {
			found, value = c.Prev()
		}
		if bytes.HasPrefix(found, []byte(clinic)) {
			before = Entry{Seq: num64(value), Leaf: bytes.Clone(tx.Bucket([]byte(inEntries.String())).Get(value))}
		}
		return nil
	})
	return before, err
}

// ByID is the event with an id, if it is recorded here.
func (l *Ledger) ByID(id tracker.EventID) (e *tracker.Event, ok bool, err error) {
	key, err := keyOf(id)
	if errors.Is(err, errNoUUID) {
		return nil, false, nil
	}
	err = l.view(func(tx *bolt.Tx) error {
		raw := tx.Bucket([]byte(inIDs.String())).Get(key[:])
		if raw == nil {
			return nil
		}
		leaf := tx.Bucket([]byte(inEntries.String())).Get(raw[:min(len(raw), 8)])
		if leaf == nil {
			return fmt.Errorf("%w: entry %d of id %s is missing", ErrDamaged, num64(raw), id)
		}
		ok = true
		e, err = Entry{Seq: num64(raw), Leaf: leaf}.Event()
		return err
	})
	return e, ok && err == nil, err
}
