package store

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/pottrail/pottrail/store/boltfile"
)

// beforeMark stands after the name of a ledger in the names of copies that were made before its form was changed.
const beforeMark = ".before-"

// keptBefore is how many such copies stay beside a ledger.
const keptBefore = 2

// keepBefore makes a copy beside the ledger before a new release changes what is derived in it, and removes all but the
// latest of such copies once the new one was verified.
func (l *Ledger) keepBefore() error {
	if l.state.seq == 0 {
		return nil
	}
	path := fmt.Sprintf("%s%sfold%d-at-%d", l.path, beforeMark, foldVersion, l.state.seq)
	if _, err := os.Stat(path); err == nil {
		return nil // made and verified when this was begun before
	}
	part := path + ".part"
	if err := os.Remove(part); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	contents, err := l.Copy(context.Background(), part, nil)
	if err == nil {
		if err = CheckCopy(context.Background(), part, contents, nil); err != nil {
			_ = os.Remove(part)
		}
	}
	if err == nil {
		err = errors.Join(os.Rename(part, path), boltfile.SyncFolder(filepath.Dir(path)))
	}
	if err != nil {
		return fmt.Errorf("a copy is made beside the ledger before this release changes its form, and nothing was changed yet: %w", err)
	}
	if l.options.Kept != nil {
		l.options.Kept(path)
	}
	return dropBefore(l.path)
}

// copiesBefore lists the copies that were made before a change of form, the latest first.
func copiesBefore(path string) []string {
	type dated struct {
		name string
		info fs.FileInfo
	}
	entries, err := os.ReadDir(filepath.Dir(path))
	if err != nil {
		return nil
	}
	var found []dated
	for _, e := range entries {
		if !strings.HasPrefix(e.Name(), filepath.Base(path)+beforeMark) || strings.HasSuffix(e.Name(), ".part") {
			continue
		}
		if info, err := e.Info(); err == nil && info.Mode().IsRegular() {
			found = append(found, dated{e.Name(), info})
		}
	}
	slices.SortFunc(found, func(a, b dated) int {
		return cmp.Or(b.info.ModTime().Compare(a.info.ModTime()), cmp.Compare(b.name, a.name))
	})
	names := make([]string, len(found))
	for i, f := range found {
		names[i] = f.name
	}
	return names
}

func dropBefore(path string) error {
	names := copiesBefore(path)
	for _, name := range names[min(keptBefore, len(names)):] {
		if err := os.Remove(filepath.Join(filepath.Dir(path), name)); err != nil {
			return fmt.Errorf("an old copy beside the ledger: %w", err)
		}
	}
	return nil
}
