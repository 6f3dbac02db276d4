package daemon

import (
	"errors"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/labels"
)

// scanFault puts what a scanner's text seems to be in place of what is wrong with it as a code: a patient's wristband, a
// product, two codes in one read. The word for machines stays.
func scanFault(text string, err error) error {
	_, read := labels.Read(text)
	var fault *ask.Error
	if !errors.Is(read, labels.ErrScan) || !errors.As(err, &fault) {
		return err
	}
	out := *fault
	out.Text = fault.Field + ": " + read.Error()
	return &out
}
