package events

import (
	"bytes"
	"strconv"

	"github.com/go-json-experiment/json/jsontext"

	"github.com/pottrail/pottrail/tracker"
)

// Result is one event of a request: judged alone, in the order of the request.
type Result struct {
	ID      string         // as far as it could be read, for the verdict
	Event   *tracker.Event // nil when refused
	Refusal *Refusal       // nil when well formed
	Raw     []byte         // as sent; shares memory with the request
}

// Shape says how a request was written, so that the answer can be written the same way.
type Shape byte

// The three ways of writing a request.
const (
	ShapeOne   Shape = iota + 1 // one event
	ShapeArray                  // a JSON array
	ShapeLines                  // one event a line (NDJSON)
)

// ShapeOf tells the shape of a request from its bytes.
func ShapeOf(data []byte) Shape {
	trimmed := bytes.TrimLeft(data, " \t\r\n")
	switch {
	case len(trimmed) > 0 && trimmed[0] == '[':
		return ShapeArray
	case startsInColumnOne(data) > 1:
		return ShapeLines
	}
	return ShapeOne
}

// startsInColumnOne counts the lines that begin with an object. An event printed over several lines has one such line;
// events a line each have one for each.
func startsInColumnOne(data []byte) int {
	count := 0
	for line := range bytes.Lines(data) {
		if line[0] == '{' {
			count++
		}
	}
	return count
}

// DecodeBatch reads a request: one event, a JSON array of up to [MaxBatch], or one event a line. Each is judged alone;
// the error, always a [*Refusal], is for a request that cannot be taken apart at all, and then nothing of it counts.
func DecodeBatch(data []byte) ([]Result, error) {
	if len(data) > MaxRequest {
		return nil, &Refusal{Code: CodeTooLarge, Text: "The request has " + strconv.Itoa(len(data)) + " bytes, and at most " +
			strconv.Itoa(MaxRequest) + " are taken; send it in parts."}
	}
	if len(bytes.TrimSpace(data)) == 0 {
		return nil, &Refusal{Code: CodeBadJSON, Text: "The request is empty; one event, a JSON array of events, or one event a line is wanted."}
	}
	switch ShapeOf(data) {
	case ShapeArray:
		return decodeArray(data)
	case ShapeLines:
		var results []Result
		for line := range bytes.Lines(data) {
			if line = bytes.TrimSpace(line); len(line) > 0 {
				results = append(results, judge(line))
			}
		}
		return results, nil
	}
	return []Result{judge(bytes.TrimSpace(data))}, nil
}

func judge(raw []byte) Result {
	e, id, bad := decode(raw, false)
	result := Result{ID: string(id), Event: e, Raw: raw}
	if bad != nil {
		result.Refusal = bad.refusal()
		if result.ID == "" {
			result.ID = FindID(raw)
		}
	}
	return result
}

// decodeArray takes the array apart leniently, so that a slip inside one element is that element's alone.
func decodeArray(data []byte) ([]Result, error) {
	broken := func(dec *jsontext.Decoder, err error) error {
		return &Refusal{Code: CodeBadJSON, Text: "The request is not a whole JSON array: near byte " +
			strconv.FormatInt(dec.InputOffset()+1, 10) + ", " + plain(err) + "; nothing of it was recorded, send it again."}
	}
	dec := jsontext.NewDecoder(bytes.NewBuffer(data), jsontext.AllowDuplicateNames(true), jsontext.AllowInvalidUTF8(true))
	if _, err := dec.ReadToken(); err != nil {
		return nil, broken(dec, err)
	}
	var spans [][2]int64
	for dec.PeekKind() != ']' {
		value, err := dec.ReadValue()
		if err != nil {
			return nil, broken(dec, err)
		}
		end := dec.InputOffset()
		spans = append(spans, [2]int64{end - int64(len(value)), end})
	}
	if _, err := dec.ReadToken(); err != nil {
		return nil, broken(dec, err)
	}
	if len(bytes.TrimSpace(data[dec.InputOffset():])) > 0 {
		return nil, broken(dec, errTrailing)
	}
	if len(spans) > MaxBatch {
		return nil, &Refusal{Code: CodeTooLarge, Text: "The request has " + strconv.Itoa(len(spans)) + " events, and at most " +
			strconv.Itoa(MaxBatch) + " are taken; send them in parts."}
	}
	results := make([]Result, len(spans))
	for i, span := range spans {
		results[i] = judge(data[span[0]:span[1]])
	}
	return results, nil
}
