package printers

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// spool is a folder that another program empties. A label appears in it whole or not at all: it is written under another
// name, brought to the disk, and only then given its own.
type spool struct {
	folder string
	create func(name string, flag int, mode fs.FileMode) (*os.File, error) // [os.OpenFile], but in tests of full disks
}

// Send puts the label into the folder as TOKEN.ext, readable by its owner alone.
func (s *spool) Send(ctx context.Context, j Job) error {
	if err := j.check(); err != nil {
		return err
	}
	if err := ctx.Err(); err != nil {
		return notSent(s.folder+" was not written to", err)
	}
	name := filepath.Join(s.folder, j.Token+"."+j.Extension)
	switch same, err := holds(name, j.Body); {
	case same: // an earlier try came this far
		return s.settle()
	case err == nil:
		return refused(name+" is there already and holds something else: move it away", nil)
	case !errors.Is(err, fs.ErrNotExist):
		return notSent(name+" cannot be looked at: may this program enter the folder?", err)
	}
	part := name + ".part"
	if err := s.write(part, j.Body); err != nil {
		return notSent(fmt.Sprintf("the label could not be written into %s: is the folder there, is there space, may this program write?", s.folder), errors.Join(err, gone(part)))
	}
	if err := ctx.Err(); err != nil {
		return notSent(s.folder+" is slow", errors.Join(err, gone(part)))
	}
	if err := os.Rename(part, name); err != nil {
		return notSent("the label could not be given its name in "+s.folder, errors.Join(err, gone(part)))
	}
	return s.settle()
}

// holds reports whether there is a file with just these bytes; that there is none is an error.
func holds(name string, body []byte) (bool, error) {
	at, err := os.Lstat(name)
	if err != nil || !at.Mode().IsRegular() || at.Size() != int64(len(body)) {
		return false, err
	}
	there, err := os.ReadFile(name)
	return err == nil && bytes.Equal(there, body), err
}

// settle brings the folder itself to the disk. From the moment that a label has its name, it may be printed.
func (s *spool) settle() error {
	d, err := os.Open(s.folder)
	if err == nil {
		err = errors.Join(d.Sync(), d.Close())
	}
	if err != nil {
		return unknown(s.folder+" may lose the label if the power fails now: look whether one came out", err)
	}
	return nil
}

// write makes a file with these bytes and brings it to the disk. A rest of an earlier try is replaced.
func (s *spool) write(name string, body []byte) error {
	if err := os.Remove(name); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	f, err := s.create(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	_, err = f.Write(body)
	if err == nil {
		err = f.Sync()
	}
	if closed := f.Close(); err == nil {
		err = closed
	}
	return err
}

// gone removes a file; that there is none is no error.
func gone(name string) error {
	if err := os.Remove(name); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return nil
}

// Look says whether the folder is there.
func (s *spool) Look(context.Context) (string, error) {
	switch at, err := os.Stat(s.folder); {
	case err != nil:
		return "", &unreachable{"the folder " + s.folder + " cannot be seen: is it there, and may this program enter?", err}
	case !at.IsDir():
		return "", &unreachable{s.folder + " is not a folder: give the folder that labels are to be put into", nil}
	}
	return "the folder " + s.folder + " is there", nil
}
