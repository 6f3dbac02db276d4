package tracker_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/testdata/published"
	"github.com/pottrail/pottrail/tracker"
)

// TestAsManyPiecesAsTheSourcesCallFor: testdata/published/pieces.tsv, Fishman 2003 and Sun 2021 (breast), Liberman 1994
// (calcification), World J Surg Oncol 2015 (nodes), Wu 2008 (soft tissue), Kuzan 2020 (thyroid): one fewer at the last lid is to
// be put right now, as many are enough.
func TestAsManyPiecesAsTheSourcesCallFor(t *testing.T) {
	for _, r := range published.Of(t, published.Table(t, "pieces.tsv"), "in", "default") {
		needed := r.Whole("pieces")
		for pieces, want := range map[int][]string{needed - 1: {"now pieces-few A"}, needed: {}} {
			s := newStory(t)
			lesion := tracker.Lesion{Key: "L1", Organ: r.Text("organ"), Side: "left", Imaging: "U3"}
			medium, study, fact := "formalin", "histology", tracker.PieceTaken{Lesion: "L1", What: "core", Gauge: 14, LengthMM: 18, Look: "firm-white"}
			switch {
			case r.Text("target") == "calcification":
				lesion.Target = "calcification"
			case r.Text("counts") == "passes":
				medium, study, fact = "vial", "cytology", tracker.PieceTaken{Lesion: "L1", What: "aspirate", Gauge: 25}
			}
			s.request.Lesions = []tracker.Lesion{lesion}
			s.opened(plan("A", medium, study))
			for i := range pieces {
				name, one := fmt.Sprintf("A%02d", i+1), fact
				one.Pass = i + 1
				s.at(fmt.Sprintf("10:%02d", i)).record(&one, name)
				s.potted(name)
				if lesion.Target == "calcification" {
					s.record(&tracker.SpecimenImaged{Calcium: "seen"}, name)
				}
			}
			s.at("10:20").sealed("A", "nurse.lund", pieces)
			s.record(&tracker.ProcedureEnded{Outcome: "done"}, "case")
			require.Equal(t, want, s.only("10:20", tracker.FlagPiecesFew), "%s: %d", r, pieces)
		}
	}
}

// TestFixativeIsTenTimesTheTissue: testdata/published/fixative-volumes.tsv, Japanese Society of Pathology 1.10 (ten times), Berg 1997
// (weights of cores, from memory, medium).
func TestFixativeIsTenTimesTheTissue(t *testing.T) {
	for _, r := range published.Table(t, "fixative-volumes.tsv") {
		s := newStory(t)
		s.opened(plan("A", "formalin", "histology"))
		s.at("09:30").record(&tracker.PotFilled{Medium: "formalin", VolumeML: r.Number("volume")}, "A")
		for i := range r.Whole("cores") {
			name := fmt.Sprintf("A%02d", i+1)
			s.at("10:00").record(&tracker.PieceTaken{Lesion: "L1", What: "core", Gauge: r.Number("gauge"), LengthMM: r.Number("length"), Look: "firm-white"}, name)
			s.potted(name)
		}
		want := []string{}
		if r.Text("scant") == "yes" {
			want = append(want, "now medium-scant A")
		}
		require.Equal(t, want, s.only("10:00", tracker.FlagMediumScant), "%s", r)
	}
}
