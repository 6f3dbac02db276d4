package tracker

// Kinds of flags whose rules are still to come; each moves to flagkinds.go, beside its like and typed as there, with its rule.
const (
	FlagMediumScant         = FlagKind("medium-scant")
	FlagPiecesFew           = FlagKind("pieces-few")
	FlagPiecesPoor          = FlagKind("pieces-poor")
	FlagSideMismatch        = FlagKind("side-mismatch")
	FlagLabelOutdated       = FlagKind("label-outdated")
	FlagCaseNotDone         = FlagKind("case-not-done")
	FlagCollectionLate      = FlagKind("collection-late")
	FlagHandoffGap          = FlagKind("handoff-gap")
	FlagBagShort            = FlagKind("bag-short")
	FlagBagExtra            = FlagKind("bag-extra")
	FlagBagUnfit            = FlagKind("bag-unfit")
	FlagWrongDestination    = FlagKind("wrong-destination")
	FlagPotDamaged          = FlagKind("pot-damaged")
	FlagFreshLate           = FlagKind("fresh-late")
	FlagFixationWillBeShort = FlagKind("fixation-will-be-short")
	FlagFixationWillBeLong  = FlagKind("fixation-will-be-long")
	FlagLabQueried          = FlagKind("lab-queried")
	FlagReferralLate        = FlagKind("referral-late")
	FlagRoleDoubtful        = FlagKind("role-doubtful")
)
