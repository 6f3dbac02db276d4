package tissue_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/pottrail/pottrail/testdata/published"
	"github.com/pottrail/pottrail/tracker/tissue"
)

// TestNeedleDiameters: testdata/published/needle-gauges.tsv, the Birmingham wire gauge and ISO 9626 (both from memory, high).
func TestNeedleDiameters(t *testing.T) {
	known := map[float64]bool{}
	for _, r := range published.Table(t, "needle-gauges.tsv") {
		gauge := r.Number("gauge")
		known[gauge] = true
		got, ok := tissue.NeedleDiameter(gauge)
		require.True(t, ok, "%s", r)
		require.InDelta(t, r.Number("inch")*25.4, got, 1e-9, "%s", r)
		if r.Has("mm") {
			require.InDelta(t, r.Number("mm"), got, 0.08, "%s: a metric size is the wire gauge rounded", r)
		}
	}
	for gauge := -1.0; gauge < 40; gauge += 0.5 {
		_, ok := tissue.NeedleDiameter(gauge)
		require.Equal(t, known[gauge], ok, "%g gauge", gauge)
	}
	for _, gauge := range []float64{math.NaN(), math.Inf(1), math.Inf(-1), 1e300} {
		_, ok := tissue.NeedleDiameter(gauge)
		require.False(t, ok, "%g gauge", gauge)
	}
}

// A greater number is a thinner needle, so a core of it is never more.
func TestAGreaterGaugeIsAThinnerNeedle(t *testing.T) {
	for gauge := 8.0; gauge < 27; gauge++ {
		thick, _ := tissue.NeedleDiameter(gauge)
		thin, _ := tissue.NeedleDiameter(gauge + 1)
		require.Greater(t, thick, thin, "%g gauge and the next", gauge)
	}
}

// TestACoreIsNeverMoreThanItsNeedle: testdata/published/core-weights.tsv, Berg et al., Radiology 1997;205:203-8 (from memory,
// medium). The volume by weight, at the density of breast gland or even of fat, stays under the bound.
func TestACoreIsNeverMoreThanItsNeedle(t *testing.T) {
	for _, r := range published.Table(t, "core-weights.tsv") {
		bound, ok := tissue.CoreVolume(r.Number("gauge"), r.Number("least length"))
		require.True(t, ok)
		for _, density := range []float64{tissue.DensityBreast, tissue.DensityFat} {
			byWeight := r.Number("most mg") / 1000 / density
			require.Less(t, byWeight, bound, "%s", r)
			require.Less(t, bound, 6*byWeight, "%s: a bound far off would want pots that nobody has", r)
		}
	}
}

func TestVolumesOfPieces(t *testing.T) {
	for _, tt := range []struct {
		name          string
		what          string
		gauge, length float64
		ml            float64
		ok            bool
	}{
		{"14 gauge, 20 mm: 2.108 mm wide", tissue.Core, 14, 20, 0.0698, true},
		{"18 gauge, 10 mm: 1.245 mm wide", tissue.Core, 18, 10, 0.0122, true},
		{"a slide", tissue.Slide, 0, 0, 0, true},
		{"an aspirate, whatever its needle", tissue.Aspirate, 22, 0, 0, true},
		{"a rinse", tissue.Rinse, 0, 0, 0, true},
		{"a core without a gauge", tissue.Core, 0, 18, 0, false},
		{"a core without a length", tissue.Core, 14, 0, 0, false},
		{"a length below zero", tissue.Core, 14, -1, 0, false},
		{"a length without an end", tissue.Core, 14, math.Inf(1), 0, false},
		{"a length that is no number", tissue.Core, 14, math.NaN(), 0, false},
		{"something else", "block", 14, 18, 0, false},
		{"nothing", "", 14, 18, 0, false},
	} {
		ml, ok := tissue.PieceVolume(tt.what, tt.gauge, tt.length)
		require.Equal(t, tt.ok, ok, tt.name)
		require.InDelta(t, tt.ml, ml, 0.00005, tt.name)
	}
}

// TestFixativeForCores: ten times the tissue, practice reference F32, and its worked cases: 20 mL are enough for three cores,
// 30 mL are not for 5 mL of tissue; F33: twelve cores of 11 gauge with vacuum weigh 1.1 g and want at least 11 mL.
func TestFixativeForCores(t *testing.T) {
	const times = 10
	core, _ := tissue.CoreVolume(14, 20)
	require.Less(t, tissue.LeastFixative(3*core, times), 20.0)
	require.Greater(t, tissue.LeastFixative(5, times), 30.0)
	vacuum, _ := tissue.CoreVolume(11, 20)
	least := tissue.LeastFixative(12*vacuum, times)
	require.Greater(t, least, 11.0)
	require.Less(t, least, 20.0, "a usual pot of 20 mL takes them")
}

// TestWhatFloats: testdata/published/densities.tsv, ICRU Reports 44 and 46 (from memory, high).
func TestWhatFloats(t *testing.T) {
	mine := map[string][2]float64{
		"fat": {tissue.DensityFat, tissue.DensityFat}, "breast": {tissue.DensityBreast, tissue.DensityBreast},
		"node": {tissue.DensityNode, tissue.DensityNode}, "thyroid": {tissue.DensityThyroid, tissue.DensityThyroid},
		"muscle": {tissue.DensityMuscle, tissue.DensityMuscle}, "formalin": {tissue.DensityFormalinLeast, tissue.DensityFormalinMost},
	}
	rows := published.Table(t, "densities.tsv")
	require.Len(t, rows, len(mine))
	for _, r := range rows {
		require.Equal(t, [2]float64{r.Number("least"), r.Number("most")}, mine[r.Text("matter")], "%s", r)
		if r.Has("floats") {
			require.Equal(t, r.Text("floats") == "yes", tissue.Floats(r.Number("least")), "%s", r)
			require.Equal(t, r.Text("floats") == "no", tissue.Sinks(r.Number("least")), "%s", r)
		}
	}
	for _, density := range []float64{1.00, 1.005, 1.01} {
		require.False(t, tissue.Floats(density) || tissue.Sinks(density), "%g: as heavy as some formalin, nothing can be said", density)
	}
	for _, density := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		require.False(t, tissue.Floats(density) || tissue.Sinks(density), "%g is no density", density)
	}
}

// TestDepthOfPenetration: testdata/published/penetration.tsv, Medawar 1941, Baker 1958, Helander 1994.
func TestDepthOfPenetration(t *testing.T) {
	for _, r := range published.Table(t, "penetration.tsv") {
		mm, ok := tissue.Penetration(r.Number("k"), r.Number("hours"))
		require.True(t, ok)
		require.InDelta(t, r.Number("mm"), mm, 0.005, "%s", r)
		hours, ok := tissue.HoursToDepth(r.Number("k"), r.Number("mm"))
		require.True(t, ok)
		require.InEpsilon(t, r.Number("hours"), hours, 0.01, "%s", r)
	}
	require.Equal(t, [3]float64{2.0, 3.6, 5.5}, [3]float64{tissue.PenetrationLeast, tissue.PenetrationTissue, tissue.PenetrationGel})
	for _, bad := range [][2]float64{{0, 1}, {-3.6, 1}, {3.6, -1}, {math.NaN(), 1}, {3.6, math.NaN()}, {3.6, math.Inf(1)}, {math.Inf(1), 1}} {
		_, ok := tissue.Penetration(bad[0], bad[1])
		require.False(t, ok, "%v", bad)
		_, ok = tissue.HoursToDepth(bad[0], bad[1])
		require.False(t, ok, "%v", bad)
	}
	mm, ok := tissue.Penetration(tissue.PenetrationTissue, 0)
	require.True(t, ok)
	require.Zero(t, mm)
	hours, ok := tissue.HoursToDepth(tissue.PenetrationTissue, 0)
	require.True(t, ok)
	require.Zero(t, hours)
}

// Four times the time is twice the depth, whatever the tissue: the law says so.
func TestLawFourTimesTheTimeIsTwiceTheDepth(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k, hours := rapid.Float64Range(0.1, 10).Draw(t, "k"), rapid.Float64Range(0, 1000).Draw(t, "hours")
		one, _ := tissue.Penetration(k, hours)
		four, _ := tissue.Penetration(k, 4*hours)
		require.InDelta(t, 2*one, four, 1e-9)
		back, _ := tissue.HoursToDepth(k, one)
		require.InDelta(t, hours, back, 1e-9*(1+hours))
	})
}

// TestTransportOfFormaldehyde: testdata/published/transport.tsv, IATA special provision A189; PHMSA letter 04-0040; FAA PackSafe.
func TestTransportOfFormaldehyde(t *testing.T) {
	for _, r := range published.Table(t, "transport.tsv") {
		percent := r.Number("formaldehyde")
		require.Equal(t, r.Text("air"), string(tissue.TransportClass(percent, true)), "%s by air", r)
		require.Equal(t, r.Text("road"), string(tissue.TransportClass(percent, false)), "%s by road", r)
		if r.Has("formalin") {
			got, ok := tissue.FormaldehydeOfFormalin(r.Number("formalin"))
			require.True(t, ok)
			require.InDelta(t, percent, got, 1e-9, "%s", r)
		}
	}
	for _, percent := range []float64{-0.1, 100.1, math.NaN(), math.Inf(1)} {
		require.Equal(t, tissue.TransportUnknown, tissue.TransportClass(percent, true), "%g %%", percent)
		_, ok := tissue.FormaldehydeOfFormalin(percent)
		require.False(t, ok, "%g %%", percent)
	}
	for percent, want := range map[float64]tissue.Transport{10: tissue.TransportUN3334, 25: tissue.TransportUN2209, 100: tissue.TransportUN2209,
		math.Nextafter(10, 0): tissue.TransportFree, math.Nextafter(25, 0): tissue.TransportUN3334} {
		require.Equal(t, want, tissue.TransportClass(percent, true), "%g %%", percent)
	}
}
