package press

import (
	"context"
	"errors"
	"fmt"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/labels/printers"
	"github.com/pottrail/pottrail/store/prints"
)

// With a full disk an outcome is written as soon as there is space, and until then nothing else is printed.
func TestAnOutcomeWaitsForSpace(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		o := Options{}.withDefaults()
		w := &worker{o: &o, name: "room", status: Status{State: Printing, Since: time.Now()}}
		start, calls := time.Now(), []time.Duration(nil)
		full := func(fails int) func() error {
			return func() error {
				calls = append(calls, time.Since(start))
				if len(calls) <= fails {
					return fmt.Errorf("%w: of the disk", prints.ErrNoSpace)
				}
				return nil
			}
		}
		require.NoError(t, w.write(t.Context(), full(3)))
		require.Equal(t, []time.Duration{0, time.Second, 3 * time.Second, 7 * time.Second}, calls)
		require.Equal(t, Waits, w.current().State)
		require.Contains(t, w.current().Trouble, "disk is full")

		ctx, stop := context.WithTimeout(t.Context(), 10*time.Second)
		defer stop()
		start, calls = time.Now(), nil
		require.ErrorIs(t, w.write(ctx, full(100)), prints.ErrNoSpace)
		require.Equal(t, 10*time.Second, time.Since(start), "the end of the program is not held up")
	})
}

func TestHowLongToWait(t *testing.T) {
	o := Options{Jitter: func(d time.Duration) time.Duration { return d + time.Millisecond }}.withDefaults()
	require.Equal(t, time.Second+time.Millisecond, o.wait(1))
	require.Equal(t, 32*time.Second+time.Millisecond, o.wait(6))
	require.Equal(t, time.Minute+time.Millisecond, o.wait(7))
	require.Equal(t, time.Minute+time.Millisecond, o.wait(1000))
}

// TestAnErrorThatSaysTwoThingsIsBelievedInTheWorst: a sender that says both that nothing left and that nobody knows has not
// shown that nothing left, and one that says nothing has shown nothing.
func TestAnErrorThatSaysTwoThingsIsBelievedInTheWorst(t *testing.T) {
	sent, refused, unknown := printers.ErrNotSent, printers.ErrRefused, printers.ErrUnknown
	for _, row := range []struct{ says, means error }{
		{sent, sent}, {refused, refused}, {unknown, unknown},
		{errors.Join(sent, unknown), unknown}, {errors.Join(refused, unknown), unknown}, {errors.Join(sent, refused), refused},
		{errors.New("it smokes"), unknown},
	} {
		require.Equal(t, row.means, known(row.says), "%v", row.says)
	}
}
