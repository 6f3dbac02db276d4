package daemon

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/config"
	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/store/people"
)

// fileKey holds the master key of the people file, beside it and not in it, unless it is kept elsewhere.
const fileKey = "people.key"

// patients is the sealed people file as the daemon needs it.
type patients struct{ file *people.File }

func openPeople(f folder, o config.People) (patients, error) {
	key := o.KeyFile
	if key == "" {
		key = f.path(fileKey)
	}
	file, err := people.Open(f.path(filePeople), key, people.Options{KeyGiven: o.KeyGiven})
	if err != nil {
		return patients{}, fmt.Errorf("%s: %w", f.path(filePeople), err)
	}
	return patients{file}, nil
}

// Close closes the file.
func (p patients) Close() error { return p.file.Close() }

// ref is the ref of a patient who is known by number, family name and birth date all at once, else a new one. One number
// with another name or birth date may be a slip or another clinic's: it is never guessed that they are one person.
func (p patients) ref(patient ask.Patient) (ref string, known bool, err error) {
	found, err := p.file.Find(people.Query{RecordNumber: patient.RecordNumber, NationalNumber: patient.NationalNumber})
	if err != nil {
		return "", false, err
	}
	for _, f := range found {
		same := strings.EqualFold(f.Person.Family, patient.Family) && f.Person.BirthDate == patient.BirthDate &&
			f.Person.RecordNumber == patient.RecordNumber && f.Person.NationalNumber == patient.NationalNumber
		if same {
			return f.Ref, true, nil
		}
	}
	ref, err = people.NewRef()
	return ref, false, err
}

func (p patients) put(ref string, patient ask.Patient) error {
	err := p.file.Put(ref, people.Person(patient))
	switch {
	case errors.Is(err, people.ErrNoSpace):
		return &ask.Error{Kind: ask.NoSpace, Code: string(events.CodeNoSpace), Text: "there is no space left for the patients' records: nothing of this was recorded; make space, then do it again"}
	case errors.Is(err, people.ErrFatal):
		return errUnknown
	}
	return err
}

// get gives a patient back; ok is false when the ref is not known here, or was destroyed.
func (p patients) get(ref string) (patient ask.Patient, ok bool, err error) {
	person, ok, err := p.file.Get(ref)
	return ask.Patient(person), ok, err
}

// mentions reports whether a text holds the patient's own identifiers.
func (p patients) mentions(ref, text string) (bool, error) { return p.file.Mentions(ref, text) }

// keepRefused keeps a refused message, up to the file's cap.
func (p patients) keepRefused(at time.Time, raw []byte, reason *events.Refusal) error {
	return p.file.KeepRefused(people.Refused{At: at, Code: string(reason.Code), Field: reason.Field, Text: reason.Text, Data: raw})
}

// refused lists what was kept, the latest first.
func (p patients) refused() (*ask.RefusedAnswer, error) {
	list, dropped, err := p.file.Refused(0)
	if err != nil {
		return nil, err
	}
	answer := &ask.RefusedAnswer{Refused: []ask.Refused{}, Dropped: dropped}
	for _, r := range list {
		answer.Refused = append(answer.Refused, ask.Refused(r))
	}
	return answer, nil
}
