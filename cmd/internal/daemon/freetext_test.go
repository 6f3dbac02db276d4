package daemon

import (
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/events"

	"github.com/pottrail/pottrail/store/people"
	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/demo"
)

// Every field that is called like a sentence is looked at, in every kind: a kind that is added later fails here until
// it is.
func TestEveryFreeTextIsLookedAt(t *testing.T) {
	sentences := []string{"text", "why", "note", "clinical", "asked", "answer", "done", "needs", "report", "given_by", "type"}
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

// In every free text of every kind of event, each of the patient's identifiers is found and refused by the field's name; a
// sentence without is taken. How many ways there are to write one is tested where they are told apart, in package people.
func TestEveryIdentifierIsRefusedInEveryFreeText(t *testing.T) {
	r := newRoom(t)
	name := tracker.Name(r.pot).Case()
	ref, err := r.service.patientOf(r.pot)
	require.NoError(t, err)
	said := map[string]string{"family name": "told mrs HALVORSEN", "birth date": "born 14.2.61", "record number": "see 401 18223", "national number": "nhs 943-476-5919",
		"telephone": "rang 01632 960 117", "address": "at 12 sedge row"}
	require.NoError(t, r.service.people.put(ref, halvorsenHerself))
	texts := 0
	for _, kind := range tracker.Kinds() {
		for field, set := range textsOf(kind.New()) {
			fact := kind.New()
			objection := func(text string) *events.Refusal {
				set(fact, text)
				e := &tracker.Event{ID: "0199f1c2-7b1e-7c3a-9d55-0a4c6f1e2b77", Kind: kind.Kind, Clinic: "MBY", At: time.Now(), By: "nurse.osei", Station: "desk", Items: []tracker.Item{{Name: name}}, Data: fact}
				return r.service.namesPatient(e, map[tracker.Name]string{})
			}
			for what, text := range said {
				if set(fact, text); !slices.ContainsFunc(freeText(fact), func(s sentence) bool { return s.text == text }) {
					break // a key, a number, a word of a list
				}
				texts++
				refusal := objection(text)
				require.NotNil(t, refusal, "%s, %s: %s", kind.Kind, field, what)
				require.Equal(t, events.CodeIdentifiersInText, refusal.Code)
				require.Contains(t, refusal.Field, field)
				require.NotContains(t, refusal.Text, text)
				require.Nil(t, objection("firm white core, rang the ward at 14:02"), "%s, %s", kind.Kind, field)
			}
		}
	}
	require.GreaterOrEqual(t, texts, 6*25)
}

var halvorsenHerself = ask.Patient{Family: "Halvorsen", Given: "Ingrid", BirthDate: "1961-02-14", RecordNumber: "40118223", NationalNumber: "943 476 5919", Address: "12 Sedge Row, Marram Bay", Telephone: "+44 1632 960 117"}

// textsOf gives a way to set each text of a fact, those of its lesions too.
func textsOf(fact tracker.Fact) map[string]func(fact tracker.Fact, text string) {
	out := map[string]func(tracker.Fact, string){}
	of := reflect.TypeOf(fact).Elem()
	for i := range of.NumField() {
		name, _, _ := strings.Cut(of.Field(i).Tag.Get("json"), ",")
		switch {
		case of.Field(i).Type.Kind() == reflect.String:
			out[name] = func(f tracker.Fact, text string) { reflect.ValueOf(f).Elem().Field(i).SetString(text) }
		case of.Field(i).Type == reflect.TypeFor[*string]():
			out[name] = func(f tracker.Fact, text string) { reflect.ValueOf(f).Elem().Field(i).Set(reflect.ValueOf(&text)) }
		case of.Field(i).Type == reflect.TypeFor[[]tracker.Lesion]():
			out["lesions[0].position"] = func(f tracker.Fact, text string) {
				reflect.ValueOf(f).Elem().Field(i).Set(reflect.ValueOf([]tracker.Lesion{{Position: text}}))
			}
			out["lesions[0].imaging"] = func(f tracker.Fact, text string) {
				reflect.ValueOf(f).Elem().Field(i).Set(reflect.ValueOf([]tracker.Lesion{{Imaging: text}}))
			}
		}
	}
	return out
}

// No sentence of six invented weeks, whoever it is about, names one of the invented patients.
func TestNoSentenceOfOrdinaryDaysIsRefused(t *testing.T) {
	network, err := demo.Generate(demo.Options{Seed: 1, Weeks: 6, Now: time.Date(2026, 3, 6, 12, 0, 0, 0, time.UTC), Zone: time.UTC})
	require.NoError(t, err)
	texts := map[string]bool{}
	for _, e := range network.Events {
		for _, s := range freeText(e.Data) {
			texts[s.text] = true
		}
	}
	require.Greater(t, len(texts), 50)
	require.Greater(t, len(network.People), 300)
	for _, p := range network.People {
		patient := people.Person{Family: p.Family, Given: p.Given, BirthDate: string(p.Born), RecordNumber: p.Record, NationalNumber: p.National, Address: p.Address}
		for text := range texts {
			require.False(t, patient.Mentions(text), "%s: %q", p.Family, text)
		}
	}
	t.Logf("%d sentences, %d patients, no false alarm", len(texts), len(network.People))
}
