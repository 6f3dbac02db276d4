package ask_test

import (
	"errors"
	"testing"

	"github.com/go-json-experiment/json"
	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/cmd/internal/ask"
)

// What is wrong with a request is said by its place, never by what stands there.
func TestWhatCannotBeReadIsNotRepeated(t *testing.T) {
	for text, want := range map[string]string{
		`{"patient":{"family":["Wenlock"]}}`:        "what stands at /patient/family does not fit there",
		`{"patient":{"birth_date":19610214}}`:       "what stands at /patient/birth_date does not fit there",
		`{"planned":"Wenlock"}`:                     "what stands at /planned does not fit there",
		`{"lesions":[{"size_mm":"Wenlock"}]}`:       "what stands at /lesions/0/size_mm does not fit there",
		`{"patient":{"maiden_name":"Wenlock"}}`:     "nothing is known of /patient/maiden_name",
		`"Wenlock"`:                                 "it is not of the shape that is wanted",
		`{"patient":{"family":"Wenlock" "Ada"}}`:    "it is no JSON at byte 31, within /patient",
		`{"patient":{"family":"Wenlock`:             "it is no JSON at byte 29, within /patient/family",
		`Wenlock`:                                   "it is no JSON at byte 0",
		`{"patient":{},"patient":{"family":"Ada"}}`: "it is no JSON at byte 14, within /patient",
	} {
		var r ask.OpenRequest
		err := json.Unmarshal([]byte(text), &r, json.RejectUnknownMembers(true))
		require.Error(t, err)
		require.Equal(t, want, ask.Unreadable(err), text)
	}
	require.Equal(t, "it is no JSON, or it breaks off", ask.Unreadable(errors.New("Wenlock")))
}
