package events

import (
	"bytes"
	"math"
	"strconv"
	"strings"
	"time"

	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"

	"github.com/pottrail/pottrail/tracker"
)

// Encode writes the one canonical spelling of an event, without what the recorder adds: members in the order of the
// contract, what is empty left out, no spaces. [Decode] is its inverse. It is nil for a fact that JSON cannot hold (a
// length that is not a number), which no decoded event has; [Decode] refuses nil.
func Encode(e *tracker.Event) []byte {
	return appendRecord(appendEvent(nil, e), e, false)
}

// EncodeRecorded is [Encode] with origin, oseq, recorded and skew: the bytes that a ledger stores and hashes. The
// position in the local ledger is not in them; [AppendExport] puts it there. [DecodeRecorded] is its inverse.
func EncodeRecorded(e *tracker.Event) []byte { return AppendStored(nil, e) }

// AppendStored is [EncodeRecorded] into a buffer; it gives nil when Encode would.
func AppendStored(dst []byte, e *tracker.Event) []byte {
	return appendRecord(appendEvent(dst, e), e, true)
}

// AppendRecord is AppendStored for an event whose canonical spelling, by [Encode], is at hand.
func AppendRecord(dst, canonical []byte, e *tracker.Event) []byte {
	if len(canonical) < 2 {
		return nil
	}
	return appendRecord(append(dst, canonical[:len(canonical)-1]...), e, true)
}

// AppendExport makes a line of an export, without its newline, from stored bytes and their position in the ledger.
func AppendExport(dst, stored []byte, seq uint64) []byte {
	if len(stored) < 2 {
		return append(dst, stored...)
	}
	dst = append(dst, `{"seq":`...)
	dst = strconv.AppendUint(dst, seq, 10)
	dst = append(dst, ',')
	return append(dst, stored[1:]...)
}

// Same reports whether two events say the same: equal in canonical spelling, whatever their recorders added.
func Same(a, b *tracker.Event) bool { return bytes.Equal(Encode(a), Encode(b)) }

// appendEvent writes all but the closing brace.
func appendEvent(dst []byte, e *tracker.Event) []byte {
	data := []byte("{}")
	if e.Data != nil {
		var err error
		if data, err = json.Marshal(e.Data, jsontext.AllowInvalidUTF8(true)); err != nil {
			return nil
		}
	}
	if dst == nil {
		const envelope = 320 // and room for the record
		dst = make([]byte, 0, envelope+len(data)+20*len(e.Items))
	}
	dst = append(dst, `{"id":`...)
	dst = appendText(dst, string(e.ID))
	dst = append(dst, `,"kind":`...)
	dst = appendText(dst, string(e.Kind))
	dst = append(dst, `,"clinic":`...)
	dst = appendText(dst, e.Clinic)
	dst = append(dst, `,"at":`...)
	dst = appendTime(dst, e.At)
	dst = append(dst, `,"by":`...)
	dst = appendText(dst, e.By)
	dst = append(dst, `,"station":`...)
	dst = appendText(dst, e.Station)
	for i, item := range e.Items {
		if i == 0 {
			dst = append(dst, `,"items":[`...)
		} else {
			dst = append(dst, ',')
		}
		dst = appendText(dst, item.String())
	}
	if len(e.Items) > 0 {
		dst = append(dst, ']')
	}
	dst = append(dst, `,"data":`...)
	dst = append(dst, data...)
	if e.Entered != "" && e.Entered != tracker.EnteredScan {
		dst = append(dst, `,"entered":`...)
		dst = appendText(dst, string(e.Entered))
	}
	return dst
}

// appendRecord writes what the recorder adds, if it is wanted, and closes the object.
func appendRecord(dst []byte, e *tracker.Event, wanted bool) []byte {
	if dst == nil {
		return nil
	}
	r := &e.Record
	if wanted && r.Origin != "" {
		dst = append(dst, `,"origin":`...)
		dst = appendText(dst, r.Origin)
	}
	if wanted && r.OSeq != 0 {
		dst = append(dst, `,"oseq":`...)
		dst = strconv.AppendUint(dst, r.OSeq, 10)
	}
	if wanted && !r.Recorded.IsZero() {
		dst = append(dst, `,"recorded":`...)
		dst = appendTime(dst, r.Recorded)
	}
	if wanted && r.Skew != 0 {
		dst = append(dst, `,"skew":`...)
		dst = appendSeconds(dst, r.Skew)
	}
	return append(dst, '}')
}

func appendText(dst []byte, text string) []byte {
	dst, _ = jsontext.AppendQuote(dst, text) // broken UTF-8 is replaced; a decoded event has none
	return dst
}

func appendTime(dst []byte, t time.Time) []byte {
	dst = append(dst, '"')
	dst = t.AppendFormat(dst, time.RFC3339Nano)
	return append(dst, '"')
}

// appendSeconds writes a duration as a JSON number of seconds, exact to the nanosecond; [parseSeconds] is its inverse.
func appendSeconds(dst []byte, d time.Duration) []byte {
	nanoseconds := uint64(d)
	if d < 0 {
		dst = append(dst, '-')
		nanoseconds = -nanoseconds
	}
	dst = strconv.AppendUint(dst, nanoseconds/uint64(time.Second), 10)
	if rest := nanoseconds % uint64(time.Second); rest != 0 {
		digits := strconv.FormatUint(uint64(time.Second)+rest, 10)[1:]
		dst = append(dst, '.')
		dst = append(dst, strings.TrimRight(digits, "0")...)
	}
	return dst
}

// parseSeconds reads a JSON number of seconds. Spellings with an exponent are read through floating point, as they come
// from other writers and measure no better than that.
func parseSeconds(text string) (time.Duration, bool) {
	whole, decimals, _ := strings.Cut(strings.TrimPrefix(text, "-"), ".")
	seconds, err := strconv.ParseInt(whole, 10, 64)
	if err != nil || len(decimals) > 9 || strings.ContainsAny(decimals, "eE") {
		x, err := strconv.ParseFloat(text, 64)
		if limit := float64(math.MaxInt64 / int64(time.Second)); err != nil || x >= limit || x <= -limit {
			return 0, false
		}
		return time.Duration(math.Round(x * float64(time.Second))), true
	}
	nanoseconds := int64(0)
	if decimals != "" {
		nanoseconds, _ = strconv.ParseInt(decimals+strings.Repeat("0", 9-len(decimals)), 10, 64)
	}
	if seconds >= math.MaxInt64/int64(time.Second) {
		return 0, false
	}
	d := time.Duration(seconds)*time.Second + time.Duration(nanoseconds)
	if strings.HasPrefix(text, "-") {
		d = -d
	}
	return d, true
}
