package protocol

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// Span is a length of time as rules give it: elapsed, or a number of calendar or working days by wall clock. At most
// one field is set; the zero value is no span.
type Span struct {
	Elapsed     time.Duration
	Days        int // calendar days
	WorkingDays int
}

// IsZero reports whether the span is not set.
func (s Span) IsZero() bool { return s == Span{} }

// String is the span for people: "60 min", "6 h", "1 h 30 min", "14 days", "1 working day".
func (s Span) String() string {
	switch {
	case s.WorkingDays != 0:
		return count(s.WorkingDays, "working day")
	case s.Days != 0:
		return count(s.Days, "day")
	}
	return FormatElapsed(s.Elapsed)
}

// FormatElapsed is elapsed time for people: "45 s", "60 min", "1 h 30 min", "73 h 48 min"; 60 min stays minutes.
func FormatElapsed(d time.Duration) string {
	if d < 0 {
		return "-" + FormatElapsed(-d)
	}
	h, m, sec := int(d/time.Hour), int(d%time.Hour/time.Minute), int(d%time.Minute/time.Second)
	switch {
	case d <= 90*time.Minute && sec == 0 && d%time.Hour == 0 && h == 1:
		return "60 min"
	case h == 0 && m == 0:
		return fmt.Sprintf("%d s", sec)
	case h == 0 && sec == 0:
		return fmt.Sprintf("%d min", m)
	case h == 0:
		return fmt.Sprintf("%d min %d s", m, sec)
	case m == 0 && sec == 0:
		return fmt.Sprintf("%d h", h)
	case sec == 0:
		return fmt.Sprintf("%d h %d min", h, m)
	}
	return fmt.Sprintf("%d h %d min %d s", h, m, sec)
}

func count(n int, unit string) string {
	if n == 1 {
		return "1 " + unit
	}
	return fmt.Sprintf("%d %ss", n, unit)
}

// ParseSpan reads "20m", "1h30m", "14d" (calendar days) or "2wd" (working days).
func ParseSpan(text string) (Span, error) {
	whole := func(suffix string) (int, error) {
		n, err := strconv.Atoi(strings.TrimSuffix(text, suffix))
		if err != nil || n < 1 || n > 3660 {
			return 0, fmt.Errorf("%q is not a span: write 20m, 1h30m, 14d or 2wd", text)
		}
		return n, nil
	}
	switch {
	case strings.HasSuffix(text, "wd"):
		n, err := whole("wd")
		return Span{WorkingDays: n}, err
	case strings.HasSuffix(text, "d"):
		n, err := whole("d")
		return Span{Days: n}, err
	}
	d, err := time.ParseDuration(text)
	if err != nil || d <= 0 {
		return Span{}, fmt.Errorf("%q is not a span: write 20m, 1h30m, 14d or 2wd", text)
	}
	return Span{Elapsed: d}, nil
}

// UnmarshalText reads a span in a protocol file.
func (s *Span) UnmarshalText(text []byte) error {
	span, err := ParseSpan(string(text))
	if err != nil {
		return err
	}
	*s = span
	return nil
}
