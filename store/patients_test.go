package store_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/storetest"
	"github.com/pottrail/pottrail/tracker"
)

// The cases of a patient are those whose request names the patient's ref now, found without reading all others.
func TestCasesOfAPatient(t *testing.T) {
	l := storetest.Open(t, storetest.Path(t), store.Options{})
	storetest.Record(t, l, storetest.Morning().AddDate(0, 0, 7), storetest.Life(7, 60)...)
	odd := tracker.Name("MBY-26-90001")
	open := &tracker.Event{ID: "0199f1c2-7b1e-7c3a-9d55-0000000000aa", Kind: tracker.KindCaseOpened, Clinic: "MBY", At: storetest.Morning(), By: "clerk.ann", Station: "desk",
		Items: []tracker.Item{storetest.Item(odd)}, Data: &tracker.CaseOpened{Patient: `a "ref" \ von außen`, Priority: "routine",
			Lesions: []tracker.Lesion{{Key: "1", Organ: "breast", Side: "left"}}, Pots: []tracker.PlannedPot{{Pot: "A", Lesion: "1", Medium: "formalin", Studies: []string{"histology"}}}}}
	storetest.Record(t, l, storetest.Morning().Add(time.Hour), open)

	want := map[string][]tracker.Name{}
	for s, err := range l.Snapshots(store.Filter{}) {
		require.NoError(t, err)
		if s.Summary.Patient != "" {
			want[s.Summary.Patient] = append(want[s.Summary.Patient], s.Summary.Name)
		}
	}
	require.Greater(t, len(want), 20)
	for patient, names := range want {
		found, err := l.CasesOf(patient)
		require.NoError(t, err)
		var have []tracker.Name
		for _, s := range found {
			have = append(have, s.Summary.Name)
		}
		require.Equal(t, names, have)
	}
	for _, nobody := range []string{"", "nobody"} {
		found, err := l.CasesOf(nobody)
		require.NoError(t, err)
		require.Empty(t, found)
	}
}
