package tracker_test

import (
	"testing"

	"github.com/pottrail/pottrail/tracker"
)

// FuzzWords holds on any text that stands for a code, a name, a copy, a day or a role: what is read is spelled so that it
// reads the same.
func FuzzWords(f *testing.F) {
	for _, seed := range []string{"MBY2600417A031M", "MBY-26-00417-A03", "MBY-26-00012-Z", "Z", "2026-03-06", "2026-02-30", "porter", "\xff"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if code, err := tracker.ParseCode(text); err == nil {
			if again, err := tracker.ParseCode(code.String()); err != nil || again != code {
				t.Fatalf("%q reads as code %v, whose spelling reads as %v, %v", text, code, again, err)
			}
		}
		if name, err := tracker.ParseName(text); err == nil {
			if again, err := tracker.ParseName(string(name)); err != nil || again != name {
				t.Fatalf("%q reads as name %v, whose spelling reads as %v, %v", text, name, again, err)
			}
			_, _, _ = name.Case(), name.Serial(), name.Printed()
		}
		var c tracker.Copy
		if err := c.UnmarshalText([]byte(text)); err == nil && c.String() != text {
			t.Fatalf("%q reads as copy %s", text, c)
		}
		if date, err := tracker.ParseDate(text); err == nil && string(date) != text {
			t.Fatalf("%q reads as %s", text, date)
		}
		if role, ok := tracker.ParseRole(text); ok && (len(role.Keys()) != 1 || role.Keys()[0] != text) {
			t.Fatalf("%q reads as %v", text, role.Keys())
		}
	})
}
