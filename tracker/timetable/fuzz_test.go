package timetable_test

import (
	"strings"
	"testing"

	"github.com/pottrail/pottrail/tracker/timetable"
)

// FuzzInterval holds on any text: what is read as a time or as hours is spelled so that it reads the same.
func FuzzInterval(f *testing.F) {
	for _, seed := range []string{"08:30-17:00", "08:30-12:00,13:00-17:00", "24:00", "17:00-08:30", "8:5", "-", ""} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if c, err := timetable.ParseClock(text); err == nil {
			if again, err := timetable.ParseClock(c.String()); err != nil || again != c {
				t.Fatalf("%q reads as %s, which reads as %s, %v", text, c, again, err)
			}
		}
		if v, err := timetable.ParseInterval(text); err == nil {
			if again, err := timetable.ParseInterval(v.String()); err != nil || again != v {
				t.Fatalf("%q reads as %s, which reads as %s, %v", text, v, again, err)
			}
		}
		list, err := timetable.ParseIntervals(strings.Split(text, ","))
		if err == nil && len(list) != strings.Count(text, ",")+1 {
			t.Fatalf("%q reads as %v", text, list)
		}
	})
}
