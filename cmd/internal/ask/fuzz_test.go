package ask_test

import (
	"errors"
	"net/url"
	"testing"

	"github.com/pottrail/pottrail/cmd/internal/ask"
)

// FuzzReadRequest holds on any request of any question, over NATS and over HTTP: no panic, and a refusal has its code and
// sentence.
func FuzzReadRequest(f *testing.F) {
	for _, seed := range []string{`{}`, `{"name":"MBY-26-00417"}`, `{"clinic":"MBY","limit":5}`, `{"at":"2026-03-06T12:00:00Z","name":1}`, "", "clinic=MBY&limit=-1", "at=2026", "%"} {
		f.Add([]byte(seed), "MBY-26-00417")
	}
	f.Fuzz(func(t *testing.T, data []byte, name string) {
		refused := func(err error) {
			var told *ask.Error
			if err != nil && (!errors.As(err, &told) || told.Code == "" || told.Text == "") {
				t.Fatalf("refused without a reason: %v", err)
			}
		}
		query, err := url.ParseQuery(string(data))
		for _, q := range ask.Questions() {
			_, refusal := q.ReadJSON(data)
			refused(refusal)
			if err == nil {
				_, refusal := q.ReadQuery(name, query)
				refused(refusal)
			}
		}
	})
}
