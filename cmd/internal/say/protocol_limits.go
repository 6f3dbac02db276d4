package say

import "github.com/pottrail/pottrail/tracker/protocol"

// limitWords is what a limit is about, and what it says of that.
type limitWords struct{ key, about, says string }

// limits in the order of a case's life. A test holds the list against the limits that there are.
func (w reader) limits() Section {
	s := Section{Title: "Other limits"}
	for _, l := range allLimits() {
		s.Statements = append(s.Statements, w.state("limits."+l.key, l.about, l.says, w.p.Limits[l.key].Span))
	}
	return s
}

func allLimits() []limitWords {
	return []limitWords{
		{protocol.LimitNotDone, "a case that is not begun", "said %s after its planned time"},
		{protocol.LimitCheckBefore, "identity", "checked with the patient in the %s before a label is printed"},
		{protocol.LimitLabelLeft, "a label that is on nothing", "said %s after it was printed, and when the room is cleared"},
		{protocol.LimitFixativeWatch, "a piece with no time into fixative", "watched from %s after it was taken"},
		{protocol.LimitFixativeNow, "a piece with no time into fixative, its pot open", "a matter for now from %s after it was taken"},
		{protocol.LimitRoomOpen, "a pot not sealed or a room not cleared", "said %s after the last piece"},
		{protocol.LimitCollect, "a sealed pot that nobody collected", "said %s after the round that should have taken it"},
		{protocol.LimitCollectNone, "a sealed pot that nobody collected, with no rounds written down", "said %s after sealing"},
		{protocol.LimitCollectWorse, "a sealed pot that nobody collected", "the coordinator is told too, another %s later"},
		{protocol.LimitNotAtLab, "a pot that is not at the laboratory", "said %s after its piece was taken"},
		{protocol.LimitLostClinician, "a lost pot", "the clinician is told too after %s"},
		{protocol.LimitForecastNow, "a time in fixative that will be wrong", "a matter for now from %s before the last departure that saves it"},
		{protocol.LimitFreshNow, "fresh tissue that will be late", "a matter for now from %s before the last departure that saves it"},
		{protocol.LimitLoadedNow, "a wrong time in fixative", "a matter for now for %s after loading: it may still come out"},
		{protocol.LimitNoReceipt, "a result, where no receipt is known", "due %s after its piece was taken"},
		{protocol.LimitCritical, "a critical result that nobody took on", "the coordinator is told too, %s after its day is over"},
		{protocol.LimitUnreadSerious, "a malignant or suspicious result", "read within %s"},
		{protocol.LimitUnread, "any other result", "read within %s"},
		{protocol.LimitTellWatch, "a patient who was not told", "watched from %s after the result was read"},
		{protocol.LimitTellToday, "a patient who was not told", "a matter for today from %s after the result was read"},
		{protocol.LimitPlan, "a plan that is not carried out", "said after %s"},
		{protocol.LimitUnfinished, "a case that is not closed", "said %s after the patient was told"},
		{protocol.LimitUnknown, "a thing that nobody issued", "watched, and a matter for today after %s"},
		{protocol.LimitPhone, "scans that a phone may hold back", "waited for during %s"},
		{protocol.LimitClocks, "clocks of two stations", "may differ by %s"},
		{protocol.LimitAhead, "a scan ahead of the recorder's clock", "passes up to %s"},
		{protocol.LimitSkew, "a station's clock that is off", "passes up to %s"},
	}
}
