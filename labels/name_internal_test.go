package labels

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
)

// texts is what stands on a drawn label, by slot.
func texts(p *Picture) map[string]string {
	out := map[string]string{}
	for _, r := range p.runs {
		var words []string
		for _, s := range r.spans {
			if s.text != "" {
				words = append(words, s.text)
			}
		}
		out[r.slot] = strings.Join(words, " ")
	}
	return out
}

// drawn draws a label for a patient at 8 dots/mm; capitals are coarsest there.
func drawn(t *testing.T, layout string, patient Patient) (*Picture, error) {
	t.Helper()
	d, err := NewDrawer()
	require.NoError(t, err)
	l, ok := LayoutNamed(layout)
	require.True(t, ok)
	name := tracker.Name("MBY-26-00417-A")
	if l.Thing == tracker.ThingPiece {
		name += "03"
	}
	code, err := tracker.MakeCode(name, '1')
	require.NoError(t, err)
	return d.Draw(l, Content{Code: code, Patient: patient, Organ: "breast", Side: "left", Medium: "10 % formalin",
		Printed: time.Date(2026, 3, 6, 15, 31, 0, 0, time.UTC)}, Options{DotsPerMM: 8})
}

// TestLongNamesAreShortenedByRule: the rule stands at nameLines and nameBlock; common practice, no source.
func TestLongNamesAreShortenedByRule(t *testing.T) {
	for _, test := range []struct {
		layout, family, given string
		name, givenLine       string // what is drawn
	}{
		{"pot-50x25", "Halvorsen", "Ingrid", "Halvorsen, Ingrid", ""},
		{"pot-50x25", "Halvorsen", "", "Halvorsen", ""},
		{"pot-50x25", "Halvorsen", "Ingrid Marie", "Halvorsen, Ingrid Marie", ""},
		{"pot-50x25", "Featherstonehaugh", "Anne-Marie Louise", "Featherstonehaugh, A.-M. L.", ""},
		{"pot-50x25", "Featherstonehaugh-Cholmondeley", "Anne-Marie Louise", "Featherstonehaugh-Cholmon…, A.", ""},
		{"pot-50x25", "WWWWWWWWWWWWWWWWWWWWWWW", "Wanda", "WWWWWWWWWWWWWW…, W.", ""},
		{"piece-22x15", "Halvorsen", "Ingrid", "Halvorsen", "Ingrid"},
		{"piece-22x15", "Halvorsen", "Ingrid Marie Louise", "Halvorsen", "I. M. L."},
		{"piece-22x15", "HALVORSEN", "INGRID", "HALVORS-", "EN, I."},
		{"piece-22x15", "Featherstone-Ångström", "Ida", "Featherst-", "one-Å…, I."},
		{"piece-22x15", "Lind-Ångström", "Ida Eva", "Lind-Ångs-", "tröm, I. E."},
		{"piece-22x15", "von Halvorsen", "Ida", "von Halvo-", "rsen, I."},
		{"piece-22x15", "Щербаковская", "Ольга", "Щербако-", "вская, О."},
		{"slide-24x24", "Featherstonehaugh", "Anne-Marie Louise", "Featherstoneh-", "augh, A.-M. L."},
	} {
		t.Run(test.layout+" "+test.family, func(t *testing.T) {
			p, err := drawn(t, test.layout, Patient{Family: test.family, Given: test.given, BirthDate: "1961-02-14", RecordNumber: "40118223"})
			require.NoError(t, err)
			said := texts(p)
			require.Equal(t, test.name, said["name"])
			require.Equal(t, test.givenLine, said["given name"])
			require.Contains(t, said["identifiers"], "1961-02-14", "the second identifier is never touched")
			if test.layout == "pot-50x25" {
				require.Contains(t, said["identifiers"], "40118223")
			}
		})
	}
}

// TestNameThatCannotBeShortenedEnough: the label fails with a sentence rather than hide who it is for.
func TestNameThatCannotBeShortenedEnough(t *testing.T) {
	for layout, family := range map[string]string{"piece-22x15": strings.Repeat("\u2031", 40), "slide-24x24": strings.Repeat("\u2031", 40)} {
		p, err := drawn(t, layout, Patient{Family: family, Given: "Wanda", BirthDate: "1961-02-14", RecordNumber: "40118223"})
		require.Nil(t, p)
		var unfit *FitError
		require.ErrorAs(t, err, &unfit)
		require.Contains(t, unfit.Field, "name")
		require.Contains(t, err.Error(), "larger stock")
	}
}

// TestTwoNumbers: where both do not fit in words, all three stand bare; where they do not fit at all, birth date and
// record number do.
func TestTwoNumbers(t *testing.T) {
	p, err := drawn(t, "pot-50x25", Patient{Family: "Halvorsen", BirthDate: "1961-02-14", RecordNumber: "401", NationalNumber: "943"})
	require.NoError(t, err)
	require.Equal(t, "born 1961-02-14 record 401 national 943", texts(p)["identifiers"])
	p, err = drawn(t, "pot-50x25", Patient{Family: "Halvorsen", BirthDate: "1961-02-14", RecordNumber: "4011822", NationalNumber: "943 476 5919"})
	require.NoError(t, err)
	require.Equal(t, "1961-02-14 4011822 943 476 5919", texts(p)["identifiers"])
	p, err = drawn(t, "pot-50x25", Patient{Family: "Halvorsen", BirthDate: "1961-02-14", RecordNumber: "4011822345", NationalNumber: "943 476 5919"})
	require.NoError(t, err)
	require.Equal(t, "born 1961-02-14 record 4011822345", texts(p)["identifiers"])
	_, err = drawn(t, "pot-50x25", Patient{Family: "Halvorsen", BirthDate: "1961-02-14", RecordNumber: strings.Repeat("4", 40)})
	var unfit *FitError
	require.ErrorAs(t, err, &unfit)
	require.Equal(t, "identifiers", unfit.Field)
}

func TestInitials(t *testing.T) {
	for given, want := range map[string]string{
		"": "", "Ingrid": "I.", "Ingrid Marie": "I. M.", "Anne-Marie Louise": "A.-M. L.", "  ": "", "Ørjan": "Ø.",
		"I. M.": "I. M.", "A B C D E F G H": "A. B. C. D. E. F.", "D'Arcy": "D.", "(Bo)": "B.",
	} {
		require.Equal(t, want, initials(given, maxGiven), given)
	}
}
