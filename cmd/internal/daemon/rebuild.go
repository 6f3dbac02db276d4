package daemon

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"time"

	"github.com/pottrail/pottrail/cmd/internal/config"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/boltfile"
)

// Rebuild makes everything that is derived from the ledger of a data folder anew, and says from how many events. It
// needs the ledger to itself.
func Rebuild(_ context.Context, o config.Options, progress func(done, total int)) (uint64, error) {
	path := folder{o.Folder.Dir}.path(fileLedger)
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		return 0, fmt.Errorf("%s: there is no ledger to rebuild: %w", path, ErrForeign)
	}
	if err := readable(path); err != nil {
		return 0, err
	}
	ledger, err := store.Open(path, store.Options{MaxSize: o.Store.MaxSize, Reserve: o.Store.Reserve, Rebuilding: true})
	if err != nil {
		return 0, fmt.Errorf("%s: %w", path, err)
	}
	err = ledger.Rebuild(time.Now(), func(done, total uint64) { progress(int(done), int(total)) })
	n := ledger.Stats().Entries
	if err = errors.Join(err, ledger.Close()); err != nil {
		return 0, fmt.Errorf("%s: rebuild: %w", path, err)
	}
	return n, nil
}

// readable makes sure that reading a ledger's file cannot end this process. What else is wrong with it, opening it says.
func readable(path string) error {
	db, err := boltfile.Open(path, boltfile.ReadOnly(time.Second))
	if err != nil {
		return nil // opening it says why: in use, or no ledger
	}
	defer func() { _ = db.Close() }() // holds writers off meanwhile
	walk, err := boltfile.WalkPages(context.Background(), path, nil)
	if err == nil && walk.Pages != nil && walk.Total > 0 {
		err = fmt.Errorf("%w: %w", store.ErrDamaged, walk.Pages)
	}
	if err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	return nil
}
