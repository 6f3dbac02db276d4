package labels_test

import (
	"errors"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/pottrail/pottrail/labels"
	"github.com/pottrail/pottrail/tracker"
)

func TestWhatAScannerSends(t *testing.T) {
	full := code(t, "MBY-26-00417-A03", '1').String()
	piece := labels.Scan{Kind: labels.ScanItem, Item: tracker.Item{Name: "MBY-26-00417-A03", Copy: '1'}}
	for text, want := range map[string]labels.Scan{
		full:                             piece,
		strings.ToLower(full):            piece,
		"]d1" + full:                     piece,
		"  " + full + "\r\n":             piece,
		full[:3] + "-" + full[3:] + "":   piece,
		"mby-26-00417-a03":               {Kind: labels.ScanItem, Item: tracker.Item{Name: "MBY-26-00417-A03"}},
		"MBY-26-00417 A03":               {Kind: labels.ScanItem, Item: tracker.Item{Name: "MBY-26-00417-A03"}},
		"MBY-26-00012-Z":                 {Kind: labels.ScanItem, Item: tracker.Item{Name: "MBY-26-00012-Z"}},
		"P:hatch":                        {Kind: labels.ScanPlace, Key: "hatch"},
		"]d1P:room-2":                    {Kind: labels.ScanPlace, Key: "room-2"},
		"p:ROOM-2":                       {Kind: labels.ScanPlace, Key: "room-2"},
		"P:AZ_az.09":                     {Kind: labels.ScanPlace, Key: "az_az.09"},
		full + strings.Repeat(" ", 1009): piece, // as much as is looked at
		"B:nurse.osei\n":                 {Kind: labels.ScanBadge, Key: "nurse.osei"},
		"\x02" + full + "\x03\r":         piece, // STX and ETX around, as serial scanners send
		full + "\t":                      piece,
		"\x1d]d2\x1d" + full:             piece, // FNC1 in front
		"]C1" + full:                     piece, // another made a bar of our code: it is still our code
		"\u00a0" + full[:3] + "\u00a0" + full[3:5] + "\u2011" + full[5:]: piece, // out of a word processor
		"ＭＢＹ２６００４１７Ａ０３１Ｍ":                                                piece, // through a Japanese input method
		"\ufeffmby‑26‑00417 a03":                                         {Kind: labels.ScanItem, Item: tracker.Item{Name: "MBY-26-00417-A03"}},
	} {
		got, err := labels.Read(text)
		require.NoErrorf(t, err, "%q", text)
		require.Equalf(t, want, got, "%q", text)
	}
	for kind, word := range map[labels.ScanKind]string{labels.ScanItem: "item", labels.ScanPlace: "place", labels.ScanBadge: "badge", 0: "unknown"} {
		require.Equal(t, word, kind.String())
	}
	for _, key := range []string{"hatch", "room-2", "nurse.osei", "a_b"} {
		place, err := labels.Read(labels.PlaceText(key))
		require.NoError(t, err)
		require.Equal(t, labels.Scan{Kind: labels.ScanPlace, Key: key}, place)
		badge, err := labels.Read(labels.BadgeText(key))
		require.NoError(t, err)
		require.Equal(t, labels.Scan{Kind: labels.ScanBadge, Key: key}, badge)
	}
}

// TestWhatIsWrongWithAReadIsSaid: refused with the position and what is wrong, as contract page 2 asks.
func TestWhatIsWrongWithAReadIsSaid(t *testing.T) {
	for text, want := range map[string]struct {
		reason tracker.CodeReason
		says   string
	}{
		"":                    {tracker.ReasonLength, "0 characters"},
		"\r\n":                {tracker.ReasonLength, "0 characters"},
		"]d1":                 {tracker.ReasonLength, "0 characters"},
		"MBY2600417A031X":     {tracker.ReasonCheckCharacter, "position 15: the check character does not fit: one character may be misread"},
		"MBY2600417Á031M":     {tracker.ReasonCharacter, "at position 11"},
		"MBY2600417A03\x1d1M": {tracker.ReasonCharacter, "at position 14"},
		"~MBY2600417A031M":    {tracker.ReasonCharacter, "at position 1 "},
		"MBY-26-00417-I":      {tracker.ReasonPot, "at position 11"},
		"MBY-26-0041X":        {tracker.ReasonSerial, "at position 10"},
		"MBY-26-00000":        {tracker.ReasonSerial, "start at 00001"},
		// A part of a code, or none of ours: both are said.
		"MBY26":               {tracker.ReasonLength, "If only a part of our label was read, scan it again"},
		"MBY2600417A031":      {tracker.ReasonLength, "14 characters"},
		"2600417A031M":        {tracker.ReasonLength, "12 characters"},
		"MBY2600417A031MM":    {tracker.ReasonLength, "16 characters"},
		`"MBY2600417A031M"`:   {tracker.ReasonCharacter, "at position 1 "},
		"MBY2600417A031M~":    {tracker.ReasonCharacter, "at position 16 "},
		"MBY2600417A03":       {tracker.ReasonLength, "13 characters, a code has 15; a name that is typed has its hyphens"},
		"MBY2600417":          {tracker.ReasonLength, "It may be the patient's wristband"},
		"MBY-260-0417":        {tracker.ReasonLength, "a name that is typed has its hyphens"},
		"MBY-26-004":          {tracker.ReasonLength, "8 characters"},
		"MBY26O0417A0X":       {tracker.ReasonSerial, "at position 6"},
		"]d1MBY-26-00417-A03": {tracker.ReasonLength, "13 characters, a code has 15"},
	} {
		_, err := labels.Read(text)
		var refused *tracker.CodeError
		require.ErrorAsf(t, err, &refused, "%q", text)
		require.Equalf(t, want.reason, refused.Reason, "%q: %v", text, err)
		require.ErrorContainsf(t, err, want.says, "%q", text)
	}
}

func TestPlacesAndBadgesWithAFault(t *testing.T) {
	for text, says := range map[string]string{
		"P:":                           "no key after the colon",
		"b:\r":                         "no key after the colon",
		"P:room 2":                     "character 5 after the colon",
		"P:Tür":                        "character 2 after the colon",
		"p::":                          "character 1 after the colon",
		"P:" + strings.Repeat("a", 65): "65 characters after the colon",
		"X:hatch":                      "not one of our labels",
	} {
		_, err := labels.Read(text)
		require.ErrorIsf(t, err, labels.ErrScan, "%q", text)
		require.ErrorContainsf(t, err, says, "%q", text)
	}
}

// TestTwoCodesInOneRead: a burst of two labels, or of one that was read twice. None is picked.
func TestTwoCodesInOneRead(t *testing.T) {
	one, other := code(t, "MBY-26-00417-A03", '1').String(), code(t, "MBY-26-00012-Z", '2').String()
	for _, text := range []string{
		one + other, one + one, strings.ToLower(one) + other, one + "\r" + other + "\r", one + "\t" + other, one + " " + other,
		"]d1" + one + "]d1" + other, "]d1" + one + "\r\n]d1" + other, one + other + one, one + other + "MBY26",
		"P:" + one, "P:hatch" + one, "P:hatch\r" + one, one + "P:hatch", "]d1P:hatch]d1" + one, "P:hatchB:nurse.osei", "P:hatchP:hatch", "B:nurse.osei" + one,
		one[:3] + "-" + one[3:] + other,
	} {
		_, err := labels.Read(text)
		require.ErrorIsf(t, err, labels.ErrTwoCodes, "%q", text)
		require.ErrorIsf(t, err, labels.ErrScan, "%q", text)
		require.ErrorContains(t, err, "two codes in one read")
		require.NotContains(t, err.Error(), one)
	}
}

// TestALongReadIsBoundedWork: what is far too long is foreign, whatever it holds, and takes no longer than a short one.
func TestALongReadIsBoundedWork(t *testing.T) {
	full := code(t, "MBY-26-00417-A03", '1').String()
	for _, text := range []string{strings.Repeat(full, 1_000_000), strings.Repeat("é", 10_000_000), full + strings.Repeat(" ", 20_000_000) + "x",
		"https://example.org/" + strings.Repeat("a", 10_000_000), strings.Repeat("(01)", 5_000_000),
		full + strings.Repeat(" ", 1010)} {
		allocated := testing.AllocsPerRun(1, func() {
			_, err := labels.Read(text)
			var strange *labels.ForeignError
			require.ErrorAs(t, err, &strange)
		})
		require.Less(t, allocated, 5000.0)
	}
}

// TestEveryPrintedTextIsReadBack: what a label holds and what stands on it for people read as the thing itself.
func TestEveryPrintedTextIsReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		made := drawCode(t)
		for _, text := range []string{made.String(), strings.ToLower(made.String()), "]d1" + made.String(), made.String() + "\r\n"} {
			got, err := labels.Read(text)
			require.NoError(t, err, text)
			require.Equal(t, labels.Scan{Kind: labels.ScanItem, Item: made.Item()}, got)
		}
		for _, text := range []string{made.Name().Printed(), string(made.Name()), strings.ToLower(made.Name().Printed())} {
			got, err := labels.Read(text)
			require.NoError(t, err, text)
			require.Equal(t, labels.Scan{Kind: labels.ScanItem, Item: tracker.Item{Name: made.Name()}}, got)
		}
	})
}

func drawCode(t *rapid.T) tracker.Code {
	clinic := rapid.StringMatching(`[A-Z][A-Z0-9]{2}`).Draw(t, "clinic")
	year, serial := rapid.IntRange(0, 99).Draw(t, "year"), rapid.IntRange(1, tracker.MaxSerial).Draw(t, "serial")
	name, err := tracker.CaseName(clinic, year, serial)
	require.NoError(t, err)
	switch rapid.IntRange(0, 3).Draw(t, "thing") {
	case 1:
		name, err = tracker.BagName(clinic, year, serial)
	case 2:
		name, err = name.WithPot(rapid.StringMatching(`[A-HJ-NP-Y]`).Draw(t, "pot"))
	case 3:
		name, err = name.WithPot(rapid.StringMatching(`[A-HJ-NP-Y]`).Draw(t, "pot"))
		require.NoError(t, err)
		name, err = name.WithPiece(rapid.IntRange(1, tracker.MaxPiece).Draw(t, "piece"))
	}
	require.NoError(t, err)
	made, err := tracker.MakeCode(name, tracker.Copy(rapid.SampledFrom([]byte("123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ")).Draw(t, "copy")))
	require.NoError(t, err)
	return made
}

// FuzzRead: a scanner's text never panics. What is understood is a full code, a name, a place or a badge, spelled back to
// the same; what is not ours is refused with a sentence that nothing of the text is in.
func FuzzRead(f *testing.F) {
	for _, seed := range []string{"MBY2600417A031M", "P:hatch", "B:nurse.osei", "]d1", "]d1P:", ":", "::", "P", "\x00", "MBY-26-00417",
		"MBY2600417A031MMBY2600417A031M", "]d1mby2600417a031m\r", "?BYéçàà'&èQà\"&?", "MBZ2600417A031M", "PÖhatch", "(01)06291041500213(10)AB12",
		"8018952123400000000017", "]C1\x1d8018952123400000000017", "https://example.org/x", "9434765919", "HALVORSEN^INGRID", "=A9999260123456",
		"BEGIN:VCARD", "\xff\xfe", "ＭＢＹ", "\u00a0MBY-26\u201100417", "S14-9999", "4006381333931"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		got, err := labels.Read(text)
		if err != nil {
			require.Zero(t, got)
			refusedWell(t, err)
			return
		}
		spelled := got.Item.String()
		switch got.Kind {
		case labels.ScanItem:
			require.NotZero(t, got.Item.Name.Thing())
			if got.Item.Copy != 0 {
				made, err := tracker.ParseCode(spelled)
				require.NoError(t, err)
				require.Len(t, spelled, 15)
				require.Equal(t, got.Item, made.Item())
			}
		case labels.ScanPlace:
			spelled = labels.PlaceText(got.Key)
		case labels.ScanBadge:
			spelled = labels.BadgeText(got.Key)
		default:
			t.Fatalf("kind %d", got.Kind)
		}
		again, err := labels.Read(spelled)
		require.NoError(t, err)
		require.Equal(t, got, again)
	})
}

var (
	symbologyNames = regexp.MustCompile(`^[A-Za-z0-9 -]{0,20}$`)
	fixedSentences = regexp.MustCompile(`^(there is no key after the colon|[0-9]+ characters after the colon|character [0-9]+ after the colon)`)
)

// refusedWell holds a refusal to its kinds: each is made of fixed words, numbers, and of one character at most of what was
// read, but for a text of a code's own shape.
func refusedWell(t *testing.T, err error) {
	t.Helper()
	var strange *labels.ForeignError
	var code *tracker.CodeError
	switch {
	case errors.As(err, &strange):
		require.ErrorIs(t, err, labels.ErrScan)
		require.Regexp(t, symbologyNames, strange.Symbology)
		again := &labels.ForeignError{Symbology: strange.Symbology, Sort: strange.Sort}
		require.Equal(t, again.Error(), err.Error())
	case errors.As(err, &code):
		if code.Text != "" {
			require.Regexp(t, `^(?i)(\].{2})?([A-Z0-9][ -]*){10,15}$`, code.Text)
		}
	case errors.Is(err, labels.ErrTwoCodes), errors.Is(err, labels.ErrKeyboard):
		require.ErrorIs(t, err, labels.ErrScan)
	default:
		require.ErrorIs(t, err, labels.ErrScan)
		require.Regexp(t, fixedSentences, err.Error())
	}
}
