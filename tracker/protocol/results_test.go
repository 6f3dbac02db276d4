package protocol_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker/protocol"
)

// TestClassOfCategories: contract page 3, result classes. What the categories mean: NHS Data Dictionary (B), RCPath G089
// (Thy), Bethesda (Roman numerals), Sydney system (L).
func TestClassOfCategories(t *testing.T) {
	p := protocol.Default()
	for class, categories := range map[string]string{
		"inadequate": "B1 C1 L1 Thy1 Thy1c I b1 thy1 THY1C",
		"benign":     "B2 C2 L2 Thy2 Thy2c II",
		"uncertain":  "B3 B3a B3b C3 L3 Thy3 Thy3a Thy3f III IV iii",
		"suspicious": "B4 B4b C4 L4 Thy4 V",
		"malignant":  "B5 B5a B5b B5c C5 L5 Thy5 VI b5B vi",
	} {
		for category := range strings.FieldsSeq(categories) {
			got, ok := p.ClassOf(category)
			require.True(t, ok, category)
			require.Equal(t, class, got, category)
		}
	}
	for text, class := range map[string]string{"Thy 3a": "uncertain", " B 5 b ": "malignant", "Bethesda VI": "malignant", "bethesda ii": "benign"} {
		got, ok := p.ClassOf(text)
		require.True(t, ok, text)
		require.Equal(t, class, got, text)
	}
	for _, text := range []string{"", " ", "B", "5", "B6", "B0", "B55", "B5bb", "5B", "Ia", "IIa", "VIa", "VII", "IX", "IIII", "Bethesda", "Bethesda B5",
		"Bethesda IIa", "Thy", "Thy6", "benign", "B5-b", "no malignancy seen", "Ⅵ", "B5ß", "see text"} {
		_, ok := p.ClassOf(text)
		require.False(t, ok, "%q is no category: never guess", text)
	}
}

func TestOneLetterCanHaveAClassOfItsOwn(t *testing.T) {
	text := strings.Replace(protocol.Default().Text, `"B4", `, `"B4", "Thy3f", `, 1)
	p, err := protocol.Parse([]byte(text))
	require.NoError(t, err)
	for category, want := range map[string]string{"thy3F": "suspicious", "Thy3a": "uncertain", "Thy3": "uncertain"} {
		class, _ := p.ClassOf(category)
		require.Equal(t, want, class, category)
	}
}

func TestSameCategory(t *testing.T) {
	require.True(t, protocol.SameCategory("B5b", "b 5B"))
	require.False(t, protocol.SameCategory("B5b", "B5a"))
	require.False(t, protocol.SameCategory("B5", "B5b"))
}

// TestImagingGroups: contract page 3, flag discordant: U/M/P 4-5 and BI-RADS 4C-5 high, U3 and BI-RADS 4, 4A, 4B mid,
// others low. Scales: RCR Breast Group 2009, ACR BI-RADS 5th ed.
func TestImagingGroups(t *testing.T) {
	p := protocol.Default()
	for want, scores := range map[string][]string{
		protocol.ImagingHigh: {"U4", "U5", "M4", "M5", "P4", "P5", "BI-RADS 4C", "BI-RADS 5", "BIRADS 4c", "bi-rads4C", "BI RADS 5", "BI-RADS 4 C", "u 5", "u-4"},
		protocol.ImagingMid:  {"U3", "BI-RADS 4", "BI-RADS 4A", "BI-RADS 4B", "BIRADS4a", "birads 4b"},
		protocol.ImagingLow:  {"U1", "U2", "M1", "M2", "M3", "P1", "P2", "P3", "BI-RADS 0", "BI-RADS 1", "BI-RADS 2", "BI-RADS 3"},
	} {
		for _, score := range scores {
			got, ok := p.ImagingGroup(score)
			require.True(t, ok, score)
			require.Equal(t, want, got, score)
		}
	}
	for _, text := range []string{"", "-", "R5", "5", "4C", "U", "U55", "U5bc", "suspicious", "T4", "MRI 5", "BI-RADS", "ü5", "U５"} {
		_, ok := p.ImagingGroup(text)
		require.False(t, ok, "%q: no scale of this protocol", text)
	}
}

// TestOfSeveralScoresTheHighestCounts: breast clinics score the hand, the mammogram and ultrasound side by side (common
// practice, no source).
func TestOfSeveralScoresTheHighestCounts(t *testing.T) {
	p := protocol.Default()
	for text, want := range map[string]string{
		"U4 M3": protocol.ImagingHigh, "U2 P 5": protocol.ImagingHigh, "P2, M3, U5": protocol.ImagingHigh, "P2 M2 U3": protocol.ImagingMid, "P1/M2/U2": protocol.ImagingLow,
		"U 2 BI-RADS 4C": protocol.ImagingHigh, "BI-RADS 4A, U3": protocol.ImagingMid, "U5; MRI 5": protocol.ImagingHigh, "U3 + see text": protocol.ImagingMid,
	} {
		got, ok := p.ImagingGroup(text)
		require.True(t, ok, text)
		require.Equal(t, want, got, text)
	}
	for _, text := range []string{"U2, MRI 5", "U2 see text"} {
		_, ok := p.ImagingGroup(text)
		require.False(t, ok, "%q: what could not be read may be the higher one", text)
	}
}
