package events_test

import (
	"bytes"
	"encoding/json"
	"flag"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/events"
)

var update = flag.Bool("update", false, "write the golden files anew")

// TestEveryKindHasItsSpelling holds the written form of every kind against its golden file: one line with everything
// said and recorded, one with only what must be said.
func TestEveryKindHasItsSpelling(t *testing.T) {
	names, all := samples()
	require.Len(t, names, 43, "the contract has 43 kinds")
	for _, name := range names {
		t.Run(name, func(t *testing.T) {
			pair := all[name]
			written := append(events.EncodeRecorded(pair[0]), '\n')
			written = append(written, append(events.Encode(pair[1]), '\n')...)
			file := filepath.Join("testdata", "kinds", name+".ndjson")
			if *update {
				require.NoError(t, os.WriteFile(file, written, 0o644))
			}
			golden, err := os.ReadFile(file)
			require.NoError(t, err)
			require.Equal(t, string(golden), string(written))

			lines := bytes.Split(bytes.TrimSpace(golden), []byte("\n"))
			for i, line := range lines {
				read, err := events.DecodeRecorded(line)
				require.NoError(t, err)
				require.Equal(t, pair[i], read, "decoding is the inverse of encoding")
			}
			read, err := events.Decode(lines[1])
			require.NoError(t, err)
			require.Equal(t, pair[1], read, "what is sent in and what is stored are read alike")
		})
	}
}

// TestFullSamplesSayEverything keeps the golden files from forgetting a field that is added later.
func TestFullSamplesSayEverything(t *testing.T) {
	for _, fact := range sampleFacts() {
		v := reflect.ValueOf(fact).Elem()
		for i := range v.NumField() {
			require.False(t, v.Field(i).IsZero(), "%s: the sample leaves %s empty", fact.Kind(), v.Type().Field(i).Name)
		}
	}
}

// TestEveryRequiredFieldIsMissed takes each required field out of each kind's event in turn. The members come in the
// order of the alphabet here, data before kind.
func TestEveryRequiredFieldIsMissed(t *testing.T) {
	names, all := samples()
	missed := 0
	for _, name := range names {
		minimal := all[name][1]
		for field := range reflect.TypeOf(minimal.Data).Elem().Fields() {
			if field.Tag.Get("must") != "present" {
				continue
			}
			member, _, _ := strings.Cut(field.Tag.Get("json"), ",")
			var loose map[string]any
			require.NoError(t, json.Unmarshal(events.Encode(minimal), &loose))
			whole, err := json.Marshal(loose)
			require.NoError(t, err)
			read, err := events.Decode(whole)
			require.NoError(t, err)
			require.True(t, events.Same(minimal, read), "the order of members does not matter")

			delete(loose["data"].(map[string]any), member)
			cut, err := json.Marshal(loose)
			require.NoError(t, err)
			_, err = events.Decode(cut)
			refusal := events.AsRefusal(err)
			require.NotNil(t, refusal, "%s", cut)
			require.Equal(t, events.CodeMissingField, refusal.Code, "%s", cut)
			require.Equal(t, "data."+member, refusal.Field)
			require.Contains(t, refusal.Text, name, "the sentence names the kind")
			missed++
		}
	}
	require.Equal(t, 52, missed, "starred fields in the tables of contract page 2, those of lesions and pots aside")
}
