package printers

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"syscall"
	"time"
)

// device is a printer behind a file that the system made: a USB or serial line, or a FIFO that another program reads. It
// is never created and never made shorter. A label has been taken if the driver took every byte and, where it can be
// asked (FIFOs, serial lines), none waits any more.
//
// A driver that waits although it was asked not to cannot be interrupted by anyone: a try may then outlast its deadline.
type device struct{ path string }

// Send writes the label to the device.
func (d *device) Send(ctx context.Context, j Job) error {
	if err := j.check(); err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(ctx, longest)
	defer cancel()
	if err := ctx.Err(); err != nil {
		return notSent(d.path+" was not written to", err)
	}
	f, fifo, err := d.open()
	if err != nil {
		return err
	}
	defer f.Close()
	defer bind(ctx, f)()

	n, err := writeAll(ctx, f, j.Body)
	switch {
	case err != nil && n == 0:
		return notSent(d.path+" took nothing: is the printer on, and has it labels?", err)
	case err != nil:
		return unknown(d.path+" did not take the whole label: look whether one came out", err)
	}
	if err := d.taken(ctx, f, fifo); err != nil {
		return unknown(d.path+" did not take the whole label: look whether one came out", err)
	}
	return nil
}

// open opens the device if it is one.
func (d *device) open() (f *os.File, fifo bool, err error) {
	at, err := os.Stat(d.path)
	if err != nil {
		return nil, false, notSent(d.path+" is not there: is the printer plugged in and on?", err)
	}
	if what := kind(at); what != "" {
		return nil, false, refused(d.path+" "+what, nil)
	}
	f, err = os.OpenFile(d.path, os.O_WRONLY|openFlags, 0)
	switch {
	case errors.Is(err, syscall.ENXIO):
		return nil, false, notSent(d.path+" has nobody at its other end: is the printer on, or the program that reads it running?", err)
	case errors.Is(err, fs.ErrPermission):
		return nil, false, refused(d.path+" may not be written to by this program: ask whoever looks after this machine", err)
	case err != nil:
		return nil, false, notSent(d.path+" cannot be opened: is another program printing?", err)
	}
	at, err = f.Stat() // of what was opened, should the name have changed hands
	if err == nil && kind(at) != "" {
		err = errors.New("it has just been replaced")
	}
	if err != nil {
		_ = f.Close()
		return nil, false, notSent(d.path+" changed while it was opened", err)
	}
	return f, at.Mode()&fs.ModeNamedPipe != 0, nil
}

// kind says why a file is no device, or nothing.
func kind(at fs.FileInfo) string {
	switch m := at.Mode(); {
	case m&fs.ModeCharDevice != 0, m&fs.ModeNamedPipe != 0:
		return ""
	case m.IsDir():
		return fmt.Sprintf("is a folder: to have labels put into it, reach the printer by %q", WaySpool)
	case m.IsRegular():
		return fmt.Sprintf("is an ordinary file: to have labels put into a folder, reach the printer by %q", WaySpool)
	}
	return "is not a device that takes labels: it must be a character device or a FIFO"
}

// writeAll writes bytes, also to a device whose readiness cannot be waited for.
func writeAll(ctx context.Context, f *os.File, body []byte) (n int, err error) {
	for {
		m, err := f.Write(body[n:])
		n += m
		if !errors.Is(err, syscall.EAGAIN) {
			return n, err
		}
		if err := pause(ctx, lookInterval); err != nil {
			return n, err
		}
	}
}

// taken waits until nothing waits in the device any more.
func (d *device) taken(ctx context.Context, f *os.File, fifo bool) error {
	for {
		left, gone, err := unread(f, fifo)
		switch {
		case err != nil:
			return err
		case left == 0:
			return nil
		case gone:
			return fmt.Errorf("its reader left with %d bytes unread", left)
		}
		if err := pause(ctx, lookInterval); err != nil {
			return err
		}
	}
}

// pause waits, or ends with the context.
func pause(ctx context.Context, d time.Duration) error {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// Look says whether the device is there; it is not opened, since some printers feed a label when they are.
func (d *device) Look(context.Context) (string, error) {
	at, err := os.Stat(d.path)
	if err != nil {
		return "", &unreachable{d.path + " is not there: is the printer plugged in and on?", err}
	}
	if what := kind(at); what != "" {
		return "", &unreachable{d.path + " " + what, nil}
	}
	return d.path + " is there", nil
}
