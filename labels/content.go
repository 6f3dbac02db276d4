package labels

import (
	"strings"
	"time"

	"github.com/pottrail/pottrail/tracker"
)

// Content is what one label says. Words are for people and come ready from the caller ("10 % formalin", not a key);
// the label shortens none of them but the name.
type Content struct {
	Code      tracker.Code // in the symbol, and beside it for people
	Patient   Patient      // two identifiers are required on all but bags, where none may be
	Organ     string       // "breast"
	Side      string       // "left"; drawn in capitals. Empty for an organ that has no sides
	Position  string       // "2 o'clock, 40 mm from nipple"
	Medium    string       // "10 % formalin"
	Caution   string       // one word of warning about the medium: "toxic" for formalin
	Studies   []string     // "histology", "receptors"; left out when there is no room
	Collector string       // who takes the piece; a blank line when empty
	To        string       // where a bag goes
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

// check holds the content against what the layout's thing must carry.
func (c Content) check(l Layout) error {
	fail := func(field, detail string) error { return &ContentError{Layout: l.Name, Field: field, Detail: detail} }
	thing := c.Code.Name().Thing()
	if thing == 0 {
		return fail("code", "there is none; a label stands for one thing")
	}
	if thing != l.Thing {
		return fail("code", c.Code.Name().Printed()+" is a "+thing.String()+", this layout is for a "+l.Thing.String())
	}
	if thing == tracker.ThingBag {
		if !c.Patient.isZero() {
			return fail("patient", "a bag's label is read by everybody on the way and carries no identifier; leave the patient out")
		}
	} else if err := c.checkPatient(fail); err != nil {
		return err
	}
	if thing == tracker.ThingPot {
		if c.Organ == "" {
			return fail("organ", "a pot's label says where the tissue is from; give the organ")
		}
		if c.Medium == "" {
			return fail("medium", "a pot's label says what is in it; give the medium")
		}
	}
	if c.Printed.IsZero() && thing != tracker.ThingPiece {
		return fail("time of printing", "there is none; give it in the clinic's zone")
	}
	return nil
}

// checkPatient asks for the name, the birth date and, on all but pieces, one number. Sources: at least two identifiers
// (Joint Commission NPSG.01.01.01 EP 1); one of them is the name (CAP/NSH Uniform Labeling, Arch Pathol Lab Med
// 2015;139:1515-24, statement 4); name, unique number and birth date on a container's label, slides and small
// containers exempt (CLSI AUTO12-A).
func (c Content) checkPatient(fail func(field, detail string) error) error {
	p := c.Patient
	if p.Family == "" {
		return fail("family name", "there is none; the name is the first of two identifiers")
	}
	if _, err := tracker.ParseDate(string(p.BirthDate)); err != nil {
		return fail("birth date", "there is none, or it is no day of the calendar; write it like 1961-02-14")
	}
	if p.RecordNumber == "" && p.NationalNumber == "" && c.Code.Name().Thing() != tracker.ThingPiece {
		return fail("record number", "neither record nor national number is known; name and birth date alone may fit two people")
	}
	return nil
}
