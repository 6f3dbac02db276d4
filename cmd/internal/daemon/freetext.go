package daemon

import (
	"fmt"

	"github.com/pottrail/pottrail/tracker"
)

// sentence is a text that a person wrote freely, and where it stands in its event.
type sentence struct {
	field string
	text  string
}

// freeText lists what a person wrote freely in an event, where a patient's name may slip in. Keys, codes, numbers and
// words of closed lists are not in it: a record number may be part of an accession number by chance.
func freeText(fact tracker.Fact) []sentence {
	var found []sentence
	add := func(field, text string) {
		if text != "" {
			found = append(found, sentence{"data." + field, text})
		}
	}
	switch f := fact.(type) {
	case *tracker.CaseOpened:
		add("clinical", f.Clinical)
		for i, l := range f.Lesions {
			add(fmt.Sprintf("lesions[%d].position", i), l.Position)
			add(fmt.Sprintf("lesions[%d].imaging", i), l.Imaging)
		}
	case *tracker.CaseAmended:
		if f.Clinical != nil {
			add("clinical", *f.Clinical)
		}
		for i, l := range f.Lesions {
			add(fmt.Sprintf("lesions[%d].position", i), l.Position)
			add(fmt.Sprintf("lesions[%d].imaging", i), l.Imaging)
		}
		add("why", f.Why)
	case *tracker.LabelSpoiled:
		add("why", f.Why)
	case *tracker.AdequacyChecked:
		add("text", f.Text)
	case *tracker.MarkerPlaced:
		add("type", f.Type)
	case *tracker.ProcedureEnded:
		add("why", f.Why)
	case *tracker.PotRelabelled:
		add("why", f.Why)
	case *tracker.CustodyTaken:
		add("reference", f.Reference)
	case *tracker.PotLost:
		add("why", f.Why)
		add("place", f.Place)
	case *tracker.PotFound:
		add("why", f.Why)
		add("place", f.Place)
	case *tracker.PotDiscarded:
		add("why", f.Why)
		add("place", f.Place)
	case *tracker.LabQueried:
		add("why", f.Why)
		add("needs", f.Needs)
	case *tracker.LabRefused:
		add("note", f.Note)
	default:
		freeAnswer(fact, add)
	}
	return found
}

// freeAnswer does the kinds of the answer, and after.
func freeAnswer(fact tracker.Fact, add func(field, text string)) {
	switch f := fact.(type) {
	case *tracker.ResultIssued:
		add("category", f.Category)
		add("text", f.Text)
		add("report", f.Report)
		add("given_by", f.GivenBy)
	case *tracker.CaseClosed:
		add("why", f.Why)
	case *tracker.CaseReopened:
		add("why", f.Why)
	case *tracker.ClockPaused:
		add("why", f.Why)
	case *tracker.ClockResumed:
		add("why", f.Why)
	case *tracker.ChaseLogged:
		add("asked", f.Asked)
		add("answer", f.Answer)
	case *tracker.FlagAnswered:
		add("done", f.Done)
	case *tracker.NoteAdded:
		add("text", f.Text)
	case *tracker.EventStruck:
		add("why", f.Why)
	}
}
