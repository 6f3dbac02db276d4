package daemon

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/google/uuid"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/people"
	"github.com/pottrail/pottrail/store/prints"
	"github.com/pottrail/pottrail/tracker"
)

// Forget destroys a patient's record; see [ask.People]. The cases stay, without a name: a note in each says when and why.
func (s *Service) Forget(ctx context.Context, r ask.ForgetRequest) (*ask.ForgetAnswer, error) {
	if err := checkReader(r.By, r.Why); err != nil {
		return nil, err
	}
	ref, err := s.toForget(r)
	if err != nil {
		return nil, err
	}
	answer := &ask.ForgetAnswer{Ref: ref, At: time.Now(), KeyKept: s.people.file.KeyGiven()}
	patient, ok, err := s.people.get(ref)
	switch {
	case errors.Is(err, people.ErrSealed): // it can be destroyed all the same
	case err != nil:
		return nil, err
	case !ok:
		return nil, s.nobody(ref)
	case people.Person(patient).Mentions(r.Why):
		return nil, errNamesPatient()
	}
	if answer.Cases, err = s.casesOf(ref, answer.At); err != nil {
		return nil, err
	}
	for _, c := range answer.Cases {
		if !c.Closed {
			answer.Open++
		}
	}
	answer.Backups = s.backups.oldBackups(answer.At)
	if err := s.noteReads(answer.At, ask.Read{By: r.By, Station: r.Station, How: readToForget, Why: r.Why}, ref); err != nil {
		return nil, err
	}
	if r.Look {
		answer.Patient = patient
		return answer, nil
	}
	if answer.Open > 0 && !r.EvenOpen {
		return nil, &ask.Error{Kind: ask.Conflict, Code: "case-open", Field: "even_open",
			Text: openCases(answer) + ": whoever looks for the patient of a pot would find none, and no label could be printed. Close first, or say --even-open"}
	}
	return answer, s.destroy(ctx, r, answer)
}

// toForget finds the ref of whom a request is about. A number that two records have is not guessed at.
func (s *Service) toForget(r ask.ForgetRequest) (string, error) {
	switch {
	case r.Case != "":
		return s.patientOf(r.Case)
	case r.Ref != "":
		return r.Ref, nil
	case r.Number == "":
		return "", missing("case", "say whose record: a case, a ref, or the record number")
	}
	found, err := s.people.file.Find(people.Query{RecordNumber: r.Number, NationalNumber: r.Number})
	switch {
	case err != nil:
		return "", err
	case len(found) == 0:
		return "", &ask.Error{Kind: ask.NotFound, Code: "nobody", Field: "number", Text: "nobody here has this number"}
	case len(found) > 1:
		return "", &ask.Error{Kind: ask.Conflict, Code: "several", Field: "number",
			Text: fmt.Sprintf("%d records here have this number: name one of the patient's cases; `pottrail people find --number` lists them", len(found))}
	}
	return found[0].Ref, nil
}

// nobody says that a ref has no record, and since when if it was destroyed.
func (s *Service) nobody(ref string) error {
	since, gone, err := s.people.file.Forgotten(ref)
	if err != nil {
		return err
	}
	if gone {
		return &ask.Error{Kind: ask.Conflict, Code: "destroyed", Field: "ref", Text: "this patient's record was destroyed on " + since.Format("2 January 2006") + " already"}
	}
	return &ask.Error{Kind: ask.NotFound, Code: "nobody", Field: "ref", Text: "no patient's record is kept here under this ref: it is where the case was opened"}
}

// errDestroyed says why a thing's label cannot be printed any more.
func errDestroyed(name tracker.Name, since time.Time) error {
	return &ask.Error{Kind: ask.Conflict, Code: "patient-destroyed", Field: "items",
		Text: name.Case().Printed() + ": its patient's record was destroyed here on " + since.Format("2 January 2006") + ", so a label would lack both identifiers and is not printed: " +
			"who it is about can only be found where the request came from"}
}

// openCases names the open cases.
func openCases(a *ask.ForgetAnswer) string {
	var names []string
	for _, c := range a.Cases {
		if !c.Closed {
			names = append(names, c.Name.Printed())
		}
	}
	if len(names) == 1 {
		return names[0] + " is open"
	}
	return strings.Join(names, ", ") + " are open"
}

// destroy does what was asked for: labels that wait are taken back, the record goes, the keys change, and each case says so.
func (s *Service) destroy(ctx context.Context, r ask.ForgetRequest, answer *ask.ForgetAnswer) error {
	var err error
	if answer.CalledOff, err = s.callOffLabels(ctx, r, answer.Cases); err != nil {
		return fmt.Errorf("labels that wait for a printer: %w", err)
	}
	notes, err := notesOfForgetting(r, answer)
	if err != nil {
		return err
	}
	if answer.Done, err = s.people.file.Forget(answer.Ref, answer.At, notes...); err != nil {
		return err
	}
	s.log.Info("a patient's record was destroyed", "ref", answer.Ref, "by", r.By, "cases", len(answer.Cases))
	return errors.Join(s.settleKeys(), s.sayForgotten(ctx))
}

// callOffLabels takes back labels of the cases that wait for a printer.
func (s *Service) callOffLabels(ctx context.Context, r ask.ForgetRequest, cases []ask.FoundCase) (n int, err error) {
	waiting, err := s.printing.queue.Jobs(prints.Filter{State: prints.Queued, Open: true})
	if err != nil {
		return 0, err
	}
	for _, job := range waiting {
		for _, c := range cases {
			if job.Name == "" || job.Name.Case() != c.Name {
				continue
			}
			if _, err := s.CallOff(ctx, ask.CallOffRequest{Job: job.ID, By: r.By, Station: r.Station}); err != nil && ask.KindOf(err) != ask.Conflict {
				return n, err // a conflict: it has left meanwhile
			}
			n++
		}
	}
	return n, nil
}

// notesOfForgetting makes the event for each case that says that its patient's record was destroyed. They are kept in the
// same step in which it is, so that a daemon that is killed right then says it at its next start, and once.
func notesOfForgetting(r ask.ForgetRequest, answer *ask.ForgetAnswer) (notes [][]byte, err error) {
	const said = "The patient's record was destroyed here: "
	for _, c := range answer.Cases {
		note := events.Encode(&tracker.Event{ID: tracker.EventID(uuid.Must(uuid.NewV7()).String()), Kind: tracker.KindNoteAdded, Clinic: c.Name.Clinic(), At: answer.At, By: r.By, Station: r.Station,
			Items: []tracker.Item{{Name: c.Name}}, Entered: tracker.EnteredTyped, Data: &tracker.NoteAdded{Text: said + r.Why}})
		if _, err := events.Decode(note); err != nil {
			return nil, refusalAsError(events.AsRefusal(err))
		}
		notes = append(notes, note)
	}
	return notes, nil
}

// sayForgotten records the notes of destroyed records that are not in the ledger yet.
func (s *Service) sayForgotten(ctx context.Context) error {
	s.saying.Lock()
	defer s.saying.Unlock()
	notes, err := s.people.file.Unsaid()
	if err != nil {
		return err
	}
	for now := time.Now(); len(notes) > 0; {
		n := min(len(notes), batchEvents)
		batch := make([]store.Intake, n)
		for i, note := range notes[:n] {
			e, err := events.Decode(note)
			if err != nil {
				return refusalAsError(events.AsRefusal(err))
			}
			batch[i] = store.Intake{Event: e, SentAt: now}
		}
		verdicts, err := s.intake.submit(ctx, batch)
		if err != nil {
			return fmt.Errorf("the record is destroyed, and its cases do not say so before the next start: %w", err)
		}
		for _, v := range verdicts {
			if !v.OK {
				return refusalAsError(v.Error)
			}
		}
		if err := s.people.file.Said(n); err != nil {
			return err
		}
		notes = notes[n:]
	}
	return nil
}

// backupsKept is how long nightly backups stay: the longest that one of them is kept, in days. Zero: none are made by the
// daemon itself.
type backupsKept struct {
	folder string
	days   int
}

// oldBackups says how long backups made before can still show a patient.
func (k backupsKept) oldBackups(at time.Time) string {
	const day = "2 January 2006"
	before := "made before " + at.Format("15:04 on "+day)
	key := "Whoever has one together with a copy of the master key of that time can read it"
	if k.days == 0 {
		return "Backups and copies of people.db " + before + " still hold the sealed record. " + key + ": it is gone when the last of them is deleted or, at once, when every copy of that key is."
	}
	return "Nightly backups in " + k.folder + " " + before + " still hold the sealed record, the last of them until " + at.AddDate(0, 0, k.days+1).Format(day) + " if one is made each night until then; backups made by hand and copies elsewhere until they are deleted. " +
		key + "; destroy the copies of that key, and it is gone at once."
}
