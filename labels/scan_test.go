package labels_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/labels"
	"github.com/pottrail/pottrail/tracker"
)

func TestWhatAScannerSends(t *testing.T) {
	full := code(t, "MBY-26-00417-A03", '1').String()
	piece := labels.Scan{Kind: labels.ScanItem, Item: tracker.Item{Name: "MBY-26-00417-A03", Copy: '1'}}
	for text, want := range map[string]labels.Scan{
		full:                           piece,
		strings.ToLower(full):          piece,
		"]d1" + full:                   piece,
		"  " + full + "\r\n":           piece,
		full[:3] + "-" + full[3:] + "": piece,
		"mby-26-00417-a03":             {Kind: labels.ScanItem, Item: tracker.Item{Name: "MBY-26-00417-A03"}},
		"MBY-26-00417 A03":             {Kind: labels.ScanItem, Item: tracker.Item{Name: "MBY-26-00417-A03"}},
		"MBY-26-00012-Z":               {Kind: labels.ScanItem, Item: tracker.Item{Name: "MBY-26-00012-Z"}},
		"P:hatch":                      {Kind: labels.ScanPlace, Key: "hatch"},
		"]d1P:room-2":                  {Kind: labels.ScanPlace, Key: "room-2"},
		"p:ROOM-2":                     {Kind: labels.ScanPlace, Key: "room-2"},
		"B:nurse.osei\n":               {Kind: labels.ScanBadge, Key: "nurse.osei"},
	} {
		got, err := labels.Read(text)
		require.NoErrorf(t, err, "%q", text)
		require.Equalf(t, want, got, "%q", text)
	}
	for _, key := range []string{"hatch", "room-2", "nurse.osei", "a_b"} {
		place, err := labels.Read(labels.PlaceText(key))
		require.NoError(t, err)
		require.Equal(t, labels.Scan{Kind: labels.ScanPlace, Key: key}, place)
		badge, err := labels.Read(labels.BadgeText(key))
		require.NoError(t, err)
		require.Equal(t, labels.Scan{Kind: labels.ScanBadge, Key: key}, badge)
	}
}

func TestWhatIsNoLabelOfOurs(t *testing.T) {
	for _, text := range []string{"P:", "B:", "X:hatch", "P:room 2", "P:Tür", "P:" + strings.Repeat("a", 65), "p::"} {
		_, err := labels.Read(text)
		require.ErrorIsf(t, err, labels.ErrScan, "%q", text)
	}
	for text, reason := range map[string]tracker.CodeReason{
		"":                 tracker.ReasonLength,
		"MBY2600417A031X":  tracker.ReasonCheckCharacter,
		"MBY26":            tracker.ReasonLength,
		"https://example/": tracker.ReasonCharacter,
	} {
		_, err := labels.Read(text)
		var refused *tracker.CodeError
		require.ErrorAsf(t, err, &refused, "%q", text)
		require.Equalf(t, reason, refused.Reason, "%q", text)
	}
}

// FuzzRead: scanner text never panics, and what is understood is spelled back to the same.
func FuzzRead(f *testing.F) {
	for _, seed := range []string{"MBY2600417A031M", "P:hatch", "B:nurse.osei", "]d1", "]d1P:", ":", "::", "P", "\x00", "MBY-26-00417"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		got, err := labels.Read(text)
		if err != nil {
			return
		}
		spelled := got.Item.String()
		switch got.Kind {
		case labels.ScanPlace:
			spelled = labels.PlaceText(got.Key)
		case labels.ScanBadge:
			spelled = labels.BadgeText(got.Key)
		}
		again, err := labels.Read(spelled)
		require.NoError(t, err)
		require.Equal(t, got, again)
	})
}
