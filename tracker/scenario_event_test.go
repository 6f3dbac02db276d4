package tracker_test

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/tracker"
)

// sentence is what one segment of a line says.
type sentence struct {
	data            map[string]any
	items           []tracker.Item
	person, station string
	entered         string
	recorded        time.Time
	skew            time.Duration
}

// read goes through the words of a segment.
func (sc *scenario) read(g grammar, words []spoken) (s sentence, err error) {
	s = sentence{data: map[string]any{}, person: g.person, station: g.station}
	if g.base != "" {
		if err := json.Unmarshal([]byte(g.base), &s.data); err != nil {
			return s, err
		}
	}
	said := map[string]bool{}
	put := func(name string, value any) error {
		if said[name] {
			return fmt.Errorf("%s is said twice", name)
		}
		said[name] = true
		s.data[name] = value
		return nil
	}
	for len(words) > 0 {
		word := words[0]
		rest, used, err := sc.envelope(&s, words)
		if err != nil {
			return s, err
		}
		if used {
			words = rest
			continue
		}
		field, isField := g.fields[word.text]
		name, isWord := g.words[word.text]
		switch list, isThing := things(word.text); {
		case word.quoted:
			return s, fmt.Errorf("nothing says what %q is", word.text)
		case isField:
			value, left, err := sc.value(g, field.shape, words[1:])
			if err != nil {
				return s, fmt.Errorf("after %q: %w", word.text, err)
			}
			if err := put(field.name, value); err != nil {
				return s, err
			}
			words = left
			continue
		case isNumber(word) && len(words) > 1 && g.units[words[1].text] != "":
			number, _ := strconv.ParseFloat(word.text, 64)
			if err := put(g.units[words[1].text], number); err != nil {
				return s, err
			}
			words = words[1:]
		case isWord:
			if err := put(name, word.text); err != nil {
				return s, err
			}
		case isThing:
			s.items = append(s.items, list...)
		case g.kind == tracker.KindFlagAnswered && !said["flag"]:
			if err := put("flag", word.text); err != nil {
				return s, err
			}
		default:
			return s, fmt.Errorf("%q means nothing after %q; it may be followed by %s", word.text, g.says, g.known())
		}
		words = words[1:]
	}
	return s, nil
}

func (g grammar) known() string {
	var list []string
	list = append(list, slices.Sorted(maps.Keys(g.fields))...)
	for _, unit := range slices.Sorted(maps.Keys(g.units)) {
		list = append(list, "<number> "+unit)
	}
	list = append(list, slices.Sorted(maps.Keys(g.words))...)
	return strings.Join(append(list, "by", "on", "entered", "recorded", "skew"), ", ")
}

// envelope reads what any event may say: by whom, on which station, how and when it was recorded.
func (sc *scenario) envelope(s *sentence, words []spoken) (rest []spoken, used bool, err error) {
	word := words[0]
	if word.quoted || !slices.Contains([]string{"by", "on", "entered", "recorded", "skew"}, word.text) {
		return words, false, nil
	}
	if len(words) < 2 {
		return nil, false, fmt.Errorf("%q is followed by nothing", word.text)
	}
	switch word.text {
	case "by":
		s.person = words[1].text
	case "on":
		s.station = words[1].text
	case "entered":
		s.entered = words[1].text
	case "recorded":
		at, left, err := sc.instant(words[1:])
		s.recorded = at
		return left, true, err
	case "skew":
		s.skew, err = time.ParseDuration(words[1].text)
	}
	return words[2:], true, err
}

func isNumber(t spoken) bool {
	_, err := strconv.ParseFloat(t.text, 64)
	return err == nil && !t.quoted
}

// stops reports whether a word ends a list: it means something by itself.
func (g grammar) stops(t spoken, next []spoken) bool {
	_, field := g.fields[t.text]
	_, word := g.words[t.text]
	number := isNumber(t) && len(next) > 0 && g.units[next[0].text] != ""
	return !t.quoted && (field || word || number || slices.Contains([]string{"by", "on", "entered", "recorded", "skew"}, t.text))
}

// value reads what a field word is followed by.
func (sc *scenario) value(g grammar, form shape, words []spoken) (value any, rest []spoken, err error) {
	if form == shapeYes || form == shapeNo {
		return form == shapeYes, words, nil
	}
	if len(words) == 0 {
		return nil, nil, fmt.Errorf("nothing follows")
	}
	first := words[0]
	switch form {
	case shapeWord:
		return first.text, words[1:], nil
	case shapeNumber:
		number, err := strconv.ParseFloat(first.text, 64)
		return number, words[1:], err
	case shapeInstant:
		at, rest, err := sc.instant(words)
		return at.Format(time.RFC3339), rest, err
	case shapeName:
		item, ok := thing(first.text)
		if !ok {
			return nil, nil, fmt.Errorf("%q is no thing", first.text)
		}
		return item.Name, words[1:], nil
	case shapeNames:
		names := []tracker.Name{}
		if first.text == "none" {
			return names, words[1:], nil
		}
		for len(words) > 0 {
			item, ok := thing(words[0].text)
			if !ok {
				break
			}
			names, words = append(names, item.Name), words[1:]
		}
		if len(names) == 0 {
			return nil, nil, fmt.Errorf("%q is no thing", first.text)
		}
		return names, words, nil
	case shapeResults:
		return sc.labelled(g, words)
	case shapeList:
		list := []string{}
		for len(words) > 0 && !g.stops(words[0], words[1:]) {
			list, words = append(list, words[0].text), words[1:]
		}
		return list, words, nil
	}
	return nil, nil, fmt.Errorf("the grammar has no shape %q", form)
}

// labelled reads labels of lines above: their ids.
func (sc *scenario) labelled(g grammar, words []spoken) (value any, rest []spoken, err error) {
	ids := []tracker.EventID{}
	if words[0].text == "none" && g.kind != tracker.KindEventStruck {
		return ids, words[1:], nil
	}
	for len(words) > 0 {
		e, ok := sc.labels[words[0].text]
		if !ok {
			break
		}
		ids, words = append(ids, e.ID), words[1:]
	}
	if len(ids) == 0 {
		return nil, nil, fmt.Errorf("no line above has the label %q", words[0].text)
	}
	if g.kind == tracker.KindEventStruck {
		return ids[0], words, nil
	}
	return ids, words, nil
}

// event makes an event of a line: its segments, the first without the time.
func (sc *scenario) event(at time.Time, segments []string) (*tracker.Event, error) {
	words, err := tokens(segments[0])
	if err != nil {
		return nil, err
	}
	var g grammar
	for _, other := range grammars() {
		if segments[0] == other.says || strings.HasPrefix(segments[0], other.says+" ") {
			g = other
		}
	}
	if g.says == "" {
		return nil, fmt.Errorf("no event is told as %q", segments[0])
	}
	said, err := sc.read(g, words[len(strings.Fields(g.says)):])
	if err != nil {
		return nil, err
	}
	if err := sc.lists(g, &said, segments[1:]); err != nil {
		return nil, err
	}
	if err := sc.complete(g, &said); err != nil {
		return nil, err
	}
	return sc.sent(g, at, said)
}

// lists reads the segments that follow a request: its lesions and pots.
func (sc *scenario) lists(g grammar, said *sentence, segments []string) error {
	var lesions, pots []any
	for _, segment := range segments {
		words, err := tokens(segment)
		if err != nil {
			return err
		}
		lists := map[string]struct {
			verb  verb
			heads []string
			into  *[]any
		}{"lesion": {lesionVerb, []string{"key", "organ"}, &lesions}, "pot": {potVerb, []string{"pot"}, &pots}}
		list, ok := lists[words[0].text]
		if !ok || !g.lists {
			return fmt.Errorf("%q cannot follow %q", segment, g.says)
		}
		if len(words) <= len(list.heads) {
			return fmt.Errorf("%q wants %s", segment, strings.Join(list.heads, ", "))
		}
		part, err := sc.read(list.verb.grammar(), words[1+len(list.heads):])
		if err != nil {
			return err
		}
		for i, head := range list.heads {
			part.data[head] = words[1+i].text
		}
		*list.into = append(*list.into, part.data)
	}
	if g.kind == tracker.KindCaseOpened && lesions == nil {
		lesions = []any{map[string]any{"key": "L1", "organ": "breast", "side": "left", "position": "2 o'clock", "target": "mass", "imaging": "U5"}}
	}
	if lesions != nil {
		said.data["lesions"] = lesions
	}
	if pots != nil {
		said.data["pots"] = pots
	}
	return nil
}

// complete adds what follows from the rest of a line: the copy of a label, the things of a struck event.
func (sc *scenario) complete(g grammar, said *sentence) error {
	switch g.kind {
	case tracker.KindLabelPrinted, tracker.KindLabelSpoiled: // "A01/2" is the second print: it was not scanned
		for i := range said.items {
			if said.items[i].Copy != 0 {
				said.data["copy"] = string(rune(said.items[i].Copy))
			}
			said.items[i].Copy = 0
		}
	case tracker.KindEventStruck:
		id, _ := said.data["event"].(tracker.EventID)
		for _, e := range sc.labels {
			if e.ID == id && len(said.items) == 0 {
				said.items = slices.Clone(e.Items)
			}
		}
	case tracker.KindProtocolAdopted:
		text := sc.rules.Protocol().Text
		sum := sha256.Sum256([]byte(text))
		said.data["text"], said.data["sha256"] = text, hex.EncodeToString(sum[:])
		return nil
	}
	if len(said.items) == 0 && g.about != "" {
		item, _ := thing(g.about)
		said.items = []tracker.Item{item}
	}
	if len(said.items) == 0 {
		return fmt.Errorf("%q names no thing that it is about", g.says)
	}
	return nil
}

// sent writes the event down as it is sent in and reads it as strictly as the daemon does.
func (sc *scenario) sent(g grammar, at time.Time, said sentence) (*tracker.Event, error) {
	id := fmt.Sprintf("%012x", at.UnixMilli())
	wire := map[string]any{"id": fmt.Sprintf("%s-%s-7000-8000-%012x", id[:8], id[8:], len(sc.steps)+1),
		"kind": g.kind, "clinic": "MBY", "at": at.Format(time.RFC3339), "by": said.person, "station": said.station, "data": said.data}
	if said.entered != "" {
		wire["entered"] = said.entered
	}
	items := []string{}
	for _, item := range said.items {
		items = append(items, item.String())
		wire["clinic"] = item.Name.Clinic()
	}
	if len(items) > 0 {
		wire["items"] = items
	}
	text, err := json.Marshal(wire)
	if err != nil {
		return nil, err
	}
	e, err := events.Decode(text)
	if err != nil {
		return nil, fmt.Errorf("not an event that is taken: %w", err)
	}
	e.Record.Recorded, e.Record.Skew = said.recorded, said.skew
	if said.skew != 0 && said.recorded.IsZero() {
		e.Record.Recorded = at
	}
	return e, nil
}
