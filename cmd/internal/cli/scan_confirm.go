package cli

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"net/http"
	"syscall"
	"time"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/tracker"
)

// mostUnconfirmed is how many scans are remembered that nobody confirmed. Who has scanned more in vain has stopped by then.
const mostUnconfirmed = 100

// again is the event of a scan: a new one, or that of the same scan before, when nobody confirmed it. Then it is the same
// event, with its id and its time, and is recorded once whatever became of it before.
func (s *scanning) again(e *tracker.Event) *tracker.Event {
	if before := s.waiting[sameScan(e)]; before != nil {
		return before
	}
	return e
}

// sameScan is what two scans of one thing have in common.
func sameScan(e *tracker.Event) string {
	c := *e
	c.ID, c.At = "", time.Time{}
	return string(events.Encode(&c))
}

// confirmed records an event and gives its verdict. A daemon that does not answer, or does not know whether it recorded it, is
// asked again with the same event as long as patience lasts.
func (s *scanning) confirmed(ctx context.Context, e *tracker.Event) (events.Verdict, error) {
	for end := time.Now().Add(s.patience); ; {
		verdicts, err := s.app.send(ctx, []*tracker.Event{e})
		if err == nil {
			delete(s.waiting, sameScan(e))
			return verdicts[0], nil
		}
		if !unsure(err) || !s.prompt && neverSent(err) {
			return events.Verdict{}, err
		}
		if ctx.Err() != nil || !time.Now().Before(end) {
			if s.waiting == nil || len(s.waiting) >= mostUnconfirmed {
				s.waiting = map[string]*tracker.Event{}
			}
			s.waiting[sameScan(e)] = e
			return events.Verdict{}, &unconfirmedError{err}
		}
		select {
		case <-ctx.Done():
		case <-time.After(100 * time.Millisecond):
		}
	}
}

// unsure reports whether an error leaves open what became of what was sent.
func unsure(err error) bool {
	var g *goneError
	var refused *ask.Error
	if errors.As(err, &refused) && refused.Code == string(events.CodeLedgerDamaged) {
		return false // nothing is recorded until somebody has mended it
	}
	return errors.As(err, &g) || refused != nil && refused.Kind == ask.Unavailable
}

// neverSent reports whether nobody was there to send to.
func neverSent(err error) bool {
	return errors.Is(err, fs.ErrNotExist) || errors.Is(err, syscall.ECONNREFUSED)
}

// unconfirmedError says that nobody knows whether a scan was recorded.
type unconfirmedError struct{ err error }

func (e *unconfirmedError) Error() string { return "not confirmed: " + e.err.Error() }
func (e *unconfirmedError) Unwrap() error { return e.err }

// notConfirmed says what to do about a scan that nobody confirmed. At a prompt the next one may come; else it ends the command.
func (s *scanning) notConfirmed(item tracker.Item, err error) error {
	if !s.prompt {
		return couldNot(err, fmt.Sprintf("it may have been recorded: look with `pottrail trail %s` before it is scanned again", item.Name.Printed()))
	}
	s.refused++
	out := s.app.Out
	if s.app.json {
		out = s.app.Err
	}
	_, err = fmt.Fprintf(out, "%sNOT CONFIRMED %s: scan it again; it is recorded once. (%s)\n", bell, item.Name.Printed(), errors.Unwrap(err))
	return err
}

// kindOf is the kind of error that a status stands for, as far as a sender cares.
func kindOf(status int) ask.Kind {
	if status == http.StatusServiceUnavailable {
		return ask.Unavailable
	}
	return ask.Internal
}
