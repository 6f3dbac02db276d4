package tracker

// Struck lists the events that do not count because they were struck, each with the strike that stands. The events are
// those of one watched thing, as [Gather] gives them.
func Struck(events []*Event) map[EventID]EventID { return settle(events).struck }

// StandsFor says what each name counts for: labels that were bound and pots that were relabelled stand for others. The
// events are those of one watched thing, as [Gather] gives them.
func StandsFor(events []*Event) func(Name) Name { return settle(events).aliases().thing }
