package store

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"time"

	"github.com/go-json-experiment/json"
	"golang.org/x/mod/sumdb/tlog"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/tracker"
)

// mostTouched is how many cases and bags one transaction may judge before it is committed and another begun.
// Source: contract page 5.
const mostTouched = 500

// Record appends a batch in one transaction (in parts, when it touches over 500 cases and bags) and judges what it
// touches at now, by the protocol in force. The verdicts, one an intake, are good only when it returns: all are on disk.
// Two calls at once overlap: one is prepared while the other is on its way to the disk, so use two goroutines.
//
// With [ErrNoSpace] there are verdicts too: those not recorded say no-space. With any other error nothing may be
// answered as recorded.
func (l *Ledger) Record(now time.Time, batch []Intake) ([]events.Verdict, error) {
	verdicts := make([]events.Verdict, len(batch))
	for done := 0; done < len(batch); {
		took := 0
		err := l.change(now, func(d *draft) (err error) {
			took, err = d.record(batch[done:], verdicts[done:])
			return err
		})
		if errors.Is(err, ErrNoSpace) {
			for i := done; i < len(batch); i++ {
				verdicts[i] = events.Refused(idText(batch[i].Event), &events.Refusal{Code: events.CodeNoSpace,
					Text: "There is no space left for the ledger; this was not recorded. Make space, then send it again with the same id."})
			}
			return verdicts, fmt.Errorf("record: %w", err)
		}
		if err != nil {
			return nil, fmt.Errorf("record: %w", err)
		}
		done += took
	}
	return verdicts, nil
}

func idText(e *tracker.Event) string {
	if e == nil {
		return ""
	}
	return string(e.ID)
}

// record takes intakes until the transaction is large enough, and says how many.
func (d *draft) record(batch []Intake, verdicts []events.Verdict) (took int, err error) {
	d.ids = make(map[eventKey]noted, len(batch))
	d.hashes = make(map[int64]tlog.Hash, 2*len(batch))
	for took < len(batch) && d.touched <= mostTouched {
		if verdicts[took], err = d.recordOne(batch[took]); err != nil {
			return took, err
		}
		took++
	}
	for key, n := range d.ids {
		d.put(inIDs, key[:], idValue(key, n.seq, n.kept))
	}
	return took, nil
}

func (d *draft) recordOne(in Intake) (events.Verdict, error) {
	if in.Event == nil {
		d.count.refused++
		return events.Refused("", &events.Refusal{Code: events.CodeMissingField, Text: "There is no event."}), nil
	}
	e := *in.Event
	e.Record = tracker.Record{}
	refuse := func(reason error) (events.Verdict, error) {
		d.count.refused++
		return events.Refused(string(e.ID), reason), nil
	}
	key, err := keyOf(e.ID)
	if err != nil {
		return refuse(&events.Refusal{Code: events.CodeBadID, Field: "id", Text: "id is not a UUID in its lower-case spelling."})
	}
	told := events.Encode(&e)
	if told == nil {
		return refuse(&events.Refusal{Code: events.CodeBadNumber, Field: "data", Text: "data holds a number that cannot be written down."})
	}
	known, err := d.find(key)
	if err != nil {
		return events.Verdict{}, err
	}
	if known.seq != 0 {
		if !sameContent(told, known.leaf) {
			return refuse(&events.Refusal{Code: events.CodeDifferentContent, Field: "id",
				Text: "id was used before, for another event: entry " + fmt.Sprint(known.seq) + ". If both happened, send this one with an id of its own."})
		}
		d.count.repeats++
		return known.verdict(e.ID)
	}
	var made law
	if e.Kind == tracker.KindProtocolAdopted {
		if made, err = d.l.newLaw(&e); err != nil {
			return refuse(err)
		}
	}
	d.append(&e, in.SentAt, key)
	leaf := events.AppendRecord(make([]byte, 0, len(told)+120), told, &e)
	if err := d.hash(leaf); err != nil {
		return events.Verdict{}, err
	}
	d.put(inEntries, be64(e.Record.Seq), leaf)
	if made.rules != nil {
		made.key, made.adoption.Seq = protocolKey(e.Clinic, e.When(), key), e.Record.Seq
		d.adopt(e.Clinic, made, e.Record.Seq)
	}
	v, err := d.consequences(&e)
	if err != nil {
		return events.Verdict{}, err
	}
	n := noted{seq: e.Record.Seq, leaf: leaf}
	if len(v.Raised)+len(v.Cleared) > 0 {
		n.kept = events.AppendVerdict(nil, v)
	}
	d.ids[key] = n
	d.count.recorded++
	return v, nil
}

// append gives the event its place and the recorder's time. Recorded never goes back within an origin.
func (d *draft) append(e *tracker.Event, sentAt time.Time, key eventKey) {
	d.seq++
	d.oseq++
	if d.now.After(d.recorded) {
		d.recorded = d.now
	}
	e.Record = tracker.Record{Seq: d.seq, Origin: d.l.origin, OSeq: d.oseq, Recorded: d.recorded}
	if !sentAt.IsZero() {
		e.Record.Skew = d.now.Sub(sentAt)
	}
	if d.oseq == 1 { // seq and oseq run side by side from here
		d.put(inRuns, originKey(d.l.origin, d.oseq), be64(d.seq))
	}
	for _, n := range tracker.WatchedBy(e) {
		d.put(inThings, concernKey(n, e.Record.Seq), nil)
	}
}

func (d *draft) adopt(clinic string, made law, seq uint64) {
	d.put(inProtocols, made.key, be64(seq))
	laws, changed := adopt(d.laws, clinic, made)
	if d.laws = laws; changed {
		d.sweep(clinic)
	}
}

// find looks an id up, in this batch, the one before, and what is committed; seq is 0 for a new one.
func (d *draft) find(key eventKey) (noted, error) {
	if n, ok := d.ids[key]; ok {
		return n, nil
	}
	if d.before != nil {
		if n, ok := d.before.ids[key]; ok {
			return n, nil
		}
	}
	raw := d.bucket(inIDs).Get(key[:])
	if raw == nil {
		return noted{}, nil
	}
	seq, kept, err := cutID(key, raw)
	if err != nil {
		return noted{}, err
	}
	leaf := d.bucket(inEntries).Get(raw[:8])
	if leaf == nil {
		return noted{}, fmt.Errorf("%w: entry %d of id %s is missing", ErrDamaged, seq, idOf(key))
	}
	return noted{seq: seq, kept: kept, leaf: leaf}, nil
}

// sameContent compares what was told with stored bytes, which go on with what the recorder added.
func sameContent(told, leaf []byte) bool {
	body := told[:len(told)-1] // without the closing brace
	if !bytes.HasPrefix(leaf, body) {
		return false
	}
	rest := leaf[len(body):]
	return bytes.HasPrefix(rest, []byte(`,"origin":`)) || bytes.Equal(rest, []byte("}"))
}

// verdict is the first answer again.
func (n noted) verdict(id tracker.EventID) (events.Verdict, error) {
	v := events.Verdict{ID: string(id), OK: true, Seq: n.seq, Raised: []events.Brief{}, Cleared: []events.Brief{}}
	if len(n.kept) == 0 {
		return v, nil
	}
	if err := json.Unmarshal(n.kept, &v); err != nil {
		return v, fmt.Errorf("%w: the verdict kept of %s: %w", ErrDamaged, id, err)
	}
	return v, nil
}

// hash adds a leaf to our origin's tree.
func (d *draft) hash(leaf []byte) error {
	n := int64(d.oseq - 1)
	made, err := tlog.StoredHashes(n, leaf, tlog.HashReaderFunc(d.readHashes))
	if err != nil {
		return fmt.Errorf("hash entry %d: %w", d.seq, err)
	}
	first := tlog.StoredHashIndex(0, n)
	for i := range made {
		d.hashes[first+int64(i)] = made[i]
		d.put(inTree, originKey(d.l.origin, uint64(first+int64(i))), made[i][:])
	}
	return nil
}

func (d *draft) readHashes(indexes []int64) ([]tlog.Hash, error) {
	out := make([]tlog.Hash, len(indexes))
	for i, x := range indexes {
		h, ok := d.hashes[x]
		if !ok && d.before != nil {
			h, ok = d.before.hashes[x]
		}
		if !ok {
			raw := d.bucket(inTree).Get(originKey(d.l.origin, uint64(x)))
			if len(raw) != tlog.HashSize {
				return nil, fmt.Errorf("%w: hash %d is missing", ErrDamaged, x)
			}
			copy(h[:], raw)
		}
		out[i] = h
	}
	return out, nil
}

// consequences judges all that the event can change. Raised and cleared are the difference that the event made: what
// time alone has changed meanwhile is noted before.
func (d *draft) consequences(e *tracker.Event) (events.Verdict, error) {
	v := events.Verdict{ID: string(e.ID), OK: true, Seq: e.Record.Seq, Raised: []events.Brief{}, Cleared: []events.Brief{}}
	concerned := tracker.WatchedBy(e)
	for _, n := range concerned {
		t, err := d.own(n)
		if err != nil {
			return v, err
		}
		t.events = append(t.events, e)
	}
	touched := concerned
	if len(concerned) > 0 {
		var err error
		if touched, err = tracker.Touched(e, d.load); err != nil {
			return v, err
		}
	}
	d.touched += len(touched)
	var raised, cleared []tracker.Flag
	for _, n := range touched {
		state, err := d.judged(n)
		if err != nil {
			return v, err
		}
		if state != nil && state.stale(d.l.lawOf(d.laws, n.Clinic()).mark, d.now) {
			if _, err := d.refresh(n, e); err != nil {
				return v, err
			}
			if state, err = d.judged(n); err != nil {
				return v, err
			}
		}
		changes, err := d.refresh(n, nil)
		if err != nil {
			return v, err
		}
		for _, c := range changes {
			switch {
			case c.Change == events.ChangeCleared:
				cleared = append(cleared, c.Flag)
			case c.Change == events.ChangeRaised, worse(state, &c.Flag):
				raised = append(raised, c.Flag)
			}
		}
	}
	v.Raised, v.Cleared = briefs(raised), briefs(cleared)
	return v, nil
}

// worse reports whether a flag that was there before has become more severe, so that it has to be said again.
func worse(before *judged, f *tracker.Flag) bool {
	if before == nil {
		return false
	}
	old := findFlag(before.Findings.Flags, f)
	return old != nil && f.Severity.Rank() < old.Severity.Rank()
}

func briefs(flags []tracker.Flag) []events.Brief {
	slices.SortStableFunc(flags, tracker.CompareFlags)
	out := make([]events.Brief, len(flags))
	for i, f := range flags {
		out[i] = events.BriefOf(f)
	}
	return out
}
