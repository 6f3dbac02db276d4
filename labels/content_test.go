package labels_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/labels"
	"github.com/pottrail/pottrail/tracker"
)

var printedAt = time.Date(2026, 3, 6, 15, 31, 42, 0, time.FixedZone("", 0))

func code(t testing.TB, name tracker.Name, copy tracker.Copy) tracker.Code {
	t.Helper()
	made, err := tracker.MakeCode(name, copy)
	require.NoError(t, err)
	return made
}

func potContent(t testing.TB) labels.Content {
	return labels.Content{
		Code:    code(t, "MBY-26-00417-A", '1'),
		Patient: labels.Patient{Family: "Halvorsen", Given: "Ingrid", BirthDate: "1961-02-14", RecordNumber: "40118223"},
		Organ:   "breast", Side: "left", Position: "2 o'clock, 40 mm from nipple",
		Medium: "10 % formalin", Caution: "toxic", Studies: []string{"histology"}, Collector: "nurse.osei",
		Printed: printedAt,
	}
}

// contentFor is an ordinary content for a layout's thing.
func contentFor(t testing.TB, l labels.Layout) labels.Content {
	t.Helper()
	c := potContent(t)
	switch l.Form {
	case labels.FormPlace:
		return labels.Content{Key: "hatch", Title: "Laboratory hatch", Detail: "Tarn Road, ground floor"}
	case labels.FormBadge:
		return labels.Content{Key: "nurse.osei", Title: "Abena Osei", Detail: "nurse"}
	case labels.FormDowntime:
		name := tracker.Name("MBY-26-00501-A")
		if l.WidthMM < 50 {
			name = "MBY-26-00501-A03"
		}
		return labels.Content{Code: code(t, name, '1')}
	}
	switch l.Thing {
	case tracker.ThingCase:
		c.Code = code(t, "MBY-26-00417", '2')
	case tracker.ThingPiece:
		c.Code = code(t, "MBY-26-00417-A03", '1')
	case tracker.ThingBag:
		c = labels.Content{Code: code(t, "MBY-26-00012-Z", '1'), To: "Tarn Road laboratory", Printed: printedAt}
	}
	return c
}

// symbolText is what the symbol of a content holds.
func symbolText(l labels.Layout, c labels.Content) string {
	switch l.Form {
	case labels.FormPlace:
		return labels.PlaceText(c.Key)
	case labels.FormBadge:
		return labels.BadgeText(c.Key)
	}
	return c.Code.String()
}

func layout(t testing.TB, name string) labels.Layout {
	t.Helper()
	l, ok := labels.LayoutNamed(name)
	require.Truef(t, ok, "layout %q", name)
	return l
}

func drawer(t testing.TB) *labels.Drawer {
	t.Helper()
	d, err := labels.NewDrawer()
	require.NoError(t, err)
	return d
}

// TestWhatALabelMustCarry: sources beside checkPatient.
func TestWhatALabelMustCarry(t *testing.T) {
	d := drawer(t)
	for _, test := range []struct {
		name, layout string
		change       func(c *labels.Content)
		field        string // of the refusal; "" for none
	}{
		{"a pot with all", "pot-50x25", func(*labels.Content) {}, ""},
		{"a pot without a name", "pot-50x25", func(c *labels.Content) { c.Patient.Family = " " }, "family name"},
		{"a patient with one name", "pot-50x25", func(c *labels.Content) { c.Patient.Given = "" }, ""},
		{"a pot without birth date", "pot-50x25", func(c *labels.Content) { c.Patient.BirthDate = "" }, "birth date"},
		{"a birth date that is no day", "pot-50x25", func(c *labels.Content) { c.Patient.BirthDate = "1961-02-30" }, "birth date"},
		{"a pot without a number", "pot-50x25", func(c *labels.Content) { c.Patient.RecordNumber = "" }, "record number"},
		{"a national number in its stead", "pot-50x25", func(c *labels.Content) {
			c.Patient.RecordNumber, c.Patient.NationalNumber = "", "943 476 5919"
		}, ""},
		{"a piece without a number", "piece-22x15", func(c *labels.Content) { c.Patient.RecordNumber = "" }, ""},
		{"a pot without organ", "pot-50x25", func(c *labels.Content) { c.Organ = "" }, "organ"},
		{"an organ without sides", "pot-50x25", func(c *labels.Content) { c.Organ, c.Side = "thyroid", "" }, ""},
		{"a pot without medium", "pot-50x25", func(c *labels.Content) { c.Medium = "" }, "medium"},
		{"a pot printed at no time", "pot-50x25", func(c *labels.Content) { c.Printed = c.Printed.AddDate(-3000, 0, 0); c.Printed = time.Time{} }, "time of printing"},
		{"no code", "pot-50x25", func(c *labels.Content) { c.Code = tracker.Code{} }, "code"},
		{"a piece on a pot's label", "pot-50x25", func(c *labels.Content) { c.Code = code(t, "MBY-26-00417-A03", '1') }, "code"},
		{"a bag with a patient on it", "bag-50x25", func(c *labels.Content) { c.Patient.Family = "Halvorsen" }, "patient"},
		{"a bag to nowhere in particular", "bag-50x25", func(c *labels.Content) { c.To = "" }, ""},
	} {
		t.Run(test.name, func(t *testing.T) {
			l := layout(t, test.layout)
			c := contentFor(t, l)
			test.change(&c)
			p, err := d.Draw(l, c, labels.Options{DotsPerMM: 8})
			if test.field == "" {
				require.NoError(t, err)
				return
			}
			require.Nil(t, p, "a refused label is not drawn in part")
			var refused *labels.ContentError
			require.ErrorAs(t, err, &refused)
			require.Equal(t, test.field, refused.Field)
			require.NotContains(t, err.Error(), "Halvorsen")
		})
	}
}
