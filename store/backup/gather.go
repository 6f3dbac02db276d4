package backup

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/people"
	"github.com/pottrail/pottrail/store/staff"
)

// Source is what is copied.
type Source struct {
	// Ledger, People and Staff copy to a new file at path, as [store.Ledger.Copy], [people.File.Copy] and [staff.File.Copy] do.
	// Without Staff there is none, as in folders of before.
	Ledger func(ctx context.Context, path string, progress func(done, total int64)) (store.Contents, error)
	People func(path string) (people.Contents, error)
	Staff  func(path string) (staff.Contents, error)
	// Demo is the content of demo.json; nil in a real folder.
	Demo []byte
	// Release is the version of the program, and Created the instant at which the copying begins.
	Release string
	Created time.Time
}

// Gather copies what a source has into an empty folder and verifies the copies: opened, all pages read, the root of every
// origin worked out anew from the entries and held against the live ledger's at that transaction. The ledger goes first:
// a person is on file before the case is, so nobody in the copied ledger is missing from the copied people.
func Gather(ctx context.Context, s Source, folder string, progress Progress) (Manifest, error) {
	m := Manifest{Format: Format, Release: s.Release, Created: s.Created.Round(0).UTC(), Demo: s.Demo != nil}
	ledger, folk := filepath.Join(folder, NameLedger), filepath.Join(folder, NamePeople)
	var err error
	m.Ledger, err = s.Ledger(ctx, ledger, func(done, total int64) { progress.tell("copying", done, total) })
	if err != nil {
		return m, err
	}
	if m.People, err = s.People(folk); err != nil {
		return m, err
	}
	if s.Staff != nil {
		held, err := s.Staff(filepath.Join(folder, NameStaff))
		if err != nil {
			return m, err
		}
		m.Staff = &held
	}
	if err := Check(ctx, m, folder, progress); err != nil {
		return m, fmt.Errorf("the copies were made and are not good: %w", err)
	}
	if m.Demo {
		if err := os.WriteFile(filepath.Join(folder, NameDemo), s.Demo, 0o600); err != nil {
			return m, fmt.Errorf("copy %s: %w", NameDemo, err)
		}
	}
	for _, name := range m.names() {
		f, err := measure(folder, name)
		if err != nil {
			return m, err
		}
		m.Files = append(m.Files, f)
	}
	return m, nil
}

// Check opens what was copied or put back in a folder and holds it against the manifest.
func Check(ctx context.Context, m Manifest, folder string, progress Progress) error {
	err := store.CheckCopy(ctx, filepath.Join(folder, NameLedger), m.Ledger, func(done, total uint64) {
		progress.tell("verifying", int64(done), int64(total))
	})
	if err != nil {
		return err
	}
	if err := people.CheckCopy(filepath.Join(folder, NamePeople), m.People); err != nil || m.Staff == nil {
		return err
	}
	return staff.CheckCopy(filepath.Join(folder, NameStaff), *m.Staff)
}

func measure(folder, name string) (File, error) {
	file, err := os.Open(filepath.Join(folder, name))
	if err != nil {
		return File{}, fmt.Errorf("measure %s: %w", name, err)
	}
	sum := sha256.New()
	n, err := io.Copy(sum, file)
	if err = errors.Join(err, file.Close()); err != nil {
		return File{}, fmt.Errorf("measure %s: %w", name, err)
	}
	return File{Name: name, Size: n, SHA256: hex.EncodeToString(sum.Sum(nil))}, nil
}
