package tissue

// Densities in g/mL. Source: ICRU Reports 44 and 46 (from memory, high).
const (
	DensityFat     = 0.95
	DensityBreast  = 1.02 // gland
	DensityNode    = 1.03
	DensityThyroid = 1.05
	DensityMuscle  = 1.05
)

// Density of 10 % neutral buffered formalin in g/mL lies between these. Source: practice reference, A21 (from memory, high).
const (
	DensityFormalinLeast = 1.00
	DensityFormalinMost  = 1.01
)

// Floats reports whether tissue of a density, in g/mL, floats in formalin whatever its recipe: it is lighter than the
// lightest. Of the tissues named here only fat does.
func Floats(density float64) bool { return positive(density) && density < DensityFormalinLeast }

// Sinks reports whether tissue of a density, in g/mL, sinks in formalin whatever its recipe. Between [Floats] and Sinks
// nothing can be said.
func Sinks(density float64) bool { return positive(density) && density > DensityFormalinMost }
