package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/go-json-experiment/json"
	"golang.org/x/mod/sumdb/tlog"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/events/evidence"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/storetest"
	"github.com/pottrail/pottrail/tracker"
)

// pair is a ledger on disk, and a simple model of it in memory that has no file, no index and no snapshot: what was
// recorded, in order.
type pair struct {
	chance *rand.Rand
	path   string
	ledger *store.Ledger
	signer *evidence.Signer
	rules  func(string) *tracker.Rules

	now    time.Time
	life   []*tracker.Event // what is still to happen
	list   []*tracker.Event // the model: what was recorded, with its record
	first  map[tracker.EventID]events.Verdict
	filed  map[tracker.Name][]*tracker.Event
	tree   []tlog.Hash // as package tlog stores a tree
	leaves int         // of it

	serials map[string]map[int]bool // handed out, or heard of, by clinic
	kept    []evidence.Checkpoint
	did     map[string]int
}

// step is something that is done to both, and how often of a hundred thousand.
type step struct {
	name  string
	often int
	do    func(p *pair) error
}

func modelSteps() []step {
	return []step{
		{"record", 48_000, (*pair).stepRecord},
		{"repeat", 9000, (*pair).stepRepeat},
		{"other content", 6000, (*pair).stepOtherContent},
		{"strike", 6000, (*pair).stepStrike},
		{"nonsense", 8000, (*pair).stepNonsense},
		{"time", 7000, (*pair).stepTime},
		{"serials", 4000, (*pair).stepSerials},
		{"look", 6000, (*pair).stepLook},
		{"proof", 3000, (*pair).stepProof},
		{"checkpoint", 2000, (*pair).stepCheckpoint},
		{"clock back", 600, (*pair).stepBack},
		{"reopen", 370, (*pair).stepReopen},
		{"rebuild", 30, (*pair).stepRebuild},
	}
}

// everyWhole is how many steps there are between two comparisons of everything, at most.
const everyWhole = 2500

// model does things to a ledger on disk and to a model in memory, the one step as likely as its like on real days, senseless
// ones too, and holds the one against the other: a verdict at each step, now and then everything. The control changes the
// model behind the ledger's back.
func model(ctx context.Context, o options) (out result, err error) {
	if o.cycles < 10_000 { // in the ordinary tests the disk's speed is not waited for
		o.folder = quick(o)
		defer func() { _ = os.RemoveAll(o.folder) }()
	}
	p, err := newPair(o)
	if err != nil {
		return out, err
	}
	defer func() { err = errors.Join(err, p.ledger.Close()) }()
	all := 0
	for _, s := range modelSteps() {
		all += s.often
	}
	for n := range o.cycles {
		if ctx.Err() != nil {
			return out, ctx.Err()
		}
		at := p.chance.IntN(all)
		steps := modelSteps()
		for at >= steps[0].often {
			at, steps = at-steps[0].often, steps[1:]
		}
		p.did[steps[0].name]++
		err := steps[0].do(p)
		if err == nil && (n+1)%min(everyWhole, max(1, o.cycles/3)) == 0 {
			err = p.whole()
		}
		if err != nil {
			out.Wrong = fmt.Sprintf("step %d, %s: %v", n+1, steps[0].name, err)
			return out, nil
		}
	}
	if err := p.whole(); err != nil {
		out.Wrong = "in the end: " + err.Error()
		return out, nil
	}
	k := newKept()
	if err := k.readOn(p.ledger); err != nil {
		return out, err
	}
	out.Acknowledged, out.Stored, out.Double = len(p.list), int(k.last), k.double
	for _, e := range p.list {
		if k.seqs[e.ID] != e.Record.Seq {
			out.Lost++
		}
	}
	var did []string
	for _, name := range slices.Sorted(maps.Keys(p.did)) {
		did = append(did, fmt.Sprintf("%s %d", name, p.did[name]))
	}
	out.Note = fmt.Sprintf("%d cases, bags and rooms equal to a fold from scratch; %s", len(p.filed), strings.Join(did, ", "))
	out.Control = p.control()
	return out, nil
}

func newPair(o options) (*pair, error) {
	rules, err := defaultRules()
	if err != nil {
		return nil, err
	}
	p := &pair{chance: rand.New(rand.NewPCG(o.seed, 41)), path: filepath.Join(o.folder, ledgerFile), rules: rules, now: storetest.Morning(),
		life: storetest.Life(o.seed, 20+o.cycles/20), first: map[tracker.EventID]events.Verdict{}, filed: map[tracker.Name][]*tracker.Event{},
		serials: map[string]map[int]bool{}, did: map[string]int{}}
	var random bytes.Reader
	random.Reset(bytes.Repeat([]byte{7}, 64))
	secret, err := evidence.NewKey(&random, storetest.Origin)
	if err != nil {
		return nil, err
	}
	if p.signer, err = evidence.NewSigner(secret); err != nil {
		return nil, err
	}
	return p, p.open()
}

func (p *pair) open() (err error) {
	p.ledger, err = store.Open(p.path, store.Options{Origin: storetest.Origin, Cached: 1 + p.chance.IntN(400), Timeout: 10 * time.Second})
	return err
}

// record records events that are new, and takes them into the model.
func (p *pair) record(list ...*tracker.Event) error {
	if len(list) == 0 {
		return nil
	}
	recorded := p.now
	if n := len(p.list); n > 0 && p.list[n-1].Record.Recorded.After(recorded) {
		recorded = p.list[n-1].Record.Recorded
	}
	verdicts, err := p.ledger.Record(p.now, storetest.Intakes(list...))
	if err != nil {
		return err
	}
	for i, e := range list {
		v := verdicts[i]
		seq := uint64(len(p.list) + 1)
		if !v.OK || v.Seq != seq {
			return fmt.Errorf("%s of %s is not recorded as the next: %+v: %w", e.Kind, e.ID, v, errors.Join(v.Error))
		}
		with := *e
		with.Record = tracker.Record{Seq: seq, OSeq: seq, Origin: storetest.Origin, Recorded: recorded}
		p.list = append(p.list, &with)
		p.first[e.ID] = v
		for _, name := range tracker.WatchedBy(&with) {
			p.filed[name] = append(p.filed[name], &with)
			p.hear(name)
		}
		for _, item := range e.Items {
			p.hear(item.Name)
		}
	}
	return p.grow()
}

func (p *pair) hear(name tracker.Name) {
	clinic := name.Clinic()
	if p.serials[clinic] == nil {
		p.serials[clinic] = map[int]bool{}
	}
	if serial := name.Serial(); serial > 0 {
		p.serials[clinic][serial] = true
	}
}

// grow adds what was recorded to the model's tree, from the bytes that the ledger gives: they must say what the model has.
func (p *pair) grow() error {
	for p.leaves < len(p.list) {
		have := p.leaves
		page, err := p.ledger.EventsFrom(uint64(have+1), 0)
		if err != nil {
			return err
		}
		if len(page) == 0 {
			return fmt.Errorf("entry %d is missing", have+1)
		}
		for _, entry := range page {
			e, err := entry.Event()
			if err != nil {
				return err
			}
			if want := p.list[have]; !events.Same(e, want) || e.Record != want.Record {
				return fmt.Errorf("entry %d is not what was recorded: %+v, and it was %+v", have+1, e.Record, want.Record)
			}
			more, err := tlog.StoredHashes(int64(have), entry.Leaf, p.hashes())
			if err != nil {
				return err
			}
			p.tree, have = append(p.tree, more...), have+1
			p.leaves = have
		}
	}
	return nil
}

func (p *pair) hashes() tlog.HashReaderFunc {
	return func(indexes []int64) ([]tlog.Hash, error) {
		out := make([]tlog.Hash, len(indexes))
		for i, index := range indexes {
			out[i] = p.tree[index]
		}
		return out, nil
	}
}

// root is the root of the model's tree when it had so many leaves.
func (p *pair) root(size int) (tlog.Hash, error) { return tlog.TreeHash(int64(size), p.hashes()) }

// judged is what a fold from scratch says of a watched thing.
func (p *pair) judged(name tracker.Name) (j tracker.Judgement, gathered []*tracker.Event, err error) {
	gathered, err = tracker.Gather(name, func(n tracker.Name) ([]*tracker.Event, error) { return p.filed[n], nil })
	if err != nil {
		return j, nil, err
	}
	return tracker.Judge(name, gathered, p.rules(name.Clinic()), p.now), gathered, nil
}

// catchUp has everything judged that is due.
func (p *pair) catchUp() error {
	for {
		done, err := p.ledger.Recheck(p.now, 200)
		if err != nil || !done.More {
			return err
		}
	}
}

// whole holds everything of the ledger against the model.
func (p *pair) whole() error {
	if err := p.catchUp(); err != nil {
		return err
	}
	if err := p.ledger.Check(); err != nil {
		return err
	}
	return p.compare()
}

// compare holds what the ledger says of everything against the model, after everything was judged.
func (p *pair) compare() error {
	seen := 0
	for s, err := range p.ledger.Snapshots(store.Filter{}) {
		if err != nil {
			return err
		}
		if err := p.same(s); err != nil {
			return err
		}
		seen++
	}
	if seen != len(p.filed) {
		return fmt.Errorf("the ledger has %d cases, bags and rooms, and the model %d", seen, len(p.filed))
	}
	want, err := p.root(len(p.list))
	if err != nil {
		return err
	}
	root, err := p.ledger.Root("")
	if err == nil && (root.Size != uint64(len(p.list)) || tlog.Hash(root.Root) != want) {
		err = fmt.Errorf("the root of %d entries is another than the model's of %d", root.Size, len(p.list))
	}
	return err
}

// same holds one snapshot against a fold from scratch.
func (p *pair) same(s store.Snapshot) error {
	want, _, err := p.judged(s.Summary.Name)
	if err != nil {
		return err
	}
	a, err := json.Marshal(s.Judgement, json.Deterministic(true))
	if err != nil {
		return err
	}
	b, err := json.Marshal(want, json.Deterministic(true))
	if err == nil && !bytes.Equal(a, b) {
		err = fmt.Errorf("%s is\n%s\nand from scratch\n%s", s.Summary.Name, a, b)
	}
	return err
}

// control changes the model behind the ledger's back, and counts how often that is noticed.
func (p *pair) control() (noticed int) {
	list, filed := p.list, p.filed
	for range 8 {
		gone := p.list[p.chance.IntN(len(list))]
		p.filed = maps.Clone(filed)
		for _, name := range tracker.WatchedBy(gone) {
			p.filed[name] = slices.DeleteFunc(slices.Clone(filed[name]), func(e *tracker.Event) bool { return e == gone })
		}
		if p.compare() != nil {
			noticed++
		}
	}
	p.filed = filed
	p.list = list[:len(list)-1]
	if p.compare() != nil {
		noticed++
	}
	p.list = list
	return noticed
}
