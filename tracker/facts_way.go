package tracker

import "time"

// BagPacked says that these pots are in the bag now; it adds to what is in it.
type BagPacked struct {
	Pots []Name `json:"pots" must:"present" thing:"pot"`
}

// BagOpened says that the bag is emptied and these pots were in it.
type BagOpened struct {
	Pots []Name `json:"pots" must:"present" thing:"pot"` // may be empty
}

// CustodyTaken says who answers for the items now, and where.
type CustodyTaken struct {
	Place        string   `json:"place" must:"present"`
	Holder       string   `json:"holder,omitzero"` // if not the event's By
	Count        *int     `json:"count,omitzero"`
	TemperatureC *float64 `json:"temperature_c,omitzero"`
	Condition    string   `json:"condition,omitzero" oneof:"intact leaking damaged"`
	Reference    string   `json:"reference,omitzero"` // consignment
}

// PotLost says that nobody can find it.
type PotLost struct {
	Why   string `json:"why,omitzero"`
	Place string `json:"place,omitzero"`
}

// PotFound ends a loss.
type PotFound struct {
	Why   string `json:"why,omitzero"`
	Place string `json:"place,omitzero"`
}

// PotDiscarded says that it was thrown away.
type PotDiscarded struct {
	Why   string `json:"why,omitzero"`
	Place string `json:"place,omitzero"`
}

// LabAccessioned gives the laboratory's own number.
type LabAccessioned struct {
	Number string `json:"number" must:"present"`
}

// LabQueried says kept, and something is asked of the clinic.
type LabQueried struct {
	Why   string `json:"why" must:"present"`
	Needs string `json:"needs,omitzero"`
}

// LabRefused says that the pot will not be processed as it is.
type LabRefused struct {
	Why  string `json:"why" must:"present" oneof:"unlabelled mismatch wrong-medium leaked damaged empty insufficient delayed temperature no-request other"`
	Note string `json:"note,omitzero"`
}

// LabOpened says that the pot was taken out for description.
type LabOpened struct {
	Pieces *int `json:"pieces,omitzero"` // counted
}

// LabLoaded says that it is on the processor; fixation ends when its run leaves formalin.
type LabLoaded struct {
	Run            string    `json:"run,omitzero"`
	LeavesFormalin time.Time `json:"leaves_formalin,omitzero"`
}

// LabReferred says sent on for another opinion or test.
type LabReferred struct {
	To   string    `json:"to" must:"present"`
	What string    `json:"what,omitzero" oneof:"block slides"`
	Due  time.Time `json:"due,omitzero"`
}

// LabReturned says back from where it was sent.
type LabReturned struct {
	To   string    `json:"to" must:"present"`
	What string    `json:"what,omitzero" oneof:"block slides"`
	Due  time.Time `json:"due,omitzero"`
}

// StudiesAdded asks for studies later.
type StudiesAdded struct {
	Studies []string `json:"studies" must:"present"`
}
