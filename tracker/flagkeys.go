package tracker

import (
	"strings"

	"github.com/pottrail/pottrail/tracker/protocol"
)

// FlagKeys lists where a protocol has the numbers and words that a kind of flag is judged by, as dotted keys; "*" stands
// for any one name. Nil for a kind that no line of a protocol changes.
func FlagKeys(kind FlagKind) []string {
	limits := func(names ...string) []string {
		keys := make([]string, len(names))
		for i, name := range names {
			keys[i] = "limits." + name
		}
		return keys
	}
	switch kind {
	case FlagFixativeTimeMissing:
		return append(limits(protocol.LimitFixativeWatch, protocol.LimitFixativeNow), "studies.*.to_fixation")
	case FlagColdIschaemiaLong:
		return []string{"studies.*.to_fixation"}
	case FlagContainerWrong:
		return []string{"media.*"}
	case FlagMediumScant:
		return []string{"fixative"}
	case FlagPiecesFew:
		return []string{"organs.*", "organs.*.needles.*"}
	case FlagPiecesPoor:
		return []string{"looks.*", "organs.*.advice"}
	case FlagLabelBeforeCheck:
		return limits(protocol.LimitCheckBefore)
	case FlagLabelLeftOver:
		return limits(protocol.LimitLabelLeft)
	case FlagRoomOpen:
		return limits(protocol.LimitRoomOpen)
	case FlagReadBackMissing, FlagCustodyBroken, FlagBagShort, FlagBagExtra:
		return limits(protocol.LimitPhone, protocol.LimitClocks)
	case FlagCaseNotDone:
		return limits(protocol.LimitNotDone)
	case FlagCollectionLate:
		return append(limits(protocol.LimitCollect, protocol.LimitCollectNone, protocol.LimitCollectWorse), "rounds.*")
	case FlagHandoffGap:
		return []string{"roles.*"}
	case FlagNotAtLab:
		return limits(protocol.LimitNotAtLab)
	case FlagPotLost:
		return limits(protocol.LimitLostClinician)
	case FlagFreshLate:
		return append(limits(protocol.LimitFreshNow), "studies.*.fresh", "benches.*")
	case FlagFixationWillBeShort, FlagFixationWillBeLong:
		return append(limits(protocol.LimitForecastNow), "studies.*.window", "rounds.*", "runs.*")
	case FlagFixationShort, FlagFixationLong:
		return append(limits(protocol.LimitLoadedNow), "studies.*.window")
	case FlagResultOverdue:
		return append(limits(protocol.LimitNoReceipt), "target_set", "targets.*", "studies.*.target", "studies.*.adds", "studies.*.after_final")
	case FlagResultCritical:
		return limits(protocol.LimitCritical)
	case FlagResultUnread:
		return limits(protocol.LimitUnread, protocol.LimitUnreadSerious)
	case FlagSampleInadequate:
		return []string{"classes." + classInadequate}
	case FlagDiscordant:
		return []string{"imaging", "concordance"}
	case FlagNeedsMeeting:
		return []string{"meeting"}
	case FlagPatientWaiting:
		return limits(protocol.LimitTellWatch, protocol.LimitTellToday)
	case FlagPlanNotDone:
		return limits(protocol.LimitPlan)
	case FlagCaseUnfinished:
		return limits(protocol.LimitUnfinished)
	case FlagClockDoubtful:
		return limits(protocol.LimitAhead, protocol.LimitSkew)
	case FlagUnknownItem:
		return limits(protocol.LimitUnknown)
	case FlagRoleDoubtful:
		return []string{"staff.*"}
	case FlagProtocolGap:
		return nil
	}
	return nil
}

// KeyFits reports whether a dotted key of a protocol is what a pattern of [FlagKeys] names, or stands below it.
func KeyFits(pattern, key string) bool {
	want, have := strings.Split(pattern, "."), strings.Split(key, ".")
	if len(have) < len(want) {
		return false
	}
	for i, part := range want {
		if part != "*" && part != have[i] {
			return false
		}
	}
	return true
}
