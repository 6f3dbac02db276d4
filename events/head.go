package events

import (
	"bytes"

	"github.com/pottrail/pottrail/tracker"
)

// Head is what the carrier of an event must know.
type Head struct {
	ID     tracker.EventID
	Kind   tracker.Kind
	Clinic string
}

// HeadOf reads the head off canonical bytes ([Encode], [EncodeRecorded]) without decoding the rest; ok is false for
// any other spelling.
func HeadOf(stored []byte) (h Head, ok bool) {
	rest := stored
	member := func(before string) string {
		if rest == nil || !bytes.HasPrefix(rest, []byte(before)) {
			rest = nil
			return ""
		}
		rest = rest[len(before):]
		end := bytes.IndexByte(rest, '"')
		if end <= 0 {
			rest = nil
			return ""
		}
		value := string(rest[:end])
		rest = rest[end:]
		return value
	}
	h = Head{
		ID:     tracker.EventID(member(`{"id":"`)),
		Kind:   tracker.Kind(member(`","kind":"`)),
		Clinic: member(`","clinic":"`),
	}
	if rest == nil {
		return Head{}, false
	}
	return h, true
}
