package wire_test

import (
	"slices"
	"testing"

	"github.com/pottrail/pottrail/labels/wire"
)

// FuzzParseLanguage holds on any text: it is one of the languages, or an error.
func FuzzParseLanguage(f *testing.F) {
	f.Add("zpl")
	f.Add(" PWG ")
	f.Add("\xff")
	f.Fuzz(func(t *testing.T, text string) {
		l, err := wire.ParseLanguage(text)
		if (err == nil) != slices.Contains(wire.Languages(), l) {
			t.Fatalf("%q reads as %q, %v", text, l, err)
		}
	})
}
