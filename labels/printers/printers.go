package printers

import (
	"context"
	"errors"
)

// Way is how a printer is reached.
type Way string

// The ways.
const (
	WayRaw    Way = "raw"    // TCP, "192.0.2.20:9100"
	WayIPP    Way = "ipp"    // "ipp://192.0.2.20:631/ipp/print", or ipps
	WayDevice Way = "device" // "/dev/usb/lp0"
	WaySpool  Way = "spool"  // a folder that something else empties
)

// What is known after a try to print that did not succeed. Every error of [Sender.Send] wraps exactly one of them.
var (
	// ErrNotSent: nothing was printed, and a later try may do.
	ErrNotSent = errors.New("nothing was printed; it will be tried again")
	// ErrRefused: nothing was printed, and no later try will do until something is changed.
	ErrRefused = errors.New("nothing was printed; the printer does not take it")
	// ErrUnknown: a part left this machine, so a label may or may not have come out.
	ErrUnknown = errors.New("it is not known whether a label came out")
)

// Job is one label for a printer.
type Job struct {
	Token     string // random; for the printer's own list and for file names. Never a code, never a name
	MediaType string // "image/pwg-raster"
	Extension string // of a file in a spool folder, "pwg"
	Body      []byte
	WidthMM   float64 // of the stock
	HeightMM  float64
}

// Sender is one printer as it can be reached.
type Sender interface {
	// Send tries once to print and returns nil only if the printer has taken the whole job. A deadline of the context
	// bounds it.
	Send(ctx context.Context, j Job) error
	// Look asks for the printer's state without printing: a sentence for people, and an error if it cannot be reached.
	Look(ctx context.Context) (string, error)
}
