package labels_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/labels"
	"github.com/pottrail/pottrail/tracker"
)

// TestAnySizeByName: a clinic's own stock needs its name in the configuration and nothing else.
func TestAnySizeByName(t *testing.T) {
	d := drawer(t)
	for name, want := range map[string]struct {
		w, h float64
		is   string // the name that events say, if it is not the one that was given
	}{
		"pot-60x30": {60, 30, ""}, "POT-60x30 ": {60, 30, "pot-60x30"}, "pot-60.0x30.50": {60, 30.5, "pot-60x30.5"},
		"piece-25.4x19": {25.4, 19, ""}, "slide-26x26": {26, 26, ""}, "request-105x74": {105, 74, ""}, "bag-100x150": {100, 150, ""},
		"place-210x148": {210, 148, ""}, "badge-86x54": {86, 54, ""}, "downtime-62x29": {62, 29, ""},
	} {
		l, err := labels.ParseLayout(name)
		require.NoError(t, err, name)
		require.Equal(t, want.w, l.WidthMM)
		require.Equal(t, want.h, l.HeightMM)
		if want.is == "" {
			want.is = name
		}
		require.Equal(t, want.is, l.Name)
		found, ok := labels.LayoutNamed(name)
		require.True(t, ok)
		require.Equal(t, l.Name, found.Name)
		c := contentFor(t, l)
		p, err := d.Draw(l, c, labels.Options{DotsPerMM: 8})
		require.NoError(t, err, name)
		require.Equal(t, symbolText(l, c), readByZXing(t, p))
	}
}

func TestSizesThatAreRefused(t *testing.T) {
	for name, says := range map[string]string{
		"":                         "no size",
		"pot":                      "no size",
		"pot-60":                   "no x",
		"pot-60*30":                "no x",
		"wristband-60x30":          "unknown",
		"pot-60x":                  "no length",
		"pot-x30":                  "no length",
		"pot-6e1x30":               "no length",
		"pot-+60x30":               "no length",
		"pot-0x40x30":              "no length",
		"pot-60x30.5.1":            "no length",
		"pot-NaNx30":               "no length",
		"pot-60x30x20":             "no length",
		"pot-60 x 30":              "no length",
		"pot-49.9x25":              "50 × 25 mm at least",
		"pot-60x211":               "210 mm a side at most",
		"downtime-20x20":           "22 × 15 mm at least",
		"pot-60x30mm":              "no length",
		strings.Repeat("pot-", 99): "396 characters",
	} {
		_, err := labels.ParseLayout(name)
		require.ErrorContains(t, err, says, name)
		_, ok := labels.LayoutNamed(name)
		require.False(t, ok, name)
	}
}

// FuzzParseLayout: any text is a layout that can be drawn by, and whose own name gives it again, or is refused.
func FuzzParseLayout(f *testing.F) {
	for _, seed := range []string{"pot-60x30", "piece-22x15", "downtime-70x50", "pot-", "-x", "request-100.25x40", "pot-00060x0030.", "pot-50.00000000000001x25", strings.Repeat("\n", 2000)} {
		f.Add(seed)
	}
	d := drawer(f)
	f.Fuzz(func(t *testing.T, name string) {
		l, err := labels.ParseLayout(name)
		if err != nil {
			require.Less(t, len(err.Error()), 1000)
			return
		}
		again, err := labels.ParseLayout(l.Name)
		require.NoError(t, err)
		require.Equal(t, l.Name, again.Name)
		require.Equal(t, l.WidthMM, again.WidthMM)
		c := contentFor(t, l)
		p, err := d.Draw(l, c, labels.Options{DotsPerMM: 8})
		require.NoErrorf(t, err, "%s", l.Name)
		require.Equal(t, symbolText(l, c), readByZXing(t, p))
	})
}

// TestTheCarrierDecides: a slide has the label of a slide, loose pieces have none.
func TestTheCarrierDecides(t *testing.T) {
	for _, test := range []struct {
		thing               tracker.Thing
		carrier             string
		printed, onDowntime string
	}{
		{tracker.ThingPiece, "slide", "slide-24x24", "downtime-24x24"},
		{tracker.ThingPiece, "cassette", "piece-22x15", "downtime-22x15"},
		{tracker.ThingPiece, "tube", "piece-22x15", "downtime-22x15"},
		{tracker.ThingPiece, "", "piece-22x15", "downtime-22x15"},
		{tracker.ThingPiece, "foam", "", ""},
		{tracker.ThingPiece, "loose", "", ""},
		{tracker.ThingPot, "slide", "pot-50x25", "downtime-70x50"},
		{tracker.ThingCase, "", "request-50x25", "downtime-70x50"},
		{tracker.ThingBag, "", "bag-50x25", ""},
		{tracker.ThingRoomDay, "", "", ""},
		{0, "", "", ""},
	} {
		l, ok := labels.LayoutFor(test.thing, test.carrier)
		require.Equal(t, test.printed != "", ok, test)
		require.Equal(t, test.printed, l.Name, test)
		require.Equal(t, ok, ok && l.For(test.thing))
		l, ok = labels.DowntimeFor(test.thing, test.carrier)
		require.Equal(t, test.onDowntime != "", ok, test)
		require.Equal(t, test.onDowntime, l.Name, test)
	}
}
