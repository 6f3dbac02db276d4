package tracker

// FlagCatalog explains every kind of flag whose rule is in force, in the order of a case's life.
func FlagCatalog() []FlagInfo {
	return []FlagInfo{
		{FlagFixativeTimeMissing, "No time into fixative", "A piece left the patient for a study that needs fixation, and nobody has recorded when it went into its pot. Watch from 10 minutes; now from 20 while the pot is open; today once it is sealed. Goes when the time is recorded, or answered. Without the time a receptor result cannot be trusted later.", true},
		{FlagColdIschaemiaLong, "Too long out of fixative", "A piece was out of fixative for longer than its studies bear, or is still out and past it. Now while it is out; then today, to tell the laboratory, until answered.", true},
		{FlagContainerWrong, "Wrong medium for a study", "The medium in a pot, as planned or as last recorded, cannot serve a study asked of it, or serves it with loss. Now before the lid is on, today after. Goes with the right medium or an amended request.", false},
		{FlagMediumExpired, "Medium past its date", "A pot was filled with a medium after its date. Goes with another filling, or answered.", true},
		{FlagLabelBeforeCheck, "Label printed before identity was checked", "A label for a pot or piece was printed, and identity was not checked with the patient in the hour before. Now until the room is cleared, then today until answered.", true},
		{FlagLabelLeftOver, "Label left over", "A printed label is neither on anything nor destroyed when the room is cleared, or two hours after print. Goes when it is used or recorded as spoiled. A loose label finds the wrong pot.", false},
		{FlagLabelSuperseded, "Old label scanned", "A copy was scanned that another copy had replaced: the old label is still on something. Goes when it is spoiled, or answered.", true},
		{FlagRoomShared, "Two patients in one room", "A label was printed for a patient in a room where an earlier patient's labels or pieces had not been cleared away. Once, on the earlier case. Goes when its room is recorded as cleared. A label of one patient on the pot of another is the worst that can happen here.", false},
		{FlagRoomOpen, "Room not finished", "Half an hour after the last piece a pot is not sealed or the room not cleared. Goes when both are done.", false},
		{FlagReadBackMissing, "Label not read back", "A pot changed hands unsealed, or its label was read back by the one who sealed it. Watch for two hours, since a phone may still have scans to send, then today. Goes with a proper sealing, or answered.", true},
		{FlagPiecesDiffer, "Piece counts differ", "What was read aloud at sealing is not what was recorded as put in, or the laboratory counted another number than was sent. None found: now. Fewer: today. More: watch, since cores break. Goes when read again, or answered.", true},
		{FlagCustodyBroken, "Chain of custody broken", "A scan cannot follow the one before it. Watch for two hours, then today. Goes with the events that were missing, or answered.", true},
		{FlagNotAtLab, "Not at the laboratory", "A piece was taken, and a working day later the laboratory has not received its pot. Goes with the receipt.", false},
		{FlagPotLost, "Pot lost", "A pot cannot be found, or was thrown away before its final result. After four hours the clinician must know too. Goes when it is found, or discussed with a plan.", false},
		{FlagLabRefused, "Refused by the laboratory", "The laboratory will not process a pot as it is. Goes when it is accessioned after that, or discussed with a plan.", false},
		{FlagFixationShort, "Fixation too short", "A piece came out of fixative before its studies' least time. Now for an hour after loading, when it may still come out of the run; then today, to be noted on the report, until answered.", true},
		{FlagFixationLong, "Fixation too long", "A piece was in fixative for longer than its studies bear. Now for an hour after loading; then today, to be noted on the report, until answered.", true},
		{FlagResultOverdue, "Result overdue", "No result of the stage within the target, per pot and study, pauses taken out. Watch at 80 of 100 of the time, today when the target is missed, now at half as long again for urgent cases. Goes with the result.", false},
		{FlagResultCritical, "Critical result not taken on", "A critical result was issued and no clinician read it before that day was over. Now, to the clinician; after four hours to the coordinator too. Goes when a reading names it. It holds back that the same result is unread.", false},
		{FlagResultUnread, "Result not read", "A result was issued and no clinician has read it within two working days; one for malignant or suspicious results. Goes when a reading names it.", false},
		{FlagResultChanged, "Result changed", "A result was amended, or has another category, after an earlier one was read, told or the case closed. Goes when it is read and then told. A closed case is watched too.", false},
		{FlagSampleInadequate, "Sample not enough", "The laboratory says that the sample was not enough for an answer. Goes when it is discussed with a plan: to repeat it, or not.", false},
		{FlagDiscordant, "Imaging and pathology do not go together", "Imaging was suspicious and pathology benign, or calcification was the target and none was seen. Goes when both were discussed, the result named, with a plan.", false},
		{FlagNeedsMeeting, "Wants a meeting", "A result is of a kind that those who image, treat and report look at together: uncertain or suspicious. Goes when a discussion names it. Where a category has been divided since, the laboratory is asked which it is.", false},
		{FlagPatientWaiting, "Patient not told", "A result was read and the patient has not been told. Watch from three working days, today from five. A letter alone does not settle a malignant or critical one.", false},
		{FlagPlanNotDone, "Plan not carried out", "A repeat biopsy, an excision or a referral was decided, and ten working days later there is neither a case that repeats this one nor a closing that says so. Goes with either, or when the same results are discussed anew.", false},
		{FlagCaseUnfinished, "Case not finished", "The patient was told and the case is still open after 20 working days: watch. Or it was closed, without a reason, over a result unread, a patient not told or a study without an answer: today. Goes when it is closed, with the reason where something is left.", false},
		{FlagClockDoubtful, "Clock doubtful", "A time came out negative, an event claims to be later than its recording, or a station's clock was measured to be off. Its windows count as unknown. Goes when answered.", true},
		{FlagCaseOpenedTwice, "One number, two requests", "A case was opened twice, or its patient was changed after a label was printed. Goes when answered.", true},
		{FlagUnknownItem, "Unknown thing scanned", "Something was scanned or named that no opened case, printed label or reserved roll makes known. Watch for two hours, then today, until it becomes known or is answered.", true},
		{FlagProtocolGap, "Word not in the protocol", "An event used a medium, study, place or other word that the protocol lacks, so rules on it were not judged. Goes when the protocol has it.", false},
		{FlagNotJudged, "Rules failed", "The rules failed on this case, so nothing about it is watched. Recording goes on. Tell the administrator.", false},
	}
}
