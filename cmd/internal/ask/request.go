package ask

import (
	"fmt"
	"net/url"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/go-json-experiment/json"

	"github.com/pottrail/pottrail/tracker"
)

// ReadJSON reads a question's request from JSON, as sent over NATS; no data at all is a request without a name.
func (q Question) ReadJSON(data []byte) (Request, error) {
	var r Request
	if len(strings.TrimSpace(string(data))) > 0 {
		if err := json.Unmarshal(data, &r, json.RejectUnknownMembers(true)); err != nil {
			return Request{}, &Error{Kind: Invalid, Code: "bad-request", Text: "the request is not a JSON object of name and filters: " + Unreadable(err)}
		}
	}
	return r, q.check(r)
}

// ReadQuery reads a question's request from the name in a path and the filters in a query.
func (q Question) ReadQuery(name string, query url.Values) (Request, error) {
	r := Request{Name: name}
	for key, values := range query {
		if len(values) != 1 {
			return Request{}, bad(key, "given %d times, once is enough", len(values))
		}
		if err := r.set(key, values[0]); err != nil {
			return Request{}, err
		}
	}
	return r, q.check(r)
}

// Query is the inverse of [Question.ReadQuery] for everything but the name in a path.
func (r Request) Query() url.Values {
	out := url.Values{}
	v := reflect.ValueOf(r)
	for i := range v.NumField() {
		if v.Field(i).IsZero() {
			continue
		}
		text := fmt.Sprint(v.Field(i).Interface())
		if at, ok := v.Field(i).Interface().(time.Time); ok {
			text = at.Format(time.RFC3339Nano)
		}
		out.Set(jsonName(v.Type().Field(i)), text)
	}
	return out
}

func jsonName(f reflect.StructField) string {
	name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
	return name
}

func (r *Request) set(key, value string) (err error) {
	switch key {
	case "name":
		r.Name = value
	case "clinic":
		r.Clinic = value
	case "kind":
		r.Kind = value
	case "severity":
		r.Severity = tracker.Severity(value)
	case "held":
		r.Held = value
	case "under":
		if r.Under, err = strconv.ParseBool(value); err != nil {
			return bad(key, "it is neither true nor false")
		}
	case "origin":
		r.Origin = value
	case "from":
		if r.From, err = strconv.ParseUint(value, 10, 64); err != nil {
			return bad(key, "it is not a position: write a number")
		}
	case "older":
		if r.Older, err = strconv.ParseUint(value, 10, 63); err != nil {
			return bad(key, "%q is not a number of entries", value)
		}
	case "limit":
		if r.Limit, err = strconv.Atoi(value); err != nil {
			return bad(key, "it is not a number")
		}
	case "since", "until":
		at, err := time.Parse(time.RFC3339, value)
		if err != nil {
			return bad(key, "it is not a time: write it as 2026-03-06T15:42:10+00:00")
		}
		if key == "since" {
			r.Since = at
		} else {
			r.Until = at
		}
	default:
		return bad(key, "no such filter")
	}
	return nil
}

// bad refuses a filter. What was given is not repeated: in the wrong place it may be a patient's number.
func bad(field, format string, args ...any) error {
	return &Error{Kind: Invalid, Code: "bad-filter", Field: field, Text: field + ": " + fmt.Sprintf(format, args...)}
}

// check refuses what the question does not take, and words that mean nothing.
func (q Question) check(r Request) error {
	v := reflect.ValueOf(r)
	for i := range v.NumField() {
		name := jsonName(v.Type().Field(i))
		if v.Field(i).IsZero() || slices.Contains(q.Filters, name) || name == "name" && q.Named {
			continue
		}
		return bad(name, "%s does not take it; it takes: %s", q.What, strings.Join(q.takes(), ", "))
	}
	if q.Named && r.Name == "" {
		return &Error{Kind: Invalid, Code: "missing-field", Field: "name", Text: "name: whose " + q.What + " is asked for? Give a code or a name"}
	}
	switch r.Severity {
	case "", tracker.Now, tracker.Today, tracker.Watch:
	default:
		return bad("severity", "it is none of now, today, watch")
	}
	switch r.Held {
	case "", "no", "only":
	default:
		return bad("held", "it is neither no nor only")
	}
	if r.Kind != "" && !slices.ContainsFunc(tracker.FlagCatalog(), func(f tracker.FlagInfo) bool { return string(f.Kind) == r.Kind }) {
		return bad("kind", "it is no kind of flag; `pottrail flags --explain all` lists them")
	}
	if r.Clinic != "" {
		if err := tracker.CheckClinic(r.Clinic); err != nil {
			return bad("clinic", "%v", err)
		}
	}
	if r.Limit < 0 {
		return bad("limit", "fewer than no events cannot be given")
	}
	return nil
}

// Takes reports whether a filter, by its JSON name, means something to the question.
func (q Question) Takes(filter string) bool { return slices.Contains(q.takes(), filter) }

func (q Question) takes() []string {
	if q.Named {
		return append([]string{"name"}, q.Filters...)
	}
	return q.Filters
}

// Thing reads the code or name of a request.
func (r Request) Thing() (tracker.Item, error) {
	item, err := tracker.ParseItem(r.Name)
	if err != nil {
		return tracker.Item{}, CodeFault("name", err)
	}
	return item, nil
}
