package people

import (
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/pottrail/pottrail/store/boltfile"
)

// longestKeyFile is the most that is read of a key file, in bytes; one with two keys has 250.
const longestKeyFile = 1 << 16

// readKeys reads the master keys in a key file: one, or more while they are being changed, the newest first. The file must
// be its reader's alone. One that is given, by systemd for example, may be root's, and have the bit that shows there that
// one user more was let in.
func readKeys(path string, given bool) ([]masterKey, error) {
	if info, err := os.Stat(path); err != nil {
		return nil, err
	} else if !info.Mode().IsRegular() { // a pipe would be waited for
		return nil, fmt.Errorf("%w: it is no file", ErrKeyWrong)
	}
	file, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	info, err := file.Stat()
	if err != nil {
		return nil, err
	}
	if owner, known := ownerOf(info); known {
		if err := checkKeyFile(path, info.Mode(), owner, os.Geteuid(), given); err != nil {
			return nil, err
		}
	}
	text, err := io.ReadAll(io.LimitReader(file, longestKeyFile))
	if err != nil {
		return nil, err
	}
	return parseKeys(string(text))
}

// checkKeyFile says why a key file must not be used, by its mode, its owner and who reads it.
func checkKeyFile(path string, mode fs.FileMode, owner, me int, given bool) error {
	if owner != me && !(given && owner == 0) {
		return fmt.Errorf("%w: user %d, and this is user %d: think about what that one may have done with it, then make it yours with chown", ErrKeyOwner, owner, me)
	}
	others := fs.FileMode(0o077)
	if given { // where access is granted by a list, the group's bits show its widest grant: r-- for the service's own user
		others = 0o037
	}
	if mode.Perm()&others != 0 {
		return fmt.Errorf("%w (its mode is %04o): make it so with chmod 600 %s, and think about who may have read it", ErrKeyMode, mode.Perm(), path)
	}
	return nil
}

func parseKeys(text string) ([]masterKey, error) {
	var keys []masterKey
	for line := range strings.Lines(text) {
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
	text := "# Master key of the people file. Without it no patient's record can be read. Keep a copy where no backup of the data goes.\n"
	var written []masterKey
	for _, key := range keys {
		if !slices.Contains(written, key) {
			written = append(written, key)
			text += hex.EncodeToString(key[:]) + "\n"
		}
	}
	temp, err := os.CreateTemp(filepath.Dir(path), filepath.Base(path)+inTheMaking+"*") // 0600
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

// inTheMaking follows the name of a file in the names of those that are to take its place.
const inTheMaking = ".new-"

// sweep removes what a process that was killed had begun to write in a file's place. The lock of the people file must be held.
func sweep(path string) error {
	entries, err := os.ReadDir(filepath.Dir(path))
	if err != nil {
		return err
	}
	for _, e := range entries {
		if strings.HasPrefix(e.Name(), filepath.Base(path)+inTheMaking) {
			if err := os.Remove(filepath.Join(filepath.Dir(path), e.Name())); err != nil && !errors.Is(err, fs.ErrNotExist) {
				return err
			}
		}
	}
	return nil
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
