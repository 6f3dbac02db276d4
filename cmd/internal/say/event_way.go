package say

import (
	"strings"

	"github.com/pottrail/pottrail/tracker"
)

// way says what happened on the way and at the laboratory.
func (p *phrase) way(fact tracker.Fact) {
	switch f := fact.(type) {
	case *tracker.BagPacked:
		p.add("packed: %s", printed(f.Pots))
	case *tracker.BagOpened:
		if len(f.Pots) == 0 {
			p.add("bag opened, nothing in it")
			return
		}
		p.add("bag opened, found: %s", printed(f.Pots))
	case *tracker.CustodyTaken:
		p.add("taken over at %s", f.Place)
		p.maybe("held by %s", f.Holder)
		p.maybe("%d counted", f.Count)
		p.maybe("%g °C", f.TemperatureC)
		p.maybe("%s", f.Condition)
		p.maybe("consignment %s", f.Reference)
	case *tracker.PotLost:
		p.add("cannot be found")
		p.maybe("%s", f.Place)
		p.maybe("%s", f.Why)
	case *tracker.PotFound:
		p.add("found again")
		p.maybe("%s", f.Place)
		p.maybe("%s", f.Why)
	case *tracker.PotDiscarded:
		p.add("discarded")
		p.maybe("%s", f.Place)
		p.maybe("%s", f.Why)
	case *tracker.LabAccessioned:
		p.add("accessioned as %s", f.Number)
	case *tracker.LabQueried:
		p.add("the laboratory asks: %s", f.Why)
		p.maybe("needs %s", f.Needs)
	case *tracker.LabRefused:
		p.add("refused by the laboratory: %s", f.Why)
		p.maybe("%s", f.Note)
	case *tracker.LabOpened:
		p.add("opened for description")
		p.maybe("%d counted", f.Pieces)
	case *tracker.LabLoaded:
		p.add("on the processor")
		p.maybe("run %s", f.Run)
		p.maybe("leaves formalin %s", f.LeavesFormalin)
	case *tracker.LabReferred:
		p.add("sent on to %s", f.To)
		p.maybe("%s", f.What)
		p.maybe("due %s", f.Due)
	case *tracker.LabReturned:
		p.add("back from %s", f.To)
	case *tracker.StudiesAdded:
		p.add("also asked for: %s", strings.Join(f.Studies, ", "))
	}
}

// answer says what happened to the answer, and after.
func (p *phrase) answer(fact tracker.Fact) {
	switch f := fact.(type) {
	case *tracker.ResultIssued:
		p.add("%s result", f.Stage)
		p.maybe("%s", f.Category)
		p.maybe("on %s", f.Studies)
		if f.Critical {
			p.add("critical")
		}
		p.maybe("by %s", f.Via)
	case *tracker.ResultSeen:
		p.add("read: %s", ids(f.Results))
	case *tracker.CaseDiscussed:
		p.add("discussed: %s, plan %s", f.Concordance, f.Plan)
	case *tracker.PatientTold:
		p.add("patient told: %s", f.How)
	case *tracker.CaseClosed:
		p.add("closed: %s", f.Outcome)
		p.maybe("%s", f.Why)
	case *tracker.CaseReopened:
		p.add("opened again: %s", f.Why)
	case *tracker.ClockPaused:
		p.add("clock paused: %s", f.Why)
		p.maybe("until %s", f.Until)
	case *tracker.ClockResumed:
		p.add("clock goes on: %s", f.Why)
	case *tracker.ChaseLogged:
		p.add("called: %s", f.Asked)
		p.maybe("answer: %s", f.Answer)
		p.maybe("ask again %s", f.Next)
	case *tracker.FlagAnswered:
		p.add("%s answered: %s", f.Flag, f.Done)
	case *tracker.NoteAdded:
		p.add("note: %s", f.Text)
	case *tracker.EventStruck:
		p.add("an event struck: %s", f.Why)
	case *tracker.ProtocolAdopted:
		p.add("protocol adopted, %.12s…", f.SHA256)
	}
}
