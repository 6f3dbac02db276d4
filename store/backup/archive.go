package backup

import (
	"archive/tar"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"
)

// Progress is told how far the work is: what is being done, and how much of how much. It may be nil.
type Progress func(what string, done, total int64)

func (p Progress) tell(what string, done, total int64) {
	if p != nil {
		p(what, done, total)
	}
}

// block is the unit of a tar, in bytes; an archive ends with two of zeros.
const block = 512

// header makes the one header that a file of this name, size and time has here.
func header(name string, size int64, at time.Time) ([]byte, error) {
	var b bytes.Buffer
	err := tar.NewWriter(&b).WriteHeader(&tar.Header{Typeflag: tar.TypeReg, Name: name, Size: size, Mode: 0o600, ModTime: at.Truncate(time.Second), Format: tar.FormatGNU})
	if err != nil {
		return nil, fmt.Errorf("header of %s: %w", name, err)
	}
	return b.Bytes(), nil
}

// Write writes an archive of the files that lie in a folder under the names of the manifest.
func Write(w io.Writer, m Manifest, folder string, progress Progress) error {
	manifest, err := m.encode()
	if err != nil {
		return err
	}
	for _, part := range []struct {
		name string
		data []byte
	}{{NameManifest, manifest}, {NameSums, m.sums(manifest)}} {
		if err := writeMember(w, part.name, int64(len(part.data)), m.Created, bytes.NewReader(part.data)); err != nil {
			return err
		}
	}
	var done int64
	for _, f := range m.Files {
		file, err := os.Open(filepath.Join(folder, f.Name))
		if err != nil {
			return fmt.Errorf("write archive: %w", err)
		}
		told := io.TeeReader(file, writerFunc(func(b []byte) { done += int64(len(b)); progress.tell("writing", done, m.Total()) }))
		if err := errors.Join(writeMember(w, f.Name, f.Size, m.Created, told), file.Close()); err != nil {
			return err
		}
	}
	if _, err := w.Write(make([]byte, 2*block)); err != nil {
		return fmt.Errorf("write archive: %w", err)
	}
	return nil
}

func writeMember(w io.Writer, name string, size int64, at time.Time, from io.Reader) error {
	head, err := header(name, size, at)
	if err != nil {
		return err
	}
	if _, err := w.Write(head); err != nil {
		return fmt.Errorf("write archive: %w", err)
	}
	if _, err := io.CopyN(w, from, size); err != nil {
		return fmt.Errorf("write archive, %s: %w", name, err)
	}
	if _, err := w.Write(make([]byte, padding(size))); err != nil {
		return fmt.Errorf("write archive: %w", err)
	}
	return nil
}

func padding(size int64) int64 { return (block - size%block) % block }

type writerFunc func(b []byte)

// Write is for a tee.
func (f writerFunc) Write(b []byte) (int, error) { f(b); return len(b), nil }

// Read reads an archive to its end and checks every byte of it. Each file is written, and synced, to a new file of its
// name in a folder; with folder "" nothing is written. What was written before an error is left to the caller.
func Read(r io.Reader, folder string, progress Progress) (Manifest, error) {
	a := &reading{r: r}
	m, err := a.front()
	if err != nil {
		return m, err
	}
	var done int64
	for _, f := range m.Files {
		err := a.file(f, m.Created, folder, func(n int) { done += int64(n); progress.tell("reading", done, m.Total()) })
		if err != nil {
			return m, err
		}
	}
	if err := a.zeros(2*block, "its end"); err != nil {
		return m, err
	}
	if n, _ := io.ReadFull(r, make([]byte, 1)); n > 0 {
		return m, fmt.Errorf("%w: something stands after its end", ErrDamaged)
	}
	return m, nil
}

type reading struct{ r io.Reader }

// front reads manifest and digests, and holds them against each other before anything else is looked at.
func (a *reading) front() (Manifest, error) {
	head := make([]byte, block)
	if err := a.full(head, "its beginning"); err != nil {
		return Manifest{}, fmt.Errorf("%w: %w", ErrForeign, err)
	}
	h, err := tar.NewReader(bytes.NewReader(head)).Next()
	if err != nil || h.Name != NameManifest {
		return Manifest{}, fmt.Errorf("%w, or its beginning is damaged: it does not begin with %s", ErrForeign, NameManifest)
	}
	if h.Size < 1 || h.Size > mostManifest {
		return Manifest{}, fmt.Errorf("%w: %s is of %d bytes", ErrDamaged, NameManifest, h.Size)
	}
	text := make([]byte, h.Size)
	if err := a.full(text, NameManifest); err != nil {
		return Manifest{}, err
	}
	if err := a.zeros(padding(h.Size), NameManifest); err != nil {
		return Manifest{}, err
	}
	m, err := decodeManifest(text)
	if err != nil {
		return m, err
	}
	again, err := header(NameManifest, h.Size, m.Created)
	if err != nil || !bytes.Equal(head, again) {
		return m, fmt.Errorf("%w: the header of %s was changed", ErrDamaged, NameManifest)
	}
	want := m.sums(text)
	have := make([]byte, len(want))
	if err := a.head(NameSums, int64(len(want)), m.Created); err != nil {
		return m, err
	}
	if err := a.full(have, NameSums); err != nil {
		return m, err
	}
	if !bytes.Equal(have, want) {
		return m, fmt.Errorf("%w: %s and %s do not fit together: one of them was changed", ErrDamaged, NameManifest, NameSums)
	}
	return m, a.zeros(padding(int64(len(want))), NameSums)
}

// full reads so many bytes of a named part.
func (a *reading) full(b []byte, part string) error {
	switch _, err := io.ReadFull(a.r, b); {
	case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF):
		return fmt.Errorf("%w: it is cut short in %s", ErrDamaged, part)
	case err != nil:
		return fmt.Errorf("read the backup, in %s: %w", part, err)
	}
	return nil
}

func (a *reading) zeros(n int64, part string) error {
	b := make([]byte, n)
	if err := a.full(b, part); err != nil {
		return err
	}
	if len(bytes.Trim(b, "\x00")) > 0 {
		return fmt.Errorf("%w: what follows %s was changed", ErrDamaged, part)
	}
	return nil
}

func (a *reading) head(name string, size int64, at time.Time) error {
	want, err := header(name, size, at)
	if err != nil {
		return err
	}
	have := make([]byte, len(want))
	if err := a.full(have, "the header of "+name); err != nil {
		return err
	}
	if !bytes.Equal(have, want) {
		return fmt.Errorf("%w: the header of %s was changed", ErrDamaged, name)
	}
	return nil
}

func (a *reading) file(f File, at time.Time, folder string, told func(n int)) (err error) {
	if err := a.head(f.Name, f.Size, at); err != nil {
		return err
	}
	var to io.Writer = io.Discard
	sync := func() error { return nil }
	if folder != "" {
		file, err := os.OpenFile(filepath.Join(folder, f.Name), os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
		if err != nil {
			return fmt.Errorf("restore %s: %w", f.Name, err)
		}
		defer func() { _ = file.Close() }() // a second time after sync
		to, sync = file, func() error { return errors.Join(file.Sync(), file.Close()) }
	}
	sum := sha256.New()
	b := make([]byte, 1<<20)
	for left := f.Size; left > 0; {
		part := b[:min(left, int64(len(b)))]
		if err := a.full(part, f.Name); err != nil {
			return err
		}
		sum.Write(part)
		if _, err := to.Write(part); err != nil {
			return fmt.Errorf("restore %s: %w", f.Name, err)
		}
		left -= int64(len(part))
		told(len(part))
	}
	if err := sync(); err != nil {
		return fmt.Errorf("restore %s: %w", f.Name, err)
	}
	if hex.EncodeToString(sum.Sum(nil)) != f.SHA256 {
		return fmt.Errorf("%w: %s in it is not what was backed up (its SHA-256 differs)", ErrDamaged, f.Name)
	}
	return a.zeros(padding(f.Size), f.Name)
}
