package labels_test

import (
	"bytes"
	"errors"
	"image"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/testdata/outside"
)

// program finds a program from outside that checks ours; from is the Debian package that has it.
func program(t *testing.T, name, from string) string {
	t.Helper()
	require.Contains(t, outside.Packages(), from)
	return outside.Need(t, name)
}

// readByDmtx reads the one Data Matrix in a picture file with dmtx-utils.
func readByDmtx(t *testing.T, dmtxread, file string) string {
	t.Helper()
	// -N1: one symbol is enough; -m20000: at most twenty seconds, since this machine may be busy. Exit status 1 is "nothing found".
	out, err := exec.CommandContext(t.Context(), dmtxread, "-N1", "-m20000", file).Output()
	require.NoErrorf(t, err, "dmtxread found no symbol in %s", filepath.Base(file))
	return strings.TrimRight(string(out), "\n")
}

func write(t *testing.T, name string, content func(b *bytes.Buffer) error) string {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, content(&b))
	file := filepath.Join(t.TempDir(), name)
	require.NoError(t, os.WriteFile(file, b.Bytes(), 0o600))
	return file
}

// asError is errors.As for one type, for switches.
func asError[E error](err error, target *E) bool { return errors.As(err, target) }

// writeGray puts a picture of no label's own into a file.
func writeGray(t *testing.T, img image.Image) string {
	t.Helper()
	return write(t, "picture.png", func(b *bytes.Buffer) error { return png.Encode(b, img) })
}
