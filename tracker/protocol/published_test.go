package protocol_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/testdata/published"
	"github.com/pottrail/pottrail/tracker/protocol"
)

// letterOf is how tables write what a medium is for a study.
func letterOf(t *testing.T, p *protocol.Protocol, medium, study string) string {
	t.Helper()
	suit, known := p.Suits(medium, study)
	require.True(t, known, "%s for %s", medium, study)
	return map[protocol.Suit]string{protocol.Right: "R", protocol.Loss: "L", protocol.Wrong: "-"}[suit]
}

// TestPublishedMedia: testdata/published/media.tsv, all 11 × 13 cells.
func TestPublishedMedia(t *testing.T) {
	p := protocol.Default()
	cells := 0
	for _, r := range published.Table(t, "media.tsv") {
		for study := range p.Studies {
			require.Equal(t, r.Text(study), letterOf(t, p, r.Text("medium"), study), "%s: %s", r, study)
			cells++
		}
	}
	require.Equal(t, 143, cells)
	require.Equal(t, 143, len(p.Media)*len(p.Studies), "the table has every medium and study of the default")
}

// TestPublishedCompactMatrix: testdata/published/media-compact.tsv, the compact matrix of the reference on practice. The
// default agrees but for the cells of media-differences.tsv, each of which is one.
func TestPublishedCompactMatrix(t *testing.T) {
	p := protocol.Default()
	differs := map[string]published.Row{}
	for _, r := range published.Table(t, "media-differences.tsv") {
		differs[r.Text("medium")+" for "+r.Text("study")] = r
	}
	letters := map[string]string{"1": "R", "0": "-", "D": "L"}
	compared := 0
	for _, r := range published.Table(t, "media-compact.tsv") {
		for _, medium := range r.Words("ours") {
			for column, cell := range r.Cells() {
				studies := []string{column}
				switch column {
				case "entry", "medium", "ours":
					continue
				case "culture":
					studies = append(studies, "tb")
				}
				for _, study := range studies {
					compared++
					got := letterOf(t, p, medium, study)
					difference, listed := differs[medium+" for "+study]
					if !listed {
						require.Equal(t, letters[cell], got, "%s: %s for %s", r, medium, study)
						continue
					}
					require.NotEqual(t, letters[cell], got, "%s is no difference any more", difference)
					require.Equal(t, [2]string{cell, got}, [2]string{difference.Text("compact"), difference.Text("default")}, "%s", difference)
					delete(differs, medium+" for "+study)
				}
			}
		}
	}
	require.Empty(t, differs, "differences about cells that the compact matrix does not have")
	require.Equal(t, 9*10, compared, "nine media of ours, nine columns, culture twice")
}

// TestPublishedAdequacy: testdata/published/adequacy.tsv, Liberman 1994, Demharter 2007, Margolin 2004, Li 2005, Kuzan 2020: what
// is printed is what the counts give, and more cores are never worse in one series.
func TestPublishedAdequacy(t *testing.T) {
	rows := published.Table(t, "adequacy.tsv")
	for _, r := range rows {
		if !r.Has("good") {
			continue
		}
		precision := 0.5 // of a printed whole number
		if strings.Contains(r.Text("percent"), ".") {
			precision = 0.005
		}
		require.InDelta(t, r.Number("percent"), 100*r.Number("good")/r.Number("of"), precision, "%s", r)
	}
	before := 0.0
	for _, r := range published.Of(t, rows, "entry", "A1") {
		require.Greater(t, r.Number("good"), before, "%s", r)
		before = r.Number("good")
	}
	five, six := published.Of(t, rows, "entry", "A2"), published.Of(t, rows, "entry", "A3")
	for i, what := range []string{"mass", "calcification"} {
		require.Equal(t, what, five[i].Text("what"))
		require.Equal(t, what, six[i].Text("what"))
	}
	require.Equal(t, five[0].Number("good"), six[0].Number("good"), "no gain in masses from a sixth core")
	require.Greater(t, six[1].Number("good"), five[1].Number("good"), "which is why calcification wants six")
	total := published.Of(t, published.Of(t, rows, "entry", "A1"), "pieces", "5")[0]
	require.Equal(t, total.Number("good"), five[0].Number("good")+five[1].Number("good"), "masses and calcifications are all lesions")
	best, passes := 0.0, 0
	for _, r := range published.Of(t, rows, "entry", "A18") {
		if r.Number("percent") > best {
			best, passes = r.Number("percent"), r.Whole("pieces")
		}
	}
	require.Equal(t, passes, protocol.Default().Organs["thyroid"].Pieces["any"], "the default asks for the number of passes with the best adequacy")
}

// TestPublishedPieces: testdata/published/pieces.tsv. Where sources differ the table says which number the default took.
func TestPublishedPieces(t *testing.T) {
	p := protocol.Default()
	told := map[string]bool{}
	for _, r := range published.Table(t, "pieces.tsv") {
		target := r.Text("target")
		organ, known := p.Organs[r.Text("organ")]
		if r.Text("in") == "other" {
			require.True(t, !known || organ.Pieces[target] != r.Whole("pieces"), "%s is the default's number now", r)
			continue
		}
		require.Equal(t, "default", r.Text("in"), "%s", r)
		require.True(t, known, "%s", r)
		require.Equal(t, r.Whole("pieces"), organ.Pieces[target], "%s", r)
		require.Equal(t, r.Text("counts"), organ.Counts, "%s", r)
		told[r.Text("organ")+" "+target] = true
	}
	for key, organ := range p.Organs {
		for target := range organ.Pieces {
			require.True(t, told[key+" "+target], "%s, %s: no published number stands beside it", key, target)
		}
	}
}

// TestPublishedTargets: testdata/published/targets.tsv, RCPath in its three readings, NHS, CAP, European guidelines.
func TestPublishedTargets(t *testing.T) {
	p := protocol.Default()
	spans := map[string]protocol.Span{}
	for text, span := range map[string]protocol.Span{"10d": {Days: 10}, "7d": {Days: 7}, "5d": {Days: 5}, "2wd": {WorkingDays: 2}, "5wd": {WorkingDays: 5}} {
		spans[text] = span
	}
	for _, r := range published.Table(t, "targets.tsv") {
		target, known := p.Targets[r.Text("ours")]
		require.True(t, known, "%s", r)
		require.Contains(t, spans, r.Text("span"), "%s", r)
		require.Equal(t, spans[r.Text("span")], target.Span, "%s", r)
		require.Equal(t, r.Text("from"), target.From, "%s", r)
		require.Equal(t, "final", target.Stage, "%s", r)
		share := 0.0
		if r.Has("share") {
			share = r.Number("share")
		}
		require.Equal(t, share, target.Share, "%s", r)
	}
}

// TestPublishedCategories: testdata/published/categories.tsv, NHS Data Dictionary (B), breast cytology (C), Sydney system (L),
// RCPath G089 (Thy), Bethesda. Undivided B3 and Thy3 are still read, and it is asked which they are.
func TestPublishedCategories(t *testing.T) {
	p := protocol.Default()
	for _, r := range published.Table(t, "categories.tsv") {
		for _, text := range []string{r.Text("category"), r.Text("alias"), strings.ToUpper(r.Text("category")), strings.ToLower(r.Text("alias"))} {
			class, known := p.ClassOf(text)
			require.True(t, known, "%s: %q", r, text)
			require.Equal(t, r.Text("class"), class, "%s: %q", r, text)
			undivided, wants := p.WantsMeeting(text)
			if r.Has("divided") {
				require.True(t, wants, "%s: %q", r, text)
				require.NotNil(t, undivided, "%s: %q", r, text)
				require.Equal(t, r.Words("divided"), undivided.Divided, "%s: %q", r, text)
				continue
			}
			require.Nil(t, undivided, "%s: %q says which it is", r, text)
			if class == "uncertain" && !strings.HasPrefix(r.Text("category"), "L") || class == "suspicious" && !strings.HasPrefix(r.Text("category"), "L") {
				require.True(t, wants, "%s: %q", r, text)
			} else {
				require.False(t, wants, "%s: %q", r, text)
			}
		}
	}
}

// TestPublishedThyroid: testdata/published/thyroid.tsv: a category of Bethesda and the UK one that goes with it are one class.
func TestPublishedThyroid(t *testing.T) {
	p := protocol.Default()
	for _, r := range published.Table(t, "thyroid.tsv") {
		want, known := p.ClassOf(r.Text("bethesda"))
		require.True(t, known, "%s", r)
		for _, thy := range r.Words("thy") {
			got, known := p.ClassOf(thy)
			require.True(t, known, "%s", r)
			require.Equal(t, want, got, "%s: %s", r, thy)
		}
	}
}

// TestPublishedLikelihoodOfImaging: testdata/published/bi-rads.tsv and bi-rads-likelihood.tsv, ACR BI-RADS 5th ed. 2013. The bands
// meet without a gap, a bound belongs to the lower band but for 95 %, and the more likely, the higher the group.
func TestPublishedLikelihoodOfImaging(t *testing.T) {
	p := protocol.Default()
	bands := published.Table(t, "bi-rads.tsv")
	bound := func(r published.Row, closed, open string) (float64, bool) {
		if r.Has(closed) {
			return r.Number(closed), true
		}
		return r.Number(open), false
	}
	end, in := 0.0, true
	groups := []string{protocol.ImagingLow, protocol.ImagingMid, protocol.ImagingHigh}
	worst := 0
	for _, r := range bands {
		from, fromIn := bound(r, "from", "above")
		require.Equal(t, end, from, "%s begins where the one before ends", r)
		require.NotEqual(t, in, fromIn, "%s: the bound belongs to one of the two", r)
		end, in = bound(r, "to", "below")
		group, known := p.ImagingGroup("BI-RADS " + r.Text("category"))
		require.True(t, known, "%s", r)
		require.Equal(t, r.Text("group"), group, "%s", r)
		require.GreaterOrEqual(t, slices.Index(groups, group), worst, "%s", r)
		worst = slices.Index(groups, group)
	}
	require.Equal(t, 100.0, end)
	for _, r := range published.Table(t, "bi-rads-likelihood.tsv") {
		percent := r.Number("percent")
		var in []string
		for _, b := range bands {
			from, fromIn := bound(b, "from", "above")
			to, toIn := bound(b, "to", "below")
			if (percent > from || fromIn && percent == from) && (percent < to || toIn && percent == to) {
				in = append(in, b.Text("category"))
			}
		}
		require.Equal(t, []string{r.Text("category")}, in, "%s", r)
	}
}

// TestPublishedFormaldehyde: testdata/published/transport.tsv, F31: 10 % formalin is 3.7 % formaldehyde, and a medium's share is
// the latter.
func TestPublishedFormaldehyde(t *testing.T) {
	ten := published.Of(t, published.Table(t, "transport.tsv"), "entry", "F31")[0]
	require.InDelta(t, ten.Number("formaldehyde"), protocol.Default().Media["formalin"].Formaldehyde, 1e-9, "%s", ten)
	for key, m := range protocol.Default().Media {
		require.False(t, math.IsNaN(m.Formaldehyde) || m.Formaldehyde < 0 || m.Formaldehyde >= 10, "%s would not be sent by air as it is", key)
	}
}

// spansOf lists what a study of the protocol has as spans, "fresh michel" by medium.
func spansOf(s protocol.Study) map[string]string {
	spans := map[string]string{}
	for what, limit := range map[string]*protocol.Limit{"fixation": s.ToFixation, "own": s.Target, "adds": s.Adds, "after": s.AfterFinal} {
		if limit != nil {
			spans[what+" -"] = limit.Span.String()
		}
	}
	if s.Fresh != nil {
		if !s.Fresh.Span.IsZero() {
			spans["fresh -"] = s.Fresh.Span.String()
		}
		for medium, span := range s.Fresh.Media {
			spans["fresh "+medium] = span.String()
		}
	}
	return spans
}

// TestPublishedSpansOfStudies: testdata/published/study-spans.tsv, ASCO/CAP 2011, RCPA 2/2016, laboratory handbooks, UC Davis. Where
// sources differ the table says which the default took, and every span of the default has one.
func TestPublishedSpansOfStudies(t *testing.T) {
	p := protocol.Default()
	told := map[string]bool{}
	for _, r := range published.Table(t, "study-spans.tsv") {
		key := r.Text("what") + " " + r.Text("medium")
		got, known := spansOf(p.Studies[r.Text("study")])[key]
		require.True(t, known, "%s: the default has none", r)
		if r.Text("in") == "other" {
			require.NotEqual(t, r.Text("span"), got, "%s is the default's now", r)
			continue
		}
		require.Equal(t, "default", r.Text("in"), "%s", r)
		require.Equal(t, r.Text("span"), got, "%s", r)
		told[r.Text("study")+" "+key] = true
	}
	for study, s := range p.Studies {
		for key := range spansOf(s) {
			require.True(t, told[study+" "+key], "%s, %s: no published span stands beside it", study, key)
		}
	}
}
