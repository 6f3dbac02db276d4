package labels_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/labels"
)

// TestNamesInManyScripts: names in Latin with accents, Greek and Cyrillic are drawn on every layout with a patient, each
// with its capitals at the least size or above.
func TestNamesInManyScripts(t *testing.T) {
	d := drawer(t)
	for _, name := range []struct{ family, given string }{
		{"Åström", "Görel"}, {"Čapková", "Žofie"}, {"Łuczak", "Bożena"}, {"Şahin", "İpek"}, {"Þórðardóttir", "Guðrún"},
		{"Nguyễn", "Thị Ánh"}, {"Ếch", "Ỹ"}, {"Großmann", "Jürgen"}, {"GROẞMANN", "ÄNNE"}, {"Țepeș", "Șerban"}, {"Ðurić", "Ljubica"},
		{"Παπαδοπούλου", "Ευαγγελία"}, {"Ώρα", "Ήρα"}, {"Шевченко", "Ольга"}, {"Ґалаґан", "Їжакевич"}, {"Ѓоргиев", "Ќиро"},
		{"O'Neill", "Siobhán"}, {"d’Arcy", "Zoë"}, {"de la Cruz", "José María"}, {"Q", "Q"},
	} {
		for _, l := range labels.Layouts() {
			c := contentFor(t, l)
			if c.Patient == (labels.Patient{}) {
				continue
			}
			c.Patient.Family, c.Patient.Given = name.family, name.given
			for _, dots := range resolutions {
				_, err := d.Draw(l, c, labels.Options{DotsPerMM: dots})
				require.NoErrorf(t, err, "%s, %s on %s at %d", name.family, name.given, l.Name, dots)
			}
		}
	}
}

// TestComposedAndDecomposedAreOne: the same name typed in two ways of Unicode gives the same dots.
func TestComposedAndDecomposedAreOne(t *testing.T) {
	d := drawer(t)
	l := layout(t, "pot-50x25")
	composed, decomposed := contentFor(t, l), contentFor(t, l)
	composed.Patient.Family = "\u00c5str\u00f6m"
	decomposed.Patient.Family = "A\u030astro\u0308m"
	one, err := d.Draw(l, composed, labels.Options{DotsPerMM: 8})
	require.NoError(t, err)
	two, err := d.Draw(l, decomposed, labels.Options{DotsPerMM: 8})
	require.NoError(t, err)
	require.Equal(t, one.Bits, two.Bits)
}

// TestWhatCannotBeDrawnIsRefused: a character is shown as it is meant, or the label is refused with its name and place.
func TestWhatCannotBeDrawnIsRefused(t *testing.T) {
	d := drawer(t)
	for _, test := range []struct {
		name, family string
		character    rune
		position     int
		says         string
	}{
		{"a letter that the typeface lacks", "Srisai ก", 'ก', 8, "no drawing"},
		{"a Chinese name", "王", '王', 1, "no drawing"},
		{"a null", "Halv\x00orsen", 0, 5, "control"},
		{"a line feed", "Halv\norsen", '\n', 5, "control"},
		{"an escape", "Halv\x1b[31m", 0x1b, 5, "control"},
		{"a control of the second set", "Halv\u0085orsen", 0x85, 5, "control"},
		{"a delete", "Halv\x7forsen", 0x7f, 5, "control"},
		{"a reversal of direction", "Halv\u202eorsen", 0x202e, 5, "invisible"},
		{"a joiner of no width", "Halv\u200dorsen", 0x200d, 5, "invisible"},
		{"a soft hyphen", "Halv\u00adorsen", 0xad, 5, "invisible"},
		{"a line separator", "Halv\u2028orsen", 0x2028, 5, "invisible"},
		{"a private character", "Halv\ue000orsen", 0xe000, 5, "invisible"},
		{"text lost in a conversion", "Halv\ufffdorsen", 0xfffd, 5, "lost"},
		{"bytes that are not UTF-8", "Halv\xf8rsen", 0xfffd, 5, "not UTF-8"},
		{"a mark without a composed letter", "Ọ\u0301lá", 0x301, 2, "mark"},
		{"Hebrew, set from right to left", "כהן", 'כ', 1, "Latin form"},
		{"Arabic, joined", "حسن", 'ح', 1, "Latin form"},
	} {
		t.Run(test.name, func(t *testing.T) {
			for _, l := range []string{"pot-50x25", "piece-22x15", "slide-24x24", "request-50x25"} {
				l := layout(t, l)
				c := contentFor(t, l)
				c.Patient.Family = test.family
				p, err := d.Draw(l, c, labels.Options{DotsPerMM: 8})
				require.Nil(t, p)
				var refused *labels.CharacterError
				require.ErrorAs(t, err, &refused)
				require.Equal(t, test.character, refused.Character)
				require.Equal(t, test.position, refused.Position)
				require.Contains(t, err.Error(), test.says)
				require.Contains(t, err.Error(), "name")
				if test.character != 0 {
					require.Contains(t, err.Error(), "U+")
				}
			}
		})
	}
}

// TestControlsInEveryField: no field lets a control character through.
func TestControlsInEveryField(t *testing.T) {
	d := drawer(t)
	l := layout(t, "pot-50x25")
	for name, change := range map[string]func(c *labels.Content, with string){
		"family name":     func(c *labels.Content, w string) { c.Patient.Family += w },
		"given name":      func(c *labels.Content, w string) { c.Patient.Given += w },
		"record number":   func(c *labels.Content, w string) { c.Patient.RecordNumber += w },
		"national number": func(c *labels.Content, w string) { c.Patient.NationalNumber += w },
		"organ":           func(c *labels.Content, w string) { c.Organ += w },
		"side":            func(c *labels.Content, w string) { c.Side += w },
		"position":        func(c *labels.Content, w string) { c.Position += w },
		"medium":          func(c *labels.Content, w string) { c.Medium += w },
		"caution":         func(c *labels.Content, w string) { c.Caution += w },
		"collector":       func(c *labels.Content, w string) { c.Collector += w },
		"studies":         func(c *labels.Content, w string) { c.Studies[0] += w },
		"destination":     func(c *labels.Content, w string) { c.To += w },
	} {
		for _, with := range []string{"\x07x", "^XA\x02", "\u202ex", strings.Repeat("x", 500)} {
			c := contentFor(t, l)
			change(&c, with)
			_, err := d.Draw(l, c, labels.Options{DotsPerMM: 8})
			var refused *labels.CharacterError
			require.ErrorAsf(t, err, &refused, "%s with %q", name, with)
			require.Equal(t, name, refused.Field)
		}
	}
}

// FuzzNames: any text in the name is drawn with a symbol that reads back, or refused; it never panics, and never comes
// out as a label whose symbol is hidden.
func FuzzNames(f *testing.F) {
	for _, seed := range []string{"Halvorsen", "Παπαδοπούλου", "Шевченко", "Ếy", "W\u0301\u0302\u0303", "\x00\x1b", "\xff\xfe", "ﷺ", "𝔄", "…………………", strings.Repeat("W", 50), "- - -", "ǅ", "á-b c", "\u00a0", "^FD~DG", "‰‱"} {
		f.Add(seed, "Ingrid "+seed, uint8(0))
		f.Add("Halvorsen", seed, uint8(1))
		f.Add(seed, "", uint8(2))
	}
	d := drawer(f)
	all := labels.Layouts()
	f.Fuzz(func(t *testing.T, family, given string, which uint8) {
		l := all[int(which)%len(all)]
		c := contentFor(t, l)
		if c.Patient == (labels.Patient{}) {
			c.To, c.Title, c.Detail = "", "", ""
			switch l.Form {
			case labels.FormBag:
				c.To = family + given
			case labels.FormPlace, labels.FormBadge:
				c.Title, c.Detail = family, given
			}
		} else {
			c.Patient.Family, c.Patient.Given = family, given
		}
		p, err := d.Draw(l, c, labels.Options{DotsPerMM: resolutions[int(which/8)%len(resolutions)]})
		if err != nil {
			require.Nil(t, p)
			var character *labels.CharacterError
			var fit *labels.FitError
			var content *labels.ContentError
			switch {
			case asError(err, &character), asError(err, &fit), asError(err, &content):
			default:
				t.Fatalf("an error of no known kind: %v", err)
			}
			return
		}
		require.Equal(t, symbolText(l, c), readByZXing(t, p))
	})
}
