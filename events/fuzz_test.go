package events_test

import (
	"bytes"
	"testing"

	"github.com/pottrail/pottrail/events"
)

// FuzzDecode holds on any bytes: no panic, a refusal has its code and sentence, and what is read is written and read
// again the same, in the same bytes.
func FuzzDecode(f *testing.F) {
	names, all := samples()
	for _, name := range names {
		f.Add(events.EncodeRecorded(all[name][0]))
		f.Add(events.Encode(all[name][1]))
	}
	f.Add([]byte(good))
	f.Add([]byte(opened))
	f.Add([]byte(`{"data":{"copy":1},"kind":"label.printed"`))
	f.Fuzz(func(t *testing.T, data []byte) {
		_, _ = events.DecodeBatch(data)
		_ = events.FindID(data)
		_, _ = events.Decode(data)
		if c, err := events.DecodeFlagChange(data); err == nil {
			if _, err := events.DecodeFlagChange(events.EncodeFlagChange(c)); err != nil {
				t.Fatalf("%s reads as a change of a flag that is refused when it is written: %v", data, err)
			}
		}
		e, err := events.DecodeRecorded(data)
		if err != nil {
			r := events.AsRefusal(err)
			if r.Code == "" || r.Text == "" {
				t.Fatalf("a refusal without a reason: %+v", r)
			}
			return
		}
		written := events.EncodeRecorded(e)
		again, err := events.DecodeRecorded(written)
		if err != nil {
			t.Fatalf("%s\nwas written as\n%s\nwhich is refused: %v", data, written, err)
		}
		if second := events.EncodeRecorded(again); !bytes.Equal(written, second) {
			t.Fatalf("two spellings:\n%s\n%s", written, second)
		}
		if !events.Same(e, again) {
			t.Fatal("not the same event")
		}
	})
}
