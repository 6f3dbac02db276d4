package events

import (
	"crypto/sha256"
	"encoding/hex"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/pottrail/pottrail/tracker"
)

// together checks the few things that tags cannot say, because one field depends on another, and brings pot letters
// and hashes into their canonical spelling.
func together(e *tracker.Event) *fault {
	switch f := e.Data.(type) {
	case *tracker.CaseOpened:
		return checkRequest(f.Lesions, f.Pots, true)
	case *tracker.CaseAmended:
		return checkAmended(f)
	case *tracker.PatientChecked:
		return checkIdentifiers(f.Identifiers).under("identifiers")
	case *tracker.ProcedureEnded:
		return checkUnused(f.Unused).under("unused")
	case *tracker.NoteAdded:
		if n := utf8.RuneCountInString(f.Text); n > tracker.MaxNote {
			return (&fault{code: CodeTooLarge, detail: "has " + strconv.Itoa(n) + " characters; at most " + strconv.Itoa(tracker.MaxNote) + " are wanted"}).under("text")
		}
	case *tracker.ProtocolAdopted:
		return checkHash(f).under("sha256")
	}
	return nil
}

func checkAmended(f *tracker.CaseAmended) *fault {
	const why = "leave it out when it does not change"
	if f.Patient != nil && blank(*f.Patient) {
		return missing(why).under("patient")
	}
	if f.Priority != nil && blank(*f.Priority) {
		return missing(why).under("priority")
	}
	return checkRequest(f.Lesions, f.Pots, f.Lesions != nil)
}

// checkRequest checks lesions and pots against each other. Known says that these lesions are all there are; an
// amendment of the pots alone is judged against lesions that only the ledger has.
func checkRequest(lesions []tracker.Lesion, pots []tracker.PlannedPot, known bool) *fault {
	for i, l := range lesions {
		if sided(l.Organ) && blank(l.Side) {
			return missing("organ " + l.Organ + " needs a side").under("side").at(i).under("lesions")
		}
		for j := range i {
			if lesions[j].Key == l.Key {
				return twice(l.Key).under("key").at(i).under("lesions")
			}
		}
	}
	for i := range pots {
		p := &pots[i]
		letter, ok := potLetter(p.Pot)
		if !ok {
			return badLetter(p.Pot).under("pot").at(i).under("pots")
		}
		p.Pot = letter
		for j := range i {
			if pots[j].Pot == letter {
				return twice(letter).under("pot").at(i).under("pots")
			}
		}
		if known && !slices.ContainsFunc(lesions, func(l tracker.Lesion) bool { return l.Key == p.Lesion }) {
			return (&fault{code: CodeUnknownLesion, detail: "is " + quote(p.Lesion) + ", which is none of the lesions of the request"}).under("lesion").at(i).under("pots")
		}
	}
	return nil
}

// sided reports whether a lesion of the organ needs a side. Source: contract page 2, case.opened.
func sided(organ string) bool { return organ == "breast" || organ == "axillary-node" }

func twice(key string) *fault {
	return &fault{code: CodeDuplicateKey, detail: "is " + quote(key) + " a second time; each is planned once"}
}

// potLetter reads the letter of a pot in either case: A to Y without I and O.
func potLetter(text string) (string, bool) {
	letter := strings.ToUpper(text)
	if len(letter) != 1 || letter < "A" || letter > "Y" || letter == "I" || letter == "O" {
		return "", false
	}
	return letter, true
}

func badLetter(text string) *fault {
	return &fault{code: Code(tracker.ReasonPot), detail: "is " + quote(text) + "; a pot letter is one of A to Y without I and O"}
}

func checkIdentifiers(list []string) *fault {
	for _, other := range list[1:] {
		if other != list[0] {
			return nil
		}
	}
	return &fault{code: CodeTooFew, detail: "names one identifier; a patient is checked by two different ones or more"}
}

// checkUnused reads pots given by letter or by name.
func checkUnused(pots []string) *fault {
	for i, text := range pots {
		if len(text) == 1 {
			letter, ok := potLetter(text)
			if !ok {
				return badLetter(text).at(i)
			}
			pots[i] = letter
			continue
		}
		name, err := tracker.ParseName(text)
		if err != nil {
			return badCode(err).at(i)
		}
		if name.Thing() != tracker.ThingPot {
			return (&fault{code: CodeWrongThing, detail: "is " + string(name) + ", a " + name.Thing().String() + "; the letter or name of a pot is wanted"}).at(i)
		}
		pots[i] = string(name)
	}
	return nil
}

func checkHash(f *tracker.ProtocolAdopted) *fault {
	sum := sha256.Sum256([]byte(f.Text))
	want := hex.EncodeToString(sum[:])
	if !strings.EqualFold(f.SHA256, want) {
		return &fault{code: CodeBadHash, detail: "is not the SHA-256 of the text, " + want}
	}
	f.SHA256 = want
	return nil
}
