package labels

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// TestPublishedCheckDigits: GS1's check digit on published examples, all from memory of where they stand.
func TestPublishedCheckDigits(t *testing.T) {
	for digits, where := range map[string]string{
		"6291041500213":      "GTIN-13, GS1's page on how to calculate a check digit by hand",
		"06291041500213":     "the same as GTIN-14: a zero in front changes nothing",
		"376104250021234569": "SSCC, the same page",
		"4006381333931":      "EAN-13, the usual example (a box of pens)",
		"73513537":           "EAN-8, the usual example",
		"96385074":           "EAN-8, another",
		"036000291452":       "UPC-A, the usual example",
		"9780306406157":      "ISBN-13, the ISBN Users' Manual's example",
	} {
		require.Truef(t, gs1CheckFits(digits), "%s: %s", digits, where)
		// Every single wrong digit is found, and not one other last digit fits.
		for i := range len(digits) {
			for c := byte('0'); c <= '9'; c++ {
				if c != digits[i] {
					require.False(t, gs1CheckFits(digits[:i]+string(c)+digits[i+1:]))
				}
			}
		}
	}
	for _, none := range []string{"", "0", "629104150021x"} {
		require.False(t, gs1CheckFits(none))
	}
	// ISBN-10 has the NHS number's rule but for an X at the end: 0306406152, the ISBN Users' Manual's example, from memory.
	require.True(t, modulus11Fits("0306406152"))
	require.False(t, modulus11Fits("0306406153"))
	require.False(t, modulus11Fits("030640615"))
}

// TestSymbologiesAreSorted: each name in the table is one that a sentence can hold.
func TestEverySymbologyHasAName(t *testing.T) {
	for c, name := range symbologies {
		require.Equal(t, name, reading{prefix: "]" + string(c) + "9"}.symbology())
		require.NotEmpty(t, name)
	}
	require.Equal(t, "Data Matrix", reading{prefix: "]d1"}.symbology())
	require.Equal(t, "GS1 DataMatrix", reading{prefix: "]d2"}.symbology())
	require.Equal(t, "Code 128", reading{prefix: "]C0"}.symbology())
	require.Empty(t, reading{prefix: "]?0"}.symbology())
	require.Empty(t, reading{}.symbology())
}

// TestPlainCharacters: what only looks otherwise becomes plain, and nothing else.
func TestPlainCharacters(t *testing.T) {
	require.Equal(t, "!09AZaz~", plainly("！０９ＡＺａｚ～"))
	require.Equal(t, "------- -", plainly("\u2010\u2011\u2012\u2013\u2014\u2015\u2212\u3000-"))
	require.Equal(t, "\u200f\u2016\uff00\uff5f\u2211", plainly("\u200f\u2016\uff00\uff5f\u2211"))
	require.Equal(t, "AZAZ09`{", squeezed("a z-AZ09`{"))
	require.True(t, gs1CheckFits("17"), "the shortest: 3 + 7")
	require.Equal(t, Sort(len(sorts)).String(), SortOther.String())
	require.Equal(t, (&ForeignError{Sort: Sort(len(sorts))}).Error(), (&ForeignError{}).Error())
}

// TestKeyboardsAreWhole: each layout says for each character that appears what was meant.
func TestKeyboardsAreWhole(t *testing.T) {
	for _, k := range keyboards {
		require.Equal(t, len([]rune(k.from)), len([]rune(k.to)), k.name)
		seen := map[rune]bool{}
		for _, c := range k.from {
			require.Falsef(t, seen[c], "%s: %q stands twice", k.name, c)
			seen[c] = true
		}
	}
}
