package press_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"path/filepath"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/cmd/internal/press"
	"github.com/pottrail/pottrail/labels/printers"
	"github.com/pottrail/pottrail/store/prints"
	"github.com/pottrail/pottrail/tracker"
)

// printer is a printer made of words: it does what act says, and notes what it was given and when.
type printer struct {
	act func(ctx context.Context, try int, j printers.Job) error

	mu    sync.Mutex
	start time.Time
	tries []time.Duration // since start
	given []printers.Job
}

func (p *printer) Send(ctx context.Context, j printers.Job) error {
	p.mu.Lock()
	p.tries = append(p.tries, time.Since(p.start))
	p.given = append(p.given, j)
	try := len(p.tries)
	p.mu.Unlock()
	return p.act(ctx, try, j)
}

func (p *printer) Look(context.Context) (string, error) { return "it has paper", nil }

func (p *printer) seen() ([]time.Duration, []printers.Job) {
	p.mu.Lock()
	defer p.mu.Unlock()
	return append([]time.Duration(nil), p.tries...), append([]printers.Job(nil), p.given...)
}

// The ways a try can go.
func works(context.Context, int, printers.Job) error { return nil }
func offline(context.Context, int, printers.Job) error {
	return fmt.Errorf("it is switched off: %w", printers.ErrNotSent)
}
func until(n int, then error) func(context.Context, int, printers.Job) error {
	return func(_ context.Context, try int, _ printers.Job) error {
		if try < n {
			return fmt.Errorf("it has no paper: %w", printers.ErrNotSent)
		}
		return then
	}
}

// room is a room with printers, in a bubble of time.
type room struct {
	t       *testing.T
	path    string
	queue   *prints.Queue
	workers *press.Workers
	stop    context.CancelFunc
	serial  int

	mu      sync.Mutex
	spoiled []prints.Job
	ledger  map[tracker.EventID]bool
	deaf    int // so many calls of settled fail first
}

func enter(t *testing.T) *room {
	r := &room{t: t, path: filepath.Join(t.TempDir(), "prints.db"), ledger: map[tracker.EventID]bool{}}
	r.open()
	return r
}

func (r *room) open() {
	var err error
	r.queue, err = prints.Open(r.path, bytes.Repeat([]byte{1}, 32))
	require.NoError(r.t, err)
}

func (r *room) settled(j prints.Job) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.deaf > 0 {
		r.deaf--
		return errors.New("the ledger has no space")
	}
	r.spoiled = append(r.spoiled, j)
	return nil
}

func (r *room) recorded(id tracker.EventID) (bool, error) { return r.ledger[id], nil }

// begin starts the workers; more changes their options.
func (r *room) begin(all map[string]*printer, more ...func(o *press.Options)) {
	o := press.Options{Queue: r.queue, Recorded: r.recorded, Settled: r.settled, Broken: func(err error) { r.t.Error(err) }}
	for name, p := range all {
		p.start = time.Now()
		o.Printers = append(o.Printers, press.Printer{Name: name, Sender: p})
	}
	for _, change := range more {
		change(&o)
	}
	ctx, stop := context.WithCancel(r.t.Context())
	workers, err := press.Start(ctx, o)
	require.NoError(r.t, err)
	r.workers, r.stop = workers, stop
}

// end stops them, and closes the queue.
func (r *room) end() {
	r.stop()
	r.workers.Wait()
	require.NoError(r.t, r.queue.Close())
}

func (r *room) prepare(printer string) prints.Job {
	r.serial++
	event := tracker.EventID(fmt.Sprintf("0199f1c2-7b1e-7c3a-9d55-%012d", r.serial))
	j, err := r.workers.Prepare(prints.Job{Printer: printer, Name: tracker.Name(fmt.Sprintf("MBY-26-%05d-A", r.serial)), Copy: '1', Layout: "pot",
		Event: event, By: "nurse.osei", Station: "room-2", MediaType: "image/pwg-raster", Extension: "pwg", WidthMM: 50, HeightMM: 25}, fmt.Appendf(nil, "label %d", r.serial))
	require.NoError(r.t, err)
	return j
}

func (r *room) print(printer string) prints.Job {
	j := r.prepare(printer)
	r.ledger[j.Event] = true
	require.NoError(r.t, r.workers.Queue(j))
	return j
}

func (r *room) state(j prints.Job) prints.State {
	got, err := r.queue.Job(j.ID)
	require.NoError(r.t, err)
	return got.State
}

// pass lets time go by; inside a bubble it takes none.
func pass(d time.Duration) { <-time.After(d); synctest.Wait() }

func seconds(all ...int) (out []time.Duration) {
	for _, s := range all {
		out = append(out, time.Duration(s)*time.Second)
	}
	return out
}

func TestALabelComesOutAtOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r, p := enter(t), &printer{act: works}
		r.begin(map[string]*printer{"room": p})
		pass(time.Minute)
		j := r.print("room")
		pass(time.Millisecond)
		tries, given := p.seen()
		require.Equal(t, seconds(60), tries, "nobody waits")
		require.Equal(t, printers.Job{Token: j.Token, MediaType: "image/pwg-raster", Extension: "pwg", Body: []byte("label 1"), WidthMM: 50, HeightMM: 25}, given[0])
		require.Equal(t, prints.Sent, r.state(j))
		s, err := r.workers.State("room")
		require.NoError(t, err)
		require.Equal(t, "is ready", s.String())
		looks, err := r.workers.Look(t.Context(), "room")
		require.NoError(t, err)
		require.Equal(t, "it has paper", looks)
		_, err = r.workers.State("attic")
		require.ErrorIs(t, err, press.ErrNoPrinter)
		_, err = r.workers.Prepare(prints.Job{Printer: "attic", Title: "calibration"}, []byte("x"))
		require.ErrorIs(t, err, press.ErrNoPrinter)
		r.end()
	})
}

// A printer that cannot print now is tried after one second, and after twice as long each time, at most a minute.
func TestTheInstantsOfTheTries(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r, p := enter(t), &printer{act: until(10, nil)}
		r.begin(map[string]*printer{"room": p})
		synctest.Wait()
		first := r.print("room")
		pass(100 * time.Millisecond) // behind the first try
		s, err := r.workers.State("room")
		require.NoError(t, err)
		require.Equal(t, press.Waits, s.State)
		require.Equal(t, 1, s.Waiting)
		require.Equal(t, p.start.Add(time.Second), s.Next.In(p.start.Location()))
		require.Equal(t, "cannot print now; 1 label waits. Last trouble: it has no paper", s.String())
		pass(10 * time.Minute)
		tries, _ := p.seen()
		require.Equal(t, seconds(0, 1, 3, 7, 15, 31, 63, 123, 183, 243), tries)
		require.Equal(t, prints.Sent, r.state(first))
		got, err := r.queue.Job(first.ID)
		require.NoError(t, err)
		require.Equal(t, 10, got.Attempts)
		require.Empty(t, got.Problem)
		s, err = r.workers.State("room")
		require.NoError(t, err)
		require.Equal(t, press.Ready, s.State)
		require.Empty(t, s.Trouble)
		r.end()
	})
}

// Somebody who asks for a label beside a printer that was just put right does not stand there for a minute, and a batch of
// labels does not become a batch of tries.
func TestAskingForALabelTriesAtOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r, p := enter(t), &printer{act: offline}
		r.begin(map[string]*printer{"room": p})
		first := r.print("room")
		pass(90 * time.Second) // tried at 0, 1, 3, 7, 15, 31, 63; the next would be at 123
		second := r.print("room")
		pass(time.Millisecond)
		tries, _ := p.seen()
		require.Equal(t, seconds(0, 1, 3, 7, 15, 31, 63, 90), tries)
		for range 20 {
			r.print("room")
			pass(10 * time.Millisecond)
		}
		pass(5 * time.Second)
		tries, _ = p.seen()
		require.Equal(t, seconds(0, 1, 3, 7, 15, 31, 63, 90, 91), tries, "one more, a second later")
		p.act = works
		require.NoError(t, r.workers.TryNow("room"))
		pass(time.Millisecond)
		require.Equal(t, prints.Sent, r.state(first))
		require.Equal(t, prints.Sent, r.state(second))
		_, given := p.seen()
		require.Equal(t, "label 1", string(given[9].Body))
		require.Equal(t, "label 22", string(given[len(given)-1].Body), "in order")
		r.end()
	})
}

// A try has its time. What the sender says then counts; one that says nothing leaves the outcome unknown.
func TestATryHasItsTime(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := enter(t)
		slow := &printer{act: func(ctx context.Context, _ int, _ printers.Job) error {
			<-ctx.Done()
			return fmt.Errorf("it stopped taking bytes: %w", printers.ErrUnknown)
		}}
		odd := &printer{act: func(ctx context.Context, _ int, _ printers.Job) error { <-ctx.Done(); return ctx.Err() }}
		r.begin(map[string]*printer{"slow": slow, "odd": odd})
		a, b := r.print("slow"), r.print("odd")
		pass(30*time.Second - 1)
		require.Equal(t, prints.Sending, r.state(a))
		s, err := r.workers.State("slow")
		require.NoError(t, err)
		require.Equal(t, "is printing", s.String())
		looks, err := r.workers.Look(t.Context(), "slow")
		require.NoError(t, err)
		require.Contains(t, looks, "right now")
		pass(1)
		require.Equal(t, prints.Unknown, r.state(a))
		require.Equal(t, prints.Unknown, r.state(b), "an error that says nothing is taken for the worse")
		s, err = r.workers.State("odd")
		require.NoError(t, err)
		require.Equal(t, 1, s.Unknown)
		require.Contains(t, s.String(), "look whether 1 label came out, and say so")
		r.end()
	})
}

// A sender that never comes back: its label is of unknown outcome, and nothing else goes to that printer meanwhile.
func TestASenderThatDoesNotComeBack(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := enter(t)
		free := make(chan struct{})
		p := &printer{act: func(_ context.Context, try int, _ printers.Job) error {
			if try == 1 {
				<-free
			}
			return nil
		}}
		r.begin(map[string]*printer{"room": p})
		first, second := r.print("room"), r.print("room")
		pass(31 * time.Second)
		require.Equal(t, prints.Sending, r.state(first))
		pass(time.Second)
		require.Equal(t, prints.Unknown, r.state(first))
		third := r.print("room")
		pass(10 * time.Minute)
		require.Equal(t, prints.Queued, r.state(second))
		close(free)
		pass(time.Minute)
		require.Equal(t, prints.Unknown, r.state(first), "what came late changes nothing")
		require.Equal(t, prints.Sent, r.state(second))
		require.Equal(t, prints.Sent, r.state(third))
		tries, _ := p.seen()
		require.Len(t, tries, 3)
		r.end()
	})
}

func TestASenderThatPanics(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := enter(t)
		p := &printer{act: func(context.Context, int, printers.Job) error { panic("a fault in the program") }}
		r.begin(map[string]*printer{"room": p})
		j := r.print("room")
		pass(time.Second)
		require.Equal(t, prints.Unknown, r.state(j))
		r.end()
	})
}

// One label of unknown outcome holds up no other: they go on after a pause in which a printer that was cut off gives up.
func TestAnUnknownOutcomeHoldsUpNoOtherLabel(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := enter(t)
		p := &printer{act: func(_ context.Context, try int, _ printers.Job) error {
			if try == 1 {
				return fmt.Errorf("the connection broke: %w", printers.ErrUnknown)
			}
			return nil
		}}
		r.begin(map[string]*printer{"room": p})
		synctest.Wait()
		first, second := r.print("room"), r.print("room")
		pass(time.Minute)
		tries, given := p.seen()
		require.Equal(t, seconds(0, 1), tries)
		require.Equal(t, "label 2", string(given[1].Body))
		require.Equal(t, prints.Unknown, r.state(first))
		require.Equal(t, prints.Sent, r.state(second))
		require.NoError(t, r.workers.Settle(first.ID, false, "nurse.osei", "room-2"))
		synctest.Wait()
		require.Equal(t, prints.NotPrinted, r.state(first))
		require.Len(t, r.spoiled, 1)
		require.Equal(t, "somebody looked, and it was not there", r.spoiled[0].Problem)
		r.end()
	})
}

// A label that the printer refuses is not tried again; the ledger hears of it.
func TestARefusedLabel(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r, p := enter(t), &printer{act: until(1, fmt.Errorf("it takes no label of this width: %w", printers.ErrRefused))}
		r.begin(map[string]*printer{"room": p})
		a, b := r.print("room"), r.print("room")
		pass(time.Hour)
		tries, _ := p.seen()
		require.Len(t, tries, 2)
		require.Equal(t, prints.NotPrinted, r.state(a))
		require.Equal(t, prints.NotPrinted, r.state(b))
		require.Len(t, r.spoiled, 2)
		r.end()
	})
}

// A printer that is switched on next morning does not print what was wanted the day before; the ledger hears of it when
// the label's time is up.
func TestALabelThatNobodyWaitsForAnyLonger(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r, p := enter(t), &printer{act: offline}
		r.begin(map[string]*printer{"room": p})
		j := r.print("room")
		called := r.print("room")
		pass(time.Second)
		require.NoError(t, r.workers.CallOff(called.ID, "nurse.osei", "room-2"))
		synctest.Wait()
		require.Len(t, r.spoiled, 1)
		pass(30*time.Minute - 2*time.Second)
		require.Equal(t, prints.Queued, r.state(j))
		pass(time.Second)
		require.Equal(t, prints.NotPrinted, r.state(j))
		require.Len(t, r.spoiled, 2)
		require.Contains(t, r.spoiled[1].Problem, "print it again if it is wanted")
		require.Contains(t, r.spoiled[1].Problem, "it is switched off")
		r.end()
	})
}

// One printer's trouble never holds up another.
func TestOnePrintersTroubleIsItsOwn(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := enter(t)
		stuck := &printer{act: func(ctx context.Context, _ int, _ printers.Job) error { <-ctx.Done(); return printers.ErrUnknown }}
		off, good := &printer{act: offline}, &printer{act: works}
		r.begin(map[string]*printer{"stuck": stuck, "off": off, "good": good})
		synctest.Wait()
		for range 5 {
			r.print("stuck")
			r.print("off")
			r.print("good")
		}
		pass(time.Millisecond)
		tries, _ := good.seen()
		require.Equal(t, seconds(0, 0, 0, 0, 0), tries)
		states, err := r.workers.States()
		require.NoError(t, err)
		require.Len(t, states, 3)
		r.end()
	})
}

// When the program stops, a label under way may finish; if it does not, its outcome is unknown.
func TestStoppingInTheMiddleOfALabel(t *testing.T) {
	for name, row := range map[string]struct {
		takes time.Duration
		after error
		want  prints.State
	}{
		"it finishes":        {4 * time.Second, nil, prints.Sent},
		"it does not":        {20 * time.Second, nil, prints.Unknown},
		"it was not sent":    {time.Second, printers.ErrNotSent, prints.Queued},
		"it never comes out": {time.Hour, nil, prints.Unknown},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				r := enter(t)
				p := &printer{act: func(ctx context.Context, _ int, _ printers.Job) error {
					select {
					case <-time.After(row.takes):
						return row.after
					case <-ctx.Done():
						return fmt.Errorf("cut off: %w", printers.ErrUnknown)
					}
				}}
				r.begin(map[string]*printer{"room": p})
				j := r.print("room")
				synctest.Wait()
				began := time.Now()
				r.stop()
				r.workers.Wait()
				require.LessOrEqual(t, time.Since(began), 7*time.Second)
				require.Equal(t, row.want, r.state(j))
				require.NoError(t, r.queue.Close())
			})
		})
	}
}

// What the last run left open: a label that was prepared is printed if its print is on record, and dropped if not; a printer
// that is gone prints nothing; what was being sent is for a person to say.
func TestWhatTheLastRunLeft(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r, p := enter(t), &printer{act: until(1, fmt.Errorf("off: %w", printers.ErrNotSent))}
		r.begin(map[string]*printer{"room": p, "old": p})
		recorded, not := r.prepare("room"), r.prepare("room")
		r.ledger[recorded.Event] = true
		gone := r.print("old")
		synctest.Wait()
		r.end()
		r.open()
		require.Equal(t, prints.Queued, r.state(gone))
		good := &printer{act: works}
		r.begin(map[string]*printer{"room": good})
		pass(time.Second)
		require.Equal(t, prints.Sent, r.state(recorded))
		_, err := r.queue.Job(not.ID)
		require.ErrorIs(t, err, prints.ErrNoJob)
		require.Equal(t, prints.NotPrinted, r.state(gone))
		require.Len(t, r.spoiled, 1)
		require.Contains(t, r.spoiled[0].Problem, "printer old is no longer set up")
		r.end()
	})
}

// The ledger is told until it has heard, also when the program ends between its hearing and our knowing: the same event,
// down to the last letter.
func TestTheLedgerIsToldUntilItHasHeard(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r, p := enter(t), &printer{act: until(1, printers.ErrRefused)}
		r.deaf = 3
		r.begin(map[string]*printer{"room": p})
		r.print("room")
		pass(time.Minute)
		require.Len(t, r.spoiled, 1, "after three failures")
		pass(time.Hour)
		require.Len(t, r.spoiled, 1, "once is enough")

		// The ledger heard of the next one, and the program ended before that was noted.
		r.deaf = 1 << 30
		j := r.print("room")
		pass(time.Second)
		owed, err := r.queue.Owed()
		require.NoError(t, err)
		require.Len(t, owed, 1)
		heard := owed[0]
		r.end()
		r.open()
		r.deaf = 0
		r.begin(map[string]*printer{"room": p})
		pass(time.Second)
		require.Len(t, r.spoiled, 2)
		require.Equal(t, heard, r.spoiled[1])
		require.Equal(t, j.ID, heard.ID)
		r.end()
	})
}

// A scan while a label is being sent: it came out, so that it is never tried again, whatever its sender says.
func TestALabelScannedWhileItIsBeingSent(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := enter(t)
		p := &printer{act: func(ctx context.Context, _ int, _ printers.Job) error {
			<-time.After(10 * time.Second)
			return fmt.Errorf("it did not answer: %w", printers.ErrNotSent)
		}}
		r.begin(map[string]*printer{"room": p})
		j := r.print("room")
		pass(time.Second)
		changed, err := r.workers.Scanned(j.Name, j.Copy)
		require.NoError(t, err)
		require.Len(t, changed, 1)
		pass(time.Hour)
		tries, _ := p.seen()
		require.Len(t, tries, 1)
		require.Equal(t, prints.Confirmed, r.state(j))
		r.end()
	})
}

// Many labels at many printers that do what they like, with restarts: every label ends somewhere, and after a try that may
// have printed no label is ever sent again.
func TestManyLabelsAtMoodyPrinters(t *testing.T) {
	const many, each = 4, 30
	synctest.Test(t, func(t *testing.T) {
		r := enter(t)
		var mu sync.Mutex
		maybeOut, sentAgain := map[string]bool{}, map[string]int{}
		chance, pace := rand.New(rand.NewPCG(4, 4)), rand.New(rand.NewPCG(5, 5))
		moody := func(ctx context.Context, _ int, j printers.Job) error {
			mu.Lock()
			if maybeOut[j.Token] {
				sentAgain[j.Token]++
			}
			mood, takes := chance.IntN(10), time.Duration(chance.IntN(40))*time.Second
			mu.Unlock()
			outcome := func(out bool, err error) error {
				mu.Lock()
				defer mu.Unlock()
				maybeOut[j.Token] = maybeOut[j.Token] || out
				return err
			}
			if mood < 4 {
				return outcome(false, fmt.Errorf("no paper: %w", printers.ErrNotSent))
			}
			select {
			case <-time.After(takes / 10):
			case <-ctx.Done():
				return outcome(true, ctx.Err())
			}
			switch mood {
			case 4:
				return outcome(false, fmt.Errorf("too wide: %w", printers.ErrRefused))
			case 5:
				return outcome(true, fmt.Errorf("it went away: %w", printers.ErrUnknown))
			case 6:
				return outcome(true, errors.New("something odd"))
			}
			return outcome(true, nil)
		}
		all := map[string]*printer{}
		for n := range many {
			all[fmt.Sprintf("printer-%d", n)] = &printer{act: moody}
		}
		r.begin(all)
		var jobs []prints.Job
		for range each {
			for name := range maps.Keys(all) {
				jobs = append(jobs, r.print(name))
			}
			if len(jobs) == many*each/2 { // the program ends and is started again
				r.end()
				r.open()
				r.begin(all)
			}
			pass(time.Duration(pace.IntN(5000)) * time.Millisecond)
		}
		pass(3 * time.Hour)
		ends := map[prints.State]int{}
		for _, j := range jobs {
			ends[r.state(j)]++
		}
		require.Equal(t, len(jobs), ends[prints.Sent]+ends[prints.Unknown]+ends[prints.NotPrinted], "%v", ends)
		require.NotZero(t, ends[prints.Sent])
		require.NotZero(t, ends[prints.Unknown])
		require.NotZero(t, ends[prints.NotPrinted])
		require.Empty(t, sentAgain, "printed twice, or so it may be")
		require.Len(t, r.spoiled, ends[prints.NotPrinted], "each that never came out is on record, once")
		t.Logf("%d labels: %v", len(jobs), ends)
		r.end()
	})
}

func TestWhatCannotBeStarted(t *testing.T) {
	r := enter(t)
	_, err := press.Start(t.Context(), press.Options{Queue: r.queue, Printers: []press.Printer{{Name: "room"}}})
	require.ErrorContains(t, err, `printer "room"`)
	p := &printer{act: works}
	_, err = press.Start(t.Context(), press.Options{Queue: r.queue, Printers: []press.Printer{{"room", p}, {"room", p}}})
	require.ErrorContains(t, err, "two of that name")
	require.NoError(t, r.queue.Close())
	_, err = press.Start(t.Context(), press.Options{Queue: r.queue})
	require.ErrorIs(t, err, prints.ErrClosed)
}
