package ics_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/pottrail/pottrail/cmd/internal/ics"
)

// file wraps events, given as lines of properties parted by "|", into a calendar file. The first event's BEGIN is line 4,
// its first property line 5.
func file(events ...string) string {
	var out strings.Builder
	out.WriteString("BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//Marram Bay//closures//EN\r\n")
	for _, e := range events {
		out.WriteString("BEGIN:VEVENT\r\n" + strings.ReplaceAll(e, "|", "\r\n") + "\r\nEND:VEVENT\r\n")
	}
	return out.String() + "END:VCALENDAR\r\n"
}

func TestClosedDaysOfAFile(t *testing.T) {
	for _, row := range []struct {
		why     string
		text    string
		through int
		closed  string
		left    string // why, of the first left out
	}{
		{"one day", file("SUMMARY:Christmas Eve|DTSTART;VALUE=DATE:20261224|DTEND;VALUE=DATE:20261225"), 0, "2026-12-24", ""},
		{"a day without an end", file("SUMMARY:Audit|DTSTART;VALUE=DATE:20260306"), 0, "2026-03-06", ""},
		{"a date that does not say that it is one", file("SUMMARY:Audit|DTSTART:20260306"), 0, "2026-03-06", ""},
		{"the end is the day after the last, over a year's end", file("SUMMARY:Christmas|DTSTART;VALUE=DATE:20261230|DTEND;VALUE=DATE:20270102"), 0, "2026-12-30 2026-12-31 2027-01-01", ""},
		{"a length in days", file("SUMMARY:Move|DTSTART;VALUE=DATE:20260227|DURATION:P3D"), 0, "2026-02-27 2026-02-28 2026-03-01", ""},
		{"a length in weeks", file("SUMMARY:Move|DTSTART;VALUE=DATE:20260302|DURATION:P1W"), 0, "2026-03-02 2026-03-03 2026-03-04 2026-03-05 2026-03-06 2026-03-07 2026-03-08", ""},
		{"midnight to midnight by wall clock, over a clock change", file("SUMMARY:Power off|DTSTART;TZID=Europe/London:20260328T000000|DTEND;TZID=Europe/London:20260330T000000"), 0, "2026-03-28 2026-03-29", ""},
		{"two events on one day, in order of days", file("SUMMARY:B|DTSTART:20260307", "SUMMARY:A|DTSTART:20260306", "SUMMARY:A again|DTSTART:20260306"), 0, "2026-03-06 2026-03-07", ""},
		{"free or busy says nothing about closed", file("SUMMARY:Easter|DTSTART;VALUE=DATE:20260403|TRANSP:TRANSPARENT"), 0, "2026-04-03", ""},
		{"every year, so many times", file("SUMMARY:Founder's day|DTSTART;VALUE=DATE:20260702|RRULE:FREQ=YEARLY;COUNT=3"), 0, "2026-07-02 2027-07-02 2028-07-02", ""},
		{"every year until, that day too", file("SUMMARY:Founder's day|DTSTART;VALUE=DATE:20260702|RRULE:FREQ=YEARLY;UNTIL=20280702"), 0, "2026-07-02 2027-07-02 2028-07-02", ""},
		{"until the day before", file("SUMMARY:Founder's day|DTSTART;VALUE=DATE:20260702|RRULE:FREQ=YEARLY;UNTIL=20280701"), 0, "2026-07-02 2027-07-02", ""},
		{"until midnight in UTC of that day", file("SUMMARY:Founder's day|DTSTART;VALUE=DATE:20260702|RRULE:FREQ=YEARLY;UNTIL=20270702T000000Z"), 0, "2026-07-02 2027-07-02", ""},
		{"without an end, through a year", file("SUMMARY:Founder's day|DTSTART;VALUE=DATE:20260702|RRULE:FREQ=YEARLY"), 2027, "2026-07-02 2027-07-02", "its dates after 2027 are left out"},
		{"every second year, its own date said again", file("SUMMARY:Founder's day|DTSTART;VALUE=DATE:20260702|RRULE:FREQ=YEARLY;INTERVAL=2;BYMONTH=7;BYMONTHDAY=2;WKST=MO;COUNT=2"), 0, "2026-07-02 2028-07-02", ""},
		{"from before what calendars know", file("SUMMARY:Founder's day|DTSTART;VALUE=DATE:19700702|RRULE:FREQ=YEARLY;UNTIL=20010801"), 0, "2000-07-02 2001-07-02", "its dates before 2000 are left out"},
		{"29 February only where there is one", file("SUMMARY:Leap day|DTSTART;VALUE=DATE:20240229|RRULE:FREQ=YEARLY;COUNT=2"), 0, "2024-02-29 2028-02-29", ""},
		{"several days every year", file("SUMMARY:Stock|DTSTART;VALUE=DATE:20261231|DTEND;VALUE=DATE:20270102|RRULE:FREQ=YEARLY;COUNT=2"), 0, "2026-12-31 2027-01-01 2027-12-31 2028-01-01", ""},
		{"but for one year", file("SUMMARY:Stock|DTSTART;VALUE=DATE:20260702|RRULE:FREQ=YEARLY;COUNT=3|EXDATE;VALUE=DATE:20270702"), 0, "2026-07-02 2028-07-02", ""},
		{"cancelled", file("SUMMARY:Picnic|STATUS:CANCELLED|DTSTART:20260703", "SUMMARY:Audit|DTSTART:20260306"), 0, "2026-03-06", "it is cancelled"},
		{"excepted altogether", file("SUMMARY:Picnic|DTSTART:20260703|EXDATE:20260703", "SUMMARY:Audit|DTSTART:20260306"), 0, "2026-03-06", "its only date is excepted"},
		{"with an alarm", file("SUMMARY:Audit|DTSTART:20260306|BEGIN:VALARM|DTSTART:19990101|ACTION:DISPLAY|END:VALARM"), 0, "2026-03-06", ""},
		{"with a zone and a task", strings.Replace(file("SUMMARY:Audit|DTSTART:20260306"), "BEGIN:VEVENT", "BEGIN:VTIMEZONE\r\nTZID:Europe/London\r\nBEGIN:STANDARD\r\nDTSTART:19701025T020000\r\nEND:STANDARD\r\nEND:VTIMEZONE\r\nBEGIN:VTODO\r\nSUMMARY:Call\r\nEND:VTODO\r\nBEGIN:VEVENT", 1),
			0, "2026-03-06", "it is no event but a VTODO"},
		{"folded lines, plain line ends, a mark at the start", "\ufeff" + strings.ReplaceAll(file("SUMMARY:Christmas\r\n  Eve\\, all\r\n\t day|DTSTART;VALUE=\r\n DATE:2026\r\n 1224"), "\r\n", "\n"), 0, "2026-12-24", ""},
		{"a blank line", strings.Replace(file("SUMMARY:Audit|DTSTART:20260306"), "VERSION", "\r\nVERSION", 1), 0, "2026-03-06", ""},
	} {
		got, err := ics.Read(strings.NewReader(row.text), row.through)
		require.NoError(t, err, row.why)
		require.Equal(t, strings.Fields(row.closed), got.Closed, row.why)
		if row.left == "" {
			require.Empty(t, got.LeftOut, row.why)
			continue
		}
		require.Len(t, got.LeftOut, 1, row.why)
		require.Equal(t, row.left, got.LeftOut[0].Why, row.why)
	}
}

func TestWhatIsRefusedNamesTheLineAndTheEvent(t *testing.T) {
	for _, row := range []struct{ why, text, says string }{
		{"empty", "", "it is empty"},
		{"no event", file(), "there is no event in it"},
		{"something else", "Dear aunt\n", "line 1: it is no NAME:VALUE"},
		{"another file", "TITLE:letters\n", "line 1: a calendar file begins with BEGIN:VCALENDAR"},
		{"cut off", strings.TrimSuffix(file("SUMMARY:Audit|DTSTART:20260306"), "END:VCALENDAR\r\n"), "line 1: the VCALENDAR that begins here has no end"},
		{"cut off in an event", "BEGIN:VCALENDAR\nBEGIN:VEVENT\nSUMMARY:Audit\n", "line 2: the VEVENT that begins here has no end"},
		{"ends that do not fit", "BEGIN:VCALENDAR\nBEGIN:VEVENT\nEND:VCALENDAR\n", "line 3: END:VCALENDAR where END:VEVENT is due, which began on line 2"},
		{"two calendars", file("DTSTART:20260306") + file("DTSTART:20260307"), "something follows the end"},
		{"an event in an event", "BEGIN:VCALENDAR\nBEGIN:VEVENT\nBEGIN:VEVENT\n", "line 3: a VEVENT cannot stand in a VEVENT"},
		{"a line that is none", file("SUMMARY:Audit|a line|DTSTART:20260306"), "line 6: it is no NAME:VALUE"},
		{"a parameter that is none", file("SUMMARY:Audit|DTSTART;VALUE:20260306"), "line 6: "},
		{"a fold of nothing", " BEGIN:VCALENDAR\n", "line 1: it goes on with a line that is not there"},
		{"not UTF-8", file("SUMMARY:Caf\xe9|DTSTART:20260306"), "line 5: it is not written in UTF-8"},
		{"a control character", file("SUMMARY:Audit\x07|DTSTART:20260306"), "line 5: a control character stands in it, at byte 14"},
		{"no start", file("SUMMARY:Audit"), `line 4: "Audit" has no DTSTART`},
		{"no title either", file("UID:1"), "line 4: an event without a title has no DTSTART"},
		{"two starts", file("SUMMARY:Audit|DTSTART:20260306|DTSTART:20260307"), `line 7: "Audit" has DTSTART twice, on line 6 already`},
		{"a day that is not there", file("SUMMARY:Audit|DTSTART:20260230"), `line 6: "Audit": DTSTART:20260230 is no date`},
		{"a year that nobody knows", file("SUMMARY:Audit|DTSTART:21260306"), `line 4: "Audit" closes 2126-03-06: calendars know 2000 to 2099`},
		{"ends before it begins", file("SUMMARY:Audit|DTSTART:20260306|DTEND:20260305"), `line 7: "Audit" ends before its first day is over`},
		{"ends as it begins", file("SUMMARY:Audit|DTSTART:20260306|DTEND:20260306"), `line 7: "Audit" ends before its first day is over`},
		{"an end and a length", file("SUMMARY:Audit|DTSTART:20260306|DTEND:20260307|DURATION:P1D"), "one of them is too many"},
		{"a length in hours", file("SUMMARY:Audit|DTSTART:20260306|DURATION:PT4H"), `line 7: "Audit": a length of "PT4H" is no whole days`},
		{"longer than a year", file("SUMMARY:Works|DTSTART:20260306|DTEND:20270401"), `"Works" lasts 391 days, over 366`},
		{"half a day", file("SUMMARY:Half day|DTSTART;TZID=Europe/London:20261224T120000|DTEND;TZID=Europe/London:20261224T170000"), `line 6: "Half day" has a time of day, and a calendar closes whole days`},
		{"from midnight to noon", file("SUMMARY:Half day|DTSTART:20261224T000000|DTEND:20261224T120000"), `line 7: "Half day" has a time of day`},
		{"from midnight without an end", file("SUMMARY:Half day|DTSTART:20261224T000000"), `line 4: "Half day" has a time of day and no end`},
		{"half all day", file("SUMMARY:Odd|DTSTART:20261224|DTEND:20261225T000000"), `line 7: "Odd" begins with a date and ends with a time of day`},
		{"in UTC", file("SUMMARY:Audit|DTSTART:20260306T000000Z|DTEND:20260307T000000Z"), `line 6: "Audit" is given in UTC`},
		{"every week", file("SUMMARY:Audit|DTSTART:20260306|RRULE:FREQ=WEEKLY;COUNT=3"), `line 7: "Audit" repeats weekly; only a yearly repetition on the same date is read here`},
		{"the last Monday of May", file("SUMMARY:Spring|DTSTART:20260525|RRULE:FREQ=YEARLY;BYMONTH=5;BYDAY=-1MO"), `"Spring" repeats by "BYDAY=-1MO", which is not read here`},
		{"in another month", file("SUMMARY:Spring|DTSTART:20260525|RRULE:FREQ=YEARLY;BYMONTH=6"), `"BYMONTH=6"`},
		{"in every month", file("SUMMARY:Spring|DTSTART:20260525|RRULE:FREQ=YEARLY;BYMONTHDAY=25;COUNT=2"), "repeats on a day of every month"},
		{"twice the same", file("SUMMARY:Spring|DTSTART:20260525|RRULE:FREQ=YEARLY;COUNT=2;COUNT=3"), "says COUNT twice"},
		{"a number and an end", file("SUMMARY:Spring|DTSTART:20260525|RRULE:FREQ=YEARLY;COUNT=2;UNTIL=20280525"), "one of them is too many"},
		{"none at all", file("SUMMARY:Spring|DTSTART:20260525|RRULE:FREQ=YEARLY;COUNT=0"), `"COUNT=0"`},
		{"never", file("SUMMARY:Spring|DTSTART:20260525|RRULE:COUNT=2"), "does not say how often"},
		{"for ever", file("SUMMARY:Founder's day|DTSTART:20260702|RRULE:FREQ=YEARLY"), `line 7: "Founder's day" repeats every year without an end: say with --through up to which year`},
		{"until an instant that may be that day or not", file("SUMMARY:Founder's day|DTSTART:20260702|RRULE:FREQ=YEARLY;UNTIL=20280701T230000Z"), "within a day of 2028-07-02: write UNTIL as a date"},
		{"more dates", file("SUMMARY:Audit|DTSTART:20260306|RDATE:20260405"), `line 7: "Audit" changes or adds to its repetitions (RDATE)`},
		{"one of them moved", file("SUMMARY:Audit|DTSTART:20260306|RECURRENCE-ID:20260305"), "(RECURRENCE-ID)"},
		{"too long", strings.Repeat(" ", ics.MostBytes+1), "it is longer than 1024 KiB"},
		{"somebody's appointments", file(manyDays()...), "the file closes more than 5000 days"},
	} {
		_, err := ics.Read(strings.NewReader(row.text), 0)
		require.ErrorIs(t, err, ics.ErrFile, row.why)
		require.ErrorContains(t, err, row.says, row.why)
	}
	_, err := ics.Read(strings.NewReader(file("SUMMARY:Noon|DTSTART:20260306T120000|DTEND:20260306T130000", "SUMMARY:Evening|DTSTART:20260306T180000|DTEND:20260306T190000")), 0)
	require.ErrorContains(t, err, `"Noon"`, "all that is wrong is told at once")
	require.ErrorContains(t, err, `"Evening"`)
	_, err = ics.Read(strings.NewReader(file("DTSTART:20260306")), 1999)
	require.ErrorContains(t, err, "1999")
	_, err = ics.Read(broken{}, 0)
	require.ErrorIs(t, err, errBroken)
}

func manyDays() []string {
	var out []string
	for n := range 20 {
		out = append(out, fmt.Sprintf("SUMMARY:Year %d|DTSTART:%d0101|DURATION:P366D", n, 2001+n))
	}
	return out
}

var errBroken = errors.New("the disk is gone")

type broken struct{}

func (broken) Read([]byte) (int, error) { return 0, errBroken }

// TestLawDaysComeBackAsTheyWereWritten writes random stretches as events and finds exactly their days.
func TestLawDaysComeBackAsTheyWereWritten(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := map[string]bool{}
		var events []string
		for n := range rapid.IntRange(1, 8).Draw(t, "events") {
			first := time.Date(2026, 1, 1+rapid.IntRange(0, 3000).Draw(t, "day"), 0, 0, 0, 0, time.UTC)
			length := rapid.IntRange(1, 40).Draw(t, "days")
			for i := range length {
				want[first.AddDate(0, 0, i).Format(time.DateOnly)] = true
			}
			end := first.AddDate(0, 0, length)
			shapes := []string{"DTSTART;VALUE=DATE:%s|DTEND;VALUE=DATE:%s", "DTSTART:%s|DTEND:%s", "DTEND;TZID=Africa/Johannesburg:%[2]sT000000|DTSTART;TZID=Africa/Johannesburg:%[1]sT000000"}
			events = append(events, fmt.Sprintf("SUMMARY:Closed %d|", n)+fmt.Sprintf(rapid.SampledFrom(shapes).Draw(t, "shape"), first.Format("20060102"), end.Format("20060102")))
		}
		got, err := ics.Read(strings.NewReader(file(events...)), 0)
		require.NoError(t, err)
		require.Len(t, got.Closed, len(want))
		for i, day := range got.Closed {
			require.True(t, want[day], day)
			require.True(t, i == 0 || got.Closed[i-1] < day, "in order, none twice")
		}
	})
}

// FuzzRead: whatever a file holds, the answer is an error or days that calendars know, in order.
func FuzzRead(f *testing.F) {
	for _, text := range []string{
		file("SUMMARY:Christmas Eve|DTSTART;VALUE=DATE:20261224|DTEND;VALUE=DATE:20261226"),
		file("SUMMARY:Founder's day|DTSTART:20240229|RRULE:FREQ=YEARLY;INTERVAL=3;UNTIL=20500101T000000Z|EXDATE:20270702,20280702"),
		file("DTSTART;TZID=\"Europe/London\":20260328T000000|DURATION:P2W|STATUS:CANCELLED"),
		"BEGIN:VCALENDAR\nBEGIN:VTODO\nBEGIN:VALARM\nX;A=b\\;c,\"d:e\":f\n g\nEND:VALARM\nEND:VTODO\nEND:VCALENDAR",
	} {
		f.Add([]byte(text), 0)
		f.Add([]byte(text), 2030)
	}
	f.Fuzz(func(t *testing.T, text []byte, through int) {
		got, err := ics.Read(strings.NewReader(string(text)), through)
		if err != nil {
			require.Nil(t, got)
			require.NotEmpty(t, err.Error())
			return
		}
		for i, day := range got.Closed {
			at, err := time.Parse(time.DateOnly, day)
			require.NoError(t, err)
			require.True(t, at.Year() >= 2000 && at.Year() <= 2099)
			require.True(t, i == 0 || got.Closed[i-1] < day)
		}
		for _, left := range got.LeftOut {
			require.NotEmpty(t, left.Why)
			require.Positive(t, left.Line)
		}
	})
}
