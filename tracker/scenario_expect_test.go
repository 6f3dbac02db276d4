package tracker_test

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/pottrail/pottrail/tracker"
)

// expectation is what a line says of the flags of all things of the story at a time.
type expectation struct {
	exact  bool // there is nothing else
	flags  []wanted
	absent []wanted // kinds, of one thing or of any
	wake   *time.Time
	asleep bool // time alone changes nothing
}

// wanted is a flag as far as a line describes it.
type wanted struct {
	kind                tracker.FlagKind
	item                tracker.Name // "" for any, in what is absent
	severity            tracker.Severity
	by                  string // what holds it back; "" for a raised one
	since, due          *time.Time
	never               bool // it has no due time
	who                 string
	text, remedy, basis []string
}

func (sc *scenario) expectation(segments []string) (*expectation, error) {
	x := &expectation{}
	if rest, ok := strings.CutPrefix(segments[0], "exactly"); ok {
		x.exact = true
		if segments[0] = strings.TrimSpace(strings.TrimPrefix(rest, ":")); segments[0] == "" {
			segments = segments[1:]
		}
		if len(segments) == 0 {
			return nil, fmt.Errorf("exactly what? \"expect nothing\" says that there is no flag")
		}
	}
	for _, segment := range segments {
		words, err := tokens(segment)
		if err != nil {
			return nil, err
		}
		if err := sc.expected(x, words); err != nil {
			return nil, fmt.Errorf("in %q: %w", segment, err)
		}
	}
	return x, nil
}

// expected reads one segment of an expectation.
func (sc *scenario) expected(x *expectation, words []spoken) error {
	switch first := words[0].text; {
	case first == "nothing" && len(words) == 1:
		x.exact = true
		return nil
	case first == "no" && len(words) == 2 && words[1].text == "wake":
		x.asleep = true
		return nil
	case first == "wake":
		at, rest, err := sc.instant(words[1:])
		if err == nil && len(rest) > 0 {
			err = fmt.Errorf("%q is too much", rest[0].text)
		}
		x.wake = &at
		return err
	case first == "no" && (len(words) == 2 || len(words) == 3):
		w := wanted{kind: tracker.FlagKind(words[1].text)}
		if len(words) == 3 {
			item, ok := thing(words[2].text)
			if !ok {
				return fmt.Errorf("%q is no thing", words[2].text)
			}
			w.item = item.Name
		}
		x.absent = append(x.absent, w)
		return known(w.kind)
	}
	w, err := sc.wanted(words)
	if err != nil {
		return err
	}
	x.flags = append(x.flags, w)
	return known(w.kind)
}

// known refuses a kind that no rule raises: a misspelled one would never be missed.
func known(kind tracker.FlagKind) error {
	for _, info := range tracker.FlagCatalog() {
		if info.Kind == kind {
			return nil
		}
	}
	return fmt.Errorf("there is no flag %q", kind)
}

// wanted reads "now room-open case since 10:30 due 11:00 who operator text "…"", or "held today room-open case by …".
func (sc *scenario) wanted(words []spoken) (w wanted, err error) {
	held := words[0].text == "held"
	if held {
		words = words[1:]
	}
	if len(words) < 3 {
		return w, fmt.Errorf("a flag is a severity, a kind and a thing")
	}
	w.severity, w.kind = tracker.Severity(words[0].text), tracker.FlagKind(words[1].text)
	item, ok := thing(words[2].text)
	switch {
	case !slices.Contains([]tracker.Severity{tracker.Now, tracker.Today, tracker.Watch}, w.severity):
		return w, fmt.Errorf("%q is no severity: now, today or watch", w.severity)
	case !ok:
		return w, fmt.Errorf("%q is no thing", words[2].text)
	}
	w.item = item.Name
	for words = words[3:]; len(words) > 0; {
		if len(words) < 2 || words[0].quoted {
			return w, fmt.Errorf("%q is followed by nothing, or means nothing", words[0].text)
		}
		word, value := words[0].text, words[1].text
		rest := words[2:]
		var at time.Time
		switch word {
		case "since":
			at, rest, err = sc.instant(words[1:])
			w.since = &at
		case "due":
			if w.never = value == "never"; !w.never {
				at, rest, err = sc.instant(words[1:])
				w.due = &at
			}
		case "who":
			w.who = value
		case "text":
			w.text = append(w.text, value)
		case "remedy":
			w.remedy = append(w.remedy, value)
		case "basis":
			w.basis = append(w.basis, value)
		case "by":
			w.by = value
		default:
			return w, fmt.Errorf("%q means nothing: since, due, who, text, remedy, basis, or by for a held one", word)
		}
		if err != nil {
			return w, err
		}
		words = rest
	}
	if held != (w.by != "") {
		return w, fmt.Errorf("a held flag names what holds it with \"by\", and no other does")
	}
	return w, nil
}

// found is a flag of the answer, held back or not.
type found struct {
	tracker.Flag
	by string
}

func (f found) String() string {
	item := strings.TrimPrefix(string(f.Item), string(storyCase)+"-")
	line := fmt.Sprintf("%s %s %s since %s", f.Severity, f.Kind, item, f.Since.In(london).Format("Mon 2 Jan 15:04:05"))
	if !f.Due.IsZero() {
		line += " due " + f.Due.In(london).Format("Mon 2 Jan 15:04:05")
	}
	if f.by != "" {
		line = "held " + line + " by " + f.by
	}
	return fmt.Sprintf("%s who %q text %q remedy %q basis %q", line, f.Who, f.Text, f.Remedy, f.Basis)
}

// tell says a flag in full if the expectation speaks of its kind, else in short.
func (x *expectation) tell(f found) string {
	about := func(w wanted) bool { return w.kind == f.Kind }
	if line := f.String(); slices.ContainsFunc(x.flags, about) || slices.ContainsFunc(x.absent, about) {
		return line
	}
	return fmt.Sprintf("%s %s %s", f.Severity, f.Kind, strings.TrimPrefix(string(f.Item), string(storyCase)+"-"))
}

// against lists what of the expectation does not hold.
func (x *expectation) against(all []found, wake time.Time) (complaints []string) {
	met := make([]bool, len(all))
	for _, w := range x.flags {
		i := slices.IndexFunc(all, func(f found) bool { return f.Kind == w.kind && f.Item == w.item && (f.by != "") == (w.by != "") })
		if i < 0 {
			complaints = append(complaints, fmt.Sprintf("no %s on %s", w.kind, w.item))
			continue
		}
		met[i] = true
		complaints = append(complaints, w.differs(all[i])...)
	}
	for i, f := range all {
		if x.exact && !met[i] {
			complaints = append(complaints, fmt.Sprintf("%s on %s is too much", f.Kind, f.Item))
		}
		for _, w := range x.absent {
			if f.Kind == w.kind && (w.item == "" || w.item == f.Item) {
				complaints = append(complaints, fmt.Sprintf("%s on %s should be absent", f.Kind, f.Item))
			}
		}
	}
	switch shown := wake.In(london).Format("Mon 2 Jan 15:04:05"); {
	case x.asleep && !wake.IsZero():
		complaints = append(complaints, "the wake is "+shown+", none is expected")
	case x.wake != nil && wake.IsZero():
		complaints = append(complaints, "there is no wake")
	case x.wake != nil && !wake.Equal(*x.wake):
		complaints = append(complaints, "the wake is "+shown)
	}
	return complaints
}

func (w wanted) differs(f found) (complaints []string) {
	say := func(ok bool, what string) {
		if !ok {
			complaints = append(complaints, fmt.Sprintf("%s on %s: another %s", w.kind, w.item, what))
		}
	}
	say(f.Severity == w.severity, "severity")
	say(f.by == w.by, "holder")
	say(w.since == nil || f.Since.Equal(*w.since), "since")
	say(w.due == nil || f.Due.Equal(*w.due), "due")
	say(!w.never || f.Due.IsZero(), "due")
	say(w.who == "" || f.Who == w.who, "who")
	for _, part := range w.text {
		say(strings.Contains(f.Text, part), "text")
	}
	for _, part := range w.remedy {
		say(strings.Contains(f.Remedy, part), "remedy")
	}
	for _, part := range w.basis {
		say(strings.Contains(f.Basis, part), "basis")
	}
	return complaints
}
