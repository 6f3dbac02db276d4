package people_test

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/store/people"
)

// A copy is sealed as the file is, opens with the same key, and nobody reads a name in it without.
func TestACopyIsSealedAndTheKeyIsNotInIt(t *testing.T) {
	dir := t.TempDir()
	path, key := filepath.Join(dir, "people.db"), filepath.Join(dir, "people.key")
	f, err := people.Open(path, key, people.Options{})
	require.NoError(t, err)
	ref, err := people.NewRef()
	require.NoError(t, err)
	who := people.Person{Family: "Halvorsen", Given: "Ingrid", BirthDate: "1961-02-14", RecordNumber: "40118223"}
	require.NoError(t, f.Put(ref, who))

	copied := filepath.Join(dir, "copy.db")
	contents, err := f.Copy(copied)
	require.NoError(t, err)
	require.Equal(t, people.Contents{Format: 1, People: 1}, contents)
	require.NoError(t, people.CheckCopy(copied, contents))
	_, err = f.Copy(copied)
	require.ErrorIs(t, err, os.ErrExist, "never over a file that is there")
	data, err := os.ReadFile(copied)
	require.NoError(t, err)
	secret, err := os.ReadFile(key)
	require.NoError(t, err)
	for line := range bytes.Lines(secret) {
		if line[0] != '#' {
			require.False(t, bytes.Contains(data, bytes.TrimSpace(line)))
		}
	}
	require.False(t, bytes.Contains(data, []byte("Halvorsen")))
	info, err := os.Stat(copied)
	require.NoError(t, err)
	require.Equal(t, os.FileMode(0o600), info.Mode().Perm())

	more := contents
	more.People = 2
	require.ErrorIs(t, people.CheckCopy(copied, more), people.ErrCopy)
	require.NoError(t, f.Close())
	closed, err := people.CopyFile(path, copied+"2")
	require.NoError(t, err)
	require.Equal(t, contents, closed)
	_, err = people.CopyFile(filepath.Join(dir, "none.db"), copied+"3")
	require.ErrorIs(t, err, os.ErrNotExist)

	again, err := people.Open(copied, key, people.Options{})
	require.NoError(t, err)
	back, ok, err := again.Get(ref)
	require.NoError(t, err)
	require.True(t, ok)
	require.Equal(t, who, back)
	require.NoError(t, again.Close())
}
