package tracker

import (
	"time"

	"github.com/pottrail/pottrail/tracker/protocol"
)

// leaves is when a run that was loaded at t leaves formalin, by the protocol. A run that says how many midnights lie between
// counts them from the day whose loading time is nearest to t: one of 23:30 may be scanned at ten past midnight.
func (r *Rules) leaves(run protocol.Run, t time.Time) time.Time {
	load, err := time.Parse("15:04", run.Load)
	out, err2 := time.Parse("15:04", run.Leaves)
	if run.Nights == 0 || err != nil || err2 != nil {
		return r.nextWallClock(t, run.Leaves)
	}
	local := t.In(r.zone)
	var day int
	var nearest time.Duration
	for off := -1; off <= 1; off++ {
		nominal := time.Date(local.Year(), local.Month(), local.Day()+off, load.Hour(), load.Minute(), 0, 0, r.zone)
		if apart := t.Sub(nominal).Abs(); off == -1 || apart < nearest {
			day, nearest = off, apart
		}
	}
	return time.Date(local.Year(), local.Month(), local.Day()+day+run.Nights, out.Hour(), out.Minute(), 0, 0, r.zone)
}
