package people_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/store/people"
)

// ada is an invented patient, as all people here are.
func ada() people.Person {
	return people.Person{Family: "Wenlock", Given: "Ada Maud", BirthDate: "1961-02-14", RecordNumber: "HX-447120",
		NationalNumber: "943 476 5919", Address: "12 Sedge Row, Marram Bay", Telephone: "+44 1632 960 117"}
}

type place struct{ file, key string }

func newPlace(t *testing.T) place {
	folder := t.TempDir()
	return place{filepath.Join(folder, "people.db"), filepath.Join(folder, "people.key")}
}

func (p place) open(t *testing.T, o people.Options) *people.File {
	t.Helper()
	f, err := people.Open(p.file, p.key, o)
	require.NoError(t, err)
	t.Cleanup(func() { _ = f.Close() })
	return f
}

func ref(t *testing.T) string {
	t.Helper()
	made, err := people.NewRef()
	require.NoError(t, err)
	return made
}

func TestARecordIsThereAfterReopening(t *testing.T) {
	at := newPlace(t)
	f := at.open(t, people.Options{})
	who := ref(t)
	require.NoError(t, f.Put(who, ada()))
	require.NoError(t, f.Close())

	f = at.open(t, people.Options{})
	p, ok, err := f.Get(who)
	require.NoError(t, err)
	require.True(t, ok)
	require.True(t, p == ada(), "the record came back as it was")
	_, ok, err = f.Get(ref(t))
	require.NoError(t, err)
	require.False(t, ok, "a ref that nobody has")
}

func TestFilesAreTheirOwnersAlone(t *testing.T) {
	at := newPlace(t)
	at.open(t, people.Options{})
	for _, path := range []string{at.file, at.key} {
		info, err := os.Stat(path)
		require.NoError(t, err)
		require.Equal(t, os.FileMode(0o600), info.Mode().Perm(), filepath.Base(path))
	}
}

func TestNothingOfAPersonIsInTheFileInClear(t *testing.T) {
	at := newPlace(t)
	f := at.open(t, people.Options{})
	p := ada()
	require.NoError(t, f.Put(ref(t), p))
	require.NoError(t, f.KeepRefused(people.Refused{Code: "identifiers-in-text", Data: []byte(`{"text":"rang Mrs Wenlock"}`)}))
	require.NoError(t, f.Close())
	raw, err := os.ReadFile(at.file)
	require.NoError(t, err)
	for _, secret := range []string{p.Family, p.Given, p.BirthDate, p.RecordNumber, "447120", p.NationalNumber, "Sedge", "960 117", "wenlock"} {
		require.False(t, bytes.Contains(raw, []byte(secret)), "the file holds a part of a record in clear")
	}
}

func TestAPersonNeverPrints(t *testing.T) {
	p := ada()
	var logged bytes.Buffer
	slog.New(slog.NewJSONHandler(&logged, nil)).Info("opened", "who", p)
	slog.New(slog.NewTextHandler(&logged, nil)).Info("opened", "who", &p)
	asJSON, err := json.Marshal(people.Found{Ref: "r", Person: p})
	require.NoError(t, err)
	for _, said := range []string{fmt.Sprint(p), fmt.Sprintf("%s %q %v %+v %#v %x", p, p, p, p, p, p), fmt.Sprintf("%+v", &p),
		fmt.Sprintf("%+v", people.Found{Person: p}), fmt.Sprintf("%+v", people.Query{Family: p.Family, RecordNumber: p.RecordNumber}),
		logged.String(), string(asJSON)} {
		require.Contains(t, said, "[patient]")
		for _, secret := range []string{"Wenlock", "Ada", "1961", "447120", "943", "Sedge", "960"} {
			require.NotContains(t, said, secret)
		}
	}
}

func TestFindingAPatient(t *testing.T) {
	f := newPlace(t).open(t, people.Options{})
	who := ref(t)
	require.NoError(t, f.Put(who, ada()))
	require.NoError(t, f.Put(ref(t), people.Person{Family: "Wenlock", Given: "Ivo", BirthDate: "1990-07-01", RecordNumber: "HX-447121"}))
	for name, row := range map[string]struct {
		q     people.Query
		found int
	}{
		"by record number, spelled otherwise": {people.Query{RecordNumber: "hx 447120"}, 1},
		"by national number":                  {people.Query{NationalNumber: "9434765919"}, 1},
		"by name and birth date":              {people.Query{Family: "WENLOCK", BirthDate: "1961-02-14"}, 1},
		"by name alone: not enough":           {people.Query{Family: "Wenlock"}, 0},
		"by nothing":                          {people.Query{}, 0},
		"a stranger":                          {people.Query{RecordNumber: "HX-1"}, 0},
	} {
		t.Run(name, func(t *testing.T) {
			found, err := f.Find(row.q)
			require.NoError(t, err)
			require.Len(t, found, row.found)
			if row.found == 1 {
				require.Equal(t, who, found[0].Ref)
			}
		})
	}
	changed := ada()
	changed.RecordNumber = "HX-900000"
	require.NoError(t, f.Put(who, changed))
	found, err := f.Find(people.Query{RecordNumber: "HX-447120"})
	require.NoError(t, err)
	require.Empty(t, found, "a corrected number is not found by what it was")
}

func TestForgettingDestroysOneRecord(t *testing.T) {
	at := newPlace(t)
	f := at.open(t, people.Options{})
	who, other := ref(t), ref(t)
	second := people.Person{Family: "Ruddock", Given: "Tam", BirthDate: "1950-11-30", RecordNumber: "HX-1200"}
	require.NoError(t, f.Put(who, ada()))
	require.NoError(t, f.Put(other, second))
	require.NoError(t, f.KeepRefused(people.Refused{Data: []byte("rang Mrs Wenlock")}))
	require.NoError(t, f.KeepRefused(people.Refused{Data: []byte("rang Mr Ruddock")}))
	oldKey, err := os.ReadFile(at.key)
	require.NoError(t, err)
	oldFile, err := os.ReadFile(at.file)
	require.NoError(t, err)

	ok, err := f.Forget(who, time.Unix(1_700_000_000, 0))
	require.NoError(t, err)
	require.True(t, ok)
	require.NoError(t, f.Settle())
	check := func() {
		_, ok, err = f.Get(who)
		require.NoError(t, err)
		require.False(t, ok)
		found, err := f.Find(people.Query{RecordNumber: "HX-447120"})
		require.NoError(t, err)
		require.Empty(t, found)
		p, ok, err := f.Get(other)
		require.NoError(t, err)
		require.True(t, ok && p == second, "others stay")
		found, err = f.Find(people.Query{RecordNumber: "HX-1200"})
		require.NoError(t, err)
		require.Len(t, found, 1)
		refused, dropped, err := f.Refused(0)
		require.NoError(t, err)
		require.Len(t, refused, 1)
		require.Equal(t, "rang Mr Ruddock", string(refused[0].Data))
		require.EqualValues(t, 1, dropped)
	}
	check()
	require.NoError(t, f.Close())
	f = at.open(t, people.Options{})
	check()

	key, err := os.ReadFile(at.key)
	require.NoError(t, err)
	require.NotEqual(t, oldKey, key, "the key that the old file could be opened with is gone")
	leftovers, err := filepath.Glob(filepath.Join(filepath.Dir(at.file), "*new*"))
	require.NoError(t, err)
	require.Empty(t, leftovers)
	again, err := f.Forget(who, time.Unix(1_700_000_000, 0))
	require.NoError(t, err)
	require.False(t, again)
	since, gone, err := f.Forgotten(who)
	require.NoError(t, err)
	require.True(t, gone)
	require.Equal(t, time.Unix(1_700_000_000, 0).UTC(), since)
	require.ErrorIs(t, f.Put(who, ada()), people.ErrForgotten)

	// Cut short before the files changed places: both keys, the old file. It opens, and the record is still there.
	require.NoError(t, f.Close())
	require.NoError(t, os.WriteFile(at.file, oldFile, 0o600))
	require.NoError(t, os.WriteFile(at.key, append(bytes.Clone(key), oldKey...), 0o600))
	f = at.open(t, people.Options{})
	p, ok, err := f.Get(who)
	require.NoError(t, err)
	require.True(t, ok && p == ada())
	require.NoError(t, f.Settle())
	restored, err := os.ReadFile(at.key)
	require.NoError(t, err)
	require.Equal(t, oldKey, restored, "only the key that opens the file is left")
}

func TestAKeyThatOthersCanReadIsNotUsed(t *testing.T) {
	at := newPlace(t)
	require.NoError(t, at.open(t, people.Options{}).Close())
	require.NoError(t, os.Chmod(at.key, 0o640))
	_, err := people.Open(at.file, at.key, people.Options{})
	require.ErrorIs(t, err, people.ErrKeyMode)
	require.ErrorContains(t, err, "chmod 600")
}

func TestALostKeyIsNotReplaced(t *testing.T) {
	at := newPlace(t)
	require.NoError(t, at.open(t, people.Options{}).Close())
	require.NoError(t, os.Remove(at.key))
	_, err := people.Open(at.file, at.key, people.Options{})
	require.ErrorIs(t, err, people.ErrKeyMissing)
	_, err = os.Stat(at.key)
	require.ErrorIs(t, err, os.ErrNotExist)
}

func TestAnotherFilesKeyOpensNothing(t *testing.T) {
	at, other := newPlace(t), newPlace(t)
	require.NoError(t, at.open(t, people.Options{}).Close())
	require.NoError(t, other.open(t, people.Options{}).Close())
	_, err := people.Open(at.file, other.key, people.Options{})
	require.ErrorIs(t, err, people.ErrKeyWrong)
}

func TestForeignAndDamagedFilesAreRefused(t *testing.T) {
	for name, content := range map[string]string{"text": strings.Repeat("not a file of ours\n", 2000), "empty pages": strings.Repeat("\x00", 32768)} {
		t.Run(name, func(t *testing.T) {
			at := newPlace(t)
			require.NoError(t, os.WriteFile(at.file, []byte(content), 0o600))
			require.NoError(t, os.WriteFile(at.key, []byte(strings.Repeat("ab", 32)+"\n"), 0o600))
			_, err := people.Open(at.file, at.key, people.Options{})
			require.ErrorIs(t, err, people.ErrForeign)
			left, err := os.ReadFile(at.file)
			require.NoError(t, err)
			require.Equal(t, content, string(left), "it was not touched")
		})
	}
	at := newPlace(t)
	at.open(t, people.Options{})
	_, err := people.Open(at.file, at.key, people.Options{Timeout: time.Millisecond})
	require.ErrorIs(t, err, people.ErrInUse)
}

func TestRefusedMessagesAreCapped(t *testing.T) {
	f := newPlace(t).open(t, people.Options{RefusedCount: 5, RefusedBytes: 4096})
	for i := range 12 {
		require.NoError(t, f.KeepRefused(people.Refused{At: time.Unix(int64(i), 0).UTC(), Code: "bad-json", Text: "no", Data: fmt.Appendf(nil, "message %d", i)}))
	}
	list, dropped, err := f.Refused(0)
	require.NoError(t, err)
	require.Len(t, list, 5)
	require.EqualValues(t, 7, dropped)
	require.Equal(t, "message 11", string(list[0].Data), "the latest first")
	require.Equal(t, time.Unix(11, 0).UTC(), list[0].At)
	list, _, err = f.Refused(2)
	require.NoError(t, err)
	require.Len(t, list, 2)

	for range 6 {
		require.NoError(t, f.KeepRefused(people.Refused{Code: "too-large", Data: bytes.Repeat([]byte("x"), 1500)}))
	}
	list, dropped, err = f.Refused(0)
	require.NoError(t, err)
	require.Less(t, len(list), 3, "two of them fill the cap of bytes")
	require.EqualValues(t, 18-len(list), dropped)
	require.NoError(t, f.KeepRefused(people.Refused{Code: "too-large", Data: bytes.Repeat([]byte("x"), 5000)}))
	list, _, err = f.Refused(1)
	require.NoError(t, err)
	require.Equal(t, "too-large", list[0].Code)
	require.Empty(t, list[0].Data, "one over the cap is kept without its data")
}

func TestTextThatNamesThePatient(t *testing.T) {
	white := people.Person{Family: "White", Given: "Rose"}
	for _, row := range []struct {
		who  people.Person
		text string
		want bool
	}{
		{ada(), "rang Mrs Wenlock, no answer", true},
		{ada(), "WENLOCK's sister rang", true},
		{ada(), "Wénlock", true},
		{ada(), "patient anxious, Ada by name", false},
		{ada(), "see HX447120", true},
		{ada(), "see hx-447120.", true},
		{ada(), "lab number 9HX447120", false},
		{ada(), "lab number HX4471203", false},
		{ada(), "943-476-5919", true},
		{ada(), "9434765919", true},
		{ada(), "94347659190", false},
		{ada(), "born 14/02/1961", true},
		{ada(), "born 14.2.61", true},
		{ada(), "born 1961-02-14", true},
		{ada(), "born 14th of February 1961", true},
		{ada(), "Feb 14, 1961", true},
		{ada(), "19610214", true},
		{ada(), "the lesion at 14 mm, 2 of 61 slides", false},
		{ada(), "14/02 was a Saturday", false},
		{ada(), "rang 01632 960117", true},
		{ada(), "rang 01632 960118", false},
		{ada(), "lives at 12 Sedge Row", true},
		{ada(), "12 cores, one pot", false},
		{ada(), "", false},
		{white, "firm white core, 14 mm", false},
		{white, "White plastic pot", false},
		{white, "rang Mrs White", true},
		{white, "rose white", true},
		{people.Person{Family: "O'Brien"}, "told OBrien", true},
		{people.Person{Family: "O'Brien"}, "told o’brien’s wife", true},
		{people.Person{Family: "Harrow-Linnet"}, "told Ms Linnet", true},
		{people.Person{Family: "van der Wick"}, "the van was late", false},
		{people.Person{Family: "Müller"}, "mull it over", false},
		{people.Person{}, "anything", false},
	} {
		require.Equal(t, row.want, row.who.Mentions(row.text), "%q", row.text)
	}
	f := newPlace(t).open(t, people.Options{})
	who := ref(t)
	require.NoError(t, f.Put(who, ada()))
	yes, err := f.Mentions(who, "rang Mrs Wenlock")
	require.NoError(t, err)
	require.True(t, yes)
	yes, err = f.Mentions("nobody", "rang Mrs Wenlock")
	require.NoError(t, err)
	require.False(t, yes)
}

func FuzzMentionsNeverPanics(f *testing.F) {
	f.Add("Wenlock", "rang Mrs Wenlock", "1961-02-14")
	f.Add("’", "'s ’ 14th of", "--")
	f.Fuzz(func(t *testing.T, family, text, date string) {
		p := people.Person{Family: family, Given: text, BirthDate: date, RecordNumber: text, Telephone: text, Address: text}
		p.Mentions(text)
	})
}
