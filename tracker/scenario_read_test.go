package tracker_test

import (
	"fmt"
	"regexp"
	"strings"
	"time"

	"github.com/pottrail/pottrail/tracker"
)

// scenario is a story told in a text file; testdata/scenarios/README.md says how.
type scenario struct {
	title  string
	about  []string // kinds of flags, "edge …", "default …"
	steps  []step
	rules  *tracker.Rules
	faulty bool                      // the rules fail from here on
	labels map[string]*tracker.Event // lines that others name

	day  time.Time // the day that clock times are of; zero before the first
	last time.Time // when the line before became known
}

// step is one line: an event, or what is expected at a time.
type step struct {
	line   int
	at     time.Time
	rules  *tracker.Rules
	faulty bool
	event  *tracker.Event // nil for an expectation
	expect *expectation
}

// readScenario reads a file. Every mistake names its line.
func readScenario(text string) (*scenario, error) {
	rules, err := storyRules()
	if err != nil {
		return nil, err
	}
	return readScenarioUnder(text, rules)
}

// readScenarioUnder reads a file for other rules than the default.
func readScenarioUnder(text string, rules *tracker.Rules) (*scenario, error) {
	sc := &scenario{rules: rules, labels: map[string]*tracker.Event{}}
	lines := strings.Split(text, "\n")
	for i := 0; i < len(lines); {
		number := i + 1
		block := []string{lines[i]}
		for i++; i < len(lines) && strings.HasPrefix(lines[i], " "); i++ {
			block = append(block, strings.TrimSpace(lines[i]))
		}
		if err := sc.take(number, block); err != nil {
			return nil, fmt.Errorf("line %d: %w", number, err)
		}
	}
	switch {
	case sc.title == "":
		return nil, fmt.Errorf("line 1: the first line is the title, \"# …\"")
	case len(sc.about) == 0:
		return nil, fmt.Errorf("no line says what the scenario is about: \"about room-open, edge windows-closed\"")
	}
	return sc, nil
}

var (
	dayLine   = regexp.MustCompile(`^[A-Z][a-z]{2} \d{1,2} [A-Z][a-z]{2} \d{4}$`)
	timeLine  = regexp.MustCompile(`^\d\d:\d\d(:\d\d)?([+-]\d\d:\d\d)? `)
	labelWord = regexp.MustCompile(`^([A-Za-z][A-Za-z0-9-]*): `)
	dayWord   = regexp.MustCompile(`^(Mon|Tue|Wed|Thu|Fri|Sat|Sun)$`)
)

// take reads one line with what is indented under it.
func (sc *scenario) take(number int, block []string) error {
	line := strings.TrimRight(block[0], " ")
	switch {
	case line == "" && len(block) == 1:
		return nil
	case strings.HasPrefix(line, "#"):
		if sc.title == "" && number == 1 {
			sc.title = strings.TrimSpace(line[1:])
		}
		return nil
	case strings.HasPrefix(line, "about "):
		for _, part := range strings.Split(line[len("about "):], ",") {
			sc.about = append(sc.about, strings.TrimSpace(part))
		}
		return nil
	case line == "protocol broken":
		sc.faulty = true
		return nil
	case strings.HasPrefix(line, "protocol without "):
		return sc.changeProtocol("", strings.Fields(line)[2:])
	case line == "protocol" || strings.HasPrefix(line, "protocol "):
		return sc.changeProtocol(strings.TrimPrefix(line, "protocol")+"\n"+strings.Join(block[1:], "\n"), nil)
	case dayLine.MatchString(line):
		day, err := time.ParseInLocation("Mon 2 Jan 2006", line, sc.rules.Zone())
		if err != nil || day.Format("Mon 2 Jan 2006") != line {
			return fmt.Errorf("%q is no day; it was a %s", line, day.Format("Monday"))
		}
		sc.day = day
		return nil
	case timeLine.MatchString(line):
		return sc.happening(number, line, block[1:])
	}
	return fmt.Errorf("%q is neither a day, a time with what happened, a change of the protocol, nor a remark", line)
}

// happening reads a line that begins with a time.
func (sc *scenario) happening(number int, line string, more []string) error {
	clock, rest, _ := strings.Cut(line, " ")
	at, _, err := sc.instant([]spoken{{text: clock}})
	if err != nil {
		return err
	}
	segments := []string{}
	for _, part := range append([]string{rest}, more...) {
		for _, segment := range splitOutsideQuotes(part) {
			if segment = strings.TrimSpace(segment); segment != "" {
				segments = append(segments, segment)
			}
		}
	}
	if len(segments) == 0 {
		return fmt.Errorf("nothing is said to have happened at %s", clock)
	}
	s := step{line: number, at: at, rules: sc.rules, faulty: sc.faulty}
	if said, ok := strings.CutPrefix(segments[0], "expect "); ok {
		segments[0] = strings.TrimSpace(said)
		if s.expect, err = sc.expectation(segments); err != nil {
			return err
		}
		return sc.add(s)
	}
	label := ""
	if m := labelWord.FindStringSubmatch(segments[0]); m != nil {
		label, segments[0] = m[1], strings.TrimSpace(segments[0][len(m[0]):])
		if sc.labels[label] != nil {
			return fmt.Errorf("the label %q is on two lines", label)
		}
	}
	if s.event, err = sc.event(at, segments); err != nil {
		return err
	}
	s.at = knownAt(s.event)
	if label != "" {
		sc.labels[label] = s.event
	}
	return sc.add(s)
}

// add holds the lines to the order in which they became known, so that a reader need not look ahead.
func (sc *scenario) add(s step) error {
	if s.at.Before(sc.last) {
		return fmt.Errorf("this became known %s, before the line above", s.at.Format("Mon 2 Jan 15:04:05"))
	}
	sc.last = s.at
	sc.steps = append(sc.steps, s)
	return nil
}

func splitOutsideQuotes(line string) []string {
	var out []string
	quoted, start := false, 0
	for i, r := range line {
		switch {
		case r == '"':
			quoted = !quoted
		case r == ';' && !quoted:
			out = append(out, line[start:i])
			start = i + 1
		}
	}
	return append(out, line[start:])
}

// instant reads "15:42", "15:42:10", "01:30+01:00" for a clock that shows an hour twice, all of the day of the line, or
// "Mon 9 Mar 15:42" of the year of the line.
func (sc *scenario) instant(words []spoken) (time.Time, []spoken, error) {
	if sc.day.IsZero() {
		return time.Time{}, nil, fmt.Errorf("no day stands above: \"Fri 6 Mar 2026\"")
	}
	day := sc.day
	if len(words) > 3 && dayWord.MatchString(words[0].text) {
		line := fmt.Sprintf("%s %s %s %d", words[0].text, words[1].text, words[2].text, sc.day.Year())
		parsed, err := time.ParseInLocation("Mon 2 Jan 2006", line, sc.rules.Zone())
		if err != nil || parsed.Format("Mon 2 Jan 2006") != line {
			return time.Time{}, nil, fmt.Errorf("%q is no day of %d", line, sc.day.Year())
		}
		day, words = parsed, words[3:]
	}
	if len(words) == 0 {
		return time.Time{}, nil, fmt.Errorf("no time is said")
	}
	text := words[0].text
	for _, layout := range []string{"15:04", "15:04:05"} {
		if at, err := time.ParseInLocation("2006-01-02 "+layout, day.Format(time.DateOnly)+" "+text, sc.rules.Zone()); err == nil {
			if at.Format(layout) != text {
				return at, nil, fmt.Errorf("the clock did not show %s on %s", text, day.Format("Mon 2 Jan"))
			}
			return at, words[1:], nil
		}
		if at, err := time.Parse("2006-01-02 "+layout+"-07:00", day.Format(time.DateOnly)+" "+text); err == nil {
			return at, words[1:], nil
		}
	}
	return time.Time{}, nil, fmt.Errorf("%q is no time of day", text)
}
