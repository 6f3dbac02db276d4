package tissue

import "math"

// Constants of [Penetration] for formalin, in mm per square root of an hour. Published ones differ by kind of matter; real
// tissue is slower than the gels that the greatest was measured in (Start et al., J Clin Pathol 1992;45:1120).
const (
	PenetrationLeast  = 2.0 // Helander 1994, tissue: this or more
	PenetrationTissue = 3.6 // Baker 1958
	PenetrationGel    = 5.5 // Medawar, J R Microsc Soc 1941;61:46 (from memory, high): not for estimates
)

// Penetration is how deep a fixative has got after some hours, in mm: k times the square root of the time. Depth reached is
// not yet fixed: binding takes about a day (Fox et al., J Histochem Cytochem 1985;33:845). Time or k below zero, or not a
// number, is not known.
//
// Source of the law: Medawar, J R Microsc Soc 1941;61:46; Baker 1958.
func Penetration(k, hours float64) (mm float64, ok bool) {
	if !positive(k) || !(hours == 0 || positive(hours)) {
		return 0, false
	}
	return k * math.Sqrt(hours), true
}

// HoursToDepth is how long a fixative takes to get so deep, in hours: the inverse of [Penetration].
func HoursToDepth(k, mm float64) (hours float64, ok bool) {
	if !positive(k) || !(mm == 0 || positive(mm)) {
		return 0, false
	}
	return mm / k * (mm / k), true
}
