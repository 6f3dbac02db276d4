package store

import (
	"bytes"
	"fmt"
	"strconv"
	"time"

	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/tracker"
)

func number(n uint64) string { return strconv.FormatUint(n, 10) }

// judgements compares snapshots and their places in the indexes with fresh judgements.
func (k *checkup) judgements() error {
	rules, err := k.rules()
	if err != nil {
		return err
	}
	var names []tracker.Name
	c := k.bucket(inThings).Cursor()
	for key, _ := c.First(); key != nil; key, _ = c.Next() {
		n, _, _, ok := splitThingKey(key)
		if !ok {
			k.fault(PartFiling, "", "Among what is filed by case and bag is a key of %d bytes that names nothing.", len(key))
			continue
		}
		if len(names) == 0 || names[len(names)-1] != n {
			names = append(names, n)
		}
	}
	total := uint64(len(names))
	for len(names) > 0 {
		page := names[:min(len(names), rebuildThings)]
		names = names[len(page):]
		fresh := make([]*judged, len(page))
		kept := make([]*judged, len(page))
		faults := make([]error, len(page))
		err := share(len(page), func(i int) error {
			return k.l.view(func(tx *bolt.Tx) error {
				kept[i], fresh[i], faults[i] = k.judge(tx, page[i], rules)
				return nil
			})
		})
		if err != nil {
			return err
		}
		for i, n := range page {
			k.snapshot(n, kept[i], fresh[i], faults[i])
		}
		k.things += uint64(len(page))
		k.tell("cases", k.things, total)
		if err := k.ctx.Err(); err != nil {
			return err
		}
	}
	return nil
}

// rules are all that anything in this ledger may have been judged by.
func (k *checkup) rules() (map[lawMark]*tracker.Rules, error) {
	all := map[lawMark]*tracker.Rules{k.l.standard.mark: k.l.standard.rules}
	for _, made := range k.state.laws {
		all[made.mark] = made.rules
	}
	return all, k.bucket(inProtocols).ForEach(func(_, value []byte) error {
		if len(value) != 8 {
			return nil // told already
		}
		e, err := Entry{Seq: num64(value), Leaf: k.look(inEntries, value)}.Event()
		if err != nil {
			return nil
		}
		if made, err := k.l.lawFrom(e); err == nil {
			all[made.mark] = made.rules
		}
		return nil
	})
}

// judge reads a snapshot and judges anew, by the rules and at an instant at which the answer must be the same: nothing
// changes between a judgement and its wake. Fresh is nil when the snapshot cannot be compared.
func (k *checkup) judge(tx *bolt.Tx, n tracker.Name, rules map[lawMark]*tracker.Rules) (kept, fresh *judged, err error) {
	raw := tx.Bucket([]byte(inThings.String())).Get(snapshotKey(n))
	if raw == nil {
		return nil, nil, nil
	}
	if kept, err = decodeJudged(n, raw); err != nil {
		return nil, nil, err
	}
	by := rules[kept.law]
	if kept.version != foldVersion || by == nil || len(k.state.sweeps) > 0 {
		return kept, nil, nil
	}
	at := k.state.now.Add(clockStep) // the clock may have gone back a little since it was judged
	if wake := kept.Findings.Wake; !wake.IsZero() && !wake.After(at) {
		at = wake.Add(-time.Nanosecond)
	}
	gathered, err := gather(tx, n)
	if err != nil {
		return kept, nil, err
	}
	fresh, err = encodeJudged(kept.law, tracker.Judge(n, gathered, by, at))
	return kept, fresh, err
}

func (k *checkup) snapshot(n tracker.Name, kept, fresh *judged, err error) {
	switch {
	case kept == nil && err == nil:
		k.fault(PartSnapshot, n, "%s has events and was never judged: what was last judged of it is missing.", n.Printed())
		return
	case kept == nil:
		k.counts[inThings]++
		k.fault(PartSnapshot, n, "What was last judged of %s was changed and cannot be read.", n.Printed())
		return
	}
	k.counts[inThings]++
	if err != nil {
		k.fault(PartSnapshot, n, "%s cannot be judged: some of its events cannot be read.", n.Printed())
	}
	if kept.version != foldVersion {
		k.older = true
		return
	}
	if fresh != nil && !bytes.Equal(kept.text(), fresh.text()) {
		k.found(Finding{Part: PartSnapshot, Item: n,
			Text:   fmt.Sprintf("What was last judged of %s is not what its events give.", n.Printed()),
			Detail: fmt.Sprintf("kept  %s\n  fresh %s", kept.text(), fresh.text())})
	}
	x := kept.index()
	if x.due != nil {
		if wrong := k.expect(inDue, x.due, nil); wrong != "" {
			k.fault(PartDue, n, "%s must be judged again at an instant, and its place among what is due %s.", n.Printed(), wrong)
		}
	}
	if x.flagged != nil {
		if wrong := k.expect(inFlagged, x.flagged, nil); wrong != "" {
			k.fault(PartFlagged, n, "%s has flags, and its place among what is flagged %s.", n.Printed(), wrong)
		}
	}
	if x.open {
		if wrong := k.expect(inOpen, []byte(n), nil); wrong != "" {
			k.fault(PartOpen, n, "%s is not settled, and its place among what is open %s.", n.Printed(), wrong)
		}
	}
}

// text is a snapshot without its head and its checksum.
func (j *judged) text() []byte {
	text, err := cutSum(inThings, snapshotKey(j.Summary.Name), j.raw, snapshotHead)
	if err != nil {
		return nil
	}
	return text[snapshotHead:]
}
