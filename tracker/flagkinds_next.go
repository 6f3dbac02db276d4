package tracker

// Kinds of flags whose rules are still to come; each moves to flagkinds.go, beside its like and typed as there, with its rule.
const (
	FlagBagShort            = FlagKind("bag-short")
	FlagBagExtra            = FlagKind("bag-extra")
	FlagBagUnfit            = FlagKind("bag-unfit")
	FlagFreshLate           = FlagKind("fresh-late")
	FlagFixationWillBeShort = FlagKind("fixation-will-be-short")
	FlagFixationWillBeLong  = FlagKind("fixation-will-be-long")
	FlagRoleDoubtful        = FlagKind("role-doubtful")
)
