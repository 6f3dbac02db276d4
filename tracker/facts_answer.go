package tracker

import "time"

// Stage is how final a result is.
type Stage string

// The stages of a result.
const (
	StageProvisional Stage = "provisional"
	StageFinal       Stage = "final"
	StageAddendum    Stage = "addendum"
	StageAmended     Stage = "amended"
)

// ResultIssued says that an answer exists.
type ResultIssued struct {
	Stage    Stage    `json:"stage" must:"present" oneof:"provisional final addendum amended"`
	Studies  []string `json:"studies,omitzero"` // else: histology or cytology of those pots
	Category string   `json:"category,omitzero"`
	Text     string   `json:"text,omitzero"`
	Report   string   `json:"report,omitzero"`
	Critical bool     `json:"critical,omitzero"`
	Via      string   `json:"via,omitzero" oneof:"system paper telephone"`
	GivenBy  string   `json:"given_by,omitzero"`
	ReadBack bool     `json:"read_back,omitzero"`
}

// ResultSeen says that a clinician read these results, and no others, and took them on.
type ResultSeen struct {
	Results []EventID `json:"results" must:"present"`
}

// CaseDiscussed puts imaging and pathology side by side.
type CaseDiscussed struct {
	Results     []EventID `json:"results" must:"present"`
	Concordance string    `json:"concordance" must:"present" oneof:"concordant discordant not-assessed"`
	Plan        string    `json:"plan" must:"present" oneof:"discharge review repeat-biopsy excise treat refer"`
}

// PatientTold says that the patient knows these results.
type PatientTold struct {
	Results []EventID `json:"results" must:"present"`
	How     string    `json:"how" must:"present" oneof:"in-person telephone video letter referrer"`
}

// CaseClosed says that nothing more is owed.
type CaseClosed struct {
	Outcome string `json:"outcome" must:"present"`
	Why     string `json:"why,omitzero"`
}

// CaseReopened undoes a closing.
type CaseReopened struct {
	Why string `json:"why" must:"present"`
}

// ClockPaused stops turnaround, at the latest until Until.
type ClockPaused struct {
	Why   string    `json:"why" must:"present"`
	Until time.Time `json:"until" must:"present"`
}

// ClockResumed lets turnaround go on.
type ClockResumed struct {
	Why string `json:"why" must:"present"`
}

// ChaseLogged is what the coordinator did about something late.
type ChaseLogged struct {
	Asked  string    `json:"asked" must:"present"`
	Answer string    `json:"answer,omitzero"`
	Next   time.Time `json:"next,omitzero"`
	Level  int       `json:"level,omitzero"` // 1 and up
}

// FlagAnswered says what was done about something that can no longer be undone: it is settled.
type FlagAnswered struct {
	Flag FlagKind `json:"flag" must:"present"`
	Done string   `json:"done" must:"present"`
}

// NoteAdded is free text, at most [MaxNote] characters.
type NoteAdded struct {
	Text string `json:"text" must:"present"`
}

// MaxNote is the longest note, in characters.
const MaxNote = 4000

// EventStruck says that another event was wrong; it stays readable and no longer counts.
type EventStruck struct {
	Event EventID `json:"event" must:"present"`
	Why   string  `json:"why" must:"present"`
}

// ProtocolAdopted puts a protocol in force for the clinic.
type ProtocolAdopted struct {
	SHA256 string `json:"sha256" must:"present"` // of Text, hexadecimal
	Text   string `json:"text" must:"present"`
}
