package events

import (
	"bytes"
	"errors"
	"reflect"

	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"

	"github.com/pottrail/pottrail/tracker"
)

// Decode reads one event as it is sent in: strict, with names, ids and times brought into their canonical spelling.
// What the recorder adds (seq, origin, …) is refused here. Every error is a [*Refusal].
func Decode(data []byte) (*tracker.Event, error) {
	e, _, bad := decode(data, false)
	if bad != nil {
		return nil, bad.refusal()
	}
	return e, nil
}

// DecodeRecorded is [Decode] for lines of an export and for stored bytes, which may also carry seq, origin, oseq,
// recorded and skew; they fill the event's Record.
func DecodeRecorded(data []byte) (*tracker.Event, error) {
	e, _, bad := decode(data, true)
	if bad != nil {
		return nil, bad.refusal()
	}
	return e, nil
}

// decode also gives the id, as far as it was read, so that a refusal can name the event it refuses.
func decode(data []byte, recorded bool) (*tracker.Event, tracker.EventID, *fault) {
	limit := MaxEvent
	if recorded {
		limit = maxRecorded
	}
	if len(data) > limit {
		return nil, "", tooLarge(len(data), limit)
	}
	if bad := findNull(data); bad != nil {
		return nil, "", bad
	}
	r := reader{event: new(tracker.Event), recorded: recorded}
	err := json.Unmarshal(data, &r, strict())
	switch {
	case r.bad != nil:
		return nil, r.event.ID, r.bad
	case err != nil:
		return nil, r.event.ID, r.explain(err)
	}
	if bad := r.finish(); bad != nil {
		return nil, r.event.ID, bad
	}
	return r.event, r.event.ID, nil
}

// strict is how JSON is read: no unknown members. The library refuses duplicate members and broken UTF-8 by itself.
func strict() json.Options { return json.RejectUnknownMembers(true) }

// withCopies reads copies as the contract has them, a text, and also as the numbers 1 to 9.
func withCopies() json.Options {
	return json.WithUnmarshalers(json.UnmarshalFromFunc(func(dec *jsontext.Decoder, c *tracker.Copy) error {
		raw, err := dec.ReadValue()
		if err != nil {
			return err
		}
		text := string(raw)
		if raw.Kind() == '"' {
			unquoted, err := jsontext.AppendUnquote(nil, raw)
			if err != nil {
				return err
			}
			text = string(unquoted)
		}
		if raw.Kind() != '"' && raw.Kind() != '0' {
			text = ""
		}
		return c.UnmarshalText(bytes.ToUpper([]byte(text)))
	}))
}

// finish checks what needs the whole envelope.
func (r *reader) finish() *fault {
	e := r.event
	for _, m := range members {
		if m.must && !r.seen[m.id] {
			return missing("every event needs it").under(m.name)
		}
	}
	if bad := r.finishItems(); bad != nil {
		return bad
	}
	if r.late != nil {
		e.Data = r.plan.New()
		if err := json.Unmarshal(r.late, e.Data, r.factOptions()...); err != nil {
			return r.explain(err).under("data")
		}
	}
	if bad := r.plan.fact.tidy(reflect.ValueOf(e.Data).Elem(), string(e.Kind)+" needs it"); bad != nil {
		return bad.under("data")
	}
	return together(e).under("data")
}

func (r *reader) factOptions() []json.Options {
	if r.plan.hasCopy {
		return []json.Options{strict(), withCopies()}
	}
	return []json.Options{strict()}
}

// findNull refuses null wherever it stands: absent is written by leaving a member out, and a null would otherwise pass
// for an empty value.
func findNull(data []byte) *fault {
	if !bytes.Contains(data, []byte("null")) {
		return nil
	}
	dec := jsontext.NewDecoder(bytes.NewReader(data))
	for {
		token, err := dec.ReadToken()
		if err != nil {
			return nil // the reader proper says what is wrong with it
		}
		if token.Kind() == 'n' {
			return &fault{code: CodeWrongType, field: path(dec.StackPointer()), detail: "is null; leave out what is not known"}
		}
	}
}

// FindID is the id of an event that may be broken, as far as it can be made out: canonical when it is a UUID, as sent
// when it is something else of reasonable length, "" when there is none.
func FindID(data []byte) string {
	dec := jsontext.NewDecoder(bytes.NewReader(data), jsontext.AllowDuplicateNames(true), jsontext.AllowInvalidUTF8(true))
	if token, err := dec.ReadToken(); err != nil || token.Kind() != '{' {
		return ""
	}
	for {
		name, err := dec.ReadToken()
		if err != nil || name.Kind() != '"' {
			return ""
		}
		if name.String() != "id" {
			if dec.SkipValue() != nil {
				return ""
			}
			continue
		}
		value, err := dec.ReadToken()
		if err != nil || value.Kind() != '"' {
			return ""
		}
		text := value.String()
		if id, ok := parseID(text); ok {
			return string(id)
		}
		const longest = 64
		if len(text) > longest {
			return ""
		}
		return text
	}
}

// errTrailing is about a request that goes on after its array.
var errTrailing = errors.New("something follows the array")

// errStop ends the reading of an event whose fault the reader already holds.
var errStop = errors.New("the event is refused")
