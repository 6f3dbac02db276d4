package press_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/press"
	"github.com/pottrail/pottrail/labels"
	"github.com/pottrail/pottrail/tracker"
)

var patient = ask.Patient{Family: "Halvorsen", Given: "Ingrid", BirthDate: "1961-02-14", RecordNumber: "40118223"}

func content(name tracker.Name, carrier string) ask.LabelContent {
	return ask.LabelContent{Name: name, Copy: '1', Patient: patient, Organ: "breast", Side: "left", Medium: "10 % formalin", Carrier: carrier}
}

func stock(t *testing.T, names ...string) []labels.Layout {
	t.Helper()
	var all []labels.Layout
	for _, name := range names {
		l, ok := labels.LayoutNamed(name)
		require.True(t, ok, name)
		all = append(all, l)
	}
	return all
}

// blank is what goes on a label of a downtime roll: its code.
func blank(name tracker.Name) ask.LabelContent {
	return ask.LabelContent{Name: name, Copy: '1', Roll: true}
}

func TestALayoutIsChosenByThingCarrierAndStock(t *testing.T) {
	for name, c := range map[string]struct {
		content      ask.LabelContent
		stock        []string
		named        string
		want, refuse string
	}{
		"a pot":                             {content("MBY-26-00417-A", ""), nil, "", "pot-50x25", ""},
		"a pot from wider stock":            {content("MBY-26-00417-A", ""), []string{"bag-50x25", "pot-50.8x25.4", "pot-50x25"}, "", "pot-50.8x25.4", ""},
		"a pot where only pieces are":       {content("MBY-26-00417-A", ""), []string{"piece-22x15"}, "", "", "there is no label for a pot here; there are piece-22x15"},
		"a piece in a cassette":             {content("MBY-26-00417-A01", "cassette"), []string{"slide-24x24", "piece-22x15"}, "", "piece-22x15", ""},
		"a piece in a tube":                 {content("MBY-26-00417-A01", "tube"), nil, "", "piece-22x15", ""},
		"a piece on a slide":                {content("MBY-26-00417-A01", "slide"), nil, "", "slide-24x24", ""},
		"a slide where only tubes' are":     {content("MBY-26-00417-A01", "slide"), []string{"piece-22x15"}, "", "", "no label for a piece on a slide"},
		"a tube where only slides' are":     {content("MBY-26-00417-A01", "tube"), []string{"slide-24x24"}, "", "", "no label for a piece on a tube"},
		"a piece of which nothing is known": {content("MBY-26-00417-A01", ""), []string{"slide-24x24"}, "", "slide-24x24", ""},
		"a pot of a downtime roll":          {blank("MBY-26-00900-A"), []string{"downtime-22x15", "pot-50x25", "downtime-50x25", "downtime-70x50"}, "", "downtime-50x25", ""},
		"a piece of a downtime roll":        {blank("MBY-26-00900-A01"), []string{"downtime-50x25", "piece-22x15", "downtime-22x15"}, "", "downtime-22x15", ""},
		"a roll where there is none":        {blank("MBY-26-00900"), []string{"request-50x25", "downtime-22x15"}, "", "", "there is no downtime label for a case here; there are request-50x25, downtime-22x15"},
		"a roll without stock":              {blank("MBY-26-00900"), nil, "", "downtime-70x50", ""},
		"one by name":                       {content("MBY-26-00417-A", ""), nil, "pot-50.8x25.4", "pot-50.8x25.4", ""},
		"one by name that is not in it":     {content("MBY-26-00417-A", ""), []string{"pot-50x25"}, "pot-50.8x25.4", "", `there is no layout "pot-50.8x25.4" here; there are pot-50x25`},
	} {
		t.Run(name, func(t *testing.T) {
			got, err := press.LayoutFor(c.content, stock(t, c.stock...), c.named)
			if c.refuse != "" {
				require.ErrorContains(t, err, c.refuse)
				return
			}
			require.NoError(t, err)
			require.Equal(t, c.want, got.Name)
		})
	}
}

func TestALabelThatCannotBeDrawnIsNamedAndShowsNobody(t *testing.T) {
	artist, err := press.NewArtist()
	require.NoError(t, err)
	c := content("MBY-26-00417-A", "")
	wish := press.Wish{DotsPerMM: 8, At: time.Date(2026, 3, 6, 15, 42, 0, 0, time.UTC)}
	d, err := artist.Draw(c, wish)
	require.NoError(t, err)
	require.NotNil(t, d.Picture.Symbol)
	require.Equal(t, "MBY2600417A001", d.Code.String()[:14])

	wish.Preview = true
	d, err = artist.Draw(c, wish)
	require.NoError(t, err)
	require.Nil(t, d.Picture.Symbol)

	c.Medium = ""
	_, err = artist.Draw(c, wish)
	require.ErrorContains(t, err, "MBY-26-00417 A cannot be printed: pot-50x25 label: medium")
	c.Medium, c.Patient.Given = "10 % formalin", "Ingrid\ud55c"
	_, err = artist.Draw(c, wish)
	require.ErrorContains(t, err, "MBY-26-00417 A cannot be printed")
	require.NotContains(t, err.Error(), "Halvorsen")
}
