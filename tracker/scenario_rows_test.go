package tracker_test

import (
	"slices"
	"strings"

	"github.com/pottrail/pottrail/tracker"
)

// rows are the rows of page 3's tables. What must be seen of a flag in the scenarios about it:
//
//	raised    a line expects it
//	absent    a line says that it is not there, before it is or in a story where it never is
//	cleared   it was there and then is not, and nobody answered it
//	changed   its severity, or whose it is, changes
//	answered  flag.answered settles it
//	held      another holds it back; the pairs are in holds
//
// Each is raised, absent and cleared, and what is named here.
var rows = map[tracker.FlagKind]string{
	tracker.FlagFixativeTimeMissing: "changed answered held",
	tracker.FlagColdIschaemiaLong:   "changed answered",
	tracker.FlagContainerWrong:      "changed",
	tracker.FlagMediumExpired:       "answered",
	tracker.FlagMediumScant:         "",
	tracker.FlagPiecesFew:           "changed held",
	tracker.FlagPiecesPoor:          "changed",
	tracker.FlagSideMismatch:        "",
	tracker.FlagLabelBeforeCheck:    "changed answered",
	tracker.FlagLabelLeftOver:       "",
	tracker.FlagLabelSuperseded:     "answered",
	tracker.FlagLabelOutdated:       "",
	tracker.FlagRoomShared:          "",
	tracker.FlagRoomOpen:            "",
	tracker.FlagReadBackMissing:     "changed answered",
	tracker.FlagPiecesDiffer:        "changed answered",
	tracker.FlagCaseNotDone:         "",

	tracker.FlagCollectionLate:   "changed held",
	tracker.FlagHandoffGap:       "held",
	tracker.FlagNotAtLab:         "held",
	tracker.FlagBagShort:         "changed answered",
	tracker.FlagBagExtra:         "changed answered",
	tracker.FlagBagUnfit:         "",
	tracker.FlagCustodyBroken:    "changed answered",
	tracker.FlagWrongDestination: "answered",
	tracker.FlagPotLost:          "changed",
	tracker.FlagPotDamaged:       "answered",
	tracker.FlagFreshLate:        "changed held",

	tracker.FlagFixationWillBeShort: "changed held",
	tracker.FlagFixationWillBeLong:  "changed held",
	tracker.FlagFixationShort:       "changed answered",
	tracker.FlagFixationLong:        "changed answered",

	tracker.FlagLabQueried:       "",
	tracker.FlagLabRefused:       "",
	tracker.FlagReferralLate:     "",
	tracker.FlagResultOverdue:    "changed held",
	tracker.FlagResultCritical:   "changed",
	tracker.FlagResultUnread:     "held",
	tracker.FlagResultChanged:    "",
	tracker.FlagSampleInadequate: "",
	tracker.FlagDiscordant:       "",
	tracker.FlagNeedsMeeting:     "",
	tracker.FlagPatientWaiting:   "changed",
	tracker.FlagPlanNotDone:      "",
	tracker.FlagCaseUnfinished:   "changed",

	tracker.FlagClockDoubtful:   "answered",
	tracker.FlagCaseOpenedTwice: "answered",
	tracker.FlagUnknownItem:     "changed answered",
	tracker.FlagRoleDoubtful:    "answered",
	tracker.FlagProtocolGap:     "",
	tracker.FlagNotJudged:       "",
}

// holds are the pairs of "Held back": what holds, then what it holds. A refusal is itself a sign that the laboratory has the
// pot, so it never meets not-at-lab or collection-late.
var holds = map[string]string{
	"cold-ischaemia-long": "fixative-time-missing",
	"pieces-poor":         "pieces-few",
	"lab-refused":         "result-overdue handoff-gap fresh-late fixation-will-be-short fixation-will-be-long",
	"pot-lost":            "result-overdue handoff-gap not-at-lab fresh-late collection-late fixation-will-be-short fixation-will-be-long",
	"not-at-lab":          "handoff-gap",
	"result-critical":     "result-unread",
	"clock.paused":        "result-overdue",
}

// lines are the lines of "Defaults", "Edges, decided" and "Held back" that are no row of a table, by the name that
// scenarios say. Carriers raise no flag: which pieces get a label is tested in cmd/internal/daemon.
var lines = map[string]string{
	"default fixing-media":       "six media fix; what goes into another has no fixative time of its own",
	"default needs-fixation":     "a study needs fixation that has a time to fixation",
	"default time-to-fixation":   "receptors 1 h; histology, stains and sequencing 1 h, today and never now; of equal limits the worse is shown and its study named",
	"default window":             "receptors 6 to 72 h, sequencing 6 to 48 h, histology and stains none",
	"default fresh-limits":       "flow, karyotype, culture and tb 24 h, immunofluorescence 5 d or 24 h; 2 to 8 °C if longer than 2 h",
	"default pieces":             "breast 4, calcification 6, nodes 3, thyroid 2 passes, soft tissue 4, other none",
	"default targets":            "routine 10 days, urgent 7, next-day a provisional in 1 working day",
	"default study-targets":      "tb 42 days; stains +2 working days; receptors an addendum 2 working days after the final",
	"default result-classes":     "B, C, L, Thy and Roman categories, letters after the figure allowed",
	"default no-timetable":       "with no rounds collection-late waits 4 h, and forecasts are silent",
	"default no-staff":           "an unlisted staff key has every role",
	"default zone":               "Europe/London; a clinic sets its own",
	"default calendar":           "working days of England and Wales",
	"edge windows-closed":        "60 min 00 s passes, 60 min 01 s does not; 6:00:00 and 72:00:00 pass, 5:59:59 and 72:00:01 do not",
	"edge clock-change":          "a night with a clock change counts what passed",
	"edge from":                  "a limit \"from 10 min\" is raised at exactly 10 min 00 s",
	"edge within":                "\"within N\" is missed one second later",
	"edge working-days":          "N working days after t is the same clock time on the Nth working day after",
	"edge day-off":               "a time on a day off counts as 00:00 of the next working day",
	"edge calendar-days":         "calendar days go by wall clock",
	"edge strictest":             "of several studies the strictest window of each kind holds, and the flag names the study",
	"edge earliest-receipt":      "the earliest receipt counts",
	"edge earliest-loading":      "the earliest loading counts",
	"edge final-answers":         "a final without studies answers histology or cytology of its pots only",
	"edge struck":                "a struck event counts nowhere but in the trail",
	"edge station-clocks":        "rules on the order of two stations' events allow 2 minutes between their clocks",
	"edge late-event":            "an event that arrives late gives the state that it would have given on time",
	"held one-pot":               "a flag is held only within one case and one pot, a piece's by the same piece's",
	"held until-plan":            "refused and lost pots hold the rest until a plan exists",
	"held pause-overdue-alone":   "a pause holds result-overdue alone",
	"held never":                 "nothing holds discordant, patient-waiting, result-changed",
	"held died":                  "a died outcome ends every prompt to tell the patient",
	"fixation start-potted":      "fixation starts when the piece was potted",
	"fixation start-filled":      "or at the first filling with a fixing medium, if later and before the lid",
	"fixation prefilled":         "a pot with no filling known counts as filled before",
	"fixation end":               "it ends when the run leaves formalin: as said, else by the protocol's run, else at loading",
	"fixation unknown":           "a missing time satisfies no window and raises its own flag",
	"fixation last-in-first-in":  "short by the pot's last piece in, long by its first",
	"answer later-cause":         "a later cause raises an answered flag anew",
	"answer only-after-now-ends": "where a row's now has an end, an answer settles only after it",
}

// needs lists everything that must have a scenario: "KIND ASPECT", "KIND held by HOLDER", or the name of a line.
func needs() []string {
	var all []string
	for kind, more := range rows {
		for _, aspect := range append([]string{"raised", "absent", "cleared"}, strings.Fields(more)...) {
			if aspect != "held" {
				all = append(all, string(kind)+" "+aspect)
			}
		}
	}
	for by, kinds := range holds {
		for _, kind := range strings.Fields(kinds) {
			all = append(all, kind+" held by "+by)
		}
	}
	for name := range lines {
		all = append(all, name)
	}
	slices.Sort(all)
	return all
}
