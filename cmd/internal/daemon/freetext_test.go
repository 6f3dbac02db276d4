package daemon

import (
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/tracker"
)

// Every field that is called like a sentence is looked at, in every kind: a kind that is added later fails here until
// it is.
func TestEveryFreeTextIsLookedAt(t *testing.T) {
	sentences := []string{"text", "why", "note", "clinical", "asked", "answer", "done", "needs", "report"}
	for _, kind := range tracker.Kinds() {
		if kind.Kind == tracker.KindProtocolAdopted || kind.Kind == tracker.KindLabRefused {
			continue // a protocol is no sentence, and the reason of a refusal is a word of a closed list
		}
		fact := kind.New()
		v := reflect.ValueOf(fact).Elem()
		for i := range v.NumField() {
			name, _, _ := strings.Cut(v.Type().Field(i).Tag.Get("json"), ",")
			if !slices.Contains(sentences, name) {
				continue
			}
			switch field := v.Field(i); field.Kind() {
			case reflect.String:
				field.SetString("words")
			case reflect.Pointer:
				words := "words"
				field.Set(reflect.ValueOf(&words))
			default:
				t.Fatalf("%s.%s is %s", kind.Kind, name, field.Kind())
			}
			require.True(t, slices.ContainsFunc(freeText(fact), func(s sentence) bool { return s.field == "data."+name }), "%s: %s", kind.Kind, name)
		}
	}
}
