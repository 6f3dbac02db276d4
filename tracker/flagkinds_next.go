package tracker

// Kinds of flags whose rules are still to come; each moves to flagkinds.go, beside its like and typed as there, with its rule.
const (
	FlagMediumScant         = FlagKind("medium-scant")
	FlagPiecesFew           = FlagKind("pieces-few")
	FlagPiecesPoor          = FlagKind("pieces-poor")
	FlagSideMismatch        = FlagKind("side-mismatch")
	FlagLabelOutdated       = FlagKind("label-outdated")
	FlagCaseNotDone         = FlagKind("case-not-done")
	FlagBagShort            = FlagKind("bag-short")
	FlagBagExtra            = FlagKind("bag-extra")
	FlagBagUnfit            = FlagKind("bag-unfit")
	FlagFreshLate           = FlagKind("fresh-late")
	FlagFixationWillBeShort = FlagKind("fixation-will-be-short")
	FlagFixationWillBeLong  = FlagKind("fixation-will-be-long")
	FlagRoleDoubtful        = FlagKind("role-doubtful")
)
