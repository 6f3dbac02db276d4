package people_test

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/store/people"
)

var someDay = time.Date(2026, 3, 6, 12, 0, 0, 0, time.UTC)

// Where a child process is to change keys, how, and at which step it kills itself.
const (
	childFolder = "POTTRAIL_TEST_PEOPLE"
	childChange = "POTTRAIL_TEST_CHANGE"
	childStep   = "POTTRAIL_TEST_STEP"
)

func TestMain(m *testing.M) {
	if folder := os.Getenv(childFolder); folder != "" {
		if err := changeAndDie(folder, os.Getenv(childChange), os.Getenv(childStep)); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(2)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// changeAndDie changes keys in a folder and is killed as kill -9 does when a step is done.
func changeAndDie(folder, change, at string) error {
	f, err := people.Open(filepath.Join(folder, "people.db"), filepath.Join(folder, "people.key"), people.Options{})
	if err != nil {
		return err
	}
	f.OnStep(func(done string) {
		if done == at {
			if me, err := os.FindProcess(os.Getpid()); err == nil {
				_ = me.Kill()
			}
			select {}
		}
	})
	if change == "forget" {
		_, err = f.Forget(childRef, someDay, []byte("one case"), []byte("another"))
	} else {
		err = f.Rotate("")
	}
	if err != nil {
		return err
	}
	return f.Settle()
}

const childRef = "0123456789abcdef0123456789abcdef"

// A change of keys that is killed at any step leaves a file that opens, with all that must be in it, and whose print queue's
// key is at hand; and it can be done to its end afterwards.
func TestAChangeOfKeysKilledAtEachStep(t *testing.T) {
	for _, change := range []string{"rotate", "forget"} {
		for _, step := range []string{"copied", "keys written", "renamed", "synced", "opened", "settled", "none"} {
			t.Run(change+", "+step, func(t *testing.T) {
				at := newPlace(t)
				f := at.open(t, people.Options{})
				other := ref(t)
				second := people.Person{Family: "Ruddock", Given: "Tam", BirthDate: "1950-11-30", RecordNumber: "HX-1200"}
				require.NoError(t, f.Put(childRef, ada()))
				require.NoError(t, f.Put(other, second))
				require.NoError(t, f.KeepRefused(people.Refused{Data: []byte("rang Mr Ruddock")}))
				require.NoError(t, f.NoteReads(people.Read{At: someDay, By: "nurse.osei", Ref: other, How: "find"}))
				queue, err := f.DerivedKey("print queue")
				require.NoError(t, err)
				require.NoError(t, f.Close())
				before, err := os.ReadFile(at.key)
				require.NoError(t, err)

				cmd := exec.Command(os.Args[0])
				cmd.Env = append(os.Environ(), childFolder+"="+filepath.Dir(at.file), childChange+"="+change, childStep+"="+step)
				out, err := cmd.CombinedOutput()
				if step == "none" {
					require.NoError(t, err, string(out))
				} else {
					require.ErrorContains(t, err, "killed", string(out))
				}

				f = at.open(t, people.Options{})
				p, ok, err := f.Get(other)
				require.NoError(t, err)
				require.True(t, ok && p == second)
				found, err := f.Find(people.Query{RecordNumber: "hx 1200"})
				require.NoError(t, err)
				require.Len(t, found, 1)
				refused, _, err := f.Refused(0)
				require.NoError(t, err)
				require.Len(t, refused, 1)
				reads, _, err := f.Reads("", 0)
				require.NoError(t, err)
				require.Len(t, reads, 1)
				_, gone, err := f.Forgotten(childRef)
				require.NoError(t, err)
				_, ok, err = f.Get(childRef)
				require.NoError(t, err)
				require.Equal(t, !gone, ok, "there, or known to be destroyed")
				say, err := f.Unsaid()
				require.NoError(t, err)
				if gone {
					require.Equal(t, [][]byte{[]byte("one case"), []byte("another")}, say, "and what is to be said of it")
					require.NoError(t, f.Said(1))
				} else {
					require.Empty(t, say)
				}
				switch step {
				case "copied", "keys written":
					require.True(t, ok, "nothing has happened yet")
				default:
					require.Equal(t, change == "rotate", ok)
				}
				keys, err := f.DerivedKeys("print queue")
				require.NoError(t, err)
				if step != "settled" && step != "none" {
					require.Contains(t, keys, queue, "what waits for a printer can still be read")
				}
				require.NoError(t, f.Settle())
				require.NoError(t, f.Rotate(""))
				require.NoError(t, f.Settle())
				if say, err = f.Unsaid(); gone {
					require.Equal(t, [][]byte{[]byte("another")}, say, "what was not said yet outlives a change of keys")
				}
				require.NoError(t, err)
				after, err := os.ReadFile(at.key)
				require.NoError(t, err)
				require.Equal(t, 1, strings.Count(string(after), "\n")-1, "one key")
				require.NotEqual(t, before, after)
				names, err := os.ReadDir(filepath.Dir(at.file))
				require.NoError(t, err)
				require.Len(t, names, 2, "nothing half written is left over")
			})
		}
	}
}

// Of two changes in a row without an end to the first, no key is lost.
func TestChangesPileUpUntilTheyAreSettled(t *testing.T) {
	at := newPlace(t)
	f := at.open(t, people.Options{})
	var queue [][]byte
	for range 3 {
		key, err := f.DerivedKey("print queue")
		require.NoError(t, err)
		queue = append(queue, key)
		require.NoError(t, f.Rotate(""))
	}
	require.NoError(t, f.Close())
	f = at.open(t, people.Options{})
	keys, err := f.DerivedKeys("print queue")
	require.NoError(t, err)
	require.Len(t, keys, 4)
	for _, key := range queue {
		require.Contains(t, keys, key)
	}
}

// Each wrapped key is another afterwards, each record the same: rotation does not touch what is sealed in them.
func TestRotationWrapsEveryKeyAnew(t *testing.T) {
	at := newPlace(t)
	f := at.open(t, people.Options{})
	refs := make([]string, 50)
	for i := range refs {
		refs[i] = ref(t)
		p := ada()
		p.RecordNumber = fmt.Sprintf("HX-%06d", i)
		require.NoError(t, f.Put(refs[i], p))
	}
	old, err := os.ReadFile(at.file)
	require.NoError(t, err)
	oldKey, err := os.ReadFile(at.key)
	require.NoError(t, err)
	require.NoError(t, f.Rotate(""))
	require.NoError(t, f.Settle())
	for i, r := range refs {
		p, ok, err := f.Get(r)
		require.NoError(t, err)
		require.True(t, ok)
		require.True(t, p.RecordNumber == fmt.Sprintf("HX-%06d", i))
	}
	require.NoError(t, f.Close())

	// The old key does not open the new file, nor the new key the old one.
	stale := newPlace(t)
	require.NoError(t, os.WriteFile(stale.key, oldKey, 0o600))
	_, err = people.Open(at.file, stale.key, people.Options{})
	require.ErrorIs(t, err, people.ErrKeyWrong)
	require.NoError(t, os.WriteFile(stale.file, old, 0o600))
	_, err = people.Open(stale.file, at.key, people.Options{})
	require.ErrorIs(t, err, people.ErrKeyWrong)
}

func TestAKeyThatIsGivenIsNeitherMadeNorReplaced(t *testing.T) {
	at := newPlace(t)
	given := people.Options{KeyGiven: true}
	_, err := people.Open(at.file, at.key, given)
	require.ErrorIs(t, err, people.ErrKeyMissing)
	_, err = os.Stat(at.key)
	require.ErrorIs(t, err, os.ErrNotExist)

	require.NoError(t, os.WriteFile(at.key, []byte(strings.Repeat("5a", 32)+"\n"), 0o440), "as systemd leaves it")
	f := at.open(t, given)
	require.True(t, f.KeyGiven())
	who := ref(t)
	require.NoError(t, f.Put(who, ada()))
	require.ErrorIs(t, f.Rotate(""), people.ErrKeyGiven)
	ok, err := f.Forget(who, someDay)
	require.NoError(t, err)
	require.True(t, ok)
	_, ok, err = f.Get(who)
	require.NoError(t, err)
	require.False(t, ok)
	text, err := os.ReadFile(at.key)
	require.NoError(t, err)
	require.Equal(t, strings.Repeat("5a", 32)+"\n", string(text), "it was not touched")

	// A new key goes into a file of its own, for whoever gives keys to give it from now on.
	fresh := at.key + ".fresh"
	require.NoError(t, f.Rotate(fresh))
	require.NoError(t, f.Settle())
	require.ErrorIs(t, f.Rotate(fresh), os.ErrExist, "no file is written over")
	require.NoError(t, f.Close())
	_, err = people.Open(at.file, at.key, given)
	require.ErrorIs(t, err, people.ErrKeyWrong)
	require.NoError(t, os.Chmod(fresh, 0o400))
	f, err = people.Open(at.file, fresh, given)
	require.NoError(t, err)
	require.NoError(t, f.Close())
}

func TestWhoseAKeyFileMayBe(t *testing.T) {
	const me, root, other = 1000, 0, 1001
	for name, row := range map[string]struct {
		mode  os.FileMode
		owner int
		given bool
		want  error
	}{
		"mine alone":             {0o600, me, false, nil},
		"mine, read-only":        {0o400, me, false, nil},
		"my group reads it":      {0o640, me, false, people.ErrKeyMode},
		"everybody reads it":     {0o604, me, false, people.ErrKeyMode},
		"everybody may write it": {0o602, me, false, people.ErrKeyMode},
		"another's":              {0o600, other, false, people.ErrKeyOwner},
		"root's":                 {0o600, root, false, people.ErrKeyOwner},
		"given, root's, this user let in by list": {0o440, root, true, nil},
		"given, mine":                   {0o400, me, true, nil},
		"given, another's":              {0o440, other, true, people.ErrKeyOwner},
		"given, everybody reads it":     {0o444, root, true, people.ErrKeyMode},
		"given, its group may write it": {0o460, root, true, people.ErrKeyMode},
	} {
		t.Run(name, func(t *testing.T) {
			err := people.CheckKeyFile(row.mode, row.owner, me, row.given)
			if row.want == nil {
				require.NoError(t, err)
				return
			}
			require.ErrorIs(t, err, row.want)
		})
	}
	at := newPlace(t)
	require.NoError(t, at.open(t, people.Options{}).Close())
	if os.Geteuid() == 0 { // only root can give a file away
		require.NoError(t, os.Chown(at.key, other, other))
		_, err := people.Open(at.file, at.key, people.Options{})
		require.ErrorIs(t, err, people.ErrKeyOwner)
		require.ErrorContains(t, err, "chown")
	}
	require.NoError(t, os.Remove(at.key))
	require.NoError(t, os.Mkdir(at.key, 0o700))
	_, err := people.Open(at.file, at.key, people.Options{})
	require.ErrorIs(t, err, people.ErrKeyWrong)
}

func TestReadsAreSealedCappedAndListed(t *testing.T) {
	at := newPlace(t)
	f := at.open(t, people.Options{ReadsCount: 5})
	for i := range 4 {
		require.NoError(t, f.NoteReads(
			people.Read{At: someDay.Add(time.Duration(i) * time.Minute), By: "nurse.osei", Station: "desk", Ref: fmt.Sprint("ref-", i), How: "find", Why: "asked at the counter"},
			people.Read{At: someDay, By: "dr.varga", How: "refused"}))
	}
	list, dropped, err := f.Reads("", 0)
	require.NoError(t, err)
	require.Len(t, list, 5)
	require.EqualValues(t, 3, dropped)
	require.Equal(t, "dr.varga", list[0].By, "the latest first")
	list, _, err = f.Reads("ref-3", 1)
	require.NoError(t, err)
	require.Equal(t, []people.Read{{At: someDay.Add(3 * time.Minute), By: "nurse.osei", Station: "desk", Ref: "ref-3", How: "find", Why: "asked at the counter"}}, list)
	require.NoError(t, f.Rotate(""))
	list, dropped, err = f.Reads("", 0)
	require.NoError(t, err)
	require.Len(t, list, 5)
	require.EqualValues(t, 3, dropped)
	require.NoError(t, f.Close())
	raw, err := os.ReadFile(at.file)
	require.NoError(t, err)
	require.NotContains(t, string(raw), "nurse.osei")
	require.NotContains(t, string(raw), "counter")
}
