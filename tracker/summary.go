package tracker

import "time"

// Summary is what lists and pages show of a case or bag without folding it again.
type Summary struct {
	Name     Name         `json:"name"`
	Known    bool         `json:"known"`
	Step     Step         `json:"step"`
	Patient  string       `json:"patient,omitzero"` // ref, never an identifier
	Priority string       `json:"priority,omitzero"`
	Rank     int          `json:"rank"` // of the priority; 0 is the most urgent
	Room     string       `json:"room,omitzero"`
	Planned  time.Time    `json:"planned,omitzero"`
	Pots     []PotSummary `json:"pots,omitzero"`
	Closed   bool         `json:"closed,omitzero"`
	Outcome  string       `json:"outcome,omitzero"`
	Place    string       `json:"place,omitzero"` // of a bag
	Holder   string       `json:"holder,omitzero"`
	Inside   []Name       `json:"inside,omitzero"` // a bag's pots
	Last     time.Time    `json:"last,omitzero"`   // when of the last event
	Call     *Call        `json:"call,omitzero"`   // the last one logged
}

// PotSummary is where one pot is and what it waits for.
type PotSummary struct {
	Name      Name      `json:"name"`
	Lesion    string    `json:"lesion,omitzero"`
	Medium    string    `json:"medium,omitzero"`
	Studies   []string  `json:"studies,omitzero"`
	Planned   int       `json:"planned,omitzero"` // pieces
	Taken     int       `json:"taken"`
	Potted    int       `json:"potted"`
	Sealed    bool      `json:"sealed"`
	Place     string    `json:"place,omitzero"`
	Role      string    `json:"role,omitzero"` // of the place
	Holder    string    `json:"holder,omitzero"`
	Since     time.Time `json:"since,omitzero"` // there
	Bag       Name      `json:"bag,omitzero"`
	Received  time.Time `json:"received,omitzero"`
	Accession string    `json:"accession,omitzero"`
}

// Call is the last call about a case, and how long it may sleep.
type Call struct {
	When       time.Time `json:"when"`
	By         string    `json:"by"`
	Asked      string    `json:"asked"`
	Answer     string    `json:"answer,omitzero"`
	Next       time.Time `json:"next,omitzero"` // ask again
	Level      int       `json:"level,omitzero"`
	SleepUntil time.Time `json:"sleep_until,omitzero"` // zero: awake
}

// Step says how far a case has come, for people.
type Step string

// The steps of a case, in order.
const (
	StepUnknown  Step = "unknown"
	StepPlanned  Step = "planned"
	StepRoom     Step = "in the room"
	StepWaiting  Step = "waiting for collection"
	StepOnTheWay Step = "on the way"
	StepLab      Step = "at the laboratory"
	StepAnswered Step = "answered"
	StepRead     Step = "read"
	StepTold     Step = "patient told"
	StepClosed   Step = "closed"
	StepBag      Step = "bag"
	StepRoomDay  Step = "day of a room"
)

// Summary sums a case up; roles of places come from the rules.
func (c *Case) Summary(r *Rules) Summary {
	s := Summary{Name: c.Name, Known: c.Known, Patient: c.Request.Patient, Priority: c.Request.Priority,
		Rank: r.p.Priority[c.Request.Priority].Rank, Room: c.Request.Room, Planned: c.Request.Planned, Last: c.LastMark.When}
	if n := len(c.Checks); n > 0 && c.Checks[n-1].Room != "" {
		s.Room = c.Checks[n-1].Room
	}
	if c.Closing != nil {
		s.Closed, s.Outcome = true, c.Closing.Outcome
	}
	for _, p := range c.Pots {
		s.Pots = append(s.Pots, c.potSummary(p, r))
	}
	s.Step = c.step(r, s.Pots)
	s.Call = lastCall(c.Chases)
	return s
}

func (c *Case) potSummary(p *Pot, r *Rules) PotSummary {
	out := PotSummary{Name: p.Name, Studies: p.Studies, Sealed: len(p.Seals) > 0, Bag: p.Bag}
	out.Medium, _ = c.medium(p)
	if p.Plan != nil {
		out.Lesion, out.Planned = p.Plan.Lesion, p.Plan.Pieces
	}
	for s := range c.PiecesIn(p.Name) {
		if !s.Taken.When.IsZero() {
			out.Taken++
		}
		if !s.Potted.When.IsZero() {
			out.Potted++
		}
	}
	if n := len(p.Custody); n > 0 && p.HasEvents {
		last := p.Custody[n-1]
		out.Place, out.Role, out.Holder, out.Since = last.Place, r.role(last.Place), last.Holder, last.When
	}
	out.Received, _ = r.receipt(p)
	if p.Accession != nil {
		out.Accession = p.Accession.Number
	}
	return out
}

// step is how far the case has come: as far as its hindmost pot that holds something.
func (c *Case) step(r *Rules, pots []PotSummary) Step {
	switch {
	case c.Closing != nil:
		return StepClosed
	case !c.Known:
		return StepUnknown
	}
	if current := c.current(); len(current) > 0 {
		seen, told := true, true
		for _, result := range current {
			seen = seen && !result.Seen.IsZero()
			told = told && !result.Told.IsZero()
		}
		switch {
		case told:
			return StepTold
		case seen:
			return StepRead
		}
		return StepAnswered
	}
	const (
		nothing = iota
		way
		lab
	)
	least, sealed, started := lab+1, true, len(c.Checks) > 0
	for i, p := range pots {
		if p.Taken == 0 && p.Place == "" && !p.Sealed {
			continue
		}
		started = true
		at := nothing
		switch {
		case !p.Received.IsZero():
			at = lab
		case p.Place != "" && p.Role != roleRoom:
			at = way
		}
		if _, lid := r.lidOn(c.Pots[i]); !lid {
			sealed = false
		}
		least = min(least, at)
	}
	switch {
	case least == lab:
		return StepLab
	case least == way:
		return StepOnTheWay
	case least == nothing && sealed && len(c.Cleared) > 0:
		return StepWaiting
	case started:
		return StepRoom
	}
	return StepPlanned
}

// Summary sums a bag up.
func (b *Bag) Summary(r *Rules) Summary {
	s := Summary{Name: b.Name, Known: b.Known, Step: StepBag, Inside: b.Inside, Last: b.LastMark.When}
	if n := len(b.Custody); n > 0 {
		s.Place, s.Holder = b.Custody[n-1].Place, b.Custody[n-1].Holder
	}
	s.Call = lastCall(b.Chases)
	return s
}

// lastCall is the last of the calls, or nil.
func lastCall(chases []Inquiry) *Call {
	if len(chases) == 0 {
		return nil
	}
	last := chases[len(chases)-1]
	return &Call{When: last.When, By: last.By, Asked: last.Asked, Answer: last.Answer, Next: last.Next, Level: last.Level}
}

// longestSleep is how long a flag that counts minutes or hours may sleep after a call.
// Source: contract page on the chase list; pottrail default.
const longestSleep = 4 * time.Hour

// sleep works out how long the last call lets the case or bag sleep: until it said to ask again, a `now` four hours at most,
// and not at all when a flag is new or worse since.
func (s *Summary) sleep(gathered []*Event, r *Rules, found Findings) {
	if s.Call == nil || s.Call.Next.IsZero() || !s.Call.Next.After(s.Call.When) {
		return
	}
	before := map[FlagKind]map[Name]Severity{}
	for _, f := range flagsAt(s.Name, gathered, r, s.Call.When) {
		if before[f.Kind] == nil {
			before[f.Kind] = map[Name]Severity{}
		}
		before[f.Kind][f.Item] = f.Severity
	}
	until := s.Call.Next
	for _, f := range found.Flags {
		if f.Severity == Watch {
			continue
		}
		if had := before[f.Kind][f.Item]; f.Severity.Rank() < had.Rank() { // what was not there ranks with what is watched
			return
		}
		if limit := s.Call.When.Add(longestSleep); f.Severity == Now && limit.Before(until) {
			until = limit
		}
	}
	s.Call.SleepUntil = until
}

// flagsAt is what was wrong at an earlier instant, by what had happened by then.
func flagsAt(name Name, gathered []*Event, r *Rules, at time.Time) []Flag {
	var until []*Event
	for _, e := range gathered {
		if !e.When().After(at) {
			until = append(until, e)
		}
	}
	if name.Thing() == ThingBag {
		return CheckBag(FoldBag(name, until), r, at).Flags
	}
	return Check(Fold(name, until), r, at).Flags
}
