package labels

import (
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/pottrail/pottrail/tracker"
)

// fail makes a [ContentError] about a field.
type fail func(field, detail string) error

// check holds the content against what the layout's thing must carry.
func (c Content) check(l Layout) error {
	fail := func(field, detail string) error { return &ContentError{Layout: l.Name, Field: field, Detail: detail} }
	if len(l.things) > 0 {
		thing := c.Code.Name().Thing()
		if thing == 0 {
			return fail("code", "there is none; a label stands for one thing")
		}
		if !l.For(thing) {
			return fail("code", c.Code.Name().Printed()+" is a "+thing.String()+", this layout is for a "+l.thingsInWords())
		}
		if c.Key != "" || c.Title != "" || c.Detail != "" {
			return fail("key", "keys, titles and details belong on the labels of places and badges; leave them out")
		}
	}
	if err := l.check(l, c, fail); err != nil {
		return err
	}
	if c.Side != "" && !sideInWords(c.Side) {
		return fail("side", "it may be an abbreviation, and those are misread; write the whole word: left, right, both sides, midline")
	}
	return nil
}

func (l Layout) thingsInWords() string {
	words := make([]string, len(l.things))
	for i, t := range l.things {
		words[i] = t.String()
	}
	return strings.Join(words, ", ")
}

func checkPot(_ Layout, c Content, fail fail) error {
	if err := c.checkPatient(fail); err != nil {
		return err
	}
	if c.Organ == "" {
		return fail("organ", "a pot's label says where the tissue is from; give the organ")
	}
	if c.Medium == "" {
		return fail("medium", "a pot's label says what is in it; give the medium")
	}
	return c.checkPrinted(fail)
}

// checkPiece asks for less than a pot's label: slides and small containers are exempt from date, time and collector
// (CLSI AUTO12-A), which stand on the pot's label and in the record.
func checkPiece(_ Layout, c Content, fail fail) error { return c.checkPatient(fail) }

func checkCase(_ Layout, c Content, fail fail) error {
	if err := c.checkPatient(fail); err != nil {
		return err
	}
	return c.checkPrinted(fail)
}

func checkBag(_ Layout, c Content, fail fail) error {
	if !c.Patient.isZero() {
		return fail("patient", "a bag's label is read by everybody on the way and carries no identifier; leave the patient out")
	}
	if c.Organ != "" || c.Side != "" || c.Position != "" {
		return fail("site", "a bag's label says nothing about a patient; leave the site out")
	}
	return c.checkPrinted(fail)
}

// checkKeyed holds the labels of places and badges, which have a key in place of a code.
func checkKeyed(l Layout, c Content, fail fail) error {
	what := "badge"
	if l.Form == FormPlace {
		what = "place"
	}
	if c.Code != (tracker.Code{}) {
		return fail("code", "a "+what+" has a key and no code; leave the code out")
	}
	if c.aboutSomebody() {
		return fail("patient", "the label of a "+what+" says nothing about a patient; leave that out")
	}
	if key, err := readKey(c.Key); err != nil || key != c.Key {
		return fail("key", "it is 1 to 64 small letters, figures, dots, hyphens and underscores, so that it is read back as it was written; give the "+what+"'s key")
	}
	if c.Title == "" {
		return fail("title", "there is none; say in words which "+what+" it is")
	}
	return nil
}

// checkDowntime holds the label of a downtime roll, which is printed before there is a patient: all but the code is
// written by hand.
func checkDowntime(l Layout, c Content, fail fail) error {
	if c.aboutSomebody() || c.Collector != "" {
		return fail("patient", "a label of a downtime roll is written on by hand; leave everything but the code out")
	}
	if thing := c.Code.Name().Thing(); thing != tracker.ThingPiece && l.WidthMM < DowntimeWideMM {
		return fail("code", "there is no room to write who and what a "+thing.String()+" is; use stock of 50 × 25 mm or larger for it")
	}
	return nil
}

// aboutSomebody reports whether there is anything of a patient or a specimen.
func (c Content) aboutSomebody() bool {
	return !c.Patient.isZero() || c.Organ != "" || c.Side != "" || c.Position != "" || c.Medium != "" || c.Caution != "" || len(c.Studies) > 0
}

func (c Content) checkPrinted(fail fail) error {
	if c.Printed.IsZero() {
		return fail("time of printing", "there is none; give it in the clinic's zone")
	}
	return nil
}

// checkPatient asks for the name, the birth date and, on all but pieces, one number. Sources: at least two identifiers
// (Joint Commission NPSG.01.01.01 EP 1); one of them is the name (CAP/NSH Uniform Labeling, Arch Pathol Lab Med
// 2015;139:1515-24, statement 4); name, unique number and birth date on a container's label, slides and small
// containers exempt (CLSI AUTO12-A).
func (c Content) checkPatient(fail fail) error {
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

const leastSide = 4 // letters; "left" has four

// shortSides are whole words for sides, and words between them, that have fewer letters than leastSide: Hungarian and
// Turkish for left and right (from memory), and what joins two sides.
var shortSides = []string{"bal", "sol", "sağ", "and", "mid"}

// cutSides are abbreviations of sides that have as many letters as a word.
var cutSides = []string{"bilat", "unilat", "ipsi", "ipsilat", "contra", "contralat", "dext", "dextr", "sinis", "sinist", "rght", "midl"}

// sideInWords reports whether a side is written out. The record takes any text for it, in any language; so a word is what
// has four letters or more and nothing but letters, unless known to be a shorter word or an abbreviation. Common practice,
// no source: "L", "R", "li", "re", "dx", "sin." are taken for each other across languages.
func sideInWords(side string) bool {
	words := strings.FieldsFunc(strings.ToLower(side), func(r rune) bool { return r == ' ' || r == '-' || r == ',' })
	sides := 0
	for _, w := range words {
		if strings.ContainsFunc(w, func(r rune) bool { return !unicode.IsLetter(r) }) {
			return false
		}
		if w == "side" || w == "sides" { // "left side"; alone it says nothing
			continue
		}
		if slices.Contains(cutSides, w) || utf8.RuneCountInString(w) < leastSide && !slices.Contains(shortSides, w) {
			return false
		}
		sides++
	}
	return sides > 0
}
