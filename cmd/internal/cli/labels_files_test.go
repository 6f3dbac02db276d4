package cli

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestFilesOfLabelsAreTheirOwnersAlone: a label shows who the patient is. What is not recorded is not given out, and leaves
// nothing behind; a file that was there stays as it was.
func TestFilesOfLabelsAreTheirOwnersAlone(t *testing.T) {
	folder := t.TempDir()
	out := filepath.Join(folder, "labels.pdf")
	files := map[string][]byte{out: []byte("%PDF")}
	names := func() (found []string) {
		entries, err := os.ReadDir(folder)
		require.NoError(t, err)
		for _, e := range entries {
			found = append(found, e.Name())
		}
		return found
	}
	refused := errors.New("refused")
	require.ErrorIs(t, writeAround(t.Context(), files, func(context.Context) error {
		require.NoFileExists(t, out, "before it is recorded")
		return refused
	}), refused)
	require.Empty(t, names())

	require.NoError(t, writeAround(t.Context(), files, func(context.Context) error { return nil }))
	require.Equal(t, []string{"labels.pdf"}, names())
	at, err := os.Stat(out)
	require.NoError(t, err)
	require.Equal(t, os.FileMode(0o600), at.Mode().Perm())

	files[out] = []byte("another")
	require.ErrorIs(t, writeAround(t.Context(), files, func(context.Context) error { return refused }), refused)
	there, err := os.ReadFile(out)
	require.NoError(t, err)
	require.Equal(t, "%PDF", string(there))
}

// TestAFolderThatIsNotThereCostsNothing is found before a copy or a number is taken.
func TestAFolderThatIsNotThereCostsNothing(t *testing.T) {
	folder := t.TempDir()
	require.NoError(t, folderFor(filepath.Join(folder, "labels.pdf")))
	require.ErrorContains(t, folderFor(filepath.Join(folder, "nowhere", "labels.pdf")), "nothing was printed")
	file := filepath.Join(folder, "file")
	require.NoError(t, os.WriteFile(file, nil, 0o600))
	require.ErrorContains(t, folderFor(filepath.Join(file, "labels.pdf")), "nothing was printed")
}
