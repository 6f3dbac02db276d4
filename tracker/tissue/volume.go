package tissue

import "math"

// What a piece is, as events spell it.
const (
	Core     = "core"
	Slide    = "slide"
	Aspirate = "aspirate"
	Rinse    = "rinse"
)

const mmPerInch = 25.4

// NeedleDiameter is the nominal outer diameter of a needle, in mm, by its gauge: whole numbers from 8 (thick) to 27 (thin).
// Any other gauge is not known.
//
// Source: the Birmingham (Stubs) wire gauge in inches, which needles are numbered by (from memory, high); the metric sizes
// of ISO 9626 are the same rounded to a tenth or a twentieth of a mm.
func NeedleDiameter(gauge float64) (mm float64, ok bool) {
	thousandths := [...]float64{8: 165, 148, 134, 120, 109, 95, 83, 72, 65, 58, 49, 42, 35, 32, 28, 25, 22, 20, 18, 16}
	if gauge != math.Trunc(gauge) || gauge < 8 || gauge >= float64(len(thousandths)) {
		return 0, false // a gauge that is no number is here too
	}
	return thousandths[int(gauge)] / 1000 * mmPerInch, true
}

// CoreVolume is the most that a core can take up, in mL: a full cylinder as wide as the needle outside and as long as the
// core, in mm. It is not known when gauge or length is not, or is none that can be.
//
// A real core is thinner: the notch or the bore is narrower than the needle, and seldom full. Published weights (Berg et al.,
// Radiology 1997;205:203-8, from memory, medium) come to a quarter of it for a 14 gauge gun, half for 14 gauge with vacuum,
// and two thirds for 11 gauge with vacuum, so that a pot with ten times this volume has enough.
func CoreVolume(gauge, lengthMM float64) (ml float64, ok bool) {
	diameter, ok := NeedleDiameter(gauge)
	if !ok || !positive(lengthMM) {
		return 0, false
	}
	return math.Pi / 4 * diameter * diameter * lengthMM / 1000, true
}

// PieceVolume is what a piece takes up in its pot at most, in mL. A core is [CoreVolume]; slides, aspirates and rinses are
// spread, smeared or fluid, and count nothing. Anything else is not known.
func PieceVolume(what string, gauge, lengthMM float64) (ml float64, ok bool) {
	switch what {
	case Core:
		return CoreVolume(gauge, lengthMM)
	case Slide, Aspirate, Rinse:
		return 0, true
	}
	return 0, false
}

// LeastFixative is how much fixative a volume of tissue wants, in the unit of the volume given: times that volume, as the
// protocol says how many.
func LeastFixative(tissue, times float64) float64 { return times * tissue }

// positive reports whether a measure is above zero and finite.
func positive(x float64) bool { return x > 0 && !math.IsInf(x, 1) }
