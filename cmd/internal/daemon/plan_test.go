package daemon

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/protocol"
)

// The table media × studies is on contract page 3.
func TestPotsAreWorkedOutFromTheStudies(t *testing.T) {
	p := protocol.Default()
	for name, c := range map[string]struct {
		lesion  tracker.Lesion
		studies []string
		want    map[string][]string // medium → studies
		pieces  int                 // in the first pot
	}{
		"a breast core for receptors needs formalin alone": {tracker.Lesion{Key: "1", Organ: "breast"},
			[]string{"histology", "receptors"}, map[string][]string{"formalin": {"histology", "receptors"}}, 4},
		"a node for flow has a pot that nobody fills with formalin": {tracker.Lesion{Key: "1", Organ: "node"},
			[]string{"flow", "histology"}, map[string][]string{"formalin": {"histology"}, "rpmi": {"flow"}}, 3},
		"culture and karyotype want two different fresh pots": {tracker.Lesion{Key: "1", Organ: "node"},
			[]string{"histology", "culture", "karyotype", "flow"},
			map[string][]string{"formalin": {"histology"}, "saline": {"culture"}, "rpmi": {"karyotype", "flow"}}, 3},
		"calcification wants more pieces": {tracker.Lesion{Key: "1", Organ: "breast", Target: "calcification"},
			[]string{"histology"}, map[string][]string{"formalin": {"histology"}}, 6},
	} {
		t.Run(name, func(t *testing.T) {
			pots, why, err := planPots(p, []tracker.Lesion{c.lesion}, [][]string{c.studies})
			require.NoError(t, err)
			got := map[string][]string{}
			for _, pot := range pots {
				got[pot.Medium] = pot.Studies
				require.NotEmpty(t, why[pot.Pot])
			}
			require.Equal(t, c.want, got)
			require.Equal(t, "formalin", pots[0].Medium, "the fixed pot comes first")
			require.Equal(t, c.pieces, pots[0].Pieces)
		})
	}
}

func TestAStudyWithoutAMediumIsTold(t *testing.T) {
	_, _, err := planPots(protocol.Default(), []tracker.Lesion{{Key: "1", Organ: "node"}}, [][]string{{"histology", "horoscope"}})
	require.ErrorContains(t, err, "horoscope")
	_, _, err = planPots(protocol.Default(), []tracker.Lesion{{Key: "1", Organ: "node"}}, [][]string{nil})
	require.ErrorContains(t, err, "which studies")
}

func TestLabelsNeededAreOnePerPotAndPiece(t *testing.T) {
	name, err := tracker.CaseName("MBY", 26, 417)
	require.NoError(t, err)
	names, err := labelsFor(protocol.Default(), name, []tracker.PlannedPot{
		{Pot: "A", Pieces: 2, Carrier: "cassette"}, {Pot: "B", Pieces: 3, Carrier: "loose"}, {Pot: "C", Pieces: 1}})
	require.NoError(t, err)
	require.Equal(t, []tracker.Name{"MBY-26-00417-A", "MBY-26-00417-A01", "MBY-26-00417-A02", "MBY-26-00417-B", "MBY-26-00417-C", "MBY-26-00417-C01"}, names)
}

// TestPiecesLieAsTheirMediumAsks: a core for histology in a cassette, a smear on a slide, a core for flow loose in its pot,
// which is why it gets no label of its own. Common practice, no source; page 3 says cassette unless said.
func TestPiecesLieAsTheirMediumAsks(t *testing.T) {
	p := protocol.Default()
	pots, _, err := planPots(p, []tracker.Lesion{{Key: "1", Organ: "node"}}, [][]string{{"histology", "cytology", "flow"}})
	require.NoError(t, err)
	carriers := map[string]string{}
	for _, pot := range pots {
		carriers[pot.Medium] = pot.Carrier
	}
	require.Equal(t, map[string]string{"formalin": "cassette", "slides-fixed": "slide", "rpmi": "loose"}, carriers)
	names, err := labelsFor(p, "MBY-26-00417", pots)
	require.NoError(t, err)
	for _, n := range names {
		if pot := n.Letter(); pots[pot[0]-'A'].Carrier == "loose" {
			require.Zero(t, n.PieceNumber(), "%s has no label of its own", n)
		}
	}
}

// TestALabelWarnsOfWhatIsInThePot: what the default media are warned of, and that formaldehyde never goes without.
func TestALabelWarnsOfWhatIsInThePot(t *testing.T) {
	warnings := map[string]string{}
	for key, m := range protocol.Default().Media {
		if w := m.Warning(); w != "" {
			warnings[key] = w
		}
	}
	require.Equal(t, map[string]string{"formalin": "toxic", "bouin": "toxic", "glutaraldehyde": "toxic", "ethanol": "flammable",
		"slides-fixed": "flammable", "vial": "flammable"}, warnings)
	require.Equal(t, "toxic", protocol.Medium{Formaldehyde: 4}.Warning())
}

// TestALabelOfAnOrganWithTwoSidesNeedsItsSide: intake asks for the side of breast and axillary node; of an organ that a clinic
// added, the label does.
func TestALabelOfAnOrganWithTwoSidesNeedsItsSide(t *testing.T) {
	p := *protocol.Default()
	p.Organs = map[string]protocol.Organ{"parotid": {Name: "Parotid", Sided: true}}
	content := func(side string) (ask.LabelContent, error) {
		e := &tracker.Event{Kind: tracker.KindCaseOpened, ID: "0199f1c2-7b1e-7c3a-9d55-0a4c6f1e2b77", Clinic: "MBY", By: "clerk.ann", Station: "desk",
			At: time.Date(2026, 3, 6, 9, 0, 0, 0, time.UTC), Items: []tracker.Item{{Name: "MBY-26-00417"}}, Data: &tracker.CaseOpened{Patient: "p", Priority: "routine",
				Lesions: []tracker.Lesion{{Key: "1", Organ: "parotid", Side: side}}, Pots: []tracker.PlannedPot{{Pot: "A", Lesion: "1", Medium: "formalin", Studies: []string{"histology"}}}}}
		out := ask.LabelContent{Name: "MBY-26-00417-A"}
		return out, describe(&out, tracker.Fold("MBY-26-00417", []*tracker.Event{e}), &p)
	}
	_, err := content("left")
	require.NoError(t, err)
	_, err = content("")
	require.ErrorContains(t, err, "MBY-26-00417 A: the request does not say on which side the parotid is: confirm it with the patient, amend the request, then print")
}
