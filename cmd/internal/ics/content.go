package ics

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	ical "github.com/arran4/golang-ical"
)

// MostBytes is how long a calendar file may be.
const MostBytes = 1 << 20

// ErrFile is wrapped by every error about what a calendar file holds.
var ErrFile = errors.New("not a usable calendar file")

// mistake is one thing that is wrong with a file, and on which line.
type mistake struct {
	line int
	text string
}

func (m *mistake) Error() string { return fmt.Sprintf("line %d: %s", m.line, m.text) }
func (m *mistake) Unwrap() error { return ErrFile }

func wrong(line int, format string, args ...any) error {
	return &mistake{line, fmt.Sprintf(format, args...)}
}

// property is one content line, unfolded.
type property struct {
	line   int // of the file, from 1
	name   string
	value  string
	params map[string][]string
}

// event is a VEVENT, or another component that stands where events do.
type event struct {
	line  int
	kind  string
	props []property
}

// find returns the only property of a name; nil when there is none.
func (e *event) find(name string) (*property, error) {
	var found *property
	for i := range e.props {
		if e.props[i].name != name {
			continue
		}
		if found != nil {
			return nil, wrong(e.props[i].line, "%s has %s twice, on line %d already", e.title(), name, found.line)
		}
		found = &e.props[i]
	}
	return found, nil
}

// title names an event for a person: its summary, in quotes, cut to one line.
func (e *event) title() string {
	for _, p := range e.props {
		if p.name == "SUMMARY" && strings.TrimSpace(p.value) != "" {
			text := strings.Join(strings.Fields(ical.FromText(p.value)), " ")
			if runes := []rune(text); len(runes) > 60 {
				text = string(runes[:60]) + "…"
			}
			return fmt.Sprintf("%q", text)
		}
	}
	return "an event without a title"
}

// readEvents reads the events of a file with their lines. Alarms and zones are passed over.
func readEvents(in io.Reader) ([]event, error) {
	text, err := io.ReadAll(io.LimitReader(in, MostBytes+1))
	if err != nil {
		return nil, err
	}
	if len(text) > MostBytes {
		return nil, fmt.Errorf("%w: it is longer than %d KiB; is it a list of closed days?", ErrFile, MostBytes>>10)
	}
	lines, err := unfold(bytes.TrimPrefix(text, []byte("\ufeff")))
	if err != nil {
		return nil, err
	}
	var events []event
	var open []property // BEGIN lines that have no END yet
	ended := false
	for _, p := range lines {
		switch {
		case ended:
			return nil, wrong(p.line, "something follows the end of the calendar; give one calendar a file")
		case len(open) == 0 && (p.name != "BEGIN" || p.value != "VCALENDAR"):
			return nil, wrong(p.line, "a calendar file begins with BEGIN:VCALENDAR")
		case p.name == "BEGIN":
			switch {
			case len(open) > 0 && p.value == "VCALENDAR", len(open) > 1 && p.value == "VEVENT":
				return nil, wrong(p.line, "a %s cannot stand in a %s", p.value, open[len(open)-1].value)
			case len(open) > 5:
				return nil, wrong(p.line, "it is nested too deep")
			case len(open) == 1:
				events = append(events, event{line: p.line, kind: p.value})
			}
			open = append(open, p)
		case p.name == "END":
			last := open[len(open)-1]
			if p.value != last.value {
				return nil, wrong(p.line, "END:%s where END:%s is due, which began on line %d", p.value, last.value, last.line)
			}
			open = open[:len(open)-1]
			ended = len(open) == 0
		case len(open) == 2:
			e := &events[len(events)-1]
			e.props = append(e.props, p)
		}
	}
	switch {
	case len(lines) == 0:
		return nil, fmt.Errorf("%w: it is empty", ErrFile)
	case !ended:
		last := open[len(open)-1]
		return nil, wrong(last.line, "the %s that begins here has no end; is the file whole?", last.value)
	}
	return events, nil
}

// unfold joins lines that go on with a space or a tab, and parts each into name, parameters and value.
func unfold(text []byte) ([]property, error) {
	var out []property
	var whole []byte
	first := 0
	flush := func() error {
		if len(whole) == 0 {
			return nil
		}
		p, err := parse(first, whole)
		whole = nil
		if err == nil {
			out = append(out, p)
		}
		return err
	}
	number := 0
	for line := range bytes.Lines(text) {
		number++
		line = bytes.TrimSuffix(bytes.TrimSuffix(line, []byte("\n")), []byte("\r"))
		if !utf8.Valid(line) && len(line) > 0 {
			// A fold may part a character, but no program that people use does so.
			return nil, wrong(number, "it is not written in UTF-8")
		}
		if i := bytes.IndexFunc(line, func(r rune) bool { return r < ' ' && r != '\t' || r == 0x7f }); i >= 0 {
			return nil, wrong(number, "a control character stands in it, at byte %d", i+1)
		}
		if len(line) > 0 && (line[0] == ' ' || line[0] == '\t') {
			if len(whole) == 0 {
				return nil, wrong(number, "it goes on with a line that is not there")
			}
			whole = append(whole, line[1:]...)
			continue
		}
		if err := flush(); err != nil {
			return nil, err
		}
		whole, first = append(whole, line...), number
	}
	return out, flush()
}

func parse(line int, text []byte) (property, error) {
	p, err := ical.ParseProperty(ical.ContentLine(text))
	switch {
	case err != nil:
		return property{}, wrong(line, "%v", err)
	case p == nil:
		return property{}, wrong(line, "it is no NAME:VALUE")
	}
	return property{line: line, name: strings.ToUpper(p.IANAToken), value: p.Value, params: p.ICalParameters}, nil
}
