package daemon

import (
	"context"
	"encoding/json"
	"errors"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/config"
	"github.com/pottrail/pottrail/cmd/internal/web"
	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/labels"
	"github.com/pottrail/pottrail/labels/printers"
	"github.com/pottrail/pottrail/labels/wire"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/prints"
	"github.com/pottrail/pottrail/tracker"
)

// room is a daemon's stores, intake and printing over a folder, without pages and NATS.
type room struct {
	*running
	spool string
	pot   string // of the case that is opened in it
	dots  int    // a millimetre of the printer, if not 8
}

// newRoom has one printer that puts labels into a folder, and an open case with a pot.
func newRoom(t testing.TB) *room {
	t.Helper()
	r := &room{spool: filepath.Join(t.TempDir(), "spool")}
	require.NoError(t, os.Mkdir(r.spool, 0o700))
	r.open(t, t.TempDir(), 0)
	r.pot = r.newPot(t)
	return r
}

// newPot opens a case and gives its pot.
func (r *room) newPot(t testing.TB) string {
	t.Helper()
	opened, err := r.service.Open(t.Context(), ask.OpenRequest{Clinic: "MBY", By: "clerk.ann", Station: "desk", Patient: ask.Patient{Family: "Halvorsen", Given: "Ingrid", BirthDate: "1961-02-14", RecordNumber: "40118223"},
		Lesions: []ask.OpenLesion{{Organ: "breast", Side: "left", Position: "2 o'clock", Target: "mass", Studies: []string{"histology"}}}})
	require.NoError(t, err)
	return string(opened.Case) + "-A"
}

func (r *room) open(t testing.TB, folder string, reserve int64) {
	t.Helper()
	r.openWith(t, folder, reserve, printers.WaySpool, r.spool)
}

func (r *room) openWith(t testing.TB, folder string, reserve int64, way printers.Way, to string) {
	t.Helper()
	pot, ok := labels.LayoutNamed("pot-50x25")
	require.True(t, ok)
	o := config.Options{Folder: config.Folder{Dir: folder}, Store: config.Store{Reserve: reserve}, Printers: []config.Printer{{
		Name: "room-2", Way: way, To: to, Language: wire.ZPL, DotsPerMM: max(8, r.dots), Stock: []labels.Layout{pot}, Stations: []string{"room-2"}}}}
	r.running = &running{o: Options{Options: o, Log: slog.New(slog.DiscardHandler)}, broken: make(chan error, 1)}
	for _, step := range []func() error{r.openStores, r.openIntake, r.openPrinting} {
		require.NoError(t, step())
	}
	t.Cleanup(r.stop)
}

// again stops the daemon, does something to its folder, and starts it.
func (r *room) again(t *testing.T, between func(folder string)) {
	t.Helper()
	folder := r.o.Folder.Dir
	r.stop()
	if between != nil {
		between(folder)
	}
	r.open(t, folder, 0)
}

func (r *room) print(t *testing.T) (*ask.PrintAnswer, error) {
	t.Helper()
	return r.service.Print(t.Context(), ask.PrintRequest{LabelsRequest: ask.LabelsRequest{Items: []string{r.pot}}, By: "nurse.osei", Station: "room-2"})
}

// printed prints the pot's label and waits until it is out.
func (r *room) printed(t *testing.T) ask.PrintJob {
	t.Helper()
	answer, err := r.print(t)
	require.NoError(t, err)
	require.Len(t, answer.Jobs, 1)
	return r.outcome(t, answer.Jobs[0].Job, ask.PrintSent)
}

// outcome waits for what becomes of a job.
func (r *room) outcome(t testing.TB, id uint64, state string) ask.PrintJob {
	t.Helper()
	for {
		changed := r.service.printing.changed.wait()
		answer, err := r.service.Jobs(t.Context(), ask.JobsRequest{Jobs: []uint64{id}})
		require.NoError(t, err)
		if answer.Jobs[0].State == state {
			return answer.Jobs[0]
		}
		select {
		case <-changed:
		case <-time.After(10 * time.Second):
			require.Equal(t, state, answer.Jobs[0].State, answer.Jobs[0].Problem)
		}
	}
}

func (r *room) spooled(t *testing.T) int {
	t.Helper()
	entries, err := os.ReadDir(r.spool)
	require.NoError(t, err)
	return len(entries)
}

func (r *room) events(t *testing.T, kind tracker.Kind) (found []*tracker.Event) {
	t.Helper()
	all, err := r.ledger.Events(tracker.Name(r.pot))
	require.NoError(t, err)
	for _, e := range all {
		if e.Kind == kind {
			found = append(found, e)
		}
	}
	return found
}

func filled(name string, c tracker.Copy) *tracker.Event {
	return &tracker.Event{ID: tracker.EventID(uuid.Must(uuid.NewV7()).String()), Kind: tracker.KindPotFilled, Clinic: "MBY", At: time.Now(), By: "nurse.osei", Station: "room-2",
		Items: []tracker.Item{{Name: tracker.Name(name), Copy: c}}, Data: &tracker.PotFilled{Medium: "formalin"}}
}

func TestALabelComesOutOnceItIsRecorded(t *testing.T) {
	r := newRoom(t)
	job := r.printed(t)
	require.Equal(t, 1, r.spooled(t))
	recorded := r.events(t, tracker.KindLabelPrinted)
	require.Len(t, recorded, 1)
	require.Equal(t, &tracker.LabelPrinted{Copy: '1', Printer: "room-2", Layout: "pot-50x25"}, recorded[0].Data)
	told, err := json.Marshal(job)
	require.NoError(t, err)
	require.NotContains(t, string(told), "Halvorsen")
	onDisk, err := os.ReadFile(filepath.Join(r.o.Folder.Dir, filePrints))
	require.NoError(t, err)
	require.NotContains(t, string(onDisk), "^GF", "what waits for a printer is sealed")
	info, err := os.Stat(filepath.Join(r.o.Folder.Dir, filePrints))
	require.NoError(t, err)
	require.Equal(t, os.FileMode(0o600), info.Mode().Perm())
}

func TestWhatIsNotRecordedIsNotPrinted(t *testing.T) {
	r := newRoom(t)
	folder := r.o.Folder.Dir
	r.stop()
	r.open(t, folder, 1<<60) // there is never so much space
	_, err := r.print(t)
	require.Equal(t, ask.NoSpace, ask.KindOf(err))
	r.again(t, nil)
	require.Zero(t, r.spooled(t))
	jobs, err := r.service.printing.queue.Jobs(prints.Filter{})
	require.NoError(t, err)
	require.Empty(t, jobs)
	require.Equal(t, tracker.Copy('1'), r.printed(t).Copy, "no copy was used up")
}

// failing is a ledger whose disk fails in the middle of a commit: nobody knows whether what was sent is on it.
type failing struct{}

func (failing) RecordFlow(func() time.Time, []store.Intake, func(<-chan struct{}) []store.Intake) ([]store.Intake, []events.Verdict, error) {
	return nil, nil, errors.New("the disk failed")
}

// A label of which nobody knows whether its print is on record neither leaves nor is forgotten: the next start looks it up.
func TestALabelThatMayBeRecordedWaitsForTheNextStart(t *testing.T) {
	r := newRoom(t)
	whole := r.service.intake
	r.service.intake = newIntake(failing{}, func(error) {})
	_, err := r.print(t)
	require.ErrorIs(t, err, errUnknown)
	r.service.intake.stop()
	r.service.intake = whole
	jobs, err := r.service.printing.queue.Jobs(prints.Filter{})
	require.NoError(t, err)
	require.Len(t, jobs, 1)
	require.Equal(t, prints.Prepared, jobs[0].State)
	require.Zero(t, r.spooled(t))
}

// The daemon ended between preparing a label and letting it go: whether it is printed hangs on whether the ledger has it.
func TestAfterACrashOnlyWhatIsRecordedIsPrinted(t *testing.T) {
	for name, recorded := range map[string]bool{"recorded": true, "not recorded": false} {
		t.Run(name, func(t *testing.T) {
			r := newRoom(t)
			e := &tracker.Event{ID: tracker.EventID(uuid.Must(uuid.NewV7()).String()), Kind: tracker.KindLabelPrinted, Clinic: "MBY", At: time.Now(), By: "nurse.osei", Station: "room-2",
				Items: []tracker.Item{{Name: tracker.Name(r.pot)}}, Data: &tracker.LabelPrinted{Copy: '1', Printer: "room-2"}}
			job, err := r.service.printing.press.Prepare(prints.Job{Printer: "room-2", Name: tracker.Name(r.pot), Copy: '1', Layout: "pot-50x25", Event: e.ID, By: e.By, Station: e.Station,
				MediaType: "application/octet-stream", Extension: "zpl", WidthMM: 50, HeightMM: 25, Setup: setupOf(r.service.printing.printers[0])}, []byte("dots"))
			require.NoError(t, err)
			if recorded {
				_, err = r.service.intake.submit(t.Context(), []store.Intake{{Event: e}})
				require.NoError(t, err)
			}
			r.again(t, nil)
			if !recorded {
				_, err = r.service.printing.queue.Job(job.ID)
				require.ErrorIs(t, err, prints.ErrNoJob)
				require.Zero(t, r.spooled(t))
				return
			}
			r.outcome(t, job.ID, ask.PrintSent)
			require.Equal(t, 1, r.spooled(t))
		})
	}
}

func TestTheFirstScanOfALabelSettlesThatItCameOut(t *testing.T) {
	r := newRoom(t)
	job := r.printed(t)
	other := filled(r.pot, 0) // typed: nobody had the label before them
	note := &tracker.Event{ID: tracker.EventID(uuid.Must(uuid.NewV7()).String()), Kind: tracker.KindNoteAdded, Clinic: "MBY", At: time.Now(), By: "clerk.ann", Station: "desk",
		Items: []tracker.Item{{Name: tracker.Name(r.pot), Copy: '1'}}, Data: &tracker.NoteAdded{Text: "asked about"}}
	_, err := r.service.intake.submit(t.Context(), []store.Intake{{Event: other}, {Event: note}})
	require.NoError(t, err)
	_, err = r.service.intake.submit(t.Context(), []store.Intake{{Event: filled(r.pot, '1')}})
	require.NoError(t, err)
	require.Empty(t, r.outcome(t, job.Job, ask.PrintConfirmed).Problem)
	require.Zero(t, r.service.printing.scans.many.Load())
}

// A scan that was recorded while the queue did not hear of it is found at the next start.
func TestAScanBeforeACrashIsHeardOfAtTheNextStart(t *testing.T) {
	r := newRoom(t)
	job := r.printed(t)
	r.again(t, func(folder string) {
		l, err := store.Open(filepath.Join(folder, fileLedger), store.Options{})
		require.NoError(t, err)
		_, err = l.Record(time.Now(), []store.Intake{{Event: filled(r.pot, '1')}})
		require.NoError(t, err)
		require.NoError(t, l.Close())
	})
	r.outcome(t, job.Job, ask.PrintConfirmed)
}

func TestALabelThatNeverCameOutIsSpoiledOnce(t *testing.T) {
	r := newRoom(t)
	job := r.printed(t)
	for range 2 {
		_, err := r.service.Settle(t.Context(), ask.SettleRequest{Job: job.Job, By: "dr.lind", Station: "room-2"})
		require.NoError(t, err)
	}
	r.again(t, nil)
	spoiled := r.events(t, tracker.KindLabelSpoiled)
	require.Len(t, spoiled, 1)
	require.Equal(t, "dr.lind", spoiled[0].By)
	require.Equal(t, &tracker.LabelSpoiled{Copy: '1', Why: "never came out of printer room-2: somebody looked, and it was not there"}, spoiled[0].Data)
	require.Equal(t, tracker.Copy('2'), r.printed(t).Copy)
}

// What a printer says of itself goes into the record only if it would do as any other text there.
func TestAPrintersWordsAreHeldToTheRulesOfText(t *testing.T) {
	r := newRoom(t)
	job := prints.Job{Printer: "room-2", Name: tracker.Name(r.pot), Copy: '1', Spoiled: tracker.EventID(uuid.Must(uuid.NewV7()).String()), By: "nurse.osei", Station: "room-2", Changed: time.Now()}
	why := func(problem string) string {
		job.Problem = problem
		e := r.service.spoiled(job)
		_, err := events.Decode(events.Encode(e))
		require.NoError(t, err)
		return e.Data.(*tracker.LabelSpoiled).Why
	}
	require.Equal(t, "never came out of printer room-2: out of labels", why("out of labels"))
	require.Equal(t, "never came out of printer room-2", why("job HALVORSEN cancelled at the panel"))
	require.Equal(t, "never came out of printer room-2", why("\x1bE"))
}

// When the key of the queue is gone, what waited can be read by nobody, and is accounted for.
func TestLabelsThatCanNoLongerBeReadAreAccountedFor(t *testing.T) {
	r := newRoom(t)
	require.NoError(t, os.Remove(r.spool)) // the printer is out of order: the label waits
	answer, err := r.print(t)
	require.NoError(t, err)
	require.NotEmpty(t, r.outcome(t, answer.Jobs[0].Job, ask.PrintQueued))
	ref, _, err := r.service.people.ref(ask.Patient{Family: "Halvorsen", Given: "Ingrid", BirthDate: "1961-02-14", RecordNumber: "40118223"})
	require.NoError(t, err)
	ok, err := r.service.people.file.Forget(ref, time.Now())
	require.NoError(t, err)
	require.True(t, ok)
	require.NoError(t, r.service.people.file.Settle(), "before the queue was sealed anew")
	r.again(t, func(string) { require.NoError(t, os.Mkdir(r.spool, 0o700)) }) // a try before the daemon has ended would print it
	require.Contains(t, r.outcome(t, answer.Jobs[0].Job, ask.PrintNotPrinted).Problem, "can no longer be read")
	require.Zero(t, r.spooled(t))
	require.Eventually(t, func() bool { return len(r.events(t, tracker.KindLabelSpoiled)) == 1 }, 10*time.Second, 5*time.Millisecond)
}

func TestTwoWhoPrintOneLabelAtOnceGetTwoCopies(t *testing.T) {
	r := newRoom(t)
	const askers = 8
	copies := make(chan tracker.Copy, askers)
	var all sync.WaitGroup
	for range askers {
		all.Go(func() {
			answer, err := r.service.Print(context.Background(), ask.PrintRequest{LabelsRequest: ask.LabelsRequest{Items: []string{r.pot}, OneMore: true}, By: "nurse.osei", Station: "room-2"})
			if err == nil && len(answer.Jobs) == 1 {
				copies <- answer.Jobs[0].Copy
			}
		})
	}
	all.Wait()
	close(copies)
	seen := map[tracker.Copy]bool{}
	for c := range copies {
		require.False(t, seen[c])
		seen[c] = true
	}
	require.Len(t, seen, askers)
}

// The live page is quiet about printers until one wants somebody.
func TestTheLivePageSaysWhenAPrinterWantsSomebody(t *testing.T) {
	r := newRoom(t)
	server, err := web.New(web.Options{Service: r.service, Local: r.service, Board: r.service, Live: r.service, Health: &r.health, Log: r.o.Log})
	require.NoError(t, err)
	page := func() string {
		w := httptest.NewRecorder()
		server.Pages().ServeHTTP(w, httptest.NewRequest(http.MethodGet, "http://localhost/", nil))
		require.Equal(t, http.StatusOK, w.Code)
		return w.Body.String()
	}
	require.NotContains(t, page(), "rinter")
	queue, now := r.service.printing.queue, time.Now()
	job, err := queue.Prepare(now, prints.Job{Printer: "room-2", Title: titleCalibration, Layout: "pot-50x25", By: "nurse.osei", Station: "room-2"}, []byte("dots"))
	require.NoError(t, err)
	require.NoError(t, queue.Queue(job.ID, now))
	_, _, ok, err := queue.Take("room-2", now)
	require.NoError(t, err)
	require.True(t, ok)
	require.NoError(t, queue.Lost(job.ID, now, "it broke off"))
	require.Contains(t, page(), "Printer room-2: somebody must look whether 1 label came out, and say so.")
}

// Recording never waits for printing: a batch in which nothing is awaited costs one look, and no memory.
func TestLookingForFirstScansIsCheap(t *testing.T) {
	s := newScans()
	batch, verdicts := make([]store.Intake, batchEvents), make([]events.Verdict, batchEvents)
	for i := range batch {
		batch[i], verdicts[i] = store.Intake{Event: filled("MBY-26-00417-A", '1')}, events.Verdict{OK: true}
	}
	require.Zero(t, testing.AllocsPerRun(100, func() { s.recorded(batch, verdicts) }))
	s.await("MBY-26-00418-A", '1')
	require.Zero(t, testing.AllocsPerRun(100, func() { s.recorded(batch, verdicts) }))
	seen, _ := s.take()
	require.Empty(t, seen)
	s.await("MBY-26-00417-A", '1')
	s.recorded(batch, verdicts)
	seen, _ = s.take()
	require.Equal(t, []printedLabel{{"MBY-26-00417-A", '1'}}, seen)
}

func BenchmarkLookingForFirstScans(b *testing.B) {
	s := newScans()
	for i := range 10_000 {
		name, err := tracker.CaseName("MBY", 26, i+1)
		require.NoError(b, err)
		s.await(name, '1')
	}
	batch, verdicts := []store.Intake{{Event: filled("MBY-26-00417-A", '1')}}, []events.Verdict{{OK: true}}
	for b.Loop() {
		s.recorded(batch, verdicts)
	}
}
