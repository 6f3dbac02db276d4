package printers

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"
)

func spooled() Job {
	return Job{Token: "k3v9xq7w2m", MediaType: "application/pdf", Extension: "pdf", Body: []byte("%PDF-1.7 dots"), WidthMM: 50, HeightMM: 25}
}

// inFolder lists a folder.
func inFolder(t *testing.T, folder string) (names []string) {
	t.Helper()
	entries, err := os.ReadDir(folder)
	require.NoError(t, err)
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return names
}

func TestALabelAppearsInTheFolderWhole(t *testing.T) {
	folder, j := t.TempDir(), spooled()
	s, err := Open(WaySpool, folder)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(folder, "k3v9xq7w2m.pdf.part"), []byte("half of an earlier try"), 0o644))
	require.NoError(t, s.Send(t.Context(), j))
	require.Equal(t, []string{"k3v9xq7w2m.pdf"}, inFolder(t, folder))
	name := filepath.Join(folder, "k3v9xq7w2m.pdf")
	b, err := os.ReadFile(name)
	require.NoError(t, err)
	require.Equal(t, j.Body, b)
	at, err := os.Stat(name)
	require.NoError(t, err)
	require.Equal(t, fs.FileMode(0o600), at.Mode(), "a label shows a patient: nobody else may read it")

	require.NoError(t, s.Send(t.Context(), j), "the same try once more changes nothing")
	require.Equal(t, []string{"k3v9xq7w2m.pdf"}, inFolder(t, folder))

	j.Body = []byte("%PDF-1.7 Dots")
	err = s.Send(t.Context(), j)
	require.ErrorIs(t, err, ErrRefused)
	require.ErrorContains(t, err, "holds something else")
	b, err = os.ReadFile(name)
	require.NoError(t, err)
	require.Equal(t, "%PDF-1.7 dots", string(b), "and it stays")
}

func TestAFolderThatIsNotThere(t *testing.T) {
	folder := t.TempDir()
	s, err := Open(WaySpool, folder+"/gone")
	require.NoError(t, err)
	err = s.Send(t.Context(), spooled())
	require.ErrorIs(t, err, ErrNotSent)
	require.ErrorIs(t, err, fs.ErrNotExist)
	require.ErrorContains(t, err, "is the folder there")
	require.Empty(t, inFolder(t, folder), "and it is not made")
	_, err = s.Look(t.Context())
	require.ErrorContains(t, err, "is it there")

	require.NoError(t, os.WriteFile(folder+"/gone", nil, 0o600))
	err = s.Send(t.Context(), spooled())
	require.ErrorIs(t, err, ErrNotSent)
	_, err = s.Look(t.Context())
	require.ErrorContains(t, err, "is not a folder")

	s, err = Open(WaySpool, folder)
	require.NoError(t, err)
	says, err := s.Look(t.Context())
	require.NoError(t, err)
	require.Equal(t, "the folder "+folder+" is there", says)
}

// TestAFullDiskLeavesNothingBehind swaps the file for /dev/full, whose writes fail for want of space.
func TestAFullDiskLeavesNothingBehind(t *testing.T) {
	folder := t.TempDir()
	s := &spool{folder: folder, create: func(name string, flag int, mode fs.FileMode) (*os.File, error) {
		f, err := os.OpenFile(name, flag, mode)
		require.NoError(t, errors.Join(err, f.Close()))
		return os.OpenFile("/dev/full", os.O_WRONLY, 0)
	}}
	err := s.Send(t.Context(), spooled())
	require.ErrorIs(t, err, ErrNotSent)
	require.ErrorIs(t, err, syscall.ENOSPC)
	require.ErrorContains(t, err, "is there space")
	require.Empty(t, inFolder(t, folder))

	s.create = os.OpenFile
	require.NoError(t, s.Send(t.Context(), spooled()), "and with space again the same job goes")
}

// TestADiskThatCannotKeep swaps the file for /dev/null, which takes all and cannot be brought to a disk.
func TestADiskThatCannotKeep(t *testing.T) {
	folder := t.TempDir()
	s := &spool{folder: folder, create: func(name string, flag int, mode fs.FileMode) (*os.File, error) {
		f, err := os.OpenFile(name, flag, mode)
		require.NoError(t, errors.Join(err, f.Close()))
		return os.OpenFile("/dev/null", os.O_WRONLY, 0)
	}}
	require.ErrorIs(t, s.Send(t.Context(), spooled()), ErrNotSent)
	require.Empty(t, inFolder(t, folder))
}

// TestANameThatIsTaken: a folder of the label's name is never replaced.
func TestANameThatIsTaken(t *testing.T) {
	folder := t.TempDir()
	s, err := Open(WaySpool, folder)
	require.NoError(t, err)
	require.NoError(t, os.Mkdir(filepath.Join(folder, "k3v9xq7w2m.pdf"), 0o700))
	require.ErrorIs(t, s.Send(t.Context(), spooled()), ErrRefused)
	require.Equal(t, []string{"k3v9xq7w2m.pdf"}, inFolder(t, folder))
}
