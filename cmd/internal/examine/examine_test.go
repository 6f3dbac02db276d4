package examine_test

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/cmd/internal/examine"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/people"
	"github.com/pottrail/pottrail/store/prints"
	"github.com/pottrail/pottrail/store/staff"
	"github.com/pottrail/pottrail/store/storetest"
)

// TestMain makes the test binary stand in for a child, and for children that come to a bad end.
func TestMain(m *testing.M) {
	mode := ""
	if len(os.Args) > 1 {
		mode = os.Args[1]
	}
	const going = `{"progress":{"file":"ledger","stage":"entries","done":3000,"total":12000}}`
	switch mode {
	case examine.Hidden:
		if err := examine.Child(context.Background(), os.Stdin, os.Stdout); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
	case "killed":
		fmt.Println(going)
		_ = syscall.Kill(os.Getpid(), syscall.SIGKILL)
		select {}
	case "cut short":
		fmt.Print(going + "\n" + `{"looked":"ledger"}` + "\n" + `{"finding":{"file":"peo`)
	case "silent":
		fmt.Println(going)
		select {}
	default:
		os.Exit(m.Run())
	}
}

func program(t *testing.T, mode string) []string {
	self, err := examine.Self()
	require.NoError(t, err)
	return []string{self[0], mode}
}

// folder makes a data folder of three files, with a patient, a refused message and a label that waits.
func folder(t *testing.T) examine.Job {
	t.Helper()
	dir := t.TempDir()
	job := examine.Job{Ledger: filepath.Join(dir, "ledger.db"), People: filepath.Join(dir, "people.db"), Key: filepath.Join(dir, "people.key"), Prints: filepath.Join(dir, "prints.db"), Staff: filepath.Join(dir, "staff.db")}
	l, err := store.Open(job.Ledger, store.Options{Origin: storetest.Origin})
	require.NoError(t, err)
	list := storetest.Life(5, 3)
	storetest.Record(t, l, list[len(list)-1].At, list...)
	require.NoError(t, l.Close())
	f, err := people.Open(job.People, job.Key, people.Options{})
	require.NoError(t, err)
	ref, err := people.NewRef()
	require.NoError(t, err)
	require.NoError(t, f.Put(ref, people.Person{Family: "Wenlock", Given: "Ada", BirthDate: "1961-02-14", RecordNumber: "HX-447120"}))
	require.NoError(t, f.KeepRefused(people.Refused{Code: "bad-json", Data: []byte("Wenlock")}))
	key, err := f.DerivedKey(examine.KeyPrinting)
	require.NoError(t, err)
	forPINs, err := f.DerivedKey(examine.KeyStaff)
	require.NoError(t, err)
	require.NoError(t, f.Close())
	q, err := prints.Open(job.Prints, key)
	require.NoError(t, err)
	_, err = q.Prepare(storetest.Morning(), prints.Job{Printer: "room", Name: "MBY-26-00001-A", Copy: '1', Layout: "pot", Event: list[0].ID, By: "nurse.osei", Station: "room-1"}, []byte("a picture"))
	require.NoError(t, err)
	require.NoError(t, q.Close())
	door, err := staff.Open(job.Staff, forPINs, staff.Options{Cost: staff.Cost{Memory: 8, Time: 1, Lanes: 1}})
	require.NoError(t, err)
	require.NoError(t, door.Add(t.Context(), "nurse.osei", "844017", "admin.falk"))
	require.NoError(t, door.NoteDoubts(staff.Doubt{ID: string(list[0].ID), By: "nurse.osei"}))
	require.NoError(t, door.Close())
	return job
}

func spoil(t *testing.T, path, bucket string, value func(v []byte) []byte) {
	t.Helper()
	db, err := bolt.Open(path, 0o600, nil)
	require.NoError(t, err)
	require.NoError(t, db.Update(func(tx *bolt.Tx) error {
		b := tx.Bucket([]byte(bucket))
		key, v := b.Cursor().First()
		if value == nil {
			return b.Delete(key)
		}
		return b.Put(append([]byte{}, key...), value(append([]byte{}, v...)))
	}))
	require.NoError(t, db.Close())
}

func TestAChildFindsWhatThisProcessFinds(t *testing.T) {
	job := folder(t)
	for _, how := range [][]string{nil, program(t, examine.Hidden)} {
		r, err := examine.Run(t.Context(), how, job, nil)
		require.NoError(t, err)
		require.True(t, r.Well(), "%+v", r)
		require.True(t, r.Safe())
		require.Equal(t, []string{"ledger", "people", "prints", "staff"}, r.Looked)
	}
	flip := func(v []byte) []byte { v[len(v)-1] ^= 1; return v }
	spoil(t, job.Ledger, "tree", flip)
	here, err := examine.Run(t.Context(), nil, job, nil)
	require.NoError(t, err)
	there, err := examine.Run(t.Context(), program(t, examine.Hidden), job, func(examine.Progress) {})
	require.NoError(t, err)
	require.EqualValues(t, 1, here.Total)
	for i := range here.Findings { // which is for developers stays behind
		here.Findings[i].Detail = ""
	}
	require.Equal(t, here, there)
	require.False(t, there.Well())
	require.True(t, there.Safe())
}

// What is wrong with the files beside the ledger is said without saying who the patient is.
func TestFilesBesideTheLedger(t *testing.T) {
	flip := func(v []byte) []byte { v[len(v)-1] ^= 1; return v }
	for name, row := range map[string]struct {
		file   func(j examine.Job) string
		bucket string
		value  func(v []byte) []byte
		says   string
	}{
		"a record":                 {func(j examine.Job) string { return j.People }, "records", flip, "The record of the patient [0-9a-f]{32} cannot be opened: it or its key was changed."},
		"a record's key":           {func(j examine.Job) string { return j.People }, "keys", flip, "cannot be opened: it or its key was changed"},
		"a record without its key": {func(j examine.Job) string { return j.People }, "keys", nil, "has no key, so nobody can open it"},
		"a key without its record": {func(j examine.Job) string { return j.People }, "records", nil, "There is a key for the patient [0-9a-f]{32}, and no record."},
		"the index of patients":    {func(j examine.Job) string { return j.People }, "index", nil, "is not found by one of the numbers or names on record"},
		"a refused message":        {func(j examine.Job) string { return j.People }, "refused", flip, "Refused message 1 cannot be opened"},
		"a refused message gone":   {func(j examine.Job) string { return j.People }, "refused", nil, "The count of what the refused messages take up is wrong"},
		"a print job":              {func(j examine.Job) string { return j.Prints }, "jobs", func(v []byte) []byte { return v[:9] }, "Print job 1 cannot be read, or is in a state that there is not"},
		"a print job's picture":    {func(j examine.Job) string { return j.Prints }, "bodies", flip, "What print job 1 is to print cannot be opened"},
		"an index of print jobs":   {func(j examine.Job) string { return j.Prints }, "open", nil, "1 print jobs are missing from the index open"},
		"a print job filed wrong":  {func(j examine.Job) string { return j.Prints }, "open", func(v []byte) []byte { return append(v, 'x') }, "Print job 1 is filed as open, and is not, or otherwise"},
		"a PIN": {func(j examine.Job) string { return j.Staff }, "staff", func(v []byte) []byte { return bytes.Replace(v, []byte(`"pin":"`), []byte(`"pin":"AAAA`), 1) },
			"The PIN of nurse.osei cannot be opened"},
		"a doubt's index":   {func(j examine.Job) string { return j.Staff }, "doubted", nil, "The list of staff does not fit together: .*doubted has 0 entries, of 1"},
		"somebody of staff": {func(j examine.Job) string { return j.Staff }, "staff", func(v []byte) []byte { return v[:9] }, "The list of staff does not fit together"},
	} {
		t.Run(name, func(t *testing.T) {
			job := folder(t)
			spoil(t, row.file(job), row.bucket, row.value)
			r, err := examine.Run(t.Context(), nil, job, nil)
			require.NoError(t, err)
			require.NotZero(t, r.Total)
			require.Regexp(t, row.says, r.Findings[0].Text)
			require.NotEmpty(t, r.Findings[0].Remedy)
			for _, f := range r.Findings {
				require.NotContains(t, f.Text, "Wenlock")
				require.NotContains(t, f.Text, "447120")
			}
		})
	}
}

func TestWhatCannotBeLookedAt(t *testing.T) {
	job := folder(t)
	l, err := store.Open(job.Ledger, store.Options{})
	require.NoError(t, err)
	require.NoError(t, os.Remove(job.Key))
	r, err := examine.Run(t.Context(), program(t, examine.Hidden), job, nil)
	require.NoError(t, err)
	require.Len(t, r.Troubles, 4)
	require.ErrorIs(t, r.Troubles[0], store.ErrInUse)
	require.Equal(t, "key", r.Troubles[1].Code)
	require.False(t, r.Well())
	require.False(t, r.Safe())
	require.NoError(t, l.Close())
	require.NoError(t, os.WriteFile(job.Ledger, []byte("a shopping list"), 0o600))
	r, err = examine.Run(t.Context(), nil, examine.Job{Ledger: job.Ledger}, nil)
	require.NoError(t, err)
	require.ErrorIs(t, r.Troubles[0], store.ErrForeign)
	_, err = examine.Run(t.Context(), []string{filepath.Join(t.TempDir(), "no-such-program")}, job, nil)
	require.ErrorContains(t, err, "could not be started")
}

// A file can end whoever reads it. That is a finding, and whoever asked goes on.
func TestAChildThatComesToABadEnd(t *testing.T) {
	job := folder(t)
	for mode, says := range map[string]string{
		"killed":    "The file ledger cannot be read: the process that read it ended in the middle (signal: killed), while it looked at entries, after 3000 of 12000.",
		"cut short": "The file people cannot be read: the process that read it ended in the middle.",
		"silent":    "The file ledger cannot be read: the process that read it said nothing for 300ms and was ended, while it looked at entries, after 3000 of 12000.",
	} {
		t.Run(mode, func(t *testing.T) {
			patience := time.Minute
			if mode == "silent" {
				patience = 300 * time.Millisecond
			}
			r, err := examine.RunWithin(t.Context(), program(t, mode), job, nil, patience)
			require.NoError(t, err)
			require.True(t, r.Crashed)
			require.False(t, r.Safe())
			require.EqualValues(t, 1, r.Total)
			require.Contains(t, r.Findings[0].Text, says)
			require.Contains(t, r.Findings[0].Remedy, "Open it with nothing")
		})
	}
	gone, cancel := context.WithCancel(t.Context())
	_, err := examine.Run(gone, program(t, "silent"), job, func(examine.Progress) { cancel() })
	require.ErrorIs(t, err, context.Canceled)
}
