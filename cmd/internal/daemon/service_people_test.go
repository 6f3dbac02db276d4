package daemon

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/store/people"
	"github.com/pottrail/pottrail/store/prints"
	"github.com/pottrail/pottrail/tracker"
)

var halvorsen = ask.FindRequest{Family: "HALVORSEN", BirthDate: "1961-02-14", By: "nurse.osei", Station: "desk", Why: "asked whether the result is back"}

// codeOf is the word of a refusal.
func codeOf(t *testing.T, err error) string {
	t.Helper()
	var e *ask.Error
	require.ErrorAs(t, err, &e)
	require.NotContains(t, e.Text, "Halvorsen")
	require.NotContains(t, e.Text, "40118223")
	return e.Code
}

func TestFindingAPatientSaysWhereTheCasesStandAndIsNoted(t *testing.T) {
	r := newRoom(t)
	other := r.newPot(t) // the same patient again
	answer, err := r.service.FindPeople(t.Context(), halvorsen)
	require.NoError(t, err)
	require.Len(t, answer.Found, 1)
	require.Equal(t, "Ingrid", answer.Found[0].Patient.Given)
	require.Len(t, answer.Found[0].Cases, 2)
	require.Equal(t, tracker.Name(r.pot).Case(), answer.Found[0].Cases[0].Name)
	require.Equal(t, tracker.Name(other).Case(), answer.Found[0].Cases[1].Name)
	require.Equal(t, "Europe/London", answer.Found[0].Cases[0].Zone)

	byNumber := halvorsen
	byNumber.Family, byNumber.BirthDate, byNumber.Number = "", "", "401 18223"
	answer, err = r.service.FindPeople(t.Context(), byNumber)
	require.NoError(t, err)
	require.Len(t, answer.Found, 1)
	stranger := halvorsen
	stranger.Family = "Ruddock"
	none, err := r.service.FindPeople(t.Context(), stranger)
	require.NoError(t, err)
	require.Empty(t, none.Found)

	reads, err := r.service.Reads(t.Context(), ask.ReadsRequest{})
	require.NoError(t, err)
	require.Len(t, reads.Reads, 3)
	require.Equal(t, ask.Read{At: reads.Reads[0].At, By: "nurse.osei", Station: "desk", How: "find", Why: "asked whether the result is back"}, reads.Reads[0], "nobody was found, and whom was looked for is not kept")
	require.Equal(t, answer.Found[0].Ref, reads.Reads[1].Ref)
	ofOne, err := r.service.Reads(t.Context(), ask.ReadsRequest{Case: r.pot})
	require.NoError(t, err)
	require.Len(t, ofOne.Reads, 2)
}

func TestWhoFindsSaysWhoAndWhyWithoutTheName(t *testing.T) {
	r := newRoom(t)
	for name, row := range map[string]struct {
		change func(*ask.FindRequest)
		code   string
	}{
		"without a reason":         {func(f *ask.FindRequest) { f.Why = " " }, "missing-field"},
		"without who":              {func(f *ask.FindRequest) { f.By = "" }, "missing-field"},
		"a reason with the name":   {func(f *ask.FindRequest) { f.Why = "Mrs Halvorsen rang" }, "identifiers-in-text"},
		"a reason with her number": {func(f *ask.FindRequest) { f.Why = "number 40118223 rang" }, "identifiers-in-text"},
		"a name alone":             {func(f *ask.FindRequest) { f.BirthDate = "" }, "missing-field"},
		"a day that is none":       {func(f *ask.FindRequest) { f.BirthDate = "1961-02-30" }, "bad-date"},
	} {
		t.Run(name, func(t *testing.T) {
			request := halvorsen
			row.change(&request)
			_, err := r.service.FindPeople(t.Context(), request)
			require.Equal(t, row.code, codeOf(t, err))
		})
	}
	require.Equal(t, "[patient]", halvorsen.String())
}

// Whatever shows a patient leaves a note: labels drawn for a file, the list for a downtime label, refused messages.
func TestEveryReadOfAPatientIsNoted(t *testing.T) {
	r := newRoom(t)
	for range 3 { // at once: one read
		_, err := r.service.Labels(t.Context(), ask.LabelsRequest{Items: []string{r.pot}, Preview: true, By: "nurse.osei", Station: "room-2"})
		require.NoError(t, err)
	}
	_, err := r.service.Refused(t.Context(), ask.RefusedRequest{By: "dr.varga", Station: "desk"})
	require.NoError(t, err)
	roll, err := r.service.Reserve(t.Context(), ask.ReserveRequest{Clinic: "MBY", Count: 1})
	require.NoError(t, err)
	_, err = r.service.Labels(t.Context(), ask.LabelsRequest{Items: []string{string(roll.Cases[0])}, Roll: true})
	require.NoError(t, err)
	_, err = r.service.Print(t.Context(), ask.PrintRequest{LabelsRequest: ask.LabelsRequest{Items: []string{r.pot}}, By: "nurse.osei", Station: "room-2"})
	require.NoError(t, err)
	reads, err := r.service.Reads(t.Context(), ask.ReadsRequest{})
	require.NoError(t, err)
	var how []string
	for _, read := range reads.Reads {
		how = append(how, read.How)
	}
	require.Equal(t, []string{"refused", "labels"}, how, "a blank label shows nobody, and a print is on record as such")
}

// What is remembered of the last minute's reads has a bound, and goes with the minute.
func TestReadsOfTheLastMinuteHaveABound(t *testing.T) {
	var l lately
	at := time.Date(2026, 3, 6, 12, 0, 0, 0, time.UTC)
	read := ask.Read{By: "nurse.osei", How: readForLabels}
	require.Equal(t, []string{"a", "b"}, l.fresh(at, read, []string{"a", "b"}))
	require.Empty(t, l.fresh(at.Add(sameRead-1), read, []string{"a"}))
	l.forget(read, []string{"b"})
	require.Equal(t, []string{"b"}, l.fresh(at.Add(1), read, []string{"a", "b"}), "one that could not be noted is noted next time")
	require.Equal(t, []string{"a"}, l.fresh(at.Add(sameRead), read, []string{"a"}))
	const many = 1000
	for i := range 2 * mostLately / many {
		refs := make([]string, many)
		for j := range refs {
			refs[j] = fmt.Sprint(i, j)
		}
		require.Len(t, l.fresh(at.Add(sameRead), read, refs), many)
		require.LessOrEqual(t, len(l.noted), mostLately)
	}
}

func TestForgettingAPatient(t *testing.T) {
	r := newRoom(t)
	require.NoError(t, os.Remove(r.spool)) // the printer is out of order: the label waits
	printed, err := r.print(t)
	require.NoError(t, err)
	r.outcome(t, printed.Jobs[0].Job, ask.PrintQueued)
	keep, err := r.service.Open(t.Context(), ask.OpenRequest{Clinic: "MBY", By: "clerk.ann", Station: "desk", Patient: ask.Patient{Family: "Ruddock", Given: "Tam", BirthDate: "1950-11-30", RecordNumber: "77120"},
		Lesions: []ask.OpenLesion{{Organ: "breast", Side: "left", Position: "2 o'clock", Target: "mass", Studies: []string{"histology"}}}})
	require.NoError(t, err)
	_, err = r.service.Record(t.Context(), ask.Recording{Data: []byte(`{"kind":"note.added","data":{"text":"rang Mrs H\u0061lvorsen"}}`)})
	require.NoError(t, err)
	request := ask.ForgetRequest{Case: r.pot, By: "lead.moss", Station: "desk", Why: "request of 3 March"}

	named := request
	named.Why = "Mrs Halvorsen asked"
	_, err = r.service.Forget(t.Context(), named)
	require.Equal(t, "identifiers-in-text", codeOf(t, err))
	look := request
	look.Look = true
	answer, err := r.service.Forget(t.Context(), look)
	require.NoError(t, err)
	require.False(t, answer.Done)
	require.Equal(t, 1, answer.Open)
	require.Equal(t, "Halvorsen", answer.Patient.Family)
	_, err = r.service.Forget(t.Context(), request)
	require.Equal(t, "case-open", codeOf(t, err))

	oldKey, err := os.ReadFile(filepath.Join(r.o.Folder.Dir, fileKey))
	require.NoError(t, err)
	request.Case, request.Number, request.EvenOpen = "", "401-18223", true
	answer, err = r.service.Forget(t.Context(), request)
	require.NoError(t, err)
	require.True(t, answer.Done)
	require.Equal(t, 1, answer.CalledOff)
	require.Equal(t, ask.Patient{}, answer.Patient)
	require.Contains(t, answer.Backups, "Backups and copies of people.db made before")
	newKey, err := os.ReadFile(filepath.Join(r.o.Folder.Dir, fileKey))
	require.NoError(t, err)
	require.NotEqual(t, oldKey, newKey)

	found, err := r.service.FindPeople(t.Context(), halvorsen)
	require.NoError(t, err)
	require.Empty(t, found.Found)
	_, err = r.service.Labels(t.Context(), ask.LabelsRequest{Items: []string{r.pot}})
	require.Equal(t, "patient-destroyed", codeOf(t, err))
	require.ErrorContains(t, err, "its patient's record was destroyed here on "+time.Now().Format("2 January 2006"))
	_, err = r.print(t)
	require.Equal(t, "patient-destroyed", codeOf(t, err))
	require.Contains(t, r.outcome(t, printed.Jobs[0].Job, ask.PrintNotPrinted).Problem, "")
	refused, err := r.service.Refused(t.Context(), ask.RefusedRequest{By: "lead.moss"})
	require.NoError(t, err)
	require.Empty(t, refused.Refused, "an escaped name is a name too")
	request.Number, request.Ref = "", answer.Ref
	_, err = r.service.Forget(t.Context(), request)
	require.Equal(t, "destroyed", codeOf(t, err))

	// The trail goes on without a name, says so, and can still be proved.
	notes := r.events(t, tracker.KindNoteAdded)
	require.Len(t, notes, 1)
	require.Equal(t, "The patient's record was destroyed here: request of 3 March", notes[0].Data.(*tracker.NoteAdded).Text)
	proof, err := r.ledger.Proof(tracker.Name(r.pot), map[string]uint64{r.ledger.Origin(): r.ledger.Stats().Entries}, nil)
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(proof), 4, "opened, printed, spoiled, noted: each is in the tree")
	_, err = r.service.Labels(t.Context(), ask.LabelsRequest{Items: []string{string(keep.Case) + "-A"}})
	require.NoError(t, err, "others stay")
	reads, err := r.service.Reads(t.Context(), ask.ReadsRequest{Ref: answer.Ref})
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(reads.Reads), 2, "who read is kept")

	// The same numbers again are a new patient.
	r.newPot(t)
	again, err := r.service.FindPeople(t.Context(), halvorsen)
	require.NoError(t, err)
	require.Len(t, again.Found, 1)
	require.NotEqual(t, answer.Ref, again.Found[0].Ref)
}

// A backup made before holds what was destroyed until the last is deleted: the answer says when, if the daemon knows.
func TestHowLongBackupsHoldWhatWasDestroyed(t *testing.T) {
	at := time.Date(2026, 3, 6, 12, 0, 0, 0, time.UTC)
	require.Contains(t, backupsKept{}.oldBackups(at), "made before 12:00 on 6 March 2026 still hold the sealed record")
	require.Contains(t, backupsKept{folder: "/mnt/safe", days: 28}.oldBackups(at), "Nightly backups in /mnt/safe made before 12:00 on 6 March 2026 still hold the sealed record, the last of them until 4 April 2026 if one is made each night")
}

// Killed between destroying and noting it, the daemon notes it in each case at its next start, and once.
func TestForgettingThatWasCutShortIsNotedAtTheNextStart(t *testing.T) {
	r := newRoom(t)
	ref, err := r.service.patientOf(r.pot)
	require.NoError(t, err)
	cases, err := r.service.casesOf(ref, time.Now())
	require.NoError(t, err)
	notes, err := notesOfForgetting(ask.ForgetRequest{By: "lead.moss", Station: "desk", Why: "request of 3 March"}, &ask.ForgetAnswer{At: time.Now(), Cases: cases})
	require.NoError(t, err)
	require.Len(t, notes, 1)
	_, err = r.service.people.file.Forget(ref, time.Now(), notes...)
	require.NoError(t, err)
	require.Empty(t, r.events(t, tracker.KindNoteAdded), "the twin: nothing is noted before the start")
	for range 2 {
		r.again(t, nil)
		noted := r.events(t, tracker.KindNoteAdded)
		require.Len(t, noted, 1)
		require.Equal(t, "The patient's record was destroyed here: request of 3 March", noted[0].Data.(*tracker.NoteAdded).Text)
		require.Less(t, noted[0].Record.Skew.Abs(), time.Minute, "no clock is doubted for it")
		say, err := r.service.people.file.Unsaid()
		require.NoError(t, err)
		require.Empty(t, say)
	}
}

func TestWhomToForget(t *testing.T) {
	r := newRoom(t)
	for name, row := range map[string]struct {
		request ask.ForgetRequest
		code    string
	}{
		"nobody said":       {ask.ForgetRequest{}, "missing-field"},
		"an unknown number": {ask.ForgetRequest{Number: "1"}, "nobody"},
		"an unknown ref":    {ask.ForgetRequest{Ref: "f00"}, "nobody"},
		"an unknown case":   {ask.ForgetRequest{Case: "MBY-26-99999"}, "not-known"},
		"a bag":             {ask.ForgetRequest{Case: "MBY-26-00012-Z"}, "no-case"},
		"no code at all":    {ask.ForgetRequest{Case: "Halvorsen"}, "length"},
		"without a reason":  {ask.ForgetRequest{Case: r.pot, Why: "-"}, ""},
	} {
		t.Run(name, func(t *testing.T) {
			row.request.By, row.request.Station = "lead.moss", "desk"
			if row.request.Why == "" {
				row.request.Why = "request of 3 March"
			} else {
				row.request.Why, row.code = "", string(events.CodeMissingField)
			}
			_, err := r.service.Forget(t.Context(), row.request)
			var e *ask.Error
			require.ErrorAs(t, err, &e)
			if row.code != "length" {
				require.Equal(t, row.code, e.Code, e.Text)
			}
		})
	}
	// One number that two records have is not guessed at.
	require.NoError(t, r.service.people.put("0123456789abcdef0123456789abcdef", ask.Patient{Family: "Ruddock", Given: "Tam", BirthDate: "1950-11-30", RecordNumber: "40118223"}))
	_, err := r.service.Forget(t.Context(), ask.ForgetRequest{Number: "40118223", By: "lead.moss", Why: "request of 3 March"})
	require.Equal(t, "several", codeOf(t, err))
}

// Labels that wait when the master key is changed come out afterwards, even if the daemon is killed half-way.
func TestLabelsThatWaitOutliveAChangeOfTheKey(t *testing.T) {
	for name, change := range map[string]func(t *testing.T, r *room){
		"to its end": func(t *testing.T, r *room) {
			answer, err := r.service.RotateKey(t.Context(), ask.RotateKeyRequest{By: "lead.moss"})
			require.NoError(t, err)
			require.Equal(t, 1, answer.People)
			require.False(t, answer.Moved)
		},
		"killed before the queue was sealed anew": func(t *testing.T, r *room) {
			require.NoError(t, r.service.people.file.Rotate(""))
		},
		"killed before the old key went": func(t *testing.T, r *room) {
			require.NoError(t, r.service.people.file.Rotate(""))
			key, err := r.service.people.file.DerivedKey(keyPrinting)
			require.NoError(t, err)
			require.NoError(t, r.service.printing.queue.Rekey(key))
		},
	} {
		t.Run(name, func(t *testing.T) {
			r := newRoom(t)
			require.NoError(t, os.Remove(r.spool)) // the printer is out of order: the label waits
			answer, err := r.print(t)
			require.NoError(t, err)
			r.outcome(t, answer.Jobs[0].Job, ask.PrintQueued)
			old, err := r.service.people.file.DerivedKey(keyPrinting)
			require.NoError(t, err)
			change(t, r)
			r.again(t, func(folder string) {
				require.NoError(t, os.Mkdir(r.spool, 0o700))
			})
			r.outcome(t, answer.Jobs[0].Job, ask.PrintSent)
			keys, err := r.service.people.file.DerivedKeys(keyPrinting)
			require.NoError(t, err)
			require.Len(t, keys, 1, "the start ended the change")
			require.NotEqual(t, old, keys[0])
			r.stop()
			_, err = prints.Open(filepath.Join(r.o.Folder.Dir, filePrints), old)
			require.ErrorIs(t, err, prints.ErrKey)
		})
	}
}

func TestANewMasterKeyWhereTheOldOneIsGiven(t *testing.T) {
	r := newRoom(t)
	folder, secrets := r.o.Folder.Dir, t.TempDir()
	given, fresh := filepath.Join(secrets, "people.key"), filepath.Join(secrets, "fresh.key")
	r.stop()
	require.NoError(t, os.Rename(filepath.Join(folder, fileKey), given))
	open := func(key string) error {
		r.running.o.People.KeyFile, r.running.o.People.KeyGiven = key, true
		return r.openStores()
	}
	require.NoError(t, open(given))
	require.NoError(t, r.openIntake())
	require.NoError(t, r.openPrinting())
	_, err := r.service.RotateKey(t.Context(), ask.RotateKeyRequest{By: "lead.moss"})
	require.Equal(t, "key-given", codeOf(t, err))
	_, err = r.service.RotateKey(t.Context(), ask.RotateKeyRequest{By: "lead.moss", To: given})
	require.Equal(t, "exists", codeOf(t, err))
	answer, err := r.service.RotateKey(t.Context(), ask.RotateKeyRequest{By: "lead.moss", To: fresh})
	require.NoError(t, err)
	require.True(t, answer.Moved)
	r.stop()
	err = open(given)
	require.ErrorIs(t, err, people.ErrKeyWrong)
	require.Contains(t, Hint(err), "was the master key changed lately?")
	r.stop()
	require.NoError(t, open(fresh))
	found, err := r.service.FindPeople(t.Context(), halvorsen)
	require.NoError(t, err)
	require.Len(t, found.Found, 1)
	names, err := filepath.Glob(filepath.Join(folder, "*key*"))
	require.NoError(t, err)
	require.Empty(t, names, "no key came into the data folder")
}
