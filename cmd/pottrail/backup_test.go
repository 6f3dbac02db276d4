package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/backup"
)

// kept FOLDER waits until there is a backup in a folder.
func scriptKept(ts *testscript.TestScript, _ bool, args []string) {
	ts.Check(await(func() error {
		found, err := filepath.Glob(filepath.Join(ts.MkAbs(args[0]), "pottrail-*.tar"))
		if err == nil && len(found) == 0 {
			err = fmt.Errorf("there is no backup in %s", args[0])
		}
		return err
	}))
}

// Whoever pulls the plug in the middle of a backup or of putting one back finds no half one under its name: killed at any
// instant, a backup is whole or not there, and a folder is put back whole or cannot be served.
func TestKilledBackupsAndRestoresAreWholeOrNothing(t *testing.T) {
	const cycles = 25
	folder := filepath.Join(t.TempDir(), "clinic")
	p := start(t, folder, "serve")
	p.ready(t)
	ctx, stop := context.WithTimeout(t.Context(), 2*time.Second)
	said := &acked{ids: map[string]uint64{}}
	load(ctx, folder, 1, said)
	stop()
	require.NotEmpty(t, said.ids)
	good := filepath.Join(t.TempDir(), "good.tar")
	began := time.Now()
	out, err := exec.Command("pottrail", "backup", good, "--data", folder).CombinedOutput()
	took := time.Since(began)
	require.NoError(t, err, "%s", out)

	killed := func(args ...string) {
		cmd := exec.Command("pottrail", args...)
		require.NoError(t, cmd.Start())
		timer := time.AfterFunc(time.Duration(rand.Int64N(int64(took*5/4))), func() { _ = cmd.Process.Kill() })
		_ = cmd.Wait() // killed, or done before
		timer.Stop()
	}
	whole, half := 0, 0
	for i := range cycles {
		path := filepath.Join(t.TempDir(), fmt.Sprintf("%d.tar", i))
		killed("backup", path, "--data", folder)
		file, err := os.Open(path)
		if errors.Is(err, fs.ErrNotExist) {
			half++
			continue
		}
		require.NoError(t, err)
		m, err := backup.Read(file, "", nil)
		require.NoError(t, errors.Join(err, file.Close()))
		require.GreaterOrEqual(t, m.Ledger.Entries, uint64(len(said.ids)))
		whole++
	}
	t.Logf("backup: killed %d times: %d whole, %d not there", cycles, whole, half)

	whole, half = 0, 0
	for range cycles {
		again := filepath.Join(t.TempDir(), "again")
		killed("restore", good, "--data", again, "--key", filepath.Join(folder, "people.key"))
		if _, err := os.Stat(filepath.Join(again, "ledger.db")); errors.Is(err, fs.ErrNotExist) {
			half++
			if entries, err := os.ReadDir(again); err == nil && len(entries) > 0 {
				out, err := exec.Command("pottrail", "serve", "--data", again, "--http", "127.0.0.1:0").CombinedOutput()
				require.Error(t, err, "a daemon started over half a restore")
				require.Contains(t, string(out), "not a data folder of pottrail")
			}
			continue
		}
		ledger, err := store.Open(filepath.Join(again, "ledger.db"), store.Options{})
		require.NoError(t, err)
		require.NoError(t, ledger.Check())
		require.FileExists(t, filepath.Join(again, "people.db"))
		require.FileExists(t, filepath.Join(again, "people.key"))
		require.NotEqual(t, "", ledger.Origin())
		root, err := ledger.Root("")
		require.NoError(t, err)
		require.Zero(t, root.Size, "the log of the new origin is empty")
		require.NoError(t, ledger.Close())
		whole++
	}
	t.Logf("restore: killed %d times: %d whole, %d not served", cycles, whole, half)

	p.end(t, os.Interrupt)
	require.NoDirExists(t, filepath.Join(folder, "backup.making"), "what a killed client left behind is cleared away")
}

// Where there is no space nothing is left, and the sentence says so.
func TestABackupOntoAFullDiskSaysSo(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "clinic")
	p := start(t, folder, "serve")
	p.ready(t)
	full, err := os.OpenFile("/dev/full", os.O_WRONLY, 0)
	require.NoError(t, err)
	defer full.Close()
	for _, running := range []bool{true, false} {
		cmd := exec.Command("pottrail", "backup", "-", "--data", folder)
		var said bytes.Buffer
		cmd.Stdout, cmd.Stderr = full, &said
		var exit *exec.ExitError
		require.ErrorAs(t, cmd.Run(), &exit)
		require.Equal(t, 3, exit.ExitCode(), said.String())
		require.Contains(t, said.String(), "no space left on device")
		require.Contains(t, said.String(), "do not keep what was sent: it is not whole")
		if running {
			p.end(t, os.Interrupt)
		}
	}
	// A limit on the size of files stands for a disk that fills up while the copy is made.
	path := filepath.Join(t.TempDir(), "monday.tar")
	cmd := exec.Command("sh", "-c", `ulimit -f 40; exec pottrail backup "$1" --data "$2"`, "sh", path, folder)
	said, err := cmd.CombinedOutput()
	require.Error(t, err)
	require.Contains(t, string(said), "no space left")
	entries, err := os.ReadDir(filepath.Dir(path))
	require.NoError(t, err)
	require.Empty(t, entries, "nothing is left over")
	require.NoDirExists(t, filepath.Join(folder, "backup.making"))
}
