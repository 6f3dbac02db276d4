package printers

import (
	"context"
	"errors"
	"os"
)

// failure is a try that did not succeed: what is known of the label, what happened and what to do, and the cause.
type failure struct {
	known error // one of ErrNotSent, ErrRefused, ErrUnknown
	what  string
	cause error // may be nil
}

// Error gives what is known first: it decides what people do next.
func (f *failure) Error() string { return f.known.Error() + ": " + trouble(f.what, f.cause) }

// Unwrap gives both to errors.Is and errors.As.
func (f *failure) Unwrap() []error {
	if f.cause == nil {
		return []error{f.known}
	}
	return []error{f.known, f.cause}
}

func notSent(what string, cause error) error { return &failure{ErrNotSent, what, cause} }
func refused(what string, cause error) error { return &failure{ErrRefused, what, cause} }
func unknown(what string, cause error) error { return &failure{ErrUnknown, what, cause} }

// trouble adds the last word of a cause to a sentence: "connection refused", without the operations around it.
func trouble(what string, cause error) string {
	if cause == nil {
		return what
	}
	if errors.Is(cause, context.DeadlineExceeded) || errors.Is(cause, os.ErrDeadlineExceeded) {
		return what + " (its time was up)"
	}
	for {
		inner := errors.Unwrap(cause)
		if several, ok := cause.(interface{ Unwrap() []error }); ok && len(several.Unwrap()) > 0 {
			inner = several.Unwrap()[0]
		}
		if inner == nil {
			break
		}
		cause = inner
	}
	return what + " (" + cause.Error() + ")"
}

// unreachable is a look that found no printer.
type unreachable struct {
	what  string
	cause error // may be nil
}

// Error says what happened and what to do.
func (u *unreachable) Error() string { return trouble(u.what, u.cause) }

// Unwrap gives the cause.
func (u *unreachable) Unwrap() error { return u.cause }
