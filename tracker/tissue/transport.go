package tissue

// Transport is what a formaldehyde solution counts as on a journey.
type Transport string

// Classes of [TransportClass].
const (
	TransportFree    Transport = "not subject"
	TransportUN3334  Transport = "UN 3334" // regulated by air alone
	TransportUN2209  Transport = "UN 2209" // class 8, corrosive
	TransportUnknown Transport = "not known"
)

// Bounds of the classes, in per cent of formaldehyde: each belongs to the class above it.
const (
	airFrom       = 10
	corrosiveFrom = 25
	pure          = 100
)

// TransportClass is what a solution with so much formaldehyde, in per cent, counts as: from 25 UN 2209; by air alone from 10
// UN 3334; below, or by road up to 25, it is not subject. It holds for solutions in water that do not burn; those that do
// are UN 1198. What is no percentage is not known.
//
// Beware: "10 % formalin" has 3.7 % formaldehyde, see [FormaldehydeOfFormalin].
//
// Source: IATA special provision A189; PHMSA letter 04-0040; FAA PackSafe.
func TransportClass(formaldehydePercent float64, byAir bool) Transport {
	switch {
	case !(formaldehydePercent >= 0 && formaldehydePercent <= pure):
		return TransportUnknown
	case formaldehydePercent >= corrosiveFrom:
		return TransportUN2209
	case formaldehydePercent >= airFrom && byAir:
		return TransportUN3334
	}
	return TransportFree
}

// saturated is the formaldehyde of undiluted formalin, in per cent.
const saturated = 37

// FormaldehydeOfFormalin is the formaldehyde in a dilution of formalin, both in per cent: 10 % formalin has 3.7 %. Formalin
// itself has 37 to 40 %; the least is taken. What is no percentage is not known.
//
// Source: Japanese Society of Pathology practical guidelines, 1.7; Malaysian Ministry of Health, transport procedure.
func FormaldehydeOfFormalin(percentFormalin float64) (percent float64, ok bool) {
	if !(percentFormalin >= 0 && percentFormalin <= pure) {
		return 0, false
	}
	return percentFormalin * saturated / pure, true
}
