package tracker

// Kinds of flags whose rules are still to come; each moves to flagkinds.go, beside its like and typed as there, with its rule.
const (
	FlagFreshLate           = FlagKind("fresh-late")
	FlagFixationWillBeShort = FlagKind("fixation-will-be-short")
	FlagFixationWillBeLong  = FlagKind("fixation-will-be-long")
)
