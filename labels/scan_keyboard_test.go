package labels_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/pottrail/pottrail/labels"
	"github.com/pottrail/pottrail/tracker"
)

// What appears on a computer set to a country's keyboard when a scanner types as on that of the United States: the keys of
// letters and digits, and of ":" and "]". Written down apart from the table in the package, from memory.
var wrongKeyboards = map[string]func(text string) string{
	"German":         replaced("yzYZ:]", "zyZYÖ+"),
	"French":         replaced("aqzwAQZWmM1234567890:].", `qawzQAWZ,?&é"'(-è_çàM$:`),
	"French, caps":   replaced("aqzwAQZWmM:]", "QAWZqawz?,M$"), // the key that gives digits there, and other letters
	"Belgian":        replaced("aqzwAQZWmM1234567890:].", `qawzQAWZ,?&é"'(§è!çàM$:`),
	"Czech":          replaced("yzYZ1234567890:]", `zyZY+ěščřžýáíé")`),
	"Slovak":         replaced("yzYZ1234567890:]", `zyZY+ľščťžýáíé"ä`),
	"Hungarian":      replaced("yzYZ0:]", "zyZYöÉú"),
	"Spanish":        replaced(":]", "Ñ+"),
	"Italian":        replaced(":]", "ç+"),
	"Swedish":        replaced(":]", "Öå"),
	"Turkish":        replaced("i:]", "ıŞü"),
	"shift, America": replaced("1234567890", "!@#$%^&*()"),
	"shift, Britain": replaced("1234567890", `!"£$%^&*()`),
	"Russian":        replaced("ABCDEFGHIJKLMNOPQRSTUVWXYZ]d", "ФИСВУАПРШОЛДЬТЩЗЙКЫЕГМЦЧНЯъв"),
	"Greek":          replaced("ABDEFGHIJKLMNOPRSTUVXYZd", "ΑΒΔΕΦΓΗΙΞΚΛΜΝΟΠΡΣΤΘΩΧΥΖδ"),
}

func replaced(from, to string) func(string) string {
	appears := map[rune]rune{}
	shown := []rune(to)
	for i, c := range []rune(from) {
		appears[c] = shown[i]
	}
	return func(text string) string {
		return strings.Map(func(c rune) rune {
			if s, ok := appears[c]; ok {
				return s
			}
			return c
		}, text)
	}
}

// TestAWrongKeyboardIsNotTakenForAnotherCode: on any of these keyboards a code comes through as it is or is refused, and the
// sentence says that the layout is wrong. The one exception is stated: where two letters or more change into other letters
// (Y and Z on a German keyboard) one such code in 36 has a right check character again. With the AIM prefix none has, since
// its bracket does not come through; so scanners are best set to send it.
func TestAWrongKeyboardIsNotTakenForAnotherCode(t *testing.T) {
	named, all, taken := 0, 0, 0
	rapid.Check(t, func(t *rapid.T) {
		made := drawCode(t)
		for name, typed := range wrongKeyboards {
			for _, prefix := range []string{"", "]d1"} {
				text := prefix + made.String()
				came := typed(text)
				got, err := labels.Read(came)
				if strings.EqualFold(came, text) {
					require.NoError(t, err)
					continue
				}
				all++
				if err == nil {
					changed := 0
					for i, c := range []rune(came) {
						if !strings.EqualFold(string(c), string([]rune(text)[i])) {
							changed++
						}
					}
					require.Empty(t, prefix, "%s: %q came as %q", name, text, came)
					require.GreaterOrEqual(t, changed, 2, "%s: %q came as %q", name, text, came)
					require.NotEqual(t, made.Item(), got.Item)
					taken++
					continue
				}
				if strings.Contains(err.Error(), labels.ErrKeyboard.Error()) {
					require.ErrorIs(t, err, labels.ErrKeyboard)
					named++
				}
			}
		}
	})
	t.Logf("of %d codes damaged by a keyboard, the keyboard was named for %d (%.2f %%), %d taken for another code (%.3f %%)",
		all, named, 100*float64(named)/float64(all), taken, 100*float64(taken)/float64(all))
	require.Greater(t, float64(named), 0.99*float64(all))
	require.Less(t, float64(taken), 0.005*float64(all))
}

func TestWhatAWrongKeyboardMakesOfLabels(t *testing.T) {
	for name, text := range map[string]string{
		"French digits":                   `?BYéçàà'&èQà"&?`,
		"French with AIM prefix":          `$d&?BYéçàà'&èQà"&?`,
		"German Y and Z":                  "MBZ2600417A031M",
		"German with AIM prefix":          "+d1MBZ2600417A031M",
		"shift held":                      "MBY@^))$!&A)#!M",
		"Greek letters":                   "ΜΒΥ2600417Α031Μ",
		"Russian letters":                 "ЬИН2600417Ф031Ь",
		"a place, German":                 "PÖhatch",
		"a place, Spanish":                "PÑroom'2",
		"a place, French with AIM prefix": "$d&PMhqtch",
		"a badge, Danish":                 "BÆnurse.osei",
		"a French code misread or cut":    `?BYéçàà'&èQà"&`,
	} {
		_, err := labels.Read(text)
		require.ErrorIsf(t, err, labels.ErrKeyboard, "%s: %v", name, err)
		require.ErrorIs(t, err, labels.ErrScan)
		require.ErrorContains(t, err, "the scanner's keyboard layout is set wrong")
		require.ErrorContains(t, err, "set the scanner and this computer to the same country's keyboard")
	}
	// Where all but the check character is in order, that is said too.
	_, err := labels.Read("MBZ2600417A031M")
	var code *tracker.CodeError
	require.ErrorAs(t, err, &code)
	require.Equal(t, tracker.ReasonCheckCharacter, code.Reason)
	// Either case, and the other one for caps lock, is no fault.
	got, err := labels.Read("mby2600417a031m")
	require.NoError(t, err)
	require.Equal(t, tracker.Name("MBY-26-00417-A03"), got.Item.Name)
}

// TestNamesAreNoKeyboardFault: accents and signs in people's names say nothing about the keyboard.
func TestNamesAreNoKeyboardFault(t *testing.T) {
	for _, name := range []string{"PÖHLMANN", "BÉLA", "PÉTER", "Pélagie d'Hérelle-Çà", "Bäcker", "Béatrice", "Ærøskøbing", "O'Brien-Smith", "Čapková", "Παπαδοπούλου", "Щербаковская",
		"PÖAb", "BÖabZ", "Παπαδοπ1234567α", "!!!!!!!@abcdef", "!!!!!!!!@@@@abcd", "!@#!@#!abcdefg"} {
		_, err := labels.Read(name)
		require.NotErrorIsf(t, err, labels.ErrKeyboard, "%s", name)
		require.ErrorContainsf(t, err, "wristband", "%s", name)
	}
}

// TestKeyboardDamageByChance: a single misread character is said to be the keyboard's only where letters that keyboards
// exchange would make the check fit.
func TestKeyboardDamageByChance(t *testing.T) {
	const alphabet = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
	blamed, all := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		text := drawCode(t).String()
		for i := range text {
			for _, c := range alphabet {
				if byte(c) == text[i] {
					continue
				}
				misread := text[:i] + string(c) + text[i+1:]
				_, err := labels.Read(misread)
				require.Error(t, err)
				if strings.Trim(misread, "0123456789") == "" {
					continue // a bare number: no code of ours begins with a digit
				}
				var code *tracker.CodeError
				require.ErrorAs(t, err, &code)
				require.Equal(t, tracker.ReasonCheckCharacter, code.Reason)
				if all++; strings.Contains(err.Error(), "keyboard") {
					blamed++
				}
			}
		}
	})
	t.Logf("of %d single misread characters, %d (%.2f %%) put down to the keyboard", all, blamed, 100*float64(blamed)/float64(all))
	require.Less(t, float64(blamed), 0.03*float64(all))
}
