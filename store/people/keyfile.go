package people

import (
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"

	"github.com/pottrail/pottrail/store/boltfile"
)

// readKeys reads the master keys in a key file: one, or two while they are being changed, the newer first.
func readKeys(path string) ([]masterKey, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, err
	}
	if mode := info.Mode().Perm(); mode&0o077 != 0 && runtime.GOOS != "windows" {
		return nil, fmt.Errorf("%w (its mode is %04o): make it so with chmod 600 %s, and think about who may have read it", ErrKeyMode, mode, path)
	}
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	var keys []masterKey
	for line := range strings.Lines(string(text)) {
		line = strings.TrimSpace(line)
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		raw, err := hex.DecodeString(line)
		if err != nil || len(raw) != keySize {
			return nil, fmt.Errorf("%w: a line of it is not 64 hexadecimal digits", ErrKeyWrong)
		}
		keys = append(keys, masterKey(raw))
	}
	if len(keys) == 0 {
		return nil, fmt.Errorf("%w: it is empty", ErrKeyWrong)
	}
	return keys, nil
}

// writeKeys replaces the key file in one step; at any instant the old or the new one is whole.
func writeKeys(path string, keys ...masterKey) error {
	text := "# Master key of the people file beside this one. Without it no patient's record can be read.\n"
	for _, key := range keys {
		text += hex.EncodeToString(key[:]) + "\n"
	}
	temp, err := os.CreateTemp(filepath.Dir(path), filepath.Base(path)+".new-*") // 0600
	if err != nil {
		return err
	}
	defer func() { _ = os.Remove(temp.Name()) }()
	_, err = temp.WriteString(text)
	if err = errors.Join(err, temp.Sync(), temp.Close()); err != nil {
		return err
	}
	if err := os.Rename(temp.Name(), path); err != nil {
		return err
	}
	return boltfile.SyncFolder(filepath.Dir(path))
}

func newMaster() (masterKey, error) {
	raw, err := randomKey()
	if err != nil {
		return masterKey{}, err
	}
	return masterKey(raw), nil
}

// exists reports whether there is something at path.
func exists(path string) (bool, error) {
	_, err := os.Stat(path)
	if errors.Is(err, fs.ErrNotExist) {
		return false, nil
	}
	return err == nil, err
}
