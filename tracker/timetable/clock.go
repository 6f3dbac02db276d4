package timetable

import "time"

// At is the instant at which the wall clock shows a time of day on t's day, by the rules of this package for wall times
// that do not exist or exist twice. 24:00 is the midnight that ends the day.
func (c *Calendar) At(t time.Time, clock Clock) time.Time {
	day := floorDiv(c.wall(t), secondsPerDay)
	return c.instant(day*secondsPerDay+int64(clock)*60, 0)
}
