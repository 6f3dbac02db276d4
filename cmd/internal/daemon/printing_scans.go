package daemon

import (
	"slices"
	"sync"
	"sync/atomic"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/prints"
	"github.com/pottrail/pottrail/tracker"
)

// scans knows the labels that were given to a printer here and not seen since, so that the first scan of one settles that it
// came out; those too of which somebody said that they did not.
// What it knows is in memory and made anew at each start from the queue and the ledger; so recording never waits for it.
type scans struct {
	many atomic.Int64 // how many are awaited: with none, a batch costs one look
	mu   sync.Mutex
	open map[printedLabel]uint64 // and when each was given, counted
	// given are the labels in the order in which they were given, those too that were seen meanwhile.
	given []givenLabel
	count uint64
	seen  []printedLabel
	old   []replacement
	wake  chan struct{} // holds one
}

// mostAwaited is how many labels that nobody scans are awaited, as many as the print queue keeps: of one before those
// nobody could say any more that it came out.
const mostAwaited = prints.KeepJobs

// givenLabel is a label that was given to a printer.
type givenLabel struct {
	printedLabel
	count uint64
}

// replacement is a label in whose place another was printed, and who printed that.
type replacement struct {
	printedLabel
	by, station string
}

// printedLabel is one copy of one thing's label.
type printedLabel struct {
	name tracker.Name
	copy tracker.Copy
}

func newScans() scans {
	return scans{open: map[printedLabel]uint64{}, wake: make(chan struct{}, 1)}
}

// await adds a label. When there are too many, the one that was given first is awaited no more.
func (s *scans) await(name tracker.Name, copy tracker.Copy) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.count++
	l := printedLabel{name, copy}
	s.open[l] = s.count
	s.given = append(s.given, givenLabel{l, s.count})
	for len(s.open) > mostAwaited {
		first := s.given[0]
		s.given = s.given[1:]
		if s.open[first.printedLabel] == first.count {
			delete(s.open, first.printedLabel)
		}
	}
	if len(s.given) > 2*mostAwaited { // most were seen meanwhile
		s.given = slices.DeleteFunc(slices.Clone(s.given), func(g givenLabel) bool { return s.open[g.printedLabel] != g.count })
	}
	s.many.Store(int64(len(s.open)))
}

// recorded looks through a batch that is on disk. It is called after the verdicts have gone back, and never waits for a disk.
func (s *scans) recorded(batch []store.Intake, verdicts []events.Verdict) {
	if s.many.Load() == 0 {
		return
	}
	for i, in := range batch {
		if i >= len(verdicts) || !verdicts[i].OK {
			continue
		}
		if printed, ok := in.Event.Data.(*tracker.LabelPrinted); ok && printed.Replaces != 0 {
			for _, item := range in.Event.Items {
				s.replaced(replacement{printedLabel{item.Name, printed.Replaces}, in.Event.By, in.Event.Station})
			}
		}
		if !seesLabels(in.Event.Kind) {
			continue
		}
		for _, item := range in.Event.Items {
			if item.Copy != 0 {
				s.note(printedLabel{item.Name, item.Copy})
			}
		}
	}
}

func (s *scans) note(l printedLabel) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if _, awaited := s.open[l]; !awaited {
		return
	}
	delete(s.open, l)
	s.many.Store(int64(len(s.open)))
	s.seen = append(s.seen, l)
	s.ring()
}

// replaced notes that a label is replaced that may still wait for its printer. It stays awaited: its scan would tell much.
func (s *scans) replaced(old replacement) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if _, awaited := s.open[old.printedLabel]; awaited {
		s.old = append(s.old, old)
		s.ring()
	}
}

func (s *scans) ring() {
	select {
	case s.wake <- struct{}{}:
	default:
	}
}

// take gives what was seen and what was replaced since the last time.
func (s *scans) take() (seen []printedLabel, old []replacement) {
	s.mu.Lock()
	defer s.mu.Unlock()
	seen, old = s.seen, s.old
	s.seen, s.old = nil, nil
	return seen, old
}

// seesLabels reports whether who records such an event has the label before them. Notes, strikes, calls and answers are made
// at a desk; what is said about labels themselves is said of some that never came out.
func seesLabels(k tracker.Kind) bool {
	switch k {
	case tracker.KindLabelPrinted, tracker.KindLabelSpoiled, tracker.KindNoteAdded, tracker.KindEventStruck, tracker.KindChaseLogged, tracker.KindFlagAnswered:
		return false
	}
	return true
}
