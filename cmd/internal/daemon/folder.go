package daemon

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/pottrail/pottrail/store/boltfile"
)

// What is in a data folder.
const (
	fileLedger    = "ledger.db"
	filePeople    = "people.db"
	filePrints    = "prints.db"
	fileStaff     = "staff.db"
	fileSocket    = "pottrail.sock"
	fileNATS      = "nats.json"
	fileClients   = "clients.json" // who is let in over NATS: names, roles, public keys
	fileDemo      = "demo.json"
	fileSigning   = "evidence.key"    // signs checkpoints; never in a backup
	fileWitness   = "checkpoints.log" // what was signed, apart from the ledger
	folderNATS    = "nats"
	folderPrinted = "printed" // the demo's labels
	prefixOwned   = "people."
)

// Why a data folder cannot be used.
var (
	ErrForeign = errors.New("not a data folder of pottrail")
	ErrDemo    = errors.New("a folder of the demo and a real one are never mixed")
)

// folder is a data folder.
type folder struct{ dir string }

func (f folder) path(name string) string { return filepath.Join(f.dir, name) }

// prepare makes the folder, or accepts an empty one or one of ours; it changes nothing in any other.
func prepare(dir string, demo bool) (folder, error) {
	f := folder{dir}
	info, err := os.Stat(dir)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		if err := os.MkdirAll(dir, 0o700); err != nil {
			return f, fmt.Errorf("the data folder cannot be made: %w", err)
		}
		return f, nil
	case err != nil:
		return f, fmt.Errorf("the data folder cannot be read: %w", err)
	case !info.IsDir():
		return f, fmt.Errorf("%s is a file, %w", dir, ErrForeign)
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		return f, fmt.Errorf("the data folder cannot be read: %w", err)
	}
	names := make([]string, len(entries))
	for i, e := range entries {
		names[i] = e.Name()
	}
	if err := ours(dir, names, demo); err != nil {
		return f, err
	}
	return f, nil
}

// close makes the folder the owner's alone; it is called when it is known to be ours.
func (f folder) close() error {
	info, err := os.Stat(f.dir)
	if err != nil {
		return fmt.Errorf("the data folder cannot be read: %w", err)
	}
	if info.Mode().Perm()&0o077 == 0 {
		return nil
	}
	if err := os.Chmod(f.dir, 0o700); err != nil {
		return fmt.Errorf("others can read the data folder, and that cannot be changed: %w", err)
	}
	return nil
}

// ours says what is wrong with a folder that holds these names.
func ours(dir string, names []string, demo bool) error {
	for _, name := range names {
		known := slices.Contains([]string{fileLedger, filePeople, fileSocket, fileNATS, fileDemo, folderNATS, filePrints, folderPrinted, folderMaking, folderAuthority}, name) ||
			strings.HasPrefix(name, fileLedger+".") || strings.HasPrefix(name, prefixOwned) || strings.HasPrefix(name, fileNATS+".") ||
			strings.HasPrefix(name, fileDemo+".") || strings.HasPrefix(name, filePrints+".") || strings.HasPrefix(name, fileStaff) ||
			strings.HasPrefix(name, fileClients) || strings.HasPrefix(name, fileSigning) || strings.HasPrefix(name, fileWitness)
		if !known && !slices.Contains(names, fileLedger) {
			return fmt.Errorf("%s holds %q: %w", dir, name, ErrForeign)
		}
	}
	marked := slices.Contains(names, fileDemo)
	switch {
	case demo && !marked && slices.Contains(names, fileLedger):
		return fmt.Errorf("%s holds a real ledger: %w", dir, ErrDemo)
	case !demo && marked:
		return fmt.Errorf("%s is the demo's: %w", dir, ErrDemo)
	}
	return nil
}

// writeWhole writes a private file so that it is there whole or not at all.
func (f folder) writeWhole(name string, data []byte) error {
	part := f.path(name + ".part")
	file, err := os.OpenFile(part, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	_, err = file.Write(data)
	if err = errors.Join(err, file.Sync(), file.Close()); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	if err := os.Rename(part, f.path(name)); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	if err := boltfile.SyncFolder(f.dir); err != nil { // else a power cut takes the name back, and a key with it
		return fmt.Errorf("%s: %w", name, err)
	}
	return nil
}
