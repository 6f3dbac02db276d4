package daemon

import (
	"context"
	"os"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/cmd/internal/ask"
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
