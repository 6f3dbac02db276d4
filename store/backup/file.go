package backup

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/pottrail/pottrail/store/boltfile"
)

// ErrNoSpace says that the disk of the archive is full. Nothing stands under its name.
var ErrNoSpace = errors.New("no space left for the backup")

// ErrThere says that there is a file of that name, which is never overwritten unless told.
var ErrThere = errors.New("there is a file of that name")

// WriteFile makes a file of what write gives, readable by its owner alone: beside its place first, synced, read back and
// checked from the disk byte by byte, and only then under its name. Cut short at any instant, it leaves at most a file
// whose name ends in .part. Over says whether a file that is there may be replaced.
func WriteFile(path string, over bool, write func(w io.Writer) error, progress Progress) (Manifest, error) {
	if _, err := os.Lstat(path); !errors.Is(err, fs.ErrNotExist) && !over {
		if err != nil {
			return Manifest{}, fmt.Errorf("write backup: %w", err)
		}
		return Manifest{}, fmt.Errorf("write backup %s: %w", path, ErrThere)
	}
	part := path + ".part"
	if err := os.Remove(part); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return Manifest{}, fmt.Errorf("write backup: %w", err)
	}
	m, err := writePart(part, write, progress)
	if err == nil {
		err = moveTo(part, path, over)
	}
	if err == nil {
		return m, nil
	}
	if removed := os.Remove(part); removed != nil && !errors.Is(removed, fs.ErrNotExist) {
		err = errors.Join(err, removed)
	}
	if boltfile.Full(err) {
		err = fmt.Errorf("%w: %w", ErrNoSpace, err)
	}
	return Manifest{}, fmt.Errorf("write backup %s: %w", path, err)
}

func writePart(part string, write func(w io.Writer) error, progress Progress) (Manifest, error) {
	file, err := os.OpenFile(part, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return Manifest{}, err
	}
	var m Manifest
	if err = write(file); err == nil {
		err = file.Sync()
	}
	if err == nil {
		if _, err = file.Seek(0, io.SeekStart); err == nil {
			m, err = Read(file, "", progress)
		}
	}
	return m, errors.Join(err, file.Close())
}

// moveTo gives a file its name. A link, unlike a rename, never replaces what another process made meanwhile; where there
// are no links, as on many memory sticks, the name was looked at before.
func moveTo(part, path string, over bool) error {
	if !over {
		err := os.Link(part, path)
		if errors.Is(err, fs.ErrExist) {
			return ErrThere
		}
		if err == nil {
			return errors.Join(os.Remove(part), boltfile.SyncFolder(filepath.Dir(path)))
		}
	}
	return errors.Join(os.Rename(part, path), boltfile.SyncFolder(filepath.Dir(path)))
}
