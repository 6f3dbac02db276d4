package labels

import (
	"strings"
	"time"

	"github.com/pottrail/pottrail/tracker"
)

// Content is what one label says. Words are for people and come ready from the caller ("10 % formalin", not a key);
// the label shortens none of them but the name.
type Content struct {
	Code      tracker.Code // in the symbol, and beside it for people; none on places and badges
	Patient   Patient      // two identifiers are required on all but bags, places, badges and downtime rolls, where none may be
	Organ     string       // "breast"
	Side      string       // "left", a word, never an abbreviation; drawn in capitals. Empty for an organ that has no sides
	Position  string       // "2 o'clock, 40 mm from nipple"
	Medium    string       // "10 % formalin"
	Caution   string       // one word of warning about the medium: "toxic" for formalin
	Studies   []string     // "histology", "receptors"; left out when there is no room
	Collector string       // who takes the piece; a blank line when empty
	To        string       // where a bag goes
	Key       string       // of a place or badge: the symbol says it after P: or B:
	Title     string       // the place's words, "Laboratory hatch"; on a badge the name of who wears it
	Detail    string       // a second line: where the place is; on a badge the role. May be empty
	Printed   time.Time    // when it is printed, already in the clinic's zone; shown to the minute
}

// ContentError says that a label would lack something it must carry, or carry something it must not.
type ContentError struct {
	Layout string // name of the layout
	Field  string // "birth date"
	Detail string // a sentence: what is wrong and what to do
}

// Error is a sentence for people. It never holds an identifier.
func (e *ContentError) Error() string { return e.Layout + " label: " + e.Field + ": " + e.Detail }

// prepared is the content without white space around its words and with composed characters.
func (c Content) prepared() (Content, error) {
	c.Patient = c.Patient.trimmed()
	fields := []struct {
		name string
		text *string
	}{
		{"family name", &c.Patient.Family}, {"given name", &c.Patient.Given},
		{"record number", &c.Patient.RecordNumber}, {"national number", &c.Patient.NationalNumber},
		{"organ", &c.Organ}, {"side", &c.Side}, {"position", &c.Position}, {"medium", &c.Medium},
		{"caution", &c.Caution}, {"collector", &c.Collector}, {"destination", &c.To},
		{"key", &c.Key}, {"title", &c.Title}, {"detail", &c.Detail},
	}
	for _, f := range fields {
		text, err := prepare(f.name, strings.TrimSpace(*f.text))
		if err != nil {
			return c, err
		}
		*f.text = text
	}
	studies := make([]string, len(c.Studies))
	for i, s := range c.Studies {
		text, err := prepare("studies", strings.TrimSpace(s))
		if err != nil {
			return c, err
		}
		studies[i] = text
	}
	c.Studies = studies
	return c, nil
}
