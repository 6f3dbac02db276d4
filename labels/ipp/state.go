package ipp

import (
	"fmt"
	"slices"
	"strings"
)

// JobState is what has become of a job (RFC 8011, section 5.3.7).
type JobState int32

// The states of a job.
const (
	JobPending    JobState = 3
	JobHeld       JobState = 4
	JobProcessing JobState = 5
	JobStopped    JobState = 6
	JobCancelled  JobState = 7
	JobAborted    JobState = 8
	JobCompleted  JobState = 9
)

// Ended reports whether the job will not change any more.
func (s JobState) Ended() bool { return s >= JobCancelled && s <= JobCompleted }

// String says the state in words.
func (s JobState) String() string {
	switch s {
	case 0:
		return "has no state yet"
	case JobPending:
		return "waits for its turn"
	case JobHeld:
		return "is held back"
	case JobProcessing:
		return "is being printed"
	case JobStopped:
		return "has stopped"
	case JobCancelled:
		return "was cancelled"
	case JobAborted:
		return "was given up by the printer"
	case JobCompleted:
		return "is done"
	}
	return fmt.Sprintf("is in a state not known here (%d)", int32(s))
}

// PrinterState is what a printer does (RFC 8011, section 5.4.11).
type PrinterState int32

// The states of a printer.
const (
	PrinterIdle       PrinterState = 3
	PrinterProcessing PrinterState = 4
	PrinterStopped    PrinterState = 5
)

// String says the state in words.
func (s PrinterState) String() string {
	switch s {
	case PrinterIdle:
		return "is ready"
	case PrinterProcessing:
		return "is printing"
	case PrinterStopped:
		return "has stopped"
	}
	return fmt.Sprintf("is in a state not known here (%d)", int32(s))
}

// reasonWords are keywords of RFC 8011, sections 5.3.8 and 5.4.12, and of PWG 5100.13 and 5100.9, as a person would say
// them. From memory, but for those that a test reads from a printer.
var reasonWords = map[string]string{
	"aborted-by-system":                "given up by the printer",
	"account-closed":                   "the account is closed",
	"compression-error":                "the label could not be unpacked",
	"connecting-to-device":             "connecting to the printer",
	"cover-open":                       "a cover is open",
	"cutter-at-eol":                    "the cutter is worn out",
	"deactivated":                      "switched off by whoever looks after it",
	"destination-uri-failed":           "the printer cannot be reached from its server",
	"document-access-error":            "the label could not be fetched",
	"document-format-error":            "the label could not be read",
	"document-unprintable-error":       "the label cannot be printed",
	"door-open":                        "a door is open",
	"errors-detected":                  "faults were found",
	"hold-new-jobs":                    "new jobs are held back",
	"input-tray-missing":               "the tray is missing",
	"interlock-open":                   "a cover is open",
	"job-canceled-at-device":           "cancelled at the printer",
	"job-canceled-by-operator":         "cancelled by whoever looks after the printer",
	"job-canceled-by-user":             "cancelled by its owner",
	"job-completed-successfully":       "done",
	"job-completed-with-errors":        "done, with faults",
	"job-completed-with-warnings":      "done, with warnings",
	"job-hold-until-specified":         "held back until later",
	"job-incoming":                     "still on its way in",
	"job-printing":                     "being printed",
	"job-queued":                       "waits for its turn",
	"job-stopped":                      "the job has stopped",
	"marker-supply-empty":              "no ribbon left",
	"marker-supply-low":                "little ribbon left",
	"media-empty":                      "no labels left",
	"media-jam":                        "the labels are jammed",
	"media-low":                        "few labels left",
	"media-needed":                     "other labels must be loaded",
	"moving-to-paused":                 "about to pause",
	"offline":                          "not connected",
	"other":                            "a reason that it does not name",
	"output-area-full":                 "the place where labels come out is full",
	"paused":                           "paused at the printer",
	"printer-stopped":                  "the printer has stopped",
	"printer-stopped-partly":           "a part of the printer has stopped",
	"processing-to-stop-point":         "about to stop",
	"resources-are-not-ready":          "other labels must be loaded",
	"service-off-line":                 "switched off-line",
	"shutdown":                         "switched off",
	"spool-area-full":                  "its memory is full",
	"stopping":                         "about to stop",
	"submission-interrupted":           "the label did not arrive whole",
	"timed-out":                        "the printer does not answer its server",
	"toner-empty":                      "no toner left",
	"toner-low":                        "little toner left",
	"unsupported-attributes-or-values": "a setting is not known to the printer",
	"unsupported-compression":          "compressed labels are not taken",
	"unsupported-document-format":      "the format is not taken",
	"warnings-detected":                "there are warnings",
}

// Reasons says a printer's or a job's reasons in words, joined by commas; a keyword that is not known stands as it is.
// It is empty if there are none.
func Reasons(keywords []string) string {
	var out []string
	for _, k := range keywords {
		if k == "none" || k == "" {
			continue
		}
		bare := k
		for _, grade := range []string{"-report", "-warning", "-error"} {
			if known := strings.TrimSuffix(k, grade); known != k && reasonWords[k] == "" {
				bare = known
			}
		}
		words, known := reasonWords[bare]
		if !known {
			words = Clean(bare)
		}
		if !slices.Contains(out, words) {
			out = append(out, words)
		}
	}
	return strings.Join(out, ", ")
}
