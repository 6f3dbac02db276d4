package tracker

import "time"

// Field tags read by the codec: must:"present" is a required field; oneof lists the only words allowed.

// Lesion is what is to be biopsied.
type Lesion struct {
	Key          string  `json:"key" must:"present"`
	Organ        string  `json:"organ" must:"present"`
	Side         string  `json:"side,omitzero"` // needed for breast and axillary-node
	Position     string  `json:"position,omitzero"`
	FromNippleMM float64 `json:"from_nipple_mm,omitzero"`
	SizeMM       float64 `json:"size_mm,omitzero"`
	Target       string  `json:"target,omitzero" oneof:"mass calcification distortion node fluid"`
	Imaging      string  `json:"imaging,omitzero"`
}

// PlannedPot is a pot as the request plans it.
type PlannedPot struct {
	Pot     string   `json:"pot" must:"present"` // letter
	Lesion  string   `json:"lesion" must:"present"`
	Medium  string   `json:"medium" must:"present"`
	Studies []string `json:"studies" must:"present"`
	Pieces  int      `json:"pieces,omitzero"`
	Carrier string   `json:"carrier,omitzero" oneof:"cassette tube slide foam loose"`
	To      string   `json:"to,omitzero"` // laboratory place
}

// CaseOpened says that a request exists and its pots are planned.
type CaseOpened struct {
	Patient  string       `json:"patient" must:"present"` // random ref of ours, never an identifier
	Priority string       `json:"priority" must:"present"`
	Room     string       `json:"room,omitzero"`
	Planned  time.Time    `json:"planned,omitzero"`
	Lesions  []Lesion     `json:"lesions" must:"present"`
	Pots     []PlannedPot `json:"pots" must:"present"`
	Order    string       `json:"order,omitzero"`
	Clinical string       `json:"clinical,omitzero"`
	Hazard   []string     `json:"hazard,omitzero" oneof:"tb blood-borne"`
	RepeatOf Name         `json:"repeat_of,omitzero" thing:"case"`
}

// CaseAmended corrects a request: a nil field is unchanged, a list replaces the whole list.
type CaseAmended struct {
	Patient  *string      `json:"patient,omitzero"`
	Priority *string      `json:"priority,omitzero"`
	Room     *string      `json:"room,omitzero"`
	Planned  *time.Time   `json:"planned,omitzero"`
	Lesions  []Lesion     `json:"lesions,omitzero"`
	Pots     []PlannedPot `json:"pots,omitzero"`
	Order    *string      `json:"order,omitzero"`
	Clinical *string      `json:"clinical,omitzero"`
	Hazard   []string     `json:"hazard,omitzero" oneof:"tb blood-borne"`
	RepeatOf *Name        `json:"repeat_of,omitzero" thing:"case"`
	Why      string       `json:"why" must:"present"`
}

// PatientChecked says that identity was confirmed with the patient.
type PatientChecked struct {
	Identifiers []string `json:"identifiers" must:"present" oneof:"name birth-date record-number national-number address"`
	Confirmed   []string `json:"confirmed,omitzero" oneof:"side site consent allergy anticoagulant"`
	With        string   `json:"with,omitzero"`
	Room        string   `json:"room,omitzero"`
}

// LabelPrinted says that one label for one thing came out of a printer.
type LabelPrinted struct {
	Copy     Copy   `json:"copy" must:"present"`
	Replaces Copy   `json:"replaces,omitzero"`
	Printer  string `json:"printer,omitzero"`
	Layout   string `json:"layout,omitzero"` // "downtime" for a reserved roll
}

// LayoutDowntime is the layout of a label on a roll reserved for days without the daemon.
const LayoutDowntime = "downtime"

// LabelSpoiled says that a printed label was destroyed unused.
type LabelSpoiled struct {
	Copy Copy   `json:"copy" must:"present"`
	Why  string `json:"why" must:"present"`
}

// LabelBound says that a label from a downtime roll stands for another thing.
type LabelBound struct {
	To Name `json:"to" must:"present"`
}

// PieceTaken says that a piece left the patient: cold ischaemia starts.
type PieceTaken struct {
	Lesion    string  `json:"lesion" must:"present"`
	What      string  `json:"what" must:"present" oneof:"core slide aspirate rinse"`
	Pass      int     `json:"pass,omitzero"`
	From      Name    `json:"from,omitzero" thing:"piece"` // cut from it: inherits its time, counts once
	Collector string  `json:"collector,omitzero"`
	Gauge     float64 `json:"gauge,omitzero"`
	LengthMM  float64 `json:"length_mm,omitzero"`
	Look      string  `json:"look,omitzero" oneof:"firm-white mixed fatty fragmented grey-brown blood-only pus fluid"`
}

// PiecePotted says that a piece went into its pot.
type PiecePotted struct {
	Pot    Name   `json:"pot,omitzero" thing:"pot"` // if other than its name says
	Medium string `json:"medium,omitzero"`          // if other than the pot's
}

// PotFilled says that medium is in the pot.
type PotFilled struct {
	Medium   string  `json:"medium" must:"present"`
	VolumeML float64 `json:"volume_ml,omitzero"`
	Lot      string  `json:"lot,omitzero"`
	Expires  Date    `json:"expires,omitzero"`
}

// SpecimenImaged is a specimen radiograph.
type SpecimenImaged struct {
	Calcium string `json:"calcium" must:"present" oneof:"seen not-seen"`
}

// AdequacyChecked is on-site microscopy.
type AdequacyChecked struct {
	Lesion   string `json:"lesion" must:"present"`
	Adequate *bool  `json:"adequate" must:"present"`
	Text     string `json:"text,omitzero"`
}

// MarkerPlaced is a marker clip.
type MarkerPlaced struct {
	Lesion string `json:"lesion" must:"present"`
	Type   string `json:"type,omitzero"`
	Lot    string `json:"lot,omitzero"`
}

// PotSealed says lid on, label read back.
type PotSealed struct {
	ReadBackWith string `json:"read_back_with" must:"present"` // staff key, or "patient"
	Pieces       *int   `json:"pieces,omitzero"`               // count read aloud
}

// ReadBackPatient is the word in [PotSealed] for a label read back by the patient.
const ReadBackPatient = "patient"

// ProcedureEnded says that no more pieces will come.
type ProcedureEnded struct {
	Outcome string   `json:"outcome" must:"present" oneof:"done partly not-done"`
	Why     string   `json:"why,omitzero"`
	Unused  []string `json:"unused,omitzero"` // pot letters or names
}

// RoomCleared says that no label or pot of this case is left over in the room.
type RoomCleared struct {
	Room string `json:"room" must:"present"`
}

// PotRelabelled says that what is in this pot belongs to another name from now on.
type PotRelabelled struct {
	New     Name   `json:"new" must:"present" thing:"pot"`
	Why     string `json:"why" must:"present"`
	Witness string `json:"witness" must:"present"`
}
