package cli

import (
	"errors"
	"io"
	"os"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/cmd/internal/ask"
)

// TestADaemonThatGoesAwayWhilePrinting may have printed: whoever asked is told to look first. One that was never reached has
// not.
func TestADaemonThatGoesAwayWhilePrinting(t *testing.T) {
	lost := lostAnswer(gone(&goneError{"clinic", io.EOF}))
	require.ErrorContains(t, lost, "what became of these labels is not known")
	var e *exitError
	require.ErrorAs(t, lost, &e)
	require.Equal(t, exitCouldNot, e.code)
	require.Contains(t, e.hint, "look at the printer")

	never := gone(&goneError{"clinic", os.NewSyscallError("connect", syscall.ECONNREFUSED)})
	require.Equal(t, never, lostAnswer(never))
	refused := couldNot(errors.New("the disk is full"), "")
	require.Equal(t, refused, lostAnswer(refused))
}

// TestACopyIsKeptUntilTheNewOneIsThere: a reprint that waits, or of which nobody knows, has replaced nothing in anyone's hand.
func TestACopyIsKeptUntilTheNewOneIsThere(t *testing.T) {
	job := ask.PrintJob{Job: 7, Printer: "room-2", Name: "MBY-26-00417-A", Copy: '2', Replaces: '1'}
	for state, says := range map[string]string{ask.PrintQueued: "keep that one", ask.PrintUnknown: "keep that one", ask.PrintSent: "destroy that one"} {
		job.State = state
		require.Contains(t, outcome(job), says, state)
	}
	job.Replaces, job.State = 0, ask.PrintQueued
	require.NotContains(t, outcome(job), "keep")
}
