package staff_test

import (
	"encoding/binary"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/store/boltfile"
	"github.com/pottrail/pottrail/store/staff"
)

// used is a staff file with something of everything, closed again.
func used(t *testing.T) string {
	c := newClinic(t)
	in := c.mustSignIn(osei, room, oseis)
	c.mustSignIn(lund, room, lunds)
	c.pass(3 * time.Minute)
	require.NoError(t, c.SignOut(in.Token))
	_, _ = c.signIn(osei, hatch, "844018")
	_, _ = c.signIn(nobody, hatch, "844018")
	_, _, err := c.NewLink(staff.Station{Key: "desk-9", By: osei})
	require.NoError(t, err)
	require.NoError(t, c.NoteDoubts(staff.Doubt{ID: "0199f1c2-7b1e-7c3a-9d55-0a4c6f1e2b77", Kind: "piece.potted", By: osei, At: morning, Station: room, Recorded: morning}))
	require.NoError(t, c.Check())
	require.NoError(t, c.File.Close())
	return c.path
}

func open(path string) (*staff.File, error) {
	return staff.Open(path, key(1), (&clock{wall: morning, steady: time.Hour}).options())
}

func TestTwoCannotHaveOneStaffFile(t *testing.T) {
	c := newClinic(t)
	_, err := open(c.path)
	require.ErrorIs(t, err, staff.ErrInUse)
}

func TestALaterReleasesStaffFileIsLeftAlone(t *testing.T) {
	path := used(t)
	f, err := open(path)
	require.NoError(t, err)
	require.NoError(t, f.Spoil(func(tx *bolt.Tx) error {
		return tx.Bucket([]byte("meta")).Put([]byte("format"), binary.BigEndian.AppendUint32(nil, 99))
	}))
	require.NoError(t, f.Close())
	before, err := os.ReadFile(path)
	require.NoError(t, err)
	_, err = open(path)
	require.ErrorIs(t, err, staff.ErrNewer)
	require.ErrorContains(t, err, "format 99")
	_, err = staff.Abandon(path, key(2), staff.Options{})
	require.ErrorIs(t, err, staff.ErrNewer)
	require.ErrorIs(t, staff.CheckFile(path, time.Second), staff.ErrNewer)
	after, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, before, after)
}

// What is no staff file, or what is left of one, is an error in a sentence and never the end of the program, as long as its
// pages hang together; where they do not, `pottrail fsck` says so out of a process of its own.
func TestWhatIsNoStaffFileIsSaidToBeNone(t *testing.T) {
	whole, err := os.ReadFile(used(t))
	require.NoError(t, err)
	try := func(name string, raw []byte) error {
		path := filepath.Join(t.TempDir(), "staff.db")
		require.NoError(t, os.WriteFile(path, raw, 0o600))
		walk, err := boltfile.WalkPages(t.Context(), path, nil)
		require.NoError(t, err)
		if name == "spoiled" && walk.Pages != nil { // bbolt may read and write anywhere over pages that lead astray: that is for a process of its own
			return walk.Pages
		}
		_ = staff.CheckFile(path, time.Second)
		f, err := open(path)
		if err == nil { // what was damaged lies elsewhere, or nowhere
			_, _ = f.People()
			_, _ = f.Stations()
			_, _ = f.Sessions(true, 0)
			_, _, _ = f.Doubts(0)
			_, _ = f.SignIn(t.Context(), "no such key", osei, oseis)
			_, _ = f.WasSignedIn(osei, room, morning)
			_ = f.Add(t.Context(), "clerk.ann", "a PIN of hers", "")
			_ = f.Close()
			return nil
		}
		require.Regexp(t, `^open staff file .+: .+`, err.Error(), name)
		return err
	}
	require.NoError(t, try("whole", whole))
	require.ErrorIs(t, try("empty", nil), staff.ErrForeign)
	require.ErrorIs(t, try("text", []byte("room-2: 3 labels\n")), staff.ErrForeign)
	require.ErrorIs(t, try("a picture of nothing", make([]byte, 64<<10)), staff.ErrForeign)
	for n := 1; n < 16; n++ {
		_ = try("the beginning", whole[:len(whole)*n/16])
	}
	require.Error(t, try("one page", whole[:4096]))
	r := rand.New(rand.NewPCG(7, 7))
	failed := 0
	for range 300 {
		spoiled := append([]byte(nil), whole...)
		for range 1 + r.IntN(8) {
			spoiled[r.IntN(len(spoiled))] ^= byte(1 + r.IntN(255))
		}
		if try("spoiled", spoiled) != nil {
			failed++
		}
	}
	t.Logf("of 300 spoiled files %d were refused at opening", failed)
}

// An entry or index that does not fit is found by a check, which says where.
func TestWhatDoesNotFitIsFound(t *testing.T) {
	first := func(tx *bolt.Tx, bucket string) ([]byte, []byte) { return tx.Bucket([]byte(bucket)).Cursor().First() }
	for name, spoil := range map[string]func(tx *bolt.Tx) error{
		"somebody is no JSON": func(tx *bolt.Tx) error { return tx.Bucket([]byte("staff")).Put([]byte(osei), []byte(`{"key":`)) },
		"somebody is another": func(tx *bolt.Tx) error {
			b := tx.Bucket([]byte("staff"))
			return b.Put([]byte(osei), append([]byte(nil), b.Get([]byte(lund))...))
		},
		"a count is below nought": func(tx *bolt.Tx) error {
			k, _ := first(tx, "tries")
			return tx.Bucket([]byte("tries")).Put(append([]byte(nil), k...), []byte(`{"wrong":-1}`))
		},
		"a session is missing":     func(tx *bolt.Tx) error { k, _ := first(tx, "sessions"); return tx.Bucket([]byte("sessions")).Delete(k) },
		"a session's token is":     func(tx *bolt.Tx) error { k, _ := first(tx, "tokens"); return tx.Bucket([]byte("tokens")).Delete(k) },
		"a stretch is missing":     func(tx *bolt.Tx) error { k, _ := first(tx, "signed"); return tx.Bucket([]byte("signed")).Delete(k) },
		"an open one is not noted": func(tx *bolt.Tx) error { k, _ := first(tx, "open"); return tx.Bucket([]byte("open")).Delete(k) },
		"one too many is":          func(tx *bolt.Tx) error { return tx.Bucket([]byte("open")).Put([]byte{0, 0, 0, 0, 0, 0, 0, 99}, nil) },
		"a station has no key":     func(tx *bolt.Tx) error { k, _ := first(tx, "keys"); return tx.Bucket([]byte("keys")).Delete(k) },
		"a key has no station":     func(tx *bolt.Tx) error { return tx.Bucket([]byte("stations")).Delete([]byte(room)) },
		"a link is of none": func(tx *bolt.Tx) error {
			k, _ := first(tx, "links")
			return tx.Bucket([]byte("links")).Put(append([]byte(nil), k...), []byte(`{}`))
		},
		"a doubt is missing":    func(tx *bolt.Tx) error { k, _ := first(tx, "doubts"); return tx.Bucket([]byte("doubts")).Delete(k) },
		"an end is not counted": func(tx *bolt.Tx) error { return tx.Bucket([]byte("meta")).Delete([]byte("ended")) },
	} {
		path := used(t)
		require.NoError(t, staff.CheckFile(path, time.Second))
		db, err := bolt.Open(path, 0o600, nil)
		require.NoError(t, err)
		require.NoError(t, db.Update(spoil), name)
		require.NoError(t, db.Close())
		require.ErrorIs(t, staff.CheckFile(path, time.Second), staff.ErrDamaged, name)
	}
}

func TestAClosedStaffFileSaysSo(t *testing.T) {
	f, err := open(used(t))
	require.NoError(t, err)
	require.NoError(t, f.Close())
	require.NoError(t, f.Close())
	_, err = f.People()
	require.ErrorIs(t, err, staff.ErrClosed)
	require.ErrorIs(t, f.Add(t.Context(), "clerk.ann", "a PIN of hers", ""), staff.ErrClosed)
	_, err = f.WasSignedIn(osei, room, morning)
	require.ErrorIs(t, err, staff.ErrClosed)
}

// PINs are sealed: a copy of the file shows no hash, and opens with its key alone. Without it, all but the PINs stays.
func TestWithoutTheKeyNoPINIsTriedOut(t *testing.T) {
	path := used(t)
	raw, err := os.ReadFile(path)
	require.NoError(t, err)
	for _, secret := range []string{"argon2id", oseis, lunds} {
		require.NotContains(t, string(raw), secret)
	}
	_, err = staff.Open(path, key(2), staff.Options{})
	require.ErrorIs(t, err, staff.ErrKey)
	_, err = staff.Open(path, key(2)[:31], staff.Options{})
	require.ErrorIs(t, err, staff.ErrKey)

	c := &clinic{t: t, path: path, clock: &clock{wall: morning.Add(time.Hour), steady: time.Hour}, keys: map[string]string{}}
	f, err := staff.Abandon(path, key(2), c.options())
	require.NoError(t, err)
	c.File = f
	people, err := c.People()
	require.NoError(t, err)
	require.True(t, people[0].NoPIN)
	require.True(t, c.InForce())
	c.enrol(room, true)
	_, err = c.signIn(osei, room, oseis)
	require.ErrorIs(t, err, staff.ErrRefused)
	require.NoError(t, c.SetPIN(t.Context(), osei, oseis, "admin.falk"))
	c.mustSignIn(osei, room, oseis)
	require.NoError(t, c.Rekey(key(3)))
	c.pass(time.Second)
	c.mustSignIn(osei, room, oseis)
	require.ErrorIs(t, c.Rekey(key(3)[:31]), staff.ErrKey)
	require.NoError(t, c.File.Close())
	_, err = staff.Open(path, key(2), staff.Options{})
	require.ErrorIs(t, err, staff.ErrKey)
	f, err = staff.Open(path, key(3), c.options())
	require.NoError(t, err)
	c.File = f
	c.mustSignIn(osei, room, oseis)
	require.NoError(t, f.Close())
}
