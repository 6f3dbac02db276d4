package say

import (
	"fmt"
	"strings"
	"time"

	"github.com/pottrail/pottrail/tracker"
)

// Event says what an event records, without its items: "taken over at the hatch, 2 counted, intact".
func Event(e *tracker.Event, zone *time.Location) string {
	p := &phrase{zone: zone}
	switch f := e.Data.(type) {
	case *tracker.CaseOpened, *tracker.CaseAmended, *tracker.PatientChecked, *tracker.LabelPrinted, *tracker.LabelSpoiled,
		*tracker.LabelBound, *tracker.PieceTaken, *tracker.PiecePotted, *tracker.PotFilled, *tracker.SpecimenImaged,
		*tracker.AdequacyChecked, *tracker.MarkerPlaced, *tracker.PotSealed, *tracker.ProcedureEnded, *tracker.RoomCleared,
		*tracker.PotRelabelled:
		p.room(f)
	case *tracker.BagPacked, *tracker.BagOpened, *tracker.CustodyTaken, *tracker.PotLost, *tracker.PotFound,
		*tracker.PotDiscarded, *tracker.LabAccessioned, *tracker.LabQueried, *tracker.LabRefused, *tracker.LabOpened,
		*tracker.LabLoaded, *tracker.LabReferred, *tracker.LabReturned, *tracker.StudiesAdded:
		p.way(f)
	default:
		p.answer(f)
	}
	if len(p.parts) == 0 {
		return string(e.Kind)
	}
	return strings.Join(p.parts, ", ")
}

// phrase gathers the parts of a sentence.
type phrase struct {
	zone  *time.Location
	parts []string
}

func (p *phrase) add(format string, args ...any) {
	p.parts = append(p.parts, fmt.Sprintf(format, args...))
}

// maybe adds a part when its one argument says something.
func (p *phrase) maybe(format string, arg any) {
	switch v := arg.(type) {
	case string:
		if v == "" {
			return
		}
	case *string:
		if v == nil {
			return
		}
		arg = *v
	case tracker.Name:
		if v == "" {
			return
		}
		arg = v.Printed()
	case float64:
		if v == 0 {
			return
		}
	case *float64:
		if v == nil {
			return
		}
		arg = *v
	case *int:
		if v == nil {
			return
		}
		arg = *v
	case int:
		if v == 0 {
			return
		}
	case []string:
		if len(v) == 0 {
			return
		}
		arg = strings.Join(v, ", ")
	case time.Time:
		if v.IsZero() {
			return
		}
		arg = Instant(v, p.zone, time.Time{})
	}
	p.add(format, arg)
}

func printed(names []tracker.Name) string {
	words := make([]string, len(names))
	for i, n := range names {
		words[i] = n.Printed()
	}
	return strings.Join(words, ", ")
}

func ids(results []tracker.EventID) string { return Count(len(results), "result") }
