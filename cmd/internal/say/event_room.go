package say

import (
	"strings"

	"github.com/pottrail/pottrail/tracker"
)

// room says what happened before and in the room.
func (p *phrase) room(fact tracker.Fact) {
	switch f := fact.(type) {
	case *tracker.CaseOpened:
		p.add("case opened, %s", f.Priority)
		for _, l := range f.Lesions {
			p.lesion(l)
		}
		p.add("%s planned", Count(len(f.Pots), "pot"))
		p.maybe("for %s", f.Planned)
		p.maybe("in %s", f.Room)
		p.maybe("repeat of %s", f.RepeatOf)
		p.maybe("hazard: %s", f.Hazard)
	case *tracker.CaseAmended:
		p.add("request amended: %s", f.Why)
		p.maybe("priority %s", f.Priority)
		p.maybe("in %s", f.Room)
		for _, l := range f.Lesions {
			p.lesion(l)
		}
		if f.Pots != nil {
			p.add("%s planned", Count(len(f.Pots), "pot"))
		}
		if f.Patient != nil {
			p.add("another patient")
		}
	case *tracker.PatientChecked:
		p.add("patient checked by %s", strings.Join(f.Identifiers, ", "))
		p.maybe("confirmed: %s", f.Confirmed)
		p.maybe("with %s", f.With)
		p.maybe("in %s", f.Room)
	case *tracker.LabelPrinted:
		p.add("label printed, copy %s", f.Copy)
		p.maybe("in place of copy %s", f.Replaces.String())
		p.maybe("on %s", f.Printer)
		if f.Layout == tracker.LayoutDowntime {
			p.add("for a downtime roll")
		}
	case *tracker.LabelSpoiled:
		p.add("label copy %s destroyed: %s", f.Copy, f.Why)
	case *tracker.LabelBound:
		p.add("its label stands for %s", f.To.Printed())
	case *tracker.PieceTaken:
		p.add("%s taken", f.What)
		p.maybe("pass %d", f.Pass)
		p.maybe("cut from %s", f.From)
		p.maybe("%g gauge", f.Gauge)
		p.maybe("%g mm", f.LengthMM)
		p.maybe("%s", f.Look)
		p.maybe("lesion %s", f.Lesion)
		p.maybe("collected by %s", f.Collector)
	case *tracker.PiecePotted:
		p.add("into its pot")
		p.maybe("pot %s", f.Pot)
		p.maybe("%s", f.Medium)
	case *tracker.PotFilled:
		p.add("filled with %s", f.Medium)
		p.maybe("%g mL", f.VolumeML)
		p.maybe("lot %s", f.Lot)
	case *tracker.SpecimenImaged:
		p.add("specimen radiograph: calcium %s", f.Calcium)
	case *tracker.AdequacyChecked:
		if f.Adequate != nil && *f.Adequate {
			p.add("adequate under the microscope")
		} else {
			p.add("not adequate under the microscope")
		}
		p.maybe("%s", f.Text)
	case *tracker.MarkerPlaced:
		p.add("marker placed in lesion %s", f.Lesion)
		p.maybe("%s", f.Type)
	case *tracker.PotSealed:
		p.add("sealed, label read back with %s", f.ReadBackWith)
		p.maybe("%d read aloud", f.Pieces)
	case *tracker.ProcedureEnded:
		p.add("procedure ended: %s", f.Outcome)
		p.maybe("%s", f.Why)
		p.maybe("unused: %s", f.Unused)
	case *tracker.RoomCleared:
		p.add("%s cleared", f.Room)
	case *tracker.PotRelabelled:
		p.add("what is in it belongs to %s from now on: %s", f.New.Printed(), f.Why)
		p.maybe("witness %s", f.Witness)
	}
}

func (p *phrase) lesion(l tracker.Lesion) {
	words := []string{l.Side, l.Organ}
	if l.Side == "" {
		words = words[1:]
	}
	if l.Position != "" {
		words = append(words, l.Position)
	}
	p.add("%s", strings.Join(words, " "))
}
