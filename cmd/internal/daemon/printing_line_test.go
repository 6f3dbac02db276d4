package daemon

import (
	"context"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/prints"
	"github.com/pottrail/pottrail/tracker"
)

// Two people print at once: the labels of one come out together, so that nobody sorts two patients' labels by hand.
func TestLabelsOfTwoRequestsNeverComeOutMixed(t *testing.T) {
	r := newRoom(t)
	const requests, each = 4, 3
	var all sync.WaitGroup
	for range requests {
		var pots []string
		for range each {
			pots = append(pots, r.newPot(t))
		}
		all.Go(func() {
			answer, err := r.service.Print(context.Background(), ask.PrintRequest{LabelsRequest: ask.LabelsRequest{Items: pots}, By: "nurse.osei", Station: "room-2"})
			if err != nil {
				t.Error(err)
				return
			}
			for i, j := range answer.Jobs { // printers take jobs in the order of their numbers
				if j.Job != answer.Jobs[0].Job+uint64(i) {
					t.Errorf("another's label is between those of one request: %d after %d", j.Job, answer.Jobs[0].Job)
				}
			}
		})
	}
	all.Wait()
}

// A label that waits behind another says why, and after a minute the live page does.
func TestWhatWaitsAndWhatAsksIsTold(t *testing.T) {
	r := newRoom(t)
	told, err := r.service.printing.trouble(time.Now())
	require.NoError(t, err)
	require.Empty(t, told)
	require.NoError(t, os.Remove(r.spool))
	first, err := r.print(t)
	require.NoError(t, err)
	_, err = r.service.Jobs(t.Context(), ask.JobsRequest{Jobs: []uint64{first.Jobs[0].Job}, Wait: true})
	require.NoError(t, err)
	r.pot = r.newPot(t) // a reprint would take the first away
	second, err := r.print(t)
	require.NoError(t, err)
	answer, err := r.service.Jobs(t.Context(), ask.JobsRequest{Jobs: []uint64{second.Jobs[0].Job}, Wait: true})
	require.NoError(t, err)
	require.Contains(t, answer.Jobs[0].Problem, "is the folder there")
	told, err = r.service.printing.trouble(time.Now().Add(2 * time.Minute))
	require.NoError(t, err)
	require.Equal(t, []string{"Printer room-2: 2 labels waiting. Is it on, and is there paper?"}, told)
	list, err := r.service.Printers(t.Context(), ask.PrintersRequest{})
	require.NoError(t, err)
	require.False(t, list.Printers[0].OK)
	require.Equal(t, 2, list.Printers[0].Waiting)
	_, err = r.service.Printers(t.Context(), ask.PrintersRequest{Printer: "nowhere"})
	require.Equal(t, ask.NotFound, ask.KindOf(err))
}

// A label that waits was drawn for the printer as it was set up then. Set up anew, it would print rubbish.
func TestALabelDrawnForAnotherSetupIsNotSent(t *testing.T) {
	r := newRoom(t)
	require.NoError(t, os.Remove(r.spool))
	answer, err := r.print(t)
	require.NoError(t, err)
	_, err = r.service.Jobs(t.Context(), ask.JobsRequest{Jobs: []uint64{answer.Jobs[0].Job}, Wait: true})
	require.NoError(t, err)
	require.NoError(t, os.Mkdir(r.spool, 0o700))
	r.dots = 12
	r.again(t, nil)
	require.Contains(t, r.outcome(t, answer.Jobs[0].Job, ask.PrintNotPrinted).Problem, "was set up anew since")
	require.Zero(t, r.spooled(t))
	require.Eventually(t, func() bool { return len(r.events(t, tracker.KindLabelSpoiled)) == 1 }, 10*time.Second, 5*time.Millisecond)
	r.printed(t)
}

func TestWhatALabelWaitsForIsStillSetUp(t *testing.T) {
	r := newRoom(t)
	p := r.service.printing
	fits := prints.Job{Printer: "room-2", Layout: "pot-50x25", Setup: setupOf(p.printers[0])}
	require.Empty(t, p.unfit(fits))
	other := fits
	other.Layout = "pot-60x30"
	require.Contains(t, p.unfit(other), "no longer has labels of this layout")
	other = fits
	other.Setup = ""
	require.Contains(t, p.unfit(other), "was set up anew")
}

// A label waits for a printer that is off. Printed anew in its place, by another way too, it must not come out when that
// printer is switched on again: by then the next patient may lie there.
func TestALabelReplacedWhileItWaitedNeverComesOut(t *testing.T) {
	for way, replace := range map[string]func(t *testing.T, r *room, first ask.PrintJob){
		"by a printer": func(t *testing.T, r *room, first ask.PrintJob) {
			answer, err := r.print(t)
			require.NoError(t, err)
			require.Equal(t, first.Copy, answer.Jobs[0].Replaces)
			r.outcome(t, first.Job, ask.PrintNotPrinted)
			require.Equal(t, ask.PrintQueued, r.outcome(t, answer.Jobs[0].Job, ask.PrintQueued).State)
		},
		"into a file": func(t *testing.T, r *room, first ask.PrintJob) {
			e := &tracker.Event{ID: tracker.EventID(uuid.Must(uuid.NewV7()).String()), Kind: tracker.KindLabelPrinted, Clinic: "MBY", At: time.Now(), By: "nurse.osei", Station: "desk",
				Items: []tracker.Item{{Name: first.Name}}, Data: &tracker.LabelPrinted{Copy: '2', Replaces: first.Copy, Printer: "file", Layout: "pot-50x25"}}
			_, err := r.service.intake.submit(t.Context(), []store.Intake{{Event: e}})
			require.NoError(t, err)
			r.outcome(t, first.Job, ask.PrintNotPrinted)
		},
	} {
		t.Run(way, func(t *testing.T) {
			r := newRoom(t)
			require.NoError(t, os.Remove(r.spool)) // the printer is off
			answer, err := r.print(t)
			require.NoError(t, err)
			replace(t, r, r.outcome(t, answer.Jobs[0].Job, ask.PrintQueued))
			spoiled := func() []*tracker.Event { return r.events(t, tracker.KindLabelSpoiled) }
			require.Eventually(t, func() bool { return len(spoiled()) == 1 }, 10*time.Second, time.Millisecond)
			require.Equal(t, tracker.Copy('1'), spoiled()[0].Data.(*tracker.LabelSpoiled).Copy)
			require.Equal(t, "nurse.osei", spoiled()[0].By)
		})
	}
}

// TestALabelReplacedJustBeforeACrashNeverComesOut: the replacement is in the ledger, and the daemon ended before it called the
// waiting one off. At the next start the printer is there again.
func TestALabelReplacedJustBeforeACrashNeverComesOut(t *testing.T) {
	r := newRoom(t)
	require.NoError(t, os.Remove(r.spool)) // the printer is off
	answer, err := r.print(t)
	require.NoError(t, err)
	first := r.outcome(t, answer.Jobs[0].Job, ask.PrintQueued)
	r.again(t, func(folder string) {
		l, err := store.Open(filepath.Join(folder, fileLedger), store.Options{})
		require.NoError(t, err)
		e := &tracker.Event{ID: tracker.EventID(uuid.Must(uuid.NewV7()).String()), Kind: tracker.KindLabelPrinted, Clinic: "MBY", At: time.Now(), By: "nurse.osei", Station: "desk",
			Items: []tracker.Item{{Name: first.Name}}, Data: &tracker.LabelPrinted{Copy: '2', Replaces: first.Copy, Printer: "file", Layout: "pot-50x25"}}
		_, err = l.Record(time.Now(), []store.Intake{{Event: e}})
		require.NoError(t, err)
		require.NoError(t, l.Close())
		require.NoError(t, os.Mkdir(r.spool, 0o700))
	})
	r.outcome(t, first.Job, ask.PrintNotPrinted)
	require.Eventually(t, func() bool { return len(r.events(t, tracker.KindLabelSpoiled)) == 1 }, 10*time.Second, time.Millisecond)
	require.Zero(t, r.spooled(t))
}
