package tracker_test

import (
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
)

// What a name says of itself. Shapes: contract page on events.
func TestANameSaysWhatItIs(t *testing.T) {
	for _, row := range []struct {
		name         tracker.Name
		thing        tracker.Thing
		clinic       string
		year, serial int
		of, pot      tracker.Name
		letter       string
		piece        int
		printed      string
	}{
		{"MBY-26-00417", tracker.ThingCase, "MBY", 26, 417, "MBY-26-00417", "", "", 0, "MBY-26-00417"},
		{"H7X-05-98765", tracker.ThingCase, "H7X", 5, 98765, "H7X-05-98765", "", "", 0, "H7X-05-98765"},
		{"MBY-90-10001-B", tracker.ThingPot, "MBY", 90, 10001, "MBY-90-10001", "MBY-90-10001-B", "B", 0, "MBY-90-10001 B"},
		{"HCX-26-00417-A03", tracker.ThingPiece, "HCX", 26, 417, "HCX-26-00417", "HCX-26-00417-A", "A", 3, "HCX-26-00417 A03"},
		{"HCX-26-00417-Y98", tracker.ThingPiece, "HCX", 26, 417, "HCX-26-00417", "HCX-26-00417-Y", "Y", 98, "HCX-26-00417 Y98"},
		{"MBY-26-00012-Z", tracker.ThingBag, "MBY", 26, 12, "", "", "", 0, "MBY-26-00012 Z"},
	} {
		n := row.name
		require.Equal(t, row.thing, n.Thing(), n)
		require.Equal(t, row.clinic, n.Clinic(), n)
		require.Equal(t, row.year, n.Year(), n)
		require.Equal(t, row.serial, n.Serial(), n)
		require.Equal(t, row.of, n.Case(), n)
		require.Equal(t, row.pot, n.Pot(), n)
		require.Equal(t, row.letter, n.Letter(), n)
		require.Equal(t, row.piece, n.PieceNumber(), n)
		require.Equal(t, row.printed, n.Printed(), n)
		back, err := tracker.ParseName(strings.ToLower(row.printed))
		require.NoError(t, err)
		require.Equal(t, n, back)
	}
	const day = tracker.Name("MBY/room-2/2026-03-06")
	require.Equal(t, tracker.ThingRoomDay, day.Thing())
	require.Zero(t, day.Case(), "the day of a room belongs to no case")
	require.Zero(t, day.Pot())
	none := tracker.Name("")
	require.Zero(t, none.Thing())
	require.Zero(t, none.Case())
	require.Zero(t, none.Pot())
	require.Zero(t, none.Letter())
	require.Zero(t, none.PieceNumber())
	require.Zero(t, none.Printed())
}

// reason is the machine word and the place of what is wrong with a code or name.
func reason(t *testing.T, err error) (tracker.CodeReason, int) {
	t.Helper()
	var wrong *tracker.CodeError
	require.True(t, errors.As(err, &wrong), "%v", err)
	require.NotEmpty(t, wrong.Detail)
	return wrong.Reason, wrong.Position
}

func TestNamesAreMadeOnlyOfWhatFits(t *testing.T) {
	for _, row := range []struct {
		clinic       string
		year, serial int
		want         tracker.Name
		reason       tracker.CodeReason
		position     int
	}{
		{"MBY", 26, 417, "MBY-26-00417", "", 0},
		{"H7X", 0, 1, "H7X-00-00001", "", 0},
		{"A09", 99, 99999, "A09-99-99999", "", 0},
		{"MBY", -1, 1, "", tracker.ReasonYear, 0},
		{"MBY", 100, 1, "", tracker.ReasonYear, 0},
		{"MBY", 26, 0, "", tracker.ReasonSerial, 0},
		{"MBY", 26, 100000, "", tracker.ReasonSerial, 0},
		{"MB", 26, 1, "", tracker.ReasonClinic, 0},
		{"MBYX", 26, 1, "", tracker.ReasonClinic, 0},
		{"7BY", 26, 1, "", tracker.ReasonClinic, 1},
		{"M-Y", 26, 1, "", tracker.ReasonClinic, 2},
		{"MBy", 26, 1, "", tracker.ReasonClinic, 3},
		{"MB:", 26, 1, "", tracker.ReasonClinic, 3},
		{"MB/", 26, 1, "", tracker.ReasonClinic, 3},
		{"MB@", 26, 1, "", tracker.ReasonClinic, 3},
		{"MB[", 26, 1, "", tracker.ReasonClinic, 3},
	} {
		n, err := tracker.CaseName(row.clinic, row.year, row.serial)
		bag, errBag := tracker.BagName(row.clinic, row.year, row.serial)
		require.Equal(t, row.want, n)
		if row.reason == "" {
			require.NoError(t, err)
			require.NoError(t, errBag)
			require.NoError(t, tracker.CheckClinic(row.clinic))
			require.Equal(t, row.want+"-Z", bag)
			continue
		}
		require.Empty(t, bag)
		for _, err := range []error{err, errBag} {
			got, at := reason(t, err)
			require.Equal(t, row.reason, got)
			require.Equal(t, row.position, at, row.clinic)
		}
	}
}

func TestPotsAndPiecesAreMadeOnlyOfWhatFits(t *testing.T) {
	const made = tracker.Name("MBY-26-00417")
	for letter := range 256 {
		text := string(rune(letter))
		n, err := made.WithPot(text)
		if strings.Contains("ABCDEFGHJKLMNPQRSTUVWXY", text) {
			require.NoError(t, err)
			require.Equal(t, made+"-"+tracker.Name(text), n)
			continue
		}
		got, _ := reason(t, err)
		require.Equal(t, tracker.ReasonPot, got, text)
	}
	for _, letter := range []string{"", "AB"} {
		_, err := made.WithPot(letter)
		got, _ := reason(t, err)
		require.Equal(t, tracker.ReasonPot, got)
	}
	for _, n := range []tracker.Name{"", "MBY-26-00417-A", "MBY-26-00417-A01", "MBY-26-00012-Z"} {
		_, err := n.WithPot("A")
		got, _ := reason(t, err)
		require.Equal(t, tracker.ReasonThing, got)
	}
	for _, number := range []int{1, 9, 10, 99} {
		n, err := tracker.Name("MBY-26-00417-A").WithPiece(number)
		require.NoError(t, err)
		require.Equal(t, number, n.PieceNumber())
	}
	for _, number := range []int{-1, 0, 100} {
		_, err := tracker.Name("MBY-26-00417-A").WithPiece(number)
		got, _ := reason(t, err)
		require.Equal(t, tracker.ReasonPiece, got, number)
	}
	for _, n := range []tracker.Name{"", made, "MBY-26-00417-A01", "MBY-26-00012-Z"} {
		_, err := n.WithPiece(1)
		got, _ := reason(t, err)
		require.Equal(t, tracker.ReasonThing, got)
	}
}

func TestWhatIsNoNameIsSaidWhere(t *testing.T) {
	for _, row := range []struct {
		text     string
		reason   tracker.CodeReason
		position int
	}{
		{"", tracker.ReasonLength, 0},
		{"MBY-26-0041", tracker.ReasonLength, 0},
		{"MBY-26-00417-A1", tracker.ReasonLength, 0},
		{"MBY2600417A0312", tracker.ReasonCheckCharacter, 15},
		{"MBY-26-00417_A", tracker.ReasonCharacter, 11},
		{"]d2MBY_26", tracker.ReasonCharacter, 4},
		{"]d", tracker.ReasonCharacter, 1},
		{"1BY-26-00417", tracker.ReasonClinic, 1},
		{"MBY-2X-00417", tracker.ReasonSerial, 5},
		{"MBY-X6-00417", tracker.ReasonSerial, 4},
		{"MBY-26-0041X", tracker.ReasonSerial, 10},
		{"MBY-26-00000", tracker.ReasonSerial, 10},
		{"MBY-26-00417-I", tracker.ReasonPot, 11},
		{"MBY-26-00417-O", tracker.ReasonPot, 11},
		{"MBY-26-00417-7", tracker.ReasonPot, 11},
		{"MBY-26-00417-A0X", tracker.ReasonPiece, 13},
		{"MBY-26-00417-AX0", tracker.ReasonPiece, 12},
		{"MBY-26-00417-A00", tracker.ReasonPiece, 13},
		{"MBY-26-00417-Z01", tracker.ReasonPiece, 12},
		{strings.Repeat("A", 65), tracker.ReasonLength, 0},
	} {
		_, err := tracker.ParseName(row.text)
		got, at := reason(t, err)
		require.Equal(t, row.reason, got, row.text)
		require.Equal(t, row.position, at, row.text)
		_, err = tracker.ParseItem(row.text)
		require.Error(t, err)
	}
	_, err := tracker.ParseName("MBY2600417A031M") // the contract's own example of a code
	got, _ := reason(t, err)
	require.Equal(t, tracker.ReasonLength, got, "a full code is not a name")

	spaced := "MBY-26-00417" + strings.Repeat(" ", 52)
	require.Len(t, spaced, 64)
	n, err := tracker.ParseName(spaced)
	require.NoError(t, err, "the longest that is read")
	require.Equal(t, tracker.Name("MBY-26-00417"), n)
	_, err = tracker.ParseName(spaced + " ")
	require.ErrorContains(t, err, "65 characters")

	_, err = tracker.ParseName("MBY-26_00417")
	require.ErrorContains(t, err, "byte 7 of the text")
	_, err = tracker.ParseName("]d2MBY-26_00417")
	require.ErrorContains(t, err, "byte 10 of the text")
	_, err = tracker.ParseItem("]d2")
	require.ErrorContains(t, err, "0 characters")

	digits, err := tracker.ParseName("H70-26-00417")
	require.NoError(t, err, "digits may follow the clinic's first letter")
	require.Equal(t, "H70", digits.Clinic())
	_, err = tracker.ParseName("HX_-26-00417")
	require.Error(t, err)
}

func TestCopiesAreReadAndWritten(t *testing.T) {
	valid := "123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
	for c := range 256 {
		one := tracker.Copy(c)
		is := strings.IndexByte(valid, byte(c)) >= 0
		require.Equal(t, is, one.Valid(), "%q", c)
		var read tracker.Copy
		err := read.UnmarshalText([]byte{byte(c)})
		if !is {
			got, _ := reason(t, err)
			require.Equal(t, tracker.ReasonCopy, got)
			continue
		}
		require.NoError(t, err)
		require.Equal(t, one, read)
		text, err := one.MarshalText()
		require.NoError(t, err)
		require.Equal(t, []byte{byte(c)}, text)
	}
	for _, text := range []string{"", "12", "A1", "_A"} {
		var read tracker.Copy
		require.Error(t, read.UnmarshalText([]byte(text)), text)
	}
	at, ok := tracker.Copy(0), true
	var all []byte
	for {
		if at, ok = at.Next(); !ok {
			break
		}
		all = append(all, byte(at))
	}
	require.Equal(t, valid, string(all))
	require.Zero(t, at)
	for _, c := range []tracker.Copy{'0', ':', '@', '[', 1} {
		next, ok := c.Next()
		require.False(t, ok, "%q", byte(c))
		require.Zero(t, next)
	}
}

func TestCodesAreMadeOnlyOfNamesAndCopies(t *testing.T) {
	_, err := tracker.MakeCode("", '1')
	got, at := reason(t, err)
	require.Equal(t, tracker.ReasonLength, got)
	require.Zero(t, at)
	_, err = tracker.MakeCode("MBY-26-00417", '0')
	got, at = reason(t, err)
	require.Equal(t, tracker.ReasonCopy, got)
	require.Equal(t, 14, at)
	require.EqualError(t, &tracker.CodeError{Detail: "the clinic is wrong"}, "the clinic is wrong")
	require.EqualError(t, &tracker.CodeError{Text: "M", Detail: "too short"}, `"M": too short`)
}

// What is neither digit nor capital counts as nothing: "a" as "0".
func TestTheCheckCharacterIsTotal(t *testing.T) {
	require.Equal(t, tracker.CheckCharacter("MBY0260"), tracker.CheckCharacter("MBY[260"))
	require.Equal(t, tracker.CheckCharacter("0"), tracker.CheckCharacter("a"))
}

func TestADateIsADayThatExists(t *testing.T) {
	for text, ok := range map[string]bool{"2026-03-06": true, "2028-02-29": true, "2026-02-29": false, "6.3.2026": false, "": false} {
		d, err := tracker.ParseDate(text)
		require.Equal(t, ok, err == nil, text)
		if ok {
			require.Equal(t, tracker.Date(text), d)
		} else {
			require.ErrorContains(t, err, "is not a date like 2026-03-06")
			require.Empty(t, d)
			require.Zero(t, tracker.Date(text).End(london), "what is no day has no end")
		}
	}
	require.Equal(t, time.Date(2026, 3, 30, 0, 0, 0, 0, london), tracker.Date("2026-03-29").End(london), "the day the clocks change")
}

func TestSeveritiesHaveTheirRanks(t *testing.T) {
	require.Equal(t, []int{0, 1, 2}, []int{tracker.Now.Rank(), tracker.Today.Rank(), tracker.Watch.Rank()})
}

// An event is about each thing once, however often it is named; long lists are refused elsewhere when they repeat.
func TestWhatAnEventIsAbout(t *testing.T) {
	items := func(names ...tracker.Name) (out []tracker.Item) {
		for _, n := range names {
			out = append(out, tracker.Item{Name: n})
		}
		return out
	}
	var many []tracker.Name
	for i := range 12 {
		n, err := tracker.Name(caseOne + "-A").WithPiece(i + 1)
		require.NoError(t, err)
		many = append(many, n)
	}
	other := tracker.Name(caseTwo)
	none := tracker.Name("")
	for name, row := range map[string]struct {
		items []tracker.Item
		fact  tracker.Fact
		want  []tracker.Name
	}{
		"one":                       {items(caseOne), &tracker.NoteAdded{}, []tracker.Name{caseOne}},
		"the same twice":            {items(caseOne, caseOne), &tracker.NoteAdded{}, []tracker.Name{caseOne}},
		"nine":                      {items(many[:9]...), &tracker.NoteAdded{}, many[:9]},
		"eight":                     {items(many[:8]...), &tracker.NoteAdded{}, many[:8]},
		"a bag's pots":              {items(bagOne), &tracker.BagPacked{Pots: many[:2]}, append([]tracker.Name{bagOne}, many[:2]...)},
		"bound to another":          {items(many[0]), &tracker.LabelBound{To: many[1]}, many[:2]},
		"bound to itself":           {items(many[0]), &tracker.LabelBound{To: many[0]}, many[:1]},
		"a repeat":                  {items(caseOne), &tracker.CaseOpened{RepeatOf: other}, []tracker.Name{caseOne, other}},
		"no repeat":                 {items(caseOne), &tracker.CaseOpened{}, []tracker.Name{caseOne}},
		"said to be a repeat later": {items(caseOne), &tracker.CaseAmended{RepeatOf: &other}, []tracker.Name{caseOne, other}},
		"said to be none":           {items(caseOne), &tracker.CaseAmended{RepeatOf: &none}, []tracker.Name{caseOne}},
	} {
		e := &tracker.Event{Kind: row.fact.Kind(), Items: row.items, Data: row.fact}
		require.Equal(t, row.want, e.Concerns(), name)
	}
	twice := items(append(many[:9:9], many[0])...)
	require.Len(t, (&tracker.Event{Items: twice, Data: &tracker.NoteAdded{}}).Concerns(), 10, "of a long list repeats are left in")
	require.Len(t, (&tracker.Event{Items: twice[2:], Data: &tracker.NoteAdded{}}).Concerns(), 8)
	require.Len(t, (&tracker.Event{Items: append(twice[2:9:9], twice[2]), Data: &tracker.NoteAdded{}}).Concerns(), 7, "of eight they are not")
}
