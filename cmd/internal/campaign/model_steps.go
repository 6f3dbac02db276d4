package main

import (
	"encoding/hex"
	"errors"
	"fmt"
	"reflect"
	"time"

	"golang.org/x/mod/sumdb/tlog"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/events/evidence"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/storetest"
	"github.com/pottrail/pottrail/tracker"
)

// newID is an id made of chance.
func (p *pair) newID() tracker.EventID {
	var b [16]byte
	for i := range b {
		b[i] = byte(p.chance.Uint32())
	}
	b[6], b[8] = b[6]&0x0f|0x70, b[8]&0x3f|0x80
	h := hex.EncodeToString(b[:])
	return tracker.EventID(h[:8] + "-" + h[8:12] + "-" + h[12:16] + "-" + h[16:20] + "-" + h[20:])
}

// any is something that was recorded, nil when nothing was: of late in half of the cases.
func (p *pair) any() *tracker.Event {
	n := len(p.list)
	switch {
	case n == 0:
		return nil
	case p.chance.IntN(2) == 0:
		return p.list[n-1-p.chance.IntN(min(n, 60))]
	}
	return p.list[p.chance.IntN(n)]
}

// stepRecord records what happens next, and some that comes late or before its time.
func (p *pair) stepRecord() error {
	var batch []*tracker.Event
	for range 1 + p.chance.IntN(3) {
		if len(p.life) == 0 {
			break
		}
		i := 0
		if p.chance.IntN(6) == 0 { // the others come late by this
			i = p.chance.IntN(min(len(p.life), 80))
		}
		e := p.life[i]
		p.life[i] = p.life[0]
		p.life = p.life[1:]
		batch = append(batch, e)
		if p.chance.IntN(20) > 0 && e.At.After(p.now) {
			p.now = e.At.Add(time.Duration(p.chance.Int64N(int64(time.Minute))))
		}
	}
	return p.record(batch...)
}

// stepRepeat sends something again: the first answer, and nothing new.
func (p *pair) stepRepeat() error {
	e := p.any()
	if e == nil {
		return nil
	}
	verdicts, err := p.ledger.Record(p.now, storetest.Intakes(e, e))
	if err != nil {
		return err
	}
	for _, v := range verdicts {
		if !reflect.DeepEqual(v, p.first[e.ID]) {
			return fmt.Errorf("sent again, %s is answered with %+v, and first with %+v", e.ID, v, p.first[e.ID])
		}
	}
	return p.nothingNew()
}

func (p *pair) nothingNew() error {
	if last, _ := p.ledger.Last(); last != uint64(len(p.list)) {
		return fmt.Errorf("there are %d entries, and there were %d", last, len(p.list))
	}
	return nil
}

// stepOtherContent uses an id for something else: refused, in words.
func (p *pair) stepOtherContent() error {
	e := p.any()
	if e == nil {
		return nil
	}
	other := *e
	switch p.chance.IntN(3) {
	case 0:
		other.By = "somebody.else"
	case 1:
		other.At = e.At.Add(time.Second)
	case 2:
		other.Station = "another-desk"
	}
	verdicts, err := p.ledger.Record(p.now, storetest.Intakes(&other))
	if err != nil {
		return err
	}
	if v := verdicts[0]; v.OK || v.Error.Code != events.CodeDifferentContent {
		return fmt.Errorf("an id that was used for something else is answered with %+v", v)
	}
	return p.nothingNew()
}

// stepStrike strikes something, which may be a strike or struck already.
func (p *pair) stepStrike() error {
	e := p.any()
	if e == nil {
		return nil
	}
	return p.record(&tracker.Event{ID: p.newID(), Kind: tracker.KindEventStruck, Clinic: e.Clinic, At: p.now, By: "nurse.osei", Station: "desk", Items: e.Items,
		Data: &tracker.EventStruck{Event: e.ID, Why: "wrong thing scanned"}})
}

// stepNonsense says of one thing what was said of another, some time: pots in two bags, results of closed cases, pieces out of
// pots that were never opened. None of it is turned away.
func (p *pair) stepNonsense() error {
	a := p.any()
	if a == nil {
		return nil
	}
	for range 50 {
		b := p.any()
		if b.Kind != a.Kind || b == a || len(b.Items) == 0 || b.Kind == tracker.KindEventStruck {
			continue
		}
		at := p.now.Add(-time.Duration(p.chance.Int64N(int64(60 * 24 * time.Hour))))
		if p.chance.IntN(2) == 0 {
			at = p.now
		}
		return p.record(&tracker.Event{ID: p.newID(), Kind: a.Kind, Clinic: b.Clinic, At: at, By: "doctor.lind", Station: "room-2", Items: b.Items, Data: a.Data})
	}
	return nil
}

// stepTime lets time go by: what is due is judged again.
func (p *pair) stepTime() error {
	p.now = p.now.Add(time.Duration(p.chance.Int64N(int64(3 * time.Hour))))
	return p.catchUp()
}

// stepBack records something while the recorder's clock is behind: its time never goes back.
func (p *pair) stepBack() error {
	now := p.now
	defer func() { p.now = now }()
	p.now = now.Add(-time.Duration(p.chance.Int64N(int64(time.Hour))))
	if err := p.stepStrike(); err != nil {
		return err
	}
	e := p.list
	if len(e) == 0 {
		return nil
	}
	_, recorded := p.ledger.Last()
	if !recorded.Equal(e[len(e)-1].Record.Recorded) {
		return fmt.Errorf("with the clock set back it is recorded at %s, and it was %s before", recorded, e[len(e)-1].Record.Recorded)
	}
	return nil
}

// stepSerials takes numbers: in a row, each once, and none that was heard of.
func (p *pair) stepSerials() error {
	clinic, n := []string{"MBY", "HCX"}[p.chance.IntN(2)], 1+p.chance.IntN(3)
	first, err := p.ledger.TakeSerials(clinic, 26, n)
	if errors.Is(err, store.ErrSerials) {
		return nil
	}
	if err != nil {
		return err
	}
	if p.serials[clinic] == nil {
		p.serials[clinic] = map[int]bool{}
	}
	for serial := first; serial < first+n; serial++ {
		if p.serials[clinic][serial] {
			return fmt.Errorf("%s: serial %d was handed out, and it is known", clinic, serial)
		}
		p.serials[clinic][serial] = true
	}
	return nil
}

// stepLook looks at one case, bag or room.
func (p *pair) stepLook() error {
	e := p.any()
	if e == nil {
		return nil
	}
	if err := p.catchUp(); err != nil {
		return err
	}
	for _, name := range tracker.WatchedBy(e) {
		s, ok, err := p.ledger.Snapshot(name)
		if err != nil {
			return err
		}
		if !ok {
			return fmt.Errorf("nothing is known of %s", name)
		}
		if err := p.same(s); err != nil {
			return err
		}
	}
	return nil
}

// stepProof has it proved what belongs to a case, and checks that by the model's root alone.
func (p *pair) stepProof() error {
	e := p.any()
	if e == nil || len(e.Items) == 0 {
		return nil
	}
	name := e.Items[0].Name
	included, err := p.ledger.Proof(name, map[string]uint64{storetest.Origin: uint64(len(p.list))}, nil)
	if errors.Is(err, store.ErrTooMany) {
		return nil
	}
	if err != nil {
		return err
	}
	root, err := p.root(len(p.list))
	if err != nil {
		return err
	}
	trail, err := p.ledger.Events(name)
	if err != nil {
		return err
	}
	if len(included) != len(trail) || len(trail) == 0 {
		return fmt.Errorf("%s: %d entries are proved, and it has %d", name, len(included), len(trail))
	}
	for i, in := range included {
		var path tlog.RecordProof
		for _, hash := range in.Path {
			path = append(path, tlog.Hash(hash))
		}
		if err := tlog.CheckRecord(path, int64(len(p.list)), root, int64(in.Index), tlog.RecordHash([]byte(in.Leaf))); err != nil {
			return fmt.Errorf("%s: entry %d is not in the model's tree: %w", name, in.Index, err)
		}
		if trail[i].ID != p.list[in.Index].ID {
			return fmt.Errorf("%s: entry %d is %s in the model, and %s in the trail", name, in.Index, p.list[in.Index].ID, trail[i].ID)
		}
	}
	return nil
}

// stepCheckpoint keeps a signed checkpoint, and shows that an earlier one is a beginning of it.
func (p *pair) stepCheckpoint() error {
	root, err := p.ledger.Root("")
	if err != nil || root.Size == 0 {
		return err
	}
	signed, err := p.signer.Checkpoint(root)
	if err != nil {
		return err
	}
	kept, err := p.ledger.KeepCheckpoint(p.now, signed.Note)
	if err != nil {
		return err
	}
	p.kept = append(p.kept, root)
	if kept.Position != uint64(len(p.kept)) {
		return fmt.Errorf("checkpoint %d is kept as the %dth", len(p.kept), kept.Position)
	}
	return p.isBeginning(p.kept[p.chance.IntN(len(p.kept))], root)
}

func (p *pair) isBeginning(before, now evidence.Checkpoint) error {
	want, err := p.root(int(before.Size))
	if err != nil {
		return err
	}
	older, err := p.ledger.Earlier(storetest.Origin, before.Size, now.Size)
	if err != nil {
		return err
	}
	var path tlog.TreeProof
	for _, hash := range older.Path {
		path = append(path, tlog.Hash(hash))
	}
	if older.Root != before.Root || tlog.Hash(older.Root) != want {
		return fmt.Errorf("the root of the first %d entries has changed", before.Size)
	}
	return tlog.CheckTree(path, int64(now.Size), tlog.Hash(now.Root), int64(before.Size), want)
}

// stepReopen closes the ledger and opens it again.
func (p *pair) stepReopen() error {
	if err := p.ledger.Close(); err != nil {
		return err
	}
	if err := p.open(); err != nil {
		return err
	}
	list, err := p.ledger.Checkpoints(1, 1_000_000)
	if err != nil {
		return err
	}
	if len(list) != len(p.kept) {
		return fmt.Errorf("%d checkpoints are kept, and there were %d", len(list), len(p.kept))
	}
	return p.nothingNew()
}

// stepRebuild has everything derived made again.
func (p *pair) stepRebuild() error { return p.ledger.Rebuild(p.now, nil) }
