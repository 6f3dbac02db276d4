package press

import (
	"context"
	"fmt"
	"time"

	"github.com/pottrail/pottrail/labels/printers"
	"github.com/pottrail/pottrail/store/prints"
)

// slack is how long a sender may take to come back after its context ended. Common practice, no source.
const slack = 2 * time.Second

// send hands one label to the printer, once. It comes back after the deadline whatever the sender does: a write to a device
// may never return. Until such a sender comes back, nothing else is sent.
func (w *worker) send(ctx context.Context, job prints.Job, body []byte) error {
	inner, cancel := context.WithTimeout(context.WithoutCancel(ctx), w.o.Deadline)
	defer cancel()
	result := make(chan error, 1)
	go func() {
		defer func() {
			if fault := recover(); fault != nil {
				result <- fmt.Errorf("the way to printer %s is broken (%T): %w", w.name, fault, printers.ErrUnknown)
			}
		}()
		result <- w.sender.Send(inner, printers.Job{Token: job.Token, MediaType: job.MediaType, Extension: job.Extension, Body: body, WidthMM: job.WidthMM, HeightMM: job.HeightMM})
	}()
	select {
	case err := <-result:
		return err
	case <-inner.Done():
	case <-ctx.Done():
		grace := time.NewTimer(w.o.Grace)
		defer grace.Stop()
		select {
		case err := <-result:
			return err
		case <-inner.Done():
		case <-grace.C:
			cancel()
		}
	}
	last := time.NewTimer(slack)
	defer last.Stop()
	select {
	case err := <-result:
		return err
	case <-last.C:
		w.late = result
		return fmt.Errorf("printer %s did not answer within %s: %w", w.name, w.o.Deadline, printers.ErrUnknown)
	}
}
