package events

import (
	"strings"

	"github.com/pottrail/pottrail/tracker"
)

// Headers of messages and requests. Source: contract page 2.
const (
	HeaderMsgID   = "Nats-Msg-Id" // of an event: its id
	HeaderOSeq    = "Trail-Oseq"  // of an event: its position within its origin
	HeaderFlagSeq = "Trail-Fseq"  // of a change of a flag: its position in the node's log of changes
	HeaderMade    = "Trail-Made"  // of a checkpoint: when it was made, RFC 3339
	HeaderCSeq    = "Trail-Cseq"  // of a checkpoint: its position among the node's, and which message of how many
	HeaderSentAt  = "Sent-At"     // over NATS: the sender's clock at sending, RFC 3339
	HeaderXSentAt = "X-Sent-At"   // the same over HTTP
)

// Subjects for subscriptions and streams.
const (
	SubjectRecords = "trail.v1.*.record"  // requests of every clinic
	SubjectEvents  = "trail.v1.*.event.>" // recorded events of every clinic
	SubjectFlags   = "trail.v1.*.flag.>"  // changes of flags of every clinic
	SubjectAsks    = "trail.v1.*.ask.*"   // questions of every clinic

	SubjectCheckpoints = "trail.v1.*.checkpoint.*" // signed checkpoints, to every clinic that the record has something of
)

const subjectRoot = "trail.v1."

// RecordSubject takes events of a clinic.
func RecordSubject(clinic string) string { return subjectRoot + clinic + ".record" }

// EventSubject carries recorded events of a clinic and kind.
func EventSubject(clinic string, kind tracker.Kind) string {
	return subjectRoot + clinic + ".event." + string(kind)
}

// FlagSubject carries changes of flags of a clinic and kind.
func FlagSubject(clinic string, kind tracker.FlagKind) string {
	return subjectRoot + clinic + ".flag." + string(kind)
}

// CheckpointSubject carries signed checkpoints of a node's log to those who may hear of a clinic.
func CheckpointSubject(clinic, origin string) string {
	return subjectRoot + clinic + ".checkpoint." + origin
}

// AskSubject takes one sort of question about a clinic; clinic may be "*" in a subscription.
func AskSubject(clinic, what string) string { return subjectRoot + clinic + ".ask." + what }

// ClinicSubject is any subject of a clinic, given what follows it: "event.>".
func ClinicSubject(clinic, rest string) string { return subjectRoot + clinic + "." + rest }

// SubjectClinic is the clinic in one of our subjects, and "" in others. It is not checked to be a clinic's key.
func SubjectClinic(subject string) string {
	rest, ok := strings.CutPrefix(subject, subjectRoot)
	if !ok {
		return ""
	}
	clinic, _, ok := strings.Cut(rest, ".")
	if !ok {
		return ""
	}
	return clinic
}
