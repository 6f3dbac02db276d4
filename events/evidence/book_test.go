package evidence_test

import (
	"crypto/sha256"
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/mod/sumdb/tlog"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/events/evidence"
	"github.com/pottrail/pottrail/store/storetest"
	"github.com/pottrail/pottrail/tracker"
)

// book is a record in memory: some nodes' logs, each with its tree.
type book struct {
	origins []string
	leaves  map[string][][]byte
	hashes  map[string][]tlog.Hash
	events  []*tracker.Event
}

func newBook() *book { return &book{leaves: map[string][][]byte{}, hashes: map[string][]tlog.Hash{}} }

func (b *book) reader(origin string) tlog.HashReader {
	return tlog.HashReaderFunc(func(indexes []int64) ([]tlog.Hash, error) {
		out := make([]tlog.Hash, len(indexes))
		for i, x := range indexes {
			if x >= int64(len(b.hashes[origin])) {
				return nil, fmt.Errorf("no hash %d", x)
			}
			out[i] = b.hashes[origin][x]
		}
		return out, nil
	})
}

// add puts bytes at the end of a node's log.
func (b *book) add(origin string, leaf []byte) {
	if b.leaves[origin] == nil {
		b.origins = append(b.origins, origin)
	}
	n := int64(len(b.leaves[origin]))
	made, err := tlog.StoredHashes(n, leaf, b.reader(origin))
	if err != nil {
		panic(err)
	}
	b.leaves[origin] = append(b.leaves[origin], leaf)
	b.hashes[origin] = append(b.hashes[origin], made...)
}

// record puts an event at the end of a node's log.
func (b *book) record(origin string, e *tracker.Event) {
	own := *e
	own.Record = tracker.Record{Seq: uint64(len(b.events) + 1), Origin: origin, OSeq: uint64(len(b.leaves[origin]) + 1), Recorded: e.At.Add(time.Second)}
	b.events = append(b.events, &own)
	b.add(origin, events.EncodeRecorded(&own))
}

func (b *book) Size(origin string) (uint64, error) { return uint64(len(b.leaves[origin])), nil }

func (b *book) RootAt(origin string, size uint64) (evidence.Hash, error) {
	h, err := tlog.TreeHash(int64(size), b.reader(origin))
	return evidence.Hash(h), err
}

func (b *book) checkpoint(t require.TestingT, s *evidence.Signer, origin string, size uint64) evidence.Signed {
	root, err := b.RootAt(origin, size)
	require.NoError(t, err)
	signed, err := s.Checkpoint(evidence.Checkpoint{Origin: origin, Size: size, Root: root})
	require.NoError(t, err)
	return signed
}

// prove makes a proof about a case as a node would; before is the size of an older state, 0 for none.
func (b *book) prove(t require.TestingT, s *evidence.Signer, name tracker.Name, before uint64) *evidence.Proof {
	p := &evidence.Proof{Name: name, Key: s.Key(), Checkpoints: []evidence.Signed{}, Events: []evidence.Inclusion{}}
	for _, e := range b.events {
		if !slices.Contains(tracker.WatchedBy(e), name) {
			continue
		}
		origin, index := e.Record.Origin, e.Record.OSeq-1
		path, err := tlog.ProveRecord(int64(len(b.leaves[origin])), int64(index), b.reader(origin))
		require.NoError(t, err)
		p.Events = append(p.Events, evidence.Inclusion{Origin: origin, Index: index, Leaf: string(b.leaves[origin][index]), Path: evidence.Hashes(path)})
		if _, ok := p.Checkpoint(origin); !ok {
			p.Checkpoints = append(p.Checkpoints, b.checkpoint(t, s, origin, uint64(len(b.leaves[origin]))))
		}
	}
	if before > 0 {
		origin := p.Checkpoints[0].Origin
		path, err := tlog.ProveTree(int64(p.Checkpoints[0].Size), int64(before), b.reader(origin))
		require.NoError(t, err)
		root, err := b.RootAt(origin, before)
		require.NoError(t, err)
		p.Older = &evidence.Older{Checkpoint: evidence.Checkpoint{Origin: origin, Size: before, Root: root}, Path: evidence.Hashes(path)}
	}
	var err error
	p.Statement, err = s.Statement(p.State())
	require.NoError(t, err)
	return p
}

// signer makes a node's key from a number.
func signer(t require.TestingT, origin string, seed byte) *evidence.Signer {
	secret, err := evidence.NewKey(&endless{seed: seed}, origin)
	require.NoError(t, err)
	s, err := evidence.NewSigner(secret)
	require.NoError(t, err)
	require.Equal(t, origin, s.Origin())
	return s
}

// endless is a stream of bytes that are the same for the same seed.
type endless struct{ seed, n byte }

func (e *endless) Read(p []byte) (int, error) {
	for i := range p {
		e.n++
		p[i] = sha256.New().Sum([]byte{e.seed ^ e.n})[0]
	}
	return len(p), nil
}

const home, away = "marram-bay-1", "hollin-cross-1"

// someBook is the life of a few cases, recorded at two nodes.
func someBook(seed uint64, cases int) *book {
	b := newBook()
	for i, e := range storetest.Life(seed, cases) {
		origin := home
		if i%5 == 4 {
			origin = away
		}
		b.record(origin, e)
	}
	return b
}

// cases lists the cases of which the record has something.
func (b *book) cases() []tracker.Name {
	var out []tracker.Name
	for _, e := range b.events {
		for _, n := range tracker.WatchedBy(e) {
			if n.Thing() == tracker.ThingCase && !slices.Contains(out, n) {
				out = append(out, n)
			}
		}
	}
	return out
}

// theCase is a case with events of both nodes, some of them, and another one.
func theCase(t testing.TB, b *book) (one, other tracker.Name) {
	for _, n := range b.cases() {
		counts := map[string]int{}
		for _, e := range b.events {
			if slices.Contains(tracker.WatchedBy(e), n) {
				counts[e.Record.Origin]++
			}
		}
		switch {
		case one == "" && counts[home] > 4 && counts[away] > 0:
			one = n
		case one != "":
			return one, n
		}
	}
	require.Fail(t, "no case is good for the test")
	return
}
