package tracker

// The kinds of flags; [FlagCatalog] lists those whose rules are in force.
const (
	FlagFixativeTimeMissing FlagKind = "fixative-time-missing"
	FlagColdIschaemiaLong   FlagKind = "cold-ischaemia-long"
	FlagContainerWrong      FlagKind = "container-wrong"
	FlagMediumExpired       FlagKind = "medium-expired"
	FlagMediumScant         FlagKind = "medium-scant"
	FlagPiecesFew           FlagKind = "pieces-few"
	FlagPiecesPoor          FlagKind = "pieces-poor"
	FlagSideMismatch        FlagKind = "side-mismatch"
	FlagLabelBeforeCheck    FlagKind = "label-before-check"
	FlagLabelLeftOver       FlagKind = "label-left-over"
	FlagLabelSuperseded     FlagKind = "label-superseded"
	FlagRoomShared          FlagKind = "room-shared"
	FlagLabelOutdated       FlagKind = "label-outdated"
	FlagRoomOpen            FlagKind = "room-open"
	FlagReadBackMissing     FlagKind = "read-back-missing"
	FlagCollectionLate      FlagKind = "collection-late"
	FlagHandoffGap          FlagKind = "handoff-gap"
	FlagCaseNotDone         FlagKind = "case-not-done"
	FlagNotAtLab            FlagKind = "not-at-lab"
	FlagBagShort            FlagKind = "bag-short"
	FlagBagExtra            FlagKind = "bag-extra"
	FlagBagUnfit            FlagKind = "bag-unfit"
	FlagCustodyBroken       FlagKind = "custody-broken"
	FlagWrongDestination    FlagKind = "wrong-destination"
	FlagPotDamaged          FlagKind = "pot-damaged"
	FlagPotLost             FlagKind = "pot-lost"
	FlagLabQueried          FlagKind = "lab-queried"
	FlagLabRefused          FlagKind = "lab-refused"
	FlagReferralLate        FlagKind = "referral-late"
	FlagPiecesDiffer        FlagKind = "pieces-differ"
	FlagFreshLate           FlagKind = "fresh-late"
	FlagFixationWillBeShort FlagKind = "fixation-will-be-short"
	FlagFixationWillBeLong  FlagKind = "fixation-will-be-long"
	FlagFixationShort       FlagKind = "fixation-short"
	FlagFixationLong        FlagKind = "fixation-long"
	FlagResultOverdue       FlagKind = "result-overdue"
	FlagResultCritical      FlagKind = "result-critical"
	FlagResultUnread        FlagKind = "result-unread"
	FlagResultChanged       FlagKind = "result-changed"
	FlagSampleInadequate    FlagKind = "sample-inadequate"
	FlagDiscordant          FlagKind = "discordant"
	FlagNeedsMeeting        FlagKind = "needs-meeting"
	FlagPatientWaiting      FlagKind = "patient-waiting"
	FlagPlanNotDone         FlagKind = "plan-not-done"
	FlagCaseUnfinished      FlagKind = "case-unfinished"
	FlagClockDoubtful       FlagKind = "clock-doubtful"
	FlagUnknownItem         FlagKind = "unknown-item"
	FlagCaseOpenedTwice     FlagKind = "case-opened-twice"
	FlagRoleDoubtful        FlagKind = "role-doubtful"
	FlagProtocolGap         FlagKind = "protocol-gap"
	FlagNotJudged           FlagKind = "not-judged"
)

// FlagInfo explains a kind of flag in plain words.
type FlagInfo struct {
	Kind   FlagKind
	Title  string // a few words
	Help   string // when it is raised, when it goes, and why it matters
	Answer bool   // flag.answered settles it
}
