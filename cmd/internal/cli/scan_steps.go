package cli

import (
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/tracker"
)

// filling is what the options of scan say about a step.
type filling struct {
	place, holder, condition           string
	lesion, what, look                 string
	medium, expires, lot               string
	with, room, outcome, number, run   string
	why, note, done, flag, bag, packed string
	copy                               string
	pieces                             int
	length, gauge, volume, celsius     float64
	identifiers, confirmed             []string
}

func (f *filling) addFlags(c *cobra.Command) {
	text := func(to *string, name, help string) { c.Flags().StringVar(to, name, "", help) }
	text(&f.place, "place", "the `PLACE`: custody, lost, found, discarded")
	text(&f.holder, "holder", "`WHO` holds it, if not --by: custody")
	text(&f.condition, "condition", "intact, leaking or damaged (`WORD`): custody")
	text(&f.lesion, "lesion", "the lesion's `KEY`: taken (default: the one its pot is for, else 1)")
	text(&f.what, "what", "core, slide, aspirate or rinse (`WORD`): taken (default: core)")
	text(&f.look, "look", "how it looks (`WORD`): taken")
	text(&f.medium, "medium", "the `MEDIUM`: filled, potted")
	text(&f.expires, "expires", "its last `DATE`: filled")
	text(&f.lot, "lot", "its `LOT`: filled")
	text(&f.with, "with", "`WHO` read the label back: sealed, checked")
	text(&f.room, "room", "the `ROOM`: checked, cleared")
	text(&f.outcome, "outcome", "done, partly or not-done (`WORD`): ended (default: done)")
	text(&f.number, "number", "the laboratory's `NUMBER`: accessioned")
	text(&f.run, "run", "the processor `RUN`: loaded")
	text(&f.why, "why", "the reason (`TEXT`): refused, spoiled, lost, found, discarded, queried")
	text(&f.copy, "copy", "which `COPY` of the label, where it cannot be scanned: spoiled")
	text(&f.note, "note", "a note (`TEXT`): refused, noted")
	text(&f.flag, "flag", "the `KIND` of flag: answered")
	text(&f.done, "done", "what was done (`TEXT`): answered")
	text(&f.bag, "bag", "the bag's `CODE`: bagged")
	c.Flags().IntVar(&f.pieces, "pieces", -1, "how many `PIECES` were counted: sealed, opened, custody")
	c.Flags().Float64Var(&f.length, "length", 0, "length in `MM`: taken")
	c.Flags().Float64Var(&f.gauge, "gauge", 0, "needle `GAUGE`: taken")
	c.Flags().Float64Var(&f.volume, "volume", 0, "volume in `ML`: filled")
	c.Flags().Float64Var(&f.celsius, "celsius", 0, "temperature in `DEGREES`: custody")
	c.Flags().StringSliceVar(&f.identifiers, "identifiers", []string{"name", "birth-date"}, "the `IDENTIFIERS` that were checked: checked")
	c.Flags().StringSliceVar(&f.confirmed, "confirmed", nil, "what `ELSE` was confirmed: checked")
}

// count is a number of pieces, or nil when none was given.
func (f *filling) count() *int {
	if f.pieces < 0 {
		return nil
	}
	return &f.pieces
}

// step is a word of scan, and the fact that it records.
type step struct {
	word string
	help string
	fact func(f *filling) (tracker.Fact, error)
	on   func(f *filling, scanned tracker.Item) (tracker.Item, error) // what the event is about, if not what was scanned
}

func (s *step) make(f *filling, scanned tracker.Item) (tracker.Fact, tracker.Item, error) {
	if s.word == "bagged" || s.word == "unbagged" {
		f.packed = string(scanned.Name)
	}
	on := scanned
	if s.on != nil {
		var err error
		if on, err = s.on(f, scanned); err != nil {
			return nil, tracker.Item{}, err
		}
	}
	if spoiled, copy := s.word == "spoiled", scanned.Copy; spoiled {
		if copy == 0 {
			if f.copy == "" {
				return nil, tracker.Item{}, errors.New("scan the label itself, so that it is known which copy was destroyed; if it cannot be read, say which with --copy: the figure stands small beside the code")
			}
			if err := copy.UnmarshalText([]byte(strings.ToUpper(f.copy))); err != nil {
				return nil, tracker.Item{}, fmt.Errorf("--copy: %w", err)
			}
		}
		return &tracker.LabelSpoiled{Copy: copy, Why: or(f.why, "not needed")}, on, nil
	}
	fact, err := s.fact(f)
	return fact, on, err
}

// need is an error when an option that a step cannot do without is missing.
func need(option, value string) error {
	if value == "" {
		return fmt.Errorf("--%s is needed", option)
	}
	return nil
}

func or(value, otherwise string) string {
	if value == "" {
		return otherwise
	}
	return value
}

// stepTaken is the word for a piece that left the patient.
const stepTaken = "taken"

func steps() []step {
	return []step{
		{word: "checked", help: "the patient's identity was confirmed", fact: func(f *filling) (tracker.Fact, error) {
			return &tracker.PatientChecked{Identifiers: f.identifiers, Confirmed: f.confirmed, With: f.with, Room: f.room}, nil
		}},
		{word: "filled", help: "medium is in the pot (--medium)", fact: func(f *filling) (tracker.Fact, error) {
			fact := &tracker.PotFilled{Medium: f.medium, VolumeML: f.volume, Lot: f.lot}
			if f.expires != "" {
				var err error
				if fact.Expires, err = tracker.ParseDate(f.expires); err != nil {
					return nil, err
				}
			}
			return fact, need("medium", f.medium)
		}},
		{word: stepTaken, help: "a piece left the patient", fact: func(f *filling) (tracker.Fact, error) {
			return &tracker.PieceTaken{Lesion: or(f.lesion, "1"), What: or(f.what, "core"), Look: f.look, LengthMM: f.length, Gauge: f.gauge}, nil
		}},
		{word: "potted", help: "a piece went into its pot", fact: func(f *filling) (tracker.Fact, error) {
			return &tracker.PiecePotted{Medium: f.medium}, nil
		}},
		{word: "sealed", help: "lid on, label read back (--with)", fact: func(f *filling) (tracker.Fact, error) {
			return &tracker.PotSealed{ReadBackWith: f.with, Pieces: f.count()}, need("with", f.with)
		}},
		{word: "ended", help: "no more pieces will come", fact: func(f *filling) (tracker.Fact, error) {
			return &tracker.ProcedureEnded{Outcome: or(f.outcome, "done"), Why: f.why}, nil
		}},
		{word: "cleared", help: "no label or pot is left over in the room (--room)", fact: func(f *filling) (tracker.Fact, error) {
			return &tracker.RoomCleared{Room: f.room}, need("room", f.room)
		}},
		{word: "spoiled", help: "the scanned label was destroyed unused", fact: func(*filling) (tracker.Fact, error) {
			return nil, errors.New("scan the label itself")
		}},
		{word: "custody", help: "--by answers for it now, at --place", fact: func(f *filling) (tracker.Fact, error) {
			fact := &tracker.CustodyTaken{Place: f.place, Holder: f.holder, Condition: f.condition, Count: f.count()}
			if f.celsius != 0 {
				fact.TemperatureC = &f.celsius
			}
			return fact, need("place", f.place)
		}},
		{word: "bagged", help: "the scanned pot is in the bag (--bag) now", on: intoBag, fact: func(f *filling) (tracker.Fact, error) {
			return &tracker.BagPacked{Pots: []tracker.Name{tracker.Name(f.packed)}}, nil
		}},
		{word: "lost", help: "it cannot be found", fact: func(f *filling) (tracker.Fact, error) {
			return &tracker.PotLost{Why: f.why, Place: f.place}, nil
		}},
		{word: "found", help: "it was found", fact: func(f *filling) (tracker.Fact, error) {
			return &tracker.PotFound{Why: f.why, Place: f.place}, nil
		}},
		{word: "discarded", help: "it was thrown away", fact: func(f *filling) (tracker.Fact, error) {
			return &tracker.PotDiscarded{Why: f.why, Place: f.place}, nil
		}},
		{word: "accessioned", help: "the laboratory's own number (--number)", fact: func(f *filling) (tracker.Fact, error) {
			return &tracker.LabAccessioned{Number: f.number}, need("number", f.number)
		}},
		{word: "queried", help: "the laboratory asks something (--why)", fact: func(f *filling) (tracker.Fact, error) {
			return &tracker.LabQueried{Why: f.why}, need("why", f.why)
		}},
		{word: "refused", help: "the laboratory will not process it (--why)", fact: func(f *filling) (tracker.Fact, error) {
			return &tracker.LabRefused{Why: f.why, Note: f.note}, need("why", f.why)
		}},
		{word: "opened", help: "taken out for description at the laboratory", fact: func(f *filling) (tracker.Fact, error) {
			return &tracker.LabOpened{Pieces: f.count()}, nil
		}},
		{word: "loaded", help: "on the processor", fact: func(f *filling) (tracker.Fact, error) {
			return &tracker.LabLoaded{Run: f.run}, nil
		}},
		{word: "answered", help: "what was done about a flag (--flag, --done)", fact: func(f *filling) (tracker.Fact, error) {
			return &tracker.FlagAnswered{Flag: tracker.FlagKind(f.flag), Done: f.done}, errors.Join(need("flag", f.flag), need("done", f.done))
		}},
		{word: "noted", help: "a note (--note)", fact: func(f *filling) (tracker.Fact, error) {
			return &tracker.NoteAdded{Text: f.note}, need("note", f.note)
		}},
	}
}

// intoBag makes the bag the thing that the event is about.
func intoBag(f *filling, scanned tracker.Item) (tracker.Item, error) {
	if err := need("bag", f.bag); err != nil {
		return tracker.Item{}, err
	}
	bag, err := tracker.ParseItem(f.bag)
	if err != nil {
		return tracker.Item{}, fmt.Errorf("--bag: %w", err)
	}
	if scanned.Name.Thing() != tracker.ThingPot {
		return tracker.Item{}, fmt.Errorf("%s is a %s: only pots go into a bag", scanned.Name.Printed(), scanned.Name.Thing())
	}
	return bag, nil
}

func stepsHelp() string {
	var b strings.Builder
	for _, s := range steps() {
		fmt.Fprintf(&b, "  %-12s %s\n", s.word, s.help)
	}
	return b.String()
}

// findStep finds a step by its word, or a kind of event, which then needs --facts.
func findStep(word string) (*step, error) {
	for _, s := range steps() {
		if s.word == word {
			return &s, nil
		}
	}
	for _, kind := range tracker.Kinds() {
		if string(kind.Kind) == word {
			return &step{word: word, fact: func(*filling) (tracker.Fact, error) { return nil, errors.New("--facts is needed for it") }}, nil
		}
	}
	words := make([]string, 0, len(steps()))
	for _, s := range steps() {
		words = append(words, s.word)
	}
	return nil, usage("--step %q: no such step; there are: %s, and every kind of event", word, strings.Join(words, ", "))
}

// generic makes an event of any kind, whose data are given as JSON; the codec checks them.
func (s *scanning) generic(item tracker.Item, at time.Time) (*tracker.Event, error) {
	kind := s.step.word
	if !strings.Contains(kind, ".") {
		return nil, usage("--facts: give --step a kind of event with it, as in custody.taken")
	}
	entered := tracker.EnteredScan
	if item.Copy == 0 {
		entered = tracker.EnteredTyped
	}
	raw, err := json.Marshal(map[string]any{
		"id": newID(), "kind": kind, "clinic": item.Name.Clinic(), "at": at.Format(time.RFC3339Nano), "by": s.by, "station": s.station,
		"items": []string{item.String()}, "data": json.RawMessage(s.data), "entered": entered,
	})
	if err != nil {
		return nil, usage("--facts is not JSON: %w", err)
	}
	e, err := events.Decode(raw)
	if err != nil {
		return nil, usage("--facts: %w", err)
	}
	return e, nil
}
