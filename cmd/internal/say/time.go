package say

import (
	"fmt"
	"time"
)

// Instant is a time in a zone as people say it, "Fri 6 Mar 15:42"; the year is named when it is not that of now.
func Instant(t time.Time, zone *time.Location, now time.Time) string {
	if t.IsZero() {
		return ""
	}
	local := t.In(zone)
	if !now.IsZero() && local.Year() != now.In(zone).Year() {
		return local.Format("Mon 2 Jan 2006 15:04")
	}
	return local.Format("Mon 2 Jan 15:04")
}

// Briefly is the time of day for today, "15:42", and the day for any other, "Fri 6 Mar".
func Briefly(t time.Time, zone *time.Location, now time.Time) string {
	local, today := t.In(zone), now.In(zone)
	if local.Year() == today.Year() && local.YearDay() == today.YearDay() {
		return local.Format("15:04")
	}
	return local.Format("Mon 2 Jan")
}

// Day is a date as people say it, "Friday 6 March 2026".
func Day(t time.Time, zone *time.Location) string { return t.In(zone).Format("Monday 2 January 2006") }

// Clock is the time of day, "15:42:10", with the seconds that short intervals need.
func Clock(t time.Time, zone *time.Location) string { return t.In(zone).Format("15:04:05") }

// Age is how long something has lasted, roughly: "less than a minute", "38 min", "2 h 40 min", "3 days", "5 weeks".
func Age(d time.Duration) string {
	const day = 24 * time.Hour
	switch {
	case d < time.Minute:
		return "less than a minute"
	case d < time.Hour:
		return fmt.Sprintf("%d min", d/time.Minute)
	case d < 10*time.Hour && d%time.Hour >= time.Minute:
		return fmt.Sprintf("%d h %d min", d/time.Hour, d%time.Hour/time.Minute)
	case d < 48*time.Hour:
		return fmt.Sprintf("%d h", d/time.Hour)
	case d < 28*day:
		return fmt.Sprintf("%d days", d/day)
	}
	return fmt.Sprintf("%d weeks", d/(7*day))
}

// Count is a number with its noun, "1 pot", "2 pots".
func Count(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}
