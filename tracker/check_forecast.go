package tracker

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/pottrail/pottrail/tracker/forecast"
	"github.com/pottrail/pottrail/tracker/protocol"
)

// forecasts looks ahead: windows that will be missed while there is still a departure that saves them.
func (k *checking) forecasts() {
	if k.owesNothing() {
		return
	}
	for _, p := range k.c.Pots {
		if k.settled(p) || k.c.unused(p) || p.Discarded != nil {
			continue
		}
		k.willFix(p)
		k.freshLate(p)
	}
}

// forecastDays is how long after its window a pot is looked at: over any closure in which nothing runs.
const forecastDays = 21

// Forecast is what is to come for a pot in fixative: its window, and what the timetable gives.
type Forecast struct {
	Pot      Name
	Place    string
	First    time.Time // when its first piece went into fixative
	Last     time.Time
	MinStudy string // whose least time counts
	MaxStudy string
	Min      time.Duration
	Max      time.Duration
	Answer   forecast.Answer
	until    time.Time
	at       time.Time // from when it is there
	scanned  string    // where it was scanned last
	known    time.Time // from when all this was known
	question forecast.Question
}

// ForecastPot looks ahead for a pot that is in fixative and not loaded. Not ok: there is no window, no time into fixative, no
// place, or the protocol has no way or run; why says which.
func (r *Rules) ForecastPot(c *Case, p *Pot, now time.Time) (f Forecast, why string, ok bool) {
	w, hasWindow := r.window(p)
	switch {
	case r.network == nil:
		return f, "the protocol has no rounds and no processor runs", false
	case !hasWindow:
		return f, "none of its studies has a window", false
	}
	f = Forecast{Pot: p.Name, MinStudy: w.minStudy, MaxStudy: w.maxStudy, Min: w.min, Max: w.max}
	for s := range c.PiecesIn(p.Name) {
		start, ok := r.fixing(c, p, s)
		if !ok {
			continue
		}
		if s.Loaded != nil {
			return f, "it is on the processor already", false
		}
		if f.First.IsZero() || start.Before(f.First) {
			f.First = start
		}
		if start.After(f.Last) {
			f.Last = start
		}
	}
	place, at, since, known := r.stands(c, p)
	switch {
	case p.Loaded != nil:
		return f, "it is on the processor already", false
	case f.First.IsZero():
		return f, "no piece is known to be in fixative", false
	case !known:
		return f, "nobody said where it is", false
	}
	f.Place, f.at, f.known = place, at, f.Last
	if n := len(p.Custody); n > 0 {
		f.scanned = p.Custody[n-1].Place
	}
	if since.After(f.known) {
		f.known = since
	}
	f.until = f.Last.Add(max(w.min, w.max)).AddDate(0, 0, forecastDays)
	f.question = forecast.Question{Place: place, There: at, To: planTo(p), First: f.First, Last: f.Last, Min: w.min, Max: w.max, Until: f.until}
	f.Answer = r.ahead(&f, now)
	if !f.Answer.Known {
		return f, "from " + place + " there is no way to a processor run", false
	}
	return f, "", true
}

// ahead asks the network as of an instant.
func (r *Rules) ahead(f *Forecast, now time.Time) forecast.Answer {
	q := f.question
	if q.At = now.Truncate(time.Second); q.At.Before(f.at) || r.role(f.scanned) == roleVehicle {
		q.At, q.There = f.at, f.at // what went along is not said to be left behind, until somebody says where it is
	}
	return r.network.Fixation(q)
}

// fixing is when a piece went into fixative; not ok when it did not, or nobody knows.
func (r *Rules) fixing(c *Case, p *Pot, s *Piece) (time.Time, bool) {
	start, ok := r.fixationStart(c, p, s)
	if !ok || !s.Taken.When.IsZero() && start.Before(s.Taken.When) {
		return time.Time{}, false
	}
	medium := s.Medium
	if medium == "" {
		medium, _ = c.medium(p)
	}
	m, known := r.p.Media[medium]
	return start, known && m.Fixing
}

// willFix: by rounds, hours and runs the pot will be in fixative for too short or too long.
func (k *checking) willFix(p *Pot) {
	if k.r.network == nil || k.c.hasFinal(p.Name) { // reported: it was on the processor, whoever scanned it
		return
	}
	f, _, ok := k.r.ForecastPot(k.c, p, k.now)
	if f.until.IsZero() || k.reached(f.until) {
		return
	}
	if !f.Answer.Changes.IsZero() {
		k.reached(f.Answer.Changes)
	}
	if !ok {
		return
	}
	planned := f.Answer.Planned
	if f.Max > 0 && planned.Longest > f.Max {
		k.willBe(FlagFixationWillBeLong, &f, planned.Longest, f.MaxStudy, f.Max, "the most")
	}
	if f.Min > 0 && planned.Shortest < f.Min {
		k.willBe(FlagFixationWillBeShort, &f, planned.Shortest, f.MinStudy, f.Min, "the least")
	}
}

func (k *checking) willBe(kind FlagKind, f *Forecast, spent time.Duration, study string, limit time.Duration, bound string) {
	a, makes := &f.Answer, "with the next collections it makes"
	if a.Planned.Round == "" { // it is in the house
		makes = "it makes"
	}
	flag := Flag{Kind: kind, Item: f.Pot, Severity: Watch, Since: k.outsideSince(f), Who: "porter, laboratory", Basis: k.r.cite("studies." + study + ".window"),
		Text: fmt.Sprintf("%s: %s the processor run loaded %s and leaves fixative %s, after %s; %s for %s is %s.", potWord(f.Pot), makes,
			k.clock(a.Planned.Load), k.clock(a.Planned.Leaves), span(spent), bound, k.studyWord(study), span(limit)),
		Remedy: k.keepInside(kind, f)}
	if a.Doubt != "" {
		flag.Remedy += " " + capital(a.Doubt) + "."
	}
	flag.Due = a.Last
	if kind == FlagFixationWillBeShort && a.Planned.Round == "" && a.Planned.Departs.Before(a.Last) {
		flag.Due = a.Planned.Load // it stands beside a run that is too early: what counts is that it is not loaded with that
	}
	late := flag.Since.Add(k.r.limit(protocol.LimitCollect).Elapsed)
	switch soon := k.r.limit(protocol.LimitForecastNow).Elapsed; {
	case flag.Since.After(f.known) && !k.reached(late): // it may have gone along, and the scan is still to come
		flag.Due = late
		flag.Remedy = wentAlong + flag.Remedy
	case len(a.Ideas) > 0: // the last departure is gone, and something can still be done
		flag.Severity = Now
		for _, idea := range a.Ideas {
			if idea.By.After(flag.Due) {
				flag.Due = idea.By
			}
		}
		if kind == FlagFixationWillBeShort { // once it is loaded nobody can hold it back
			flag.Due = a.Planned.Load
		}
	case a.Last.IsZero():
		flag.Severity = Today
	case k.reached(flag.Due.Add(-soon)):
		flag.Severity = Now
	case k.reached(k.dayOf(flag.Due)):
		flag.Severity = Today
	}
	k.raise(flag)
}

// outsideSince is from when the forecast has been outside: from when all of it was known, or from the departure that was
// missed.
func (k *checking) outsideSince(f *Forecast) time.Time {
	const most = 100 // departures that can be missed one after the other
	at := f.known
	for range most {
		a := k.r.ahead(f, at)
		if !a.Known || !f.question.Inside(a.Planned) || a.Changes.IsZero() || !a.Changes.After(at) || a.Changes.After(k.now) {
			return at
		}
		at = a.Changes
	}
	return at
}

// keepInside says which departure or run keeps the pot inside its window, or what else would.
func (k *checking) keepInside(kind FlagKind, f *Forecast) string {
	a := &f.Answer
	if len(a.Inside) > 0 {
		if kind == FlagFixationWillBeShort {
			o := a.Inside[0]
			for _, other := range a.Inside { // the first after the planned one
				if other.Cutoff.After(a.Planned.Cutoff) {
					o = other
					break
				}
			}
			return fmt.Sprintf("Ask %s to hold it in fixative for the run loaded %s, which it leaves %s, after %s.", k.ring(roleLaboratory), k.clock(o.Load),
				k.clock(o.Leaves), span(o.Shortest))
		}
		o := a.Inside[len(a.Inside)-1]
		for _, other := range a.Inside {
			if other.Departs.Equal(a.Last) {
				o = other
			}
		}
		if a.Round == "" {
			return fmt.Sprintf("Ask %s to load it with the run of %s: that keeps it inside.", k.ring(roleLaboratory), k.clock(o.Load))
		}
		return fmt.Sprintf("The last departure that keeps it inside is %s, for the run loaded %s: ring %s.", k.clock(a.Last), k.clock(o.Load), k.ring("porter"))
	}
	var ways []string
	for _, idea := range a.Ideas {
		switch idea.Remedy {
		case forecast.BringByHand:
			ways = append(ways, fmt.Sprintf("bring it by hand to %s by %s", k.ringPlace(k.r.door(idea.Place)), k.clock(idea.By)))
		case forecast.AskForRun:
			ways = append(ways, fmt.Sprintf("ask %s for a run on %s", k.ring(roleLaboratory), k.day(idea.By)))
		case forecast.EndByHand:
			if kind == FlagFixationWillBeShort && !idea.From.IsZero() { // sooner would be as wrong as the run
				ways = append(ways, fmt.Sprintf("ask %s to keep it off the run of %s and end fixation by hand, not before %s and by %s", k.ring(roleLaboratory),
					k.clock(a.Planned.Load), k.clock(idea.From), k.clock(idea.By)))
				continue
			}
			if idea.Place != "" { // no round has it there by then
				ways = append(ways, fmt.Sprintf("bring it by hand to %s and have fixation ended there by %s", k.ringPlace(k.r.door(idea.Place)), k.clock(idea.By)))
				continue
			}
			ways = append(ways, fmt.Sprintf("ask %s to end fixation by hand by %s", k.ring(roleLaboratory), k.clock(idea.By)))
		}
	}
	if len(ways) == 0 {
		return fmt.Sprintf("Nothing keeps it inside any more: tell %s, so that the report can say so.", k.ring(roleLaboratory))
	}
	return "The timetable alone does not keep it inside: " + strings.Join(ways, ", or ") + "."
}

// freshLate: tissue that must be started at its bench unfixed, and was not or will not be in time.
func (k *checking) freshLate(p *Pot) {
	if p.Started != nil {
		return
	}
	medium, planned := k.c.medium(p)
	m, known := k.r.p.Media[medium]
	if !known || m.Fixing {
		return
	}
	taken, isTaken := k.c.firstTaken(p)
	for _, key := range p.Studies {
		study, known := k.r.p.Studies[key]
		if !known || study.Fresh == nil || !slices.Contains(m.Serves, key) && !slices.Contains(m.Loss, key) {
			continue
		}
		limit := study.Fresh.Span
		if own, ok := study.Fresh.Media[medium]; ok {
			limit = own
		}
		switch {
		case isTaken:
			k.warm(p, key, study.Fresh, taken)
			if !limit.IsZero() {
				k.lateToBench(p, key, limit, taken)
			}
		case !limit.IsZero() && !k.c.Request.Planned.IsZero() && k.c.Ended == nil:
			k.wouldBeLate(p, key, limit, planned)
		}
	}
}

// warm: fresh tissue was measured outside its range after it could bear that.
func (k *checking) warm(p *Pot, study string, fresh *protocol.Fresh, taken time.Time) {
	if fresh.Warm.IsZero() {
		return
	}
	for _, held := range p.Custody {
		if held.TemperatureC == nil || *held.TemperatureC >= fresh.MinC && *held.TemperatureC <= fresh.MaxC || !held.When.After(k.r.after(taken, fresh.Warm)) {
			continue
		}
		k.raise(Flag{Kind: FlagFreshLate, Item: p.Name, Severity: Now, Since: held.When, Who: "porter, operator", Basis: k.r.cite("studies." + study + ".fresh"),
			Text: fmt.Sprintf("%s, for %s, was at %g °C on %s; more than %s after it was taken it must be at %g to %g °C.", potWord(p.Name), k.studyWord(study),
				*held.TemperatureC, k.clock(held.When), fresh.Warm, fresh.MinC, fresh.MaxC),
			Remedy: fmt.Sprintf("Chill it now without freezing it, and ask %s whether it can still be used.", k.ring(roleLaboratory))})
		return
	}
}

// lateToBench: taken, and not started within the limit, or not to be by the timetable.
func (k *checking) lateToBench(p *Pot, study string, limit protocol.Span, taken time.Time) {
	by := k.r.after(taken, limit)
	f := Flag{Kind: FlagFreshLate, Item: p.Name, Severity: Now, Since: by, Due: by, Who: "porter, operator", Basis: k.r.cite("studies." + study + ".fresh")}
	if k.missed(by) {
		f.Text = fmt.Sprintf("%s, for %s, was taken %s and had to be started by %s, within %s; it has not been.", potWord(p.Name), k.studyWord(study), k.clock(taken),
			k.clock(by), limit)
		f.Remedy = fmt.Sprintf("Ask %s whether it can still be used; is another piece needed?", k.ring(roleLaboratory))
		k.raise(f)
		return
	}
	start, known, since, late := k.benchFrom(p, study, by, taken)
	if !late {
		return
	}
	f.Since = since
	if soon := since.Add(k.r.limit(protocol.LimitCollect).Elapsed); since.After(known) && !k.reached(soon) {
		f.Severity, f.Due = Watch, soon
	}
	how, ask := "with the next collections", "bring it, and start it before that"
	if place, _, _, _ := k.r.stands(k.c, p); k.r.role(place) == roleLaboratory {
		how, ask = "by the hours there", "start it before that"
	}
	f.Text = fmt.Sprintf("%s, for %s, must be started by %s, within %s; %s it can be started %s.", potWord(p.Name), k.studyWord(study), k.clock(by), limit, how,
		k.clock(start.Earliest))
	f.Remedy = fmt.Sprintf("Ring %s: can somebody %s?", k.ring(roleLaboratory), ask)
	if f.Severity == Watch {
		f.Remedy = wentAlong + f.Remedy
	}
	k.raise(f)
}

// benchFrom looks ahead for a pot from where it is; known is since when it is there, and since from when it has been late.
func (k *checking) benchFrom(p *Pot, study string, by, taken time.Time) (start forecast.Start, known, since time.Time, late bool) {
	if k.r.network == nil {
		return start, known, since, false
	}
	place, there, since, stands := k.r.stands(k.c, p)
	if !stands {
		return start, known, since, false
	}
	if since.Before(taken) {
		since = taken
	}
	at := func(t time.Time) forecast.Start {
		if t = t.Truncate(time.Second); t.Before(there) {
			t = there
		}
		return k.r.network.Fresh(place, t, planTo(p), study, by, by.AddDate(0, 0, forecastDays))
	}
	start = at(k.now)
	if !start.Changes.IsZero() {
		k.reached(start.Changes)
	}
	known = since
	if !start.Known || !start.Earliest.After(by) {
		return start, known, since, false
	}
	const most = 100
	for range most {
		s := at(since)
		if s.Earliest.After(by) || s.Changes.IsZero() || !s.Changes.After(since) || s.Changes.After(k.now) {
			break
		}
		since = s.Changes
	}
	return start, known, since, true
}

// wouldBeLate: nothing is taken yet, and taken when it is planned it would not be started in time.
func (k *checking) wouldBeLate(p *Pot, study string, limit protocol.Span, known time.Time) {
	planned := k.c.Request.Planned
	if k.r.network == nil || k.reached(planned) || k.r.role(k.c.room()) == "" {
		return
	}
	by := k.r.after(planned, limit)
	until := by.AddDate(0, 0, forecastDays)
	start := k.r.network.Fresh(k.c.room(), planned, planTo(p), study, by, until)
	if !start.Known || !start.Earliest.After(by) {
		return
	}
	// Until the last departure that would be in time the patient can come earlier, or another day can be found.
	last := k.r.network.Fresh(k.c.room(), known, planTo(p), study, by, until).Last
	f := Flag{Kind: FlagFreshLate, Item: p.Name, Severity: Watch, Since: known, Due: planned, Who: "porter, operator", Basis: k.r.cite("studies." + study + ".fresh"),
		Text: fmt.Sprintf("%s, for %s: taken as planned %s it must be started by %s, within %s, and can be started only %s.", potWord(p.Name), k.studyWord(study),
			k.clock(planned), k.clock(by), limit, k.clock(start.Earliest)),
		Remedy: fmt.Sprintf("Ask %s whether somebody can start it, or plan the biopsy for another time.", k.ring(roleLaboratory))}
	if last.IsZero() { // it was gone before this was asked for
		f.Severity = Now
	} else {
		f.Due = last
		f.Remedy += fmt.Sprintf(" The last departure in time is %s.", k.clock(last))
		if k.reached(last.Add(-k.r.limit(protocol.LimitFreshNow).Elapsed)) {
			f.Severity = Now
		}
	}
	k.raise(f)
}
