package store_test

import (
	"encoding/binary"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/storetest"
)

func TestANewLedgerIsItsOwnersAlone(t *testing.T) {
	path := storetest.Path(t)
	l, err := store.Open(path, store.Options{})
	require.NoError(t, err)
	require.Regexp(t, `^[0-9a-f]{24}$`, l.Origin(), "random, so that no two nodes share a log")
	info, err := os.Stat(path)
	require.NoError(t, err)
	require.Equal(t, os.FileMode(0o600), info.Mode().Perm())
	left, err := filepath.Glob(path + ".new-*")
	require.NoError(t, err)
	require.Empty(t, left)
	origin := l.Origin()
	require.NoError(t, l.Close())
	require.NoError(t, l.Close(), "closing twice is nothing")
	_, err = l.Record(storetest.Morning(), nil)
	require.NoError(t, err, "nothing was asked")
	_, err = l.Record(storetest.Morning(), storetest.Intakes(storetest.Life(1, 1)...))
	require.ErrorIs(t, err, store.ErrClosed)
	_, _, err = l.Snapshot("MBY-26-00001")
	require.ErrorIs(t, err, store.ErrClosed)
	l, err = store.Open(path, store.Options{Origin: "other"})
	require.NoError(t, err)
	require.Equal(t, origin, l.Origin(), "for life")
	require.NoError(t, l.Close())
}

func TestOriginsOfTheirOwn(t *testing.T) {
	_, err := store.Open(storetest.Path(t), store.Options{Origin: "Not A Name"})
	require.ErrorContains(t, err, "origin")
	_, err = store.Open(storetest.Path(t), store.Options{Random: strings.NewReader("short")})
	require.ErrorIs(t, err, io.ErrUnexpectedEOF)
}

func TestTwoCannotHaveOneLedger(t *testing.T) {
	path := storetest.Path(t)
	storetest.Open(t, path, store.Options{})
	_, err := store.Open(path, store.Options{Timeout: time.Millisecond})
	require.ErrorIs(t, err, store.ErrInUse)
}

func TestALaterReleasesLedgerIsLeftAlone(t *testing.T) {
	path := storetest.Path(t)
	require.NoError(t, storetest.Open(t, path, store.Options{}).Close())
	require.NoError(t, store.Meta(path, "format", binary.BigEndian.AppendUint32(nil, 2)))
	before, err := os.ReadFile(path)
	require.NoError(t, err)
	_, err = store.Open(path, store.Options{})
	require.ErrorIs(t, err, store.ErrNewer)
	after, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, before, after)
}

func TestForeignFilesAreLeftAlone(t *testing.T) {
	for name, content := range map[string]string{
		"text":        strings.Repeat("a shopping list\n", 9000),
		"empty":       "",
		"short":       "x",
		"empty pages": strings.Repeat("\x00", 65536),
	} {
		t.Run(name, func(t *testing.T) {
			path := storetest.Path(t)
			require.NoError(t, os.WriteFile(path, []byte(content), 0o600))
			_, err := store.Open(path, store.Options{})
			require.ErrorIs(t, err, store.ErrForeign)
			left, err := os.ReadFile(path)
			require.NoError(t, err)
			require.Equal(t, content, string(left))
		})
	}
	_, err := store.Open(filepath.Join(t.TempDir(), "no", "such", "folder", "ledger.db"), store.Options{})
	require.ErrorIs(t, err, os.ErrNotExist)
}

// A changed byte is found when the file is opened, or by Check, or lies where nothing is kept; no crash, no hang, and
// nothing that is read differs unnoticed.
func TestDamageIsAnErrorAndNoCrash(t *testing.T) {
	path := storetest.Path(t)
	l := storetest.Open(t, path, store.Options{MapSize: 1 << 20})
	list := storetest.Life(31, 8)
	now := list[len(list)-1].At
	storetest.Record(t, l, now, list...)
	whole := storetest.Dump(t, l)
	require.NoError(t, l.Close())
	good, err := os.ReadFile(path)
	require.NoError(t, err)
	r := rand.New(rand.NewPCG(31, 1))
	atOpen, byCheck, unused := 0, 0, 0
	for round := range 150 {
		bad := append([]byte(nil), good...)
		switch {
		case round%10 == 0:
			bad = bad[:r.IntN(len(bad))]
		default:
			bad[r.IntN(len(bad))] ^= 1 << r.IntN(8)
		}
		require.NoError(t, os.WriteFile(path, bad, 0o600))
		l, err := store.Open(path, store.Options{MapSize: 1 << 20})
		if err != nil {
			require.NotErrorIs(t, err, store.ErrInUse)
			atOpen++
			continue
		}
		if err := l.Check(); err != nil {
			byCheck++
		} else {
			unused++
			require.Equal(t, whole, storetest.Dump(t, l))
		}
		require.NoError(t, l.Close())
	}
	t.Logf("found at opening %d, by check %d, in unused bytes %d", atOpen, byCheck, unused)
	require.NotZero(t, atOpen)
	require.NotZero(t, byCheck)
}
