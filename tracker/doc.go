// Package tracker holds the judgement of pottrail: what happened to a case and what is wrong with it now.
//
// Two pure functions carry it. [Fold] turns a set of events into a [Case]; [Check] turns a case, the clinic's
// [Rules] and an instant into [Findings]: flags, what is held back, and the next instant at which the answer could
// change by time alone.
//
// Words, as the trade uses them:
//
//   - case: one visit's request and everything taken under it; its name is also the request form's.
//   - pot: a container with one medium, planned before the needle goes in.
//   - piece: a core, slide, aspirate or rinse that left the patient.
//   - bag: carries pots of one clinic between places.
//   - custody: who answers for a pot, and where.
//   - cold ischaemia: the time from leaving the patient to the start of fixation.
//   - fixation: from the start in a fixing medium to the end of the processor's formalin.
//   - accession: the laboratory's own number for what it received.
//
// It never reads a clock, a disk, a network or an environment, never logs, and keeps no state between calls: time,
// rules, zones and ids are passed in. It knows nothing of names or birth dates of patients.
package tracker
