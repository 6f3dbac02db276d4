package events_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/events"
)

// TestRequestsAreJudgedOneEventAtATime mixes good and bad in every shape of request.
func TestRequestsAreJudgedOneEventAtATime(t *testing.T) {
	bad := spoil(good, `"core"`, `"chunk"`)
	twice := spoil(good, `"by"`, `"clinic":"MBY","by"`)
	latin := spoil(good, "nurse.osei", "nurse.\xffosei")
	pretty := strings.ReplaceAll(good, `,`, ",\n  ")
	rows := []struct {
		name, request string
		shape         events.Shape
		codes         []string // "" for taken
	}{
		{"one", good, events.ShapeOne, []string{""}},
		{"one over several lines", " \n" + pretty + "\n", events.ShapeOne, []string{""}},
		{"one broken over several lines", pretty[:len(pretty)-1], events.ShapeOne, []string{"bad-json"}},
		{"one word", "hello", events.ShapeOne, []string{"bad-json"}},
		{"array", "\n [" + good + "," + bad + " , " + good + "]\n", events.ShapeArray, []string{"", "bad-word", ""}},
		{"array with slips that are one element's alone", "[" + twice + "," + good + "," + latin + ",7]", events.ShapeArray, []string{"duplicate-field", "", "bad-json", "wrong-type"}},
		{"empty array", "[]", events.ShapeArray, nil},
		{"lines", good + "\n" + bad + "\r\n\n" + good, events.ShapeLines, []string{"", "bad-word", ""}},
		{"lines, one of them cut off", good + "\n" + good[:50] + "\n" + good + "\n", events.ShapeLines, []string{"", "bad-json", ""}},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			require.Equal(t, row.shape, events.ShapeOf([]byte(row.request)))
			results, err := events.DecodeBatch([]byte(row.request))
			require.NoError(t, err)
			require.Len(t, results, len(row.codes))
			for i, result := range results {
				require.NotEmpty(t, result.Raw)
				if row.codes[i] == "" {
					require.Nil(t, result.Refusal)
					require.NotNil(t, result.Event)
					require.EqualValues(t, result.Event.ID, result.ID)
					continue
				}
				require.Nil(t, result.Event)
				require.Equal(t, row.codes[i], string(result.Refusal.Code), result.Refusal.Text)
				require.Contains(t, row.request, string(result.Raw), "the bytes are kept as they came")
			}
		})
	}
}

// TestRequestsThatCannotBeTakenApart count for nothing as a whole.
func TestRequestsThatCannotBeTakenApart(t *testing.T) {
	rows := map[string]struct {
		request string
		code    events.Code
	}{
		"empty":              {" \n", events.CodeBadJSON},
		"array cut off":      {"[" + good + ",", events.CodeBadJSON},
		"array not closed":   {"[" + good, events.CodeBadJSON},
		"array and more":     {"[" + good + "]" + good, events.CodeBadJSON},
		"array with a slip":  {"[" + good + " " + good + "]", events.CodeBadJSON},
		"over a mebibyte":    {strings.Repeat(" ", events.MaxRequest) + good, events.CodeTooLarge},
		"501 events at once": {"[" + strings.Repeat(good+",", events.MaxBatch) + good + "]", events.CodeTooLarge},
	}
	for name, row := range rows {
		t.Run(name, func(t *testing.T) {
			results, err := events.DecodeBatch([]byte(row.request))
			require.Nil(t, results)
			require.Error(t, err)
			require.Equal(t, row.code, events.AsRefusal(err).Code, err.Error())
		})
	}
	results, err := events.DecodeBatch([]byte("[" + strings.Repeat(good+",", events.MaxBatch-1) + good + "]"))
	require.NoError(t, err)
	require.Len(t, results, events.MaxBatch, "500 are taken")
}

// TestFindID makes the id out of events that are too broken to read.
func TestFindID(t *testing.T) {
	const id = "0199f1c2-7b1e-7c3a-9d55-0a4c6f1e2b77"
	for line, want := range map[string]string{
		good[:60]: id,
		strings.Replace(good, `"id":"`+id+`",`, ``, 1):                     "",
		`{"kind":{"id":"no"},"id":"0199F1C2-7B1E-7C3A-9D55-0A4C6F1E2B77",`: id,
		`{"id":"mine"}`: "mine",
		`{"id":"` + strings.Repeat("x", 65) + `"}`: "",
		`{"id":7}`:   "",
		`["id","x"]`: "",
		``:           "",
	} {
		require.Equal(t, want, events.FindID([]byte(line)), line)
	}
}
