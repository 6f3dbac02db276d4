package daemon

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/store/people"
	"github.com/pottrail/pottrail/tracker"
)

// How a patient was read, in the notes of reads.
const (
	readByFinding = "find"
	readForLabels = "labels"
	readForBind   = "bind"
	readRefused   = "refused"
	readToForget  = "forget"
)

// longestWhy is the longest reason, in bytes. Pottrail default.
const longestWhy = 1000

// missing is a field that a request lacks.
func missing(field, text string) error {
	return &ask.Error{Kind: ask.Invalid, Code: string(events.CodeMissingField), Field: field, Text: text}
}

// checkReader wants to know who reads, and why.
func checkReader(by, why string) error {
	switch {
	case strings.TrimSpace(by) == "":
		return missing("by", "by: say who asks, with --by")
	case strings.TrimSpace(why) == "":
		return missing("why", "why: say what it is for, with --why, as in --why 'asked whether the result is back'; it is noted with who asked")
	case len(why) > longestWhy:
		return &ask.Error{Kind: ask.Invalid, Code: "too-long", Field: "why", Text: fmt.Sprintf("why: a sentence will do, %d bytes at most", longestWhy)}
	}
	return nil
}

// errNamesPatient refuses a reason in which the patient's own identifiers stand.
func errNamesPatient() error {
	return &ask.Error{Kind: ask.Invalid, Code: string(events.CodeIdentifiersInText), Field: "why",
		Text: "why holds the patient's own name, birth date or number: say it without, it is kept when the record is destroyed"}
}

// FindPeople finds patients; see [ask.People]. That somebody looked is noted even if nobody was found, but not for whom.
func (s *Service) FindPeople(_ context.Context, r ask.FindRequest) (*ask.FindAnswer, error) {
	if err := checkReader(r.By, r.Why); err != nil {
		return nil, err
	}
	q := people.Query{RecordNumber: r.Number, NationalNumber: r.Number}
	if r.Number == "" {
		if r.Family == "" || r.BirthDate == "" {
			return nil, missing("family", "give the family name and the birth date together, or a number: one of them alone fits too many")
		}
		if _, err := tracker.ParseDate(r.BirthDate); err != nil {
			return nil, &ask.Error{Kind: ask.Invalid, Code: string(events.CodeBadDate), Field: "birth_date", Text: "birth_date is no day; write it as 1961-02-14"}
		}
		q = people.Query{Family: r.Family, BirthDate: r.BirthDate}
	}
	if asked := people.Person(ask.Patient{Family: r.Family, BirthDate: r.BirthDate, RecordNumber: r.Number, NationalNumber: r.Number}); asked.Mentions(r.Why) {
		return nil, errNamesPatient()
	}
	found, err := s.people.file.Find(q)
	if err != nil {
		return nil, err
	}
	answer := &ask.FindAnswer{At: time.Now(), Found: []ask.Found{}}
	var refs []string
	for _, f := range found {
		if f.Person.Mentions(r.Why) {
			return nil, errNamesPatient()
		}
		cases, err := s.casesOf(f.Ref, answer.At)
		if err != nil {
			return nil, err
		}
		refs = append(refs, f.Ref)
		answer.Found = append(answer.Found, ask.Found{Ref: f.Ref, Patient: ask.Patient(f.Person), Cases: cases})
	}
	if len(refs) == 0 {
		refs = []string{""}
	}
	return answer, s.noteReads(answer.At, ask.Read{By: r.By, Station: r.Station, How: readByFinding, Why: r.Why}, refs...)
}

// noteReads notes who reads whom; what cannot be noted is not shown.
func (s *Service) noteReads(at time.Time, read ask.Read, refs ...string) error {
	notes := make([]people.Read, len(refs))
	for i, ref := range refs {
		notes[i] = people.Read{At: at.UTC().Truncate(time.Second), By: read.By, Station: read.Station, Ref: ref, How: read.How, Why: read.Why}
	}
	if err := s.people.file.NoteReads(notes...); err != nil {
		s.log.Error("a read of patients could not be noted, so it was not answered", "how", read.How, "error", err.Error())
		return &ask.Error{Kind: ask.Unavailable, Code: "not-noted", Text: "who reads a patient's record is noted, and that failed: nothing is shown until it works; the daemon's log says more"}
	}
	return nil
}

// noteReadsOf is noteReads for the patients of things; each is noted once, and so is who asks for the same again at once.
func (s *Service) noteReadsOf(at time.Time, read ask.Read, names []tracker.Name) error {
	var refs []string
	for _, name := range names {
		snapshot, ok, err := s.ledger.Snapshot(name.Case())
		if err != nil {
			return err
		}
		if ok && !slices.Contains(refs, snapshot.Summary.Patient) {
			refs = append(refs, snapshot.Summary.Patient)
		}
	}
	fresh := s.lately.fresh(at, read, refs)
	if err := s.noteReads(at, read, fresh...); err != nil {
		s.lately.forget(read, fresh)
		return err
	}
	return nil
}

// sameRead is how long the same person may be shown the same again for it to count as one read: a label is drawn to see
// whether it fits, and then for good. Pottrail default.
const sameRead = time.Minute

// mostLately is how many reads are remembered for that; with more, one may be noted twice.
const mostLately = 10_000

// lately knows the reads of the last minute.
type lately struct {
	mu    sync.Mutex
	noted map[ask.Read]time.Time // without their instants
}

// fresh lists the refs whose read is not noted yet, and takes it that they will be.
func (l *lately) fresh(at time.Time, read ask.Read, refs []string) []string {
	l.mu.Lock()
	defer l.mu.Unlock()
	maps.DeleteFunc(l.noted, func(_ ask.Read, noted time.Time) bool { return at.Sub(noted) >= sameRead })
	if l.noted == nil || len(l.noted)+len(refs) > mostLately {
		l.noted = map[ask.Read]time.Time{}
	}
	var out []string
	for _, ref := range refs {
		read.At, read.Ref = time.Time{}, ref
		if _, known := l.noted[read]; !known {
			l.noted[read] = at
			out = append(out, ref)
		}
	}
	return out
}

// forget takes reads back that could not be noted.
func (l *lately) forget(read ask.Read, refs []string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for _, ref := range refs {
		read.At, read.Ref = time.Time{}, ref
		delete(l.noted, read)
	}
}

// casesOf says where the cases of a patient stand.
func (s *Service) casesOf(ref string, now time.Time) ([]ask.FoundCase, error) {
	all, err := s.ledger.CasesOf(ref)
	if err != nil {
		return nil, err
	}
	out := []ask.FoundCase{}
	for _, snapshot := range all {
		j, err := s.judged(snapshot, now)
		if err != nil {
			return nil, err
		}
		c := ask.FoundCase{Name: j.Summary.Name, Zone: s.rules(j.Summary.Name.Clinic()).Zone().String(), Step: j.Summary.Step, Closed: j.Summary.Closed, Last: j.Summary.Last}
		for i, f := range j.Findings.Flags {
			if c.Worst == nil || tracker.CompareFlags(f, *c.Worst) < 0 {
				c.Worst = &j.Findings.Flags[i]
			}
		}
		out = append(out, c)
	}
	return out, nil
}

// Reads lists who was shown what; see [ask.People].
func (s *Service) Reads(_ context.Context, r ask.ReadsRequest) (*ask.ReadsAnswer, error) {
	ref := r.Ref
	if r.Case != "" {
		var err error
		if ref, err = s.patientOf(r.Case); err != nil {
			return nil, err
		}
	}
	list, dropped, err := s.people.file.Reads(ref, r.Limit)
	if err != nil {
		return nil, err
	}
	answer := &ask.ReadsAnswer{Reads: []ask.Read{}, Dropped: dropped}
	for _, read := range list {
		answer.Reads = append(answer.Reads, ask.Read(read))
	}
	return answer, nil
}

// patientOf is the ref of the patient of a case, or of what belongs to one.
func (s *Service) patientOf(text string) (string, error) {
	item, err := tracker.ParseItem(text)
	if err != nil {
		return "", ask.CodeFault("case", err)
	}
	name := item.Name.Case()
	if name == "" {
		return "", &ask.Error{Kind: ask.Invalid, Code: "no-case", Field: "case", Text: item.Name.Printed() + " is no case: a bag holds pots of many patients"}
	}
	snapshot, ok, err := s.ledger.Snapshot(name)
	if err != nil {
		return "", err
	}
	if !ok || snapshot.Summary.Patient == "" {
		return "", s.notKnown(name)
	}
	return snapshot.Summary.Patient, nil
}

// RotateKey changes the master key; see [ask.People].
func (s *Service) RotateKey(_ context.Context, r ask.RotateKeyRequest) (*ask.RotateKeyAnswer, error) {
	err := s.people.file.Rotate(r.To)
	switch {
	case errors.Is(err, people.ErrKeyGiven):
		return nil, &ask.Error{Kind: ask.Conflict, Code: "key-given", Field: "to",
			Text: "the master key is given to the daemon and cannot be replaced where it is: name a new file with --new-key-file, and give that one from the next start on"}
	case errors.Is(err, fs.ErrExist):
		return nil, &ask.Error{Kind: ask.Conflict, Code: "exists", Field: "to", Text: r.To + " is there already, and no key is ever written over: name another file"}
	case err != nil:
		return nil, err
	}
	s.log.Info("the master key of the people file was changed", "by", r.By)
	if err := s.settleKeys(); err != nil {
		return nil, err
	}
	n, err := s.people.file.Count()
	if err != nil {
		return nil, err
	}
	return &ask.RotateKeyAnswer{KeyFile: s.people.file.KeyFile(), People: n, Moved: r.To != ""}, nil
}

// settleKeys ends a change of keys: what waits for printers and PINs are sealed under the new one, and then the old one goes.
func (s *Service) settleKeys() error {
	key, err := s.people.file.DerivedKey(keyPrinting)
	if err == nil {
		err = s.printing.queue.Rekey(key)
	}
	if err == nil {
		key, err = s.people.file.DerivedKey(keyStaff)
	}
	if err == nil {
		err = s.staff.file.Rekey(key)
	}
	if err == nil {
		err = s.people.file.Settle()
	}
	if err != nil {
		return fmt.Errorf("the master key was changed, and the old one is still in the key file; the next start takes it out: %w", err)
	}
	return nil
}
