package events

import (
	"strconv"
	"strings"
	"time"

	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"

	"github.com/pottrail/pottrail/tracker"
)

// memberID numbers the members of the envelope.
type memberID int

const (
	memberUUID memberID = iota
	memberKind
	memberClinic
	memberAt
	memberBy
	memberStation
	memberItems
	memberData
	memberEntered
	memberSeq
	memberOrigin
	memberOSeq
	memberRecorded
	memberSkew
	memberCount
)

// members are the members of the envelope in the order of the contract; those from seq on are the recorder's.
var members = [memberCount]struct {
	id       memberID
	name     string
	must     bool
	recorder bool
}{
	{memberUUID, "id", true, false},
	{memberKind, "kind", true, false},
	{memberClinic, "clinic", true, false},
	{memberAt, "at", true, false},
	{memberBy, "by", true, false},
	{memberStation, "station", true, false},
	{memberItems, "items", false, false}, // by kind, see finishItems
	{memberData, "data", true, false},
	{memberEntered, "entered", false, false},
	{memberSeq, "seq", false, true},
	{memberOrigin, "origin", false, true},
	{memberOSeq, "oseq", false, true},
	{memberRecorded, "recorded", false, true},
	{memberSkew, "skew", false, true},
}

// enteredWords are the ways in which an event can come in.
var enteredWords = []string{string(tracker.EnteredScan), string(tracker.EnteredTyped), string(tracker.EnteredPaper), string(tracker.EnteredMessage)}

// reader reads one event in one pass over its bytes, as long as the kind comes before the data.
type reader struct {
	event    *tracker.Event
	recorded bool // members of the recorder are allowed
	seen     [memberCount]bool
	plan     *kindPlan
	late     jsontext.Value // data that came before the kind
	bad      *fault
	scratch  []byte
}

// UnmarshalJSONFrom reads the event that comes next. On a fault of its own it stops with errStop and keeps the fault.
func (r *reader) UnmarshalJSONFrom(dec *jsontext.Decoder) error {
	if dec.PeekKind() != '{' {
		raw, err := dec.ReadValue()
		if err != nil {
			return err
		}
		return r.stop(&fault{code: CodeWrongType, detail: "is " + article(raw.Kind()) + "; an object is wanted"})
	}
	if _, err := dec.ReadToken(); err != nil {
		return err
	}
	for dec.PeekKind() != '}' {
		name, err := dec.ReadValue()
		if err != nil {
			return err
		}
		id, ok := r.member(name)
		if !ok {
			return r.stop(r.unknown(name))
		}
		r.seen[id] = true
		if err := r.read(dec, id); err != nil {
			return err
		}
		if r.bad != nil {
			r.bad = r.bad.under(members[id].name)
			return errStop
		}
	}
	_, err := dec.ReadToken()
	return err
}

func (r *reader) stop(f *fault) error {
	r.bad = f
	return errStop
}

// member finds a member by its name as it stands in the JSON, quotes included.
func (r *reader) member(quoted jsontext.Value) (memberID, bool) {
	name := r.unquote(quoted)
	for i := range members {
		if members[i].name == string(name) {
			return members[i].id, r.recorded || !members[i].recorder
		}
	}
	return 0, false
}

// unquote gives the text of a JSON string; it is good until the next call.
func (r *reader) unquote(raw jsontext.Value) []byte {
	r.scratch, _ = jsontext.AppendUnquote(r.scratch[:0], raw) // the decoder has checked it
	return r.scratch
}

func (r *reader) unknown(quoted jsontext.Value) *fault {
	names := make([]string, 0, memberCount)
	for _, m := range members {
		if r.recorded || !m.recorder {
			names = append(names, m.name)
		}
	}
	name := string(r.unquote(quoted))
	return &fault{code: CodeUnknownField, field: name, detail: "is not a field of an event; those are " + strings.Join(names, ", ")}
}

// read reads the value of one member. A fault goes to r.bad, an error of the JSON itself is returned.
func (r *reader) read(dec *jsontext.Decoder, id memberID) error {
	switch id {
	case memberItems:
		return r.readItems(dec)
	case memberData:
		return r.readData(dec)
	}
	raw, err := dec.ReadValue()
	if err != nil {
		return err
	}
	want := jsontext.Kind('"')
	if id == memberSeq || id == memberOSeq || id == memberSkew {
		want = '0'
	}
	if raw.Kind() != want {
		r.bad = wrongKind(raw.Kind(), article(want))
		return nil
	}
	if want == '0' {
		r.bad = r.number(id, string(raw))
		return nil
	}
	r.bad = r.text(id, r.unquote(raw))
	return nil
}

func (r *reader) text(id memberID, text []byte) *fault {
	e := r.event
	if blank(string(text)) {
		return missing("every event needs it")
	}
	switch id {
	case memberUUID:
		uuid, ok := parseID(string(text))
		if !ok {
			return badID(string(text))
		}
		e.ID = uuid
	case memberKind:
		plan, ok := kinds()[tracker.Kind(text)]
		if !ok {
			return unknownKind(string(text))
		}
		r.plan, e.Kind = plan, plan.Kind
	case memberClinic:
		e.Clinic = string(text)
		if err := tracker.CheckClinic(e.Clinic); err != nil {
			return badCode(err)
		}
	case memberAt:
		t, bad := parseTime(text)
		if bad == nil && t.Before(earliest) {
			bad = &fault{code: CodeBadTime, detail: "is " + quote(string(text)) + ", before 2000: the station's clock is not set"}
		}
		e.At = t
		return bad
	case memberBy:
		e.By = string(text)
	case memberStation:
		e.Station = string(text)
	case memberEntered:
		for _, word := range enteredWords {
			if string(text) == word {
				e.Entered = tracker.Entered(word)
			}
		}
		if e.Entered == "" {
			return oneOf(string(text), enteredWords)
		}
		if e.Entered == tracker.EnteredScan {
			e.Entered = "" // the default has one spelling: none
		}
	case memberOrigin:
		e.Record.Origin = string(text)
	case memberRecorded:
		t, bad := parseTime(text)
		e.Record.Recorded = t
		return bad
	}
	return nil
}

func (r *reader) number(id memberID, text string) *fault {
	if id == memberSkew {
		skew, ok := parseSeconds(text)
		if !ok {
			return &fault{code: CodeBadNumber, detail: "is " + quote(text) + "; seconds with at most nine decimals are wanted"}
		}
		r.event.Record.Skew = skew
		return nil
	}
	n, err := strconv.ParseUint(text, 10, 64)
	if err != nil {
		return &fault{code: CodeBadNumber, detail: "is " + quote(text) + "; a position in a ledger is a whole number from 0"}
	}
	if id == memberSeq {
		r.event.Record.Seq = n
	} else {
		r.event.Record.OSeq = n
	}
	return nil
}

// readData reads the fact, or keeps its bytes for later when the kind is not known yet.
func (r *reader) readData(dec *jsontext.Decoder) error {
	if kind := dec.PeekKind(); kind != '{' {
		if _, err := dec.ReadValue(); err != nil {
			return err
		}
		r.bad = wrongKind(kind, "an object")
		return nil
	}
	if r.plan == nil {
		raw, err := dec.ReadValue()
		r.late = raw.Clone()
		return err
	}
	r.event.Data = r.plan.New()
	if r.plan.hasCopy {
		return json.UnmarshalDecode(dec, r.event.Data, withCopies())
	}
	return json.UnmarshalDecode(dec, r.event.Data)
}

// earliest is the first instant that an event can have happened; a clock that says less was never set.
// Source: contract page 2.
var earliest = time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)

// parseTime reads RFC 3339 strictly; the result does not depend on the machine's zone.
func parseTime(text []byte) (time.Time, *fault) {
	var t time.Time
	if err := t.UnmarshalText(text); err != nil {
		return time.Time{}, badTime(string(text))
	}
	return homeless(t), nil
}

// badTime says what is wanted; a time without offset is so common a slip that it is told by name.
func badTime(text string) *fault {
	const shape = "a time like 2026-03-06T15:42:10+00:00 is wanted"
	if _, err := time.Parse("2006-01-02T15:04:05", text); err == nil {
		return &fault{code: CodeBadTime, detail: "is " + quote(text) + ", which has no offset; " + shape}
	}
	return &fault{code: CodeBadTime, detail: "is " + quote(text) + "; " + shape}
}

// unknownKind lists the kinds of the same family, or all.
func unknownKind(text string) *fault {
	family, _, _ := strings.Cut(text, ".")
	var near, all []string
	for _, info := range tracker.Kinds() {
		all = append(all, string(info.Kind))
		if strings.HasPrefix(string(info.Kind), family+".") {
			near = append(near, string(info.Kind))
		}
	}
	if near == nil {
		near = all
	}
	return &fault{code: CodeUnknownKind, detail: "is " + quote(text) + "; kinds are " + strings.Join(near, ", ")}
}
