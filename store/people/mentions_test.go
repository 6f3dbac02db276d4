package people_test

import (
	"fmt"
	"strings"
	"testing"
	"time"
	"unicode"

	"github.com/stretchr/testify/require"
	"golang.org/x/text/unicode/norm"
	"pgregory.net/rapid"

	"github.com/pottrail/pottrail/store/people"
)

// patientsOfAllSorts have names, numbers and addresses of many kinds.
func patientsOfAllSorts() []people.Person {
	return []people.Person{
		ada(),
		{Family: "Ñandúbray", Given: "Íñigulda", BirthDate: "1929-11-07", RecordNumber: "QX/8830145", NationalNumber: "FO0552811", Address: "3 Quaddlestrøm Lane, Hollin Cross HX4 7QZ", Telephone: "01632 960732"},
		{Family: "O'Brannagh", Given: "Niamh", BirthDate: "1988-12-01", RecordNumber: "40118223", NationalNumber: "999 000 1324", Address: "Flat 2, 9 Tarn Road", Telephone: "07700 900 412"},
		{Family: "Mac Giolla bhraith", Given: "Seán", BirthDate: "1970-01-31", RecordNumber: "MB 00.4417", Address: "Old Mill House\nMarram Bay"},
		{Family: "van der Wickelde", Given: "Anneke", BirthDate: "2001-06-09", RecordNumber: "A1-B2-C3", Telephone: "+31 20 794 0123"},
		{Family: "Thornmere-Quernstow", Given: "Wanjiru", BirthDate: "1944-10-10", RecordNumber: "7712034"},
		{Family: "Łuczakowicz", Given: "Małgorzata", BirthDate: "1955-05-05", NationalNumber: "55050512345"},
		{Family: "Jürgensgård", Given: "Åse", BirthDate: "1963-03-22", RecordNumber: "RN-70701"},
		{Family: "Καραλουκάκος", Given: "Ευτυχία", BirthDate: "1971-08-15", RecordNumber: "GR 5550123"},
		{Family: "Тиховеленко", Given: "Ярослава", BirthDate: "1938-04-02", RecordNumber: "UA5550199"},
		{Family: "Şönmezoğlu", Given: "İpek", BirthDate: "1990-09-30", RecordNumber: "TR-5550177"},
	}
}

// letterCase draws a way to write letters.
func letterCase(t *rapid.T, text string) string {
	switch rapid.IntRange(0, 3).Draw(t, "case") {
	case 0:
		return strings.ToUpper(text)
	case 1:
		return strings.ToLower(text)
	case 2:
		var out strings.Builder
		for _, r := range text {
			if rapid.Bool().Draw(t, "capital") {
				r = unicode.ToUpper(r)
			} else {
				r = unicode.ToLower(r)
			}
			out.WriteRune(r)
		}
		return out.String()
	}
	return text
}

// accents draws whether accents are there, composed or not, or left out.
func accents(t *rapid.T, text string) string {
	switch rapid.IntRange(0, 3).Draw(t, "accents") {
	case 0:
		return norm.NFD.String(text)
	case 1:
		var out strings.Builder
		for _, r := range norm.NFD.String(text) {
			if !unicode.Is(unicode.Mn, r) {
				out.WriteRune(r)
			}
		}
		return out.String()
	}
	return text
}

// parted draws what stands between the characters of a number: now and then a space, a hyphen, a point.
func parted(t *rapid.T, number string) string {
	var out strings.Builder
	for i, r := range strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return r
		}
		return -1
	}, number) {
		if i > 0 && rapid.IntRange(0, 4).Draw(t, "part") == 0 {
			out.WriteString(rapid.SampledFrom([]string{" ", "-", ".", "/", "\u00a0", " - "}).Draw(t, "mark"))
		}
		out.WriteRune(r)
	}
	return out.String()
}

// spaced draws other space between words.
func spaced(t *rapid.T, text string) string {
	return strings.Join(strings.Fields(text), rapid.SampledFrom([]string{" ", "  ", "\n", "\t", "\u00a0", ", "}).Draw(t, "space"))
}

// dated draws a way to write a day.
func dated(t *rapid.T, day string) string {
	at, err := time.Parse(time.DateOnly, day)
	if err != nil {
		return day
	}
	text := at.Format(rapid.SampledFrom([]string{"2006-01-02", "02/01/2006", "2/1/2006", "2.1.2006", "01/02/2006", "2-1-06", "02.01.06", "2 January 2006", "January 2, 2006", "2 Jan 06", "2 Jan '06", "2Jan2006",
		"20060102", "02012006", "2006/1/2", "2 01 2006", "02-Jan-2006", "2. January 2006"}).Draw(t, "date"))
	if rapid.IntRange(0, 5).Draw(t, "ordinal") == 0 {
		text = fmt.Sprintf("%d%s of %s", at.Day(), map[bool]string{true: "st", false: "th"}[at.Day()%10 == 1], at.Format("January 2006"))
	}
	return text
}

// named draws a way to write a family name.
func named(t *rapid.T, family string) string {
	switch rapid.IntRange(0, 3).Draw(t, "name") {
	case 0:
		return family + "'s sister"
	case 1:
		return strings.NewReplacer("'", "’", "-", " - ").Replace(family)
	case 2:
		return strings.NewReplacer("'", " ", "-", " ").Replace(family)
	}
	return family
}

// Identifier by identifier, in any case, with and without accents, parted and spaced anyhow, anywhere in a sentence: found.
func TestLawAnIdentifierInATextIsFound(t *testing.T) {
	all := patientsOfAllSorts()
	rapid.Check(t, func(t *rapid.T) {
		p := rapid.SampledFrom(all).Draw(t, "patient") // prints as [patient], on purpose
		i := rapid.IntRange(0, 5).Draw(t, "identifier")
		said := ""
		switch i {
		case 0:
			said = named(t, p.Family)
		case 1:
			said = dated(t, p.BirthDate)
		case 2:
			said = parted(t, p.RecordNumber)
		case 3:
			said = parted(t, p.NationalNumber)
		case 4:
			first, _, _ := strings.Cut(strings.ReplaceAll(p.Address, "\n", ","), ",")
			if said = spaced(t, first); len(strings.Fields(first)) < 2 || first == "Flat 2" {
				said = p.Address
			}
		case 5:
			said = parted(t, p.Telephone)
		}
		if strings.TrimSpace(said) == "" {
			return
		}
		said = accents(t, letterCase(t, said))
		before := rapid.SampledFrom([]string{"", "rang ", "Pot of ", "(", "told: ", "- ", "no answer from "}).Draw(t, "before")
		after := rapid.SampledFrom([]string{"", ".", ", no answer", ") rang", "; again at 3", "!"}).Draw(t, "after")
		if !p.Mentions(before + said + after) {
			t.Fatalf("identifier %d is not found in %q", i, before+said+after)
		}
	})
}

// ordinarySentences are what people write in this work, with names of people who work there, colours, clocks and numbers. None
// of them is about a patient.
var ordinarySentences = strings.Split(strings.TrimSpace(`
firm white core, sank at once
two cores fragmented, third firm white, fourth grey-brown
Lab says the lid was loose; poured over, new pot, label left off
rang the ward, will ring again after 3
rang 01632 960 200, nobody at the desk
rang switchboard 0300 123 4567, on hold for ten minutes
no answer, left a message with the ward clerk
asked the porter; he has it in the van, back by 16:30
courier left at 17:00 on Friday, next one Monday 8 March
specimen 12 mm, 4 cores, 2 of them short
the old label is on the lid
label smudged, printed again as copy 2
wrong side ticked, put right before the needle
right breast, 9 o'clock, 40 mm from the nipple
left axilla, level 1 node, 14 by 9 mm, cortex 5 mm
position 14/2 on the grid, not a date
seen at 14:02 and 19:61 is no time
accession TR-26-004471, block A1 to A4
lot 20260114, expires 2027-02-14
lot number 40118 of formalin, 60 mL
hope to hear by noon; may be late
mark placed at the top, clip seen on film
field was dark, hard to see; long needle used
case discussed on Wednesday, concordant, plan is to excise
B5b, grade 2, ER 8/8, HER2 1+
result read by dr.varga, will tell the patient in clinic
patient told by telephone, letter to follow
patient anxious, given time; son present
blood on the request form, copied out anew
needs levels, and a special stain
sent away for a second reading, back in ten days
tap gave 20 mL of straw fluid
the day list was short of one; found in the fridge
room 2 was cold, heater broken
bag opened at the hatch, 11 in place of 12
closed in error, opened again
struck: scanned twice by the same hand
the king size pot leaks, use the small one
brown bag, green tape, stood on the low shelf
early van missed, late van made it
pain at the site, ice pack, home at 11
new reagent lot from the store, good stain
page torn, second sheet lost
bank holiday on Monday 4 May, lab closed
rest of the core went to flow
pass 3 dry, pass 4 good
`), "\n")

// ordinaryNames are patients whose names are words, dates that are near, numbers that are short.
func ordinaryNames() []people.Person {
	out := patientsOfAllSorts()
	for _, family := range strings.Fields("White Long Field May Hope Mark King Brown Green Small Good Case Day Noon Short Cold Wood Hall Head Ward Porter Friday March Young Rest Page Bank Home Ice Low Ring Message Needle Core") {
		if family == "Message" || family == "Core" {
			continue
		}
		out = append(out, people.Person{Family: family, Given: "Rosalind", BirthDate: "1961-03-08", RecordNumber: "40119", NationalNumber: "943 476 5919", Telephone: "01632 960 201", Address: "2 Hall Road"})
	}
	return append(out, people.Person{Family: "Ng", Given: "Ada", BirthDate: "1926-03-06", RecordNumber: "4471", Telephone: "960 200 1"}, people.Person{Family: "Li", Given: "Wei", RecordNumber: "12"})
}

// Few false alarms: of the ordinary sentences, against patients with the most ordinary names, none is refused.
func TestOrdinarySentencesPass(t *testing.T) {
	for _, p := range ordinaryNames() {
		for _, text := range ordinarySentences {
			for _, text := range []string{text, strings.ToUpper(text), strings.ToUpper(text[:1]) + text[1:]} {
				// A refusal is wrong here whoever the patient is; the name is an ordinary word, so it may be told.
				require.False(t, p.Mentions(text), "family %s, %q", p.Family, text)
			}
		}
	}
}

func TestMoreTextsThatNameAPatient(t *testing.T) {
	brannagh := patientsOfAllSorts()[2]
	for _, row := range []struct {
		who  people.Person
		text string
		want bool
	}{
		{brannagh, "told O Brannagh", true},
		{brannagh, "told OBRANNAGH", true},
		{people.Person{Family: "McLeodan"}, "Mc Leodan rang", true},
		{people.Person{Family: "Whitehead"}, "firm white head of the core", false},
		{people.Person{Family: "Jürgensgård"}, "told Jürgensgaard", true},
		{people.Person{Family: "Møllerup"}, "told moellerup", true},
		{people.Person{Family: "Møllerup"}, "told mollerup", true},
		{people.Person{Family: "Wenlock"}, "the Wenlocks rang", true},
		{people.Person{Family: "Wenlock"}, "wen\u00adlock and Wen\u200block", true},
		{people.Person{Family: "Need"}, "needs levels", false},
		{people.Person{Family: "March", Given: "Ada"}, "Mrs March rang", true},
		{people.Person{Family: "March", Given: "Ada"}, "back on 3 March", false},
		{ada(), "NHS9434765919", true},
		{ada(), "NHS 943 476 5918", false},
		{people.Person{Address: "Quern House, 9 Mill Lane, MB1 4QZ"}, "somewhere near mb1 4qz", true},
		{people.Person{Address: "Quern House, 9 Mill Lane, MB1 4QZ"}, "somewhere near MB14QZ", true},
		{people.Person{Address: "Quern House, 9 Mill Lane, MB1 4QZ"}, "somewhere near MB1", false},
		{people.Person{Address: "17, Vornickle Row"}, "lives at 17 vornickle row", true},
		{people.Person{Address: "17, Vornickle Row"}, "17 cores", false},
		{ada(), "14 Feb '61", true},
		{ada(), "14 Feb, 61 mm", true}, // nobody writes so; if anybody does, it is said again in other words
		{ada(), "14 cores, 2 of 61 mm", false},
	} {
		require.Equal(t, row.want, row.who.Mentions(row.text), "%q", row.text)
	}
}
