package wire_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/labels"
	"github.com/pottrail/pottrail/tracker"
)

func drawer(t testing.TB) *labels.Drawer {
	t.Helper()
	d, err := labels.NewDrawer()
	require.NoError(t, err)
	return d
}

func code(t testing.TB, name tracker.Name) tracker.Code {
	t.Helper()
	made, err := tracker.MakeCode(name, '1')
	require.NoError(t, err)
	return made
}

// contentFor is an ordinary content for a layout.
func contentFor(t testing.TB, l labels.Layout) labels.Content {
	t.Helper()
	switch l.Form {
	case labels.FormPlace:
		return labels.Content{Key: "hatch", Title: "Laboratory hatch", Detail: "Tarn Road, ground floor"}
	case labels.FormBadge:
		return labels.Content{Key: "nurse.osei", Title: "Abena Osei", Detail: "nurse"}
	case labels.FormDowntime:
		if l.WidthMM >= 50 {
			return labels.Content{Code: code(t, "MBY-26-00501-A")}
		}
		return labels.Content{Code: code(t, "MBY-26-00501-A03")}
	}
	printed := time.Date(2026, 3, 6, 15, 31, 0, 0, time.UTC)
	c := labels.Content{
		Patient: labels.Patient{Family: "Halvorsen", Given: "Ingrid", BirthDate: "1961-02-14", RecordNumber: "40118223"},
		Organ:   "breast", Side: "left", Position: "2 o'clock, 40 mm from nipple",
		Medium: "10 % formalin", Caution: "toxic", Studies: []string{"histology"}, Collector: "nurse.osei", Printed: printed,
	}
	switch l.Thing {
	case tracker.ThingCase:
		c.Code = code(t, "MBY-26-00417")
	case tracker.ThingPot:
		c.Code = code(t, "MBY-26-00417-A")
	case tracker.ThingPiece:
		c.Code = code(t, "MBY-26-00417-A03")
	case tracker.ThingBag:
		c = labels.Content{Code: code(t, "MBY-26-00012-Z"), To: "Tarn Road laboratory", Printed: printed}
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
