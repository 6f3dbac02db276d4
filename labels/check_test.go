package labels_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/labels"
)

// TestASideIsAWord: no abbreviation gets onto a label, since "R" is right to one and rechts to another, and "li" is
// links to one and a slip for re to the next.
func TestASideIsAWord(t *testing.T) {
	d := drawer(t)
	for _, side := range []string{"left", "right", "Left", "RIGHT", "left side", "both sides", "midline", "bilateral", "left and right", "mid-line", "central",
		"links", "rechts", "gauche", "droite", "vänster", "höger", "bal", "jobb", "sol", "sağ", "αριστερά", "справа", "trái", "phải"} {
		c := potContent(t)
		c.Side = side
		_, err := d.Draw(layout(t, "pot-50x25"), c, labels.Options{DotsPerMM: 8})
		require.NoError(t, err, side)
	}
	for _, side := range []string{"L", "R", "l", "r", "li", "re", "lt", "rt", "lt.", "left.", "Lt", "dx", "sin", "sin.", "sx", "dext", "bilat", "bil.", "B", "L/R", "l side",
		"side", "sides", "R side", "lft", "rgt", "rght", "2", "left2", "left (R)", "-", "l-r", "left or R", "ipsi", "gau.", "??", "bds"} {
		for _, l := range []string{"pot-50x25", "piece-22x15", "slide-24x24"} {
			l := layout(t, l)
			c := contentFor(t, l)
			c.Side = side
			p, err := d.Draw(l, c, labels.Options{DotsPerMM: 8})
			require.Nil(t, p, side)
			var refused *labels.ContentError
			require.ErrorAs(t, err, &refused, side)
			require.Equal(t, "side", refused.Field)
			require.Contains(t, err.Error(), "whole word")
		}
	}
}

// TestNoPatientWhereEverybodyReads: bags, places, badges and downtime rolls carry nobody's identifiers, and places and
// badges what the record calls them.
func TestNoPatientWhereEverybodyReads(t *testing.T) {
	d := drawer(t)
	for _, test := range []struct {
		name, layout string
		change       func(c *labels.Content)
		field        string // of the refusal; "" for none
	}{
		{"a place", "place-70x50", func(*labels.Content) {}, ""},
		{"a place in one word", "place-50x25", func(c *labels.Content) { c.Detail = "" }, ""},
		{"a place without words", "place-50x25", func(c *labels.Content) { c.Title = " " }, "title"},
		{"a place without key", "place-50x25", func(c *labels.Content) { c.Key = "" }, "key"},
		{"a key in capitals, which would be read back in small letters", "place-50x25", func(c *labels.Content) { c.Key = "Hatch" }, "key"},
		{"a key with a space", "place-50x25", func(c *labels.Content) { c.Key = "lab hatch" }, "key"},
		{"the longest key", "place-50x25", func(c *labels.Content) { c.Key = strings.Repeat("k", 64) }, ""},
		{"a longer key", "place-50x25", func(c *labels.Content) { c.Key = strings.Repeat("k", 65) }, "key"},
		{"a place with a code", "place-50x25", func(c *labels.Content) { c.Code = code(t, "MBY-26-00417-A", '1') }, "code"},
		{"a place with a patient", "place-50x25", func(c *labels.Content) { c.Patient.Family = "Halvorsen" }, "patient"},
		{"a badge", "badge-80x50", func(*labels.Content) {}, ""},
		{"a badge without a name", "badge-50x25", func(c *labels.Content) { c.Title = "" }, "title"},
		{"a badge with a patient", "badge-50x25", func(c *labels.Content) { c.Patient.BirthDate = "1961-02-14" }, "patient"},
		{"a badge with a medium", "badge-50x25", func(c *labels.Content) { c.Medium = "formalin" }, "patient"},
		{"a roll", "downtime-70x50", func(*labels.Content) {}, ""},
		{"a roll with a patient", "downtime-70x50", func(c *labels.Content) { c.Patient.Family = "Halvorsen" }, "patient"},
		{"a roll with a side", "downtime-70x50", func(c *labels.Content) { c.Side = "left" }, "patient"},
		{"a roll with a collector", "downtime-70x50", func(c *labels.Content) { c.Collector = "nurse.osei" }, "patient"},
		{"a roll for a case", "downtime-50x25", func(c *labels.Content) { c.Code = code(t, "MBY-26-00417", '1') }, ""},
		{"a roll for a piece", "downtime-50x50", func(c *labels.Content) { c.Code = code(t, "MBY-26-00417-A01", '1') }, ""},
		{"a roll for a bag", "downtime-70x50", func(c *labels.Content) { c.Code = code(t, "MBY-26-00417-Z", '1') }, "code"},
		{"a pot on the roll for pieces", "downtime-22x15", func(c *labels.Content) { c.Code = code(t, "MBY-26-00417-A", '1') }, "code"},
		{"a case on the roll for slides", "downtime-24x24", func(c *labels.Content) { c.Code = code(t, "MBY-26-00417", '1') }, "code"},
		{"a roll without a code", "downtime-70x50", func(c *labels.Content) { *c = labels.Content{} }, "code"},
		{"a bag with a site", "bag-50x25", func(c *labels.Content) { c.Organ = "breast" }, "site"},
		{"a pot with a key", "pot-50x25", func(c *labels.Content) { c.Key = "hatch" }, "key"},
	} {
		t.Run(test.name, func(t *testing.T) {
			l := layout(t, test.layout)
			c := contentFor(t, l)
			test.change(&c)
			p, err := d.Draw(l, c, labels.Options{DotsPerMM: 8})
			if test.field == "" {
				require.NoError(t, err)
				require.Equal(t, symbolText(l, c), readByZXing(t, p))
				return
			}
			require.Nil(t, p)
			var refused *labels.ContentError
			require.ErrorAs(t, err, &refused)
			require.Equal(t, test.field, refused.Field)
			require.NotContains(t, err.Error(), "Halvorsen")
		})
	}
}

// TestPlacesAndBadgesAreReadAsWhatTheyAre: the way back from the symbol's text.
func TestPlacesAndBadgesAreReadAsWhatTheyAre(t *testing.T) {
	d := drawer(t)
	for name, kind := range map[string]labels.ScanKind{"place-50x25": labels.ScanPlace, "place-70x50": labels.ScanPlace, "badge-50x25": labels.ScanBadge, "badge-80x50": labels.ScanBadge} {
		l := layout(t, name)
		c := contentFor(t, l)
		p, err := d.Draw(l, c, labels.Options{DotsPerMM: 12})
		require.NoError(t, err)
		scan, err := labels.Read(readByZXing(t, p))
		require.NoError(t, err)
		require.Equal(t, labels.Scan{Kind: kind, Key: c.Key}, scan)
	}
}
