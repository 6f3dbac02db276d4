package protocol_test

import (
	"testing"

	"github.com/pottrail/pottrail/tracker/protocol"
)

// FuzzSpan holds on any text: a span is one kind of time and more than none, and is spelled so that it reads the same.
func FuzzSpan(f *testing.F) {
	for _, seed := range []string{"20m", "1h30m", "14d", "2wd", "-1h", "0wd", "9e9h", "wd"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		s, err := protocol.ParseSpan(text)
		var other protocol.Span
		if (other.UnmarshalText([]byte(text)) == nil) != (err == nil) || err == nil && other != s {
			t.Fatalf("%q reads as %+v and as %+v", text, s, other)
		}
		if err != nil {
			return
		}
		if s.Elapsed <= 0 && s.Days <= 0 && s.WorkingDays <= 0 {
			t.Fatalf("%q is no time at all: %+v", text, s)
		}
	})
}
