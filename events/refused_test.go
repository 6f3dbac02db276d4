package events_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/tracker"
)

// good is a well-formed event; the tables below spoil one thing of it at a time.
const good = `{"id":"0199f1c2-7b1e-7c3a-9d55-0a4c6f1e2b77","kind":"piece.taken","clinic":"MBY","at":"2026-03-06T15:42:10+00:00","by":"nurse.osei","station":"room-2","items":["MBY-26-00417-A03"],"data":{"lesion":"L1","what":"core"}}`

const opened = `{"id":"0199f1c2-7b1e-7c3a-9d55-0a4c6f1e2b77","kind":"case.opened","clinic":"MBY","at":"2026-03-06T15:42:10+00:00","by":"nurse.osei","station":"room-2","items":["MBY-26-00417"],"data":{"patient":"p1","priority":"routine","lesions":[{"key":"L1","organ":"thyroid"}],"pots":[{"pot":"A","lesion":"L1","medium":"vial","studies":["cytology"]}]}}`

// about is an event of any kind.
func about(kind tracker.Kind, item, data string) string {
	return fmt.Sprintf(`{"id":"0199f1c2-7b1e-7c3a-9d55-0a4c6f1e2b77","kind":%q,"clinic":"MBY","at":"2026-03-06T15:42:10Z","by":"nurse.osei","station":"room-2","items":[%q],"data":%s}`, kind, item, data)
}

func spoil(whole, what, with string) string {
	if !strings.Contains(whole, what) {
		panic("the sample has no " + what)
	}
	return strings.Replace(whole, what, with, 1)
}

// TestRefused has a row for each reason to refuse, with the field that is named and a part of the sentence.
func TestRefused(t *testing.T) {
	manyItems := make([]string, events.MaxItems+1)
	for i := range manyItems {
		manyItems[i] = fmt.Sprintf("%q", fmt.Sprintf("MBY-26-%05d-A01", i+1))
	}
	tooMany := strings.Join(manyItems, ",")
	rows := []struct {
		name, line  string
		code, field string
		says        string
	}{
		{"nothing", ``, "bad-json", "", "not one JSON object"},
		{"not JSON", `MBY2600417A03`, "bad-json", "", "byte 1"},
		{"cut off", good[:100], "bad-json", "", "unexpected EOF"},
		{"two events in one", good + good, "bad-json", "", "not one JSON object"},
		{"a name that is not UTF-8", spoil(good, "nurse.osei", "nurse.\xffosei"), "bad-json", "", "UTF-8"},
		{"a list", "[" + good + "]", "wrong-type", "", "is a list; an object is wanted"},
		{"over 64 KiB", spoil(good, `"data"`, strings.Repeat(" ", events.MaxEvent)+`"data"`), "too-large", "", "at most 65536"},

		{"unknown field", spoil(good, `"by"`, `"byy":"x","by"`), "unknown-field", "byy", "those are id, kind, clinic"},
		{"field in capitals", spoil(good, `"by"`, `"By"`), "unknown-field", "By", "not a field of an event"},
		{"recorder's field", spoil(good, `"by"`, `"seq":1,"by"`), "unknown-field", "seq", "not a field"},
		{"unknown field of the fact", spoil(good, `"what"`, `"lenght_mm":1,"what"`), "unknown-field", "data.lenght_mm", "length_mm"},
		{"unknown field of a lesion", spoil(opened, `"organ"`, `"colour":"red","organ"`), "unknown-field", "data.lesions[0].colour", "from_nipple_mm"},
		{"field twice", spoil(good, `"by"`, `"id":"0199f1c2-7b1e-7c3a-9d55-0a4c6f1e2b77","by"`), "duplicate-field", "id", "twice"},
		{"field of the fact twice", spoil(good, `"what"`, `"lesion":"L2","what"`), "duplicate-field", "data.lesion", "twice"},

		{"no id", spoil(good, `"id":"0199f1c2-7b1e-7c3a-9d55-0a4c6f1e2b77",`, ``), "missing-field", "id", "every event needs it"},
		{"no kind", spoil(good, `"kind":"piece.taken",`, ``), "missing-field", "kind", "every event needs it"},
		{"no clinic", spoil(good, `"clinic":"MBY",`, ``), "missing-field", "clinic", "every event needs it"},
		{"no time", spoil(good, `"at":"2026-03-06T15:42:10+00:00",`, ``), "missing-field", "at", "every event needs it"},
		{"no data", spoil(good, `,"data":{"lesion":"L1","what":"core"}`, ``), "missing-field", "data", "every event needs it"},
		{"by nobody", spoil(good, `nurse.osei`, ` `), "missing-field", "by", "every event needs it"},
		{"at no station", spoil(good, `room-2`, ``), "missing-field", "station", "every event needs it"},
		{"about nothing", spoil(good, `"items":["MBY-26-00417-A03"],`, ``), "missing-field", "items", "about a piece"},
		{"an empty list of items", spoil(good, `"MBY-26-00417-A03"`, ``), "missing-field", "items", "about a piece"},
		{"no lesion", spoil(good, `"lesion":"L1",`, ``), "missing-field", "data.lesion", "piece.taken needs it"},
		{"an empty lesion", spoil(good, `"L1"`, `""`), "missing-field", "data.lesion", "piece.taken needs it"},
		{"no key of a lesion", spoil(opened, `"key":"L1",`, ``), "missing-field", "data.lesions[0].key", "case.opened needs it"},
		{"no lesions", spoil(opened, `{"key":"L1","organ":"thyroid"}`, ``), "missing-field", "data.lesions", "case.opened needs it"},
		{"an empty study", spoil(opened, `"cytology"`, `"cytology",""`), "missing-field", "data.pots[0].studies[1]", "case.opened needs it"},
		{"breast without side", spoil(opened, `"thyroid"`, `"breast"`), "missing-field", "data.lesions[0].side", "organ breast needs a side"},
		{"axillary node without side, amended", about("case.amended", "MBY-26-00417", `{"lesions":[{"key":"L1","organ":"axillary-node"}],"why":"x"}`), "missing-field", "data.lesions[0].side", "needs a side"},
		{"patient amended to nothing", about("case.amended", "MBY-26-00417", `{"patient":"","why":"x"}`), "missing-field", "data.patient", "leave it out"},
		{"priority amended to nothing", about("case.amended", "MBY-26-00417", `{"priority":" ","why":"x"}`), "missing-field", "data.priority", "leave it out"},
		{"an opened bag without a list", about("bag.opened", "MBY-26-00012-Z", `{}`), "missing-field", "data.pots", "bag.opened needs it"},
		{"adequacy left open", about("adequacy.checked", "MBY-26-00417", `{"lesion":"L1"}`), "missing-field", "data.adequate", "adequacy.checked needs it"},
		{"label without copy", about("label.printed", "MBY-26-00417", `{}`), "missing-field", "data.copy", "label.printed needs it"},

		{"a number as station", spoil(good, `"room-2"`, `2`), "wrong-type", "station", "is a number; a text is wanted"},
		{"one item bare", spoil(good, `["MBY-26-00417-A03"]`, `"MBY-26-00417-A03"`), "wrong-type", "items", "a list is wanted"},
		{"a number as item", spoil(good, `"MBY-26-00417-A03"`, `417`), "wrong-type", "items[0]", "a code or name as text"},
		{"data as text", spoil(good, `{"lesion":"L1","what":"core"}`, `"core"`), "wrong-type", "data", "an object is wanted"},
		{"a text as length", spoil(good, `"what"`, `"length_mm":"18","what"`), "wrong-type", "data.length_mm", "is a text; a number is wanted"},
		{"half a pass", spoil(good, `"what"`, `"pass":1.5,"what"`), "wrong-type", "data.pass", "a whole number is wanted"},
		{"null", spoil(good, `"what"`, `"look":null,"what"`), "wrong-type", "data.look", "leave out"},
		{"null in a list", spoil(opened, `"cytology"`, `null`), "wrong-type", "data.pots[0].studies[0]", "leave out"},

		{"unknown kind of a known family", spoil(good, `piece.taken`, `piece.took`), "unknown-kind", "kind", "piece.taken, piece.potted"},
		{"unknown kind", spoil(good, `piece.taken`, `core`), "unknown-kind", "kind", "case.opened"},

		{"id that is no UUID", spoil(good, `0199f1c2-7b1e-7c3a-9d55-0a4c6f1e2b77`, `417`), "bad-id", "id", "a UUID like"},
		{"id in braces", spoil(good, `0199f1c2-7b1e-7c3a-9d55-0a4c6f1e2b77`, `{0199f1c2-7b1e-7c3a-9d55-0a4c6f1e2b77}`), "bad-id", "id", "a UUID like"},
		{"id with a wrong letter", spoil(good, `0199f1c2`, `0199g1c2`), "bad-id", "id", "a UUID like"},
		{"id without hyphens", spoil(good, `0199f1c2-7b1e-7c3a-9d55-0a4c6f1e2b77`, `0199f1c27b1e7c3a9d550a4c6f1e2b77`), "bad-id", "id", "a UUID like"},
		{"struck id", about("event.struck", "MBY-26-00417", `{"event":"last","why":"x"}`), "bad-id", "data.event", "a UUID like"},
		{"result id in a list", about("result.seen", "MBY-26-00417", `{"results":["0199f1c2-7b1e-7c3a-9d55-0a4c6f1e2b77","x"]}`), "bad-id", "data.results[1]", "a UUID like"},

		{"time without offset", spoil(good, `10+00:00`, `10`), "bad-time", "at", "has no offset"},
		{"day alone", spoil(good, `2026-03-06T15:42:10+00:00`, `2026-03-06`), "bad-time", "at", "a time like"},
		{"31 February", spoil(good, `2026-03-06T`, `2026-02-31T`), "bad-time", "at", "a time like"},
		{"before 2000", spoil(good, `2026-03-06T15:42:10+00:00`, `1999-12-31T23:59:59Z`), "bad-time", "at", "clock is not set"},
		{"before 2000 by its offset", spoil(good, `2026-03-06T15:42:10+00:00`, `2000-01-01T00:30:00+01:00`), "bad-time", "at", "before 2000"},
		{"time of the fact without offset", about("clock.paused", "MBY-26-00417", `{"why":"x","until":"2026-03-06T15:42:10"}`), "bad-time", "data.until", "has no offset"},
		{"time of the fact in words", about("clock.paused", "MBY-26-00417", `{"why":"x","until":"tomorrow"}`), "bad-time", "data.until", `is "tomorrow"`},
		{"time of the fact as number", about("clock.paused", "MBY-26-00417", `{"why":"x","until":1772811730}`), "wrong-type", "data.until", "a time as text"},
		{"date that is none", about("pot.filled", "MBY-26-00417-A", `{"medium":"formalin","expires":"01/2027"}`), "bad-date", "data.expires", "2026-03-06"},

		{"word outside the list", spoil(good, `"core"`, `"chunk"`), "bad-word", "data.what", "core, slide, aspirate, rinse"},
		{"word of a list outside the list", about("patient.checked", "MBY-26-00417", `{"identifiers":["name","shoe"]}`), "bad-word", "data.identifiers[1]", "birth-date"},
		{"entered by telepathy", spoil(good, `"by"`, `"entered":"telepathy","by"`), "bad-word", "entered", "scan, typed, paper, message"},

		{"negative length", spoil(good, `"what"`, `"length_mm":-1,"what"`), "bad-number", "data.length_mm", "negative"},
		{"negative count", about("custody.taken", "MBY-26-00417-A", `{"place":"hatch","count":-1}`), "bad-number", "data.count", "negative"},
		{"length beyond all numbers", spoil(good, `"what"`, `"length_mm":1e999,"what"`), "wrong-type", "data.length_mm", "1e999"},

		{"misread code", spoil(good, `MBY-26-00417-A03`, `MBY2600417A031N`), "bad-check-character", "items[0]", "one character may be misread"},
		{"short code", spoil(good, `MBY-26-00417-A03`, `MBY26004`), "bad-length", "items[0]", "a code has 15"},
		{"clinic in small letters", spoil(good, `"MBY"`, `"mby"`), "bad-clinic", "clinic", "clinic key"},
		{"serial with a letter", spoil(good, `MBY-26-00417-A03`, `MBY-26-0O417-A03`), "bad-serial", "items[0]", "digits"},
		{"pot letter I in a name", spoil(good, `MBY-26-00417-A03`, `MBY-26-00417-I03`), "bad-pot-letter", "items[0]", "without I and O"},
		{"pot letter O in a request", spoil(opened, `"pot":"A"`, `"pot":"O"`), "bad-pot-letter", "data.pots[0].pot", "without I and O"},
		{"unused pot of a strange letter", about("procedure.ended", "MBY-26-00417", `{"outcome":"done","unused":["B","!"]}`), "bad-pot-letter", "data.unused[1]", "without I and O"},
		{"piece 00", spoil(good, `MBY-26-00417-A03`, `MBY-26-00417-A00`), "bad-piece-number", "items[0]", "01 to 99"},
		{"question mark in a code", spoil(good, `MBY-26-00417-A03`, `MBY?26-00417-A03`), "bad-character", "items[0]", "neither a letter"},
		{"copy 0", about("label.printed", "MBY-26-00417", `{"copy":0}`), "bad-copy", "data.copy", "1 to 9 and A to Z"},
		{"copy 10", about("label.printed", "MBY-26-00417", `{"copy":10}`), "bad-copy", "data.copy", "1 to 9 and A to Z"},
		{"copy as a list", about("label.printed", "MBY-26-00417", `{"copy":["1"]}`), "bad-copy", "data.copy", "1 to 9 and A to Z"},

		{"other clinic's item", spoil(good, `MBY-26-00417-A03`, `HCX-26-00417-A03`), "wrong-clinic", "items[0]", "belongs to clinic HCX"},
		{"second item of another clinic", spoil(good, `"MBY-26-00417-A03"`, `"MBY-26-00417-A03","HCX-26-00417-A03"`), "wrong-clinic", "items[1]", "belongs to clinic HCX"},
		{"pot for piece", spoil(good, `MBY-26-00417-A03`, `MBY-26-00417-A`), "wrong-thing", "items[0]", "a pot; piece.taken is about a piece"},
		{"case packed as pot", about("bag.packed", "MBY-26-00012-Z", `{"pots":["MBY-26-00417"]}`), "wrong-thing", "data.pots[0]", "name of a pot is wanted"},
		{"unused piece", about("procedure.ended", "MBY-26-00417", `{"outcome":"done","unused":["MBY-26-00417-A01"]}`), "wrong-thing", "data.unused[0]", "a pot is wanted"},
		{"protocol with items", about("protocol.adopted", "MBY-26-00417", `{"sha256":"x","text":"y"}`), "wrong-thing", "items", "no single thing"},
		{"code for a name", about("label.bound", "MBY-26-00417", `{"to":"MBY2600417A031M"}`), "bad-length", "data.to", "a name is wanted"},
		{"item twice", spoil(good, `"MBY-26-00417-A03"`, `"MBY-26-00417-A03","MBY2600417A031M"`), "duplicate-item", "items[1]", "again"},
		{"501 items", spoil(good, `"MBY-26-00417-A03"`, tooMany), "too-large", "items", "more than 500"},

		{"one lesion key twice", spoil(opened, `{"key":"L1","organ":"thyroid"}`, `{"key":"L1","organ":"thyroid"},{"key":"L1","organ":"node"}`), "duplicate-key", "data.lesions[1].key", "second time"},
		{"one pot twice", spoil(opened, `"pots":[`, `"pots":[{"pot":"a","lesion":"L1","medium":"vial","studies":["cytology"]},`), "duplicate-key", "data.pots[1].pot", "second time"},
		{"pot for no lesion", spoil(opened, `"lesion":"L1"`, `"lesion":"L2"`), "unknown-lesion", "data.pots[0].lesion", "none of the lesions"},
		{"one identifier said twice", about("patient.checked", "MBY-26-00417", `{"identifiers":["name","name"]}`), "too-few", "data.identifiers", "two different"},
		{"note of 4001 characters", about("note.added", "MBY-26-00417", `{"text":"`+strings.Repeat("ü", 4001)+`"}`), "too-large", "data.text", "4001 characters"},
		{"hash of another text", spoil(about("protocol.adopted", "MBY-26-00417", `{"sha256":"00","text":"y"}`), `"items":["MBY-26-00417"],`, ``), "bad-hash", "data.sha256", "SHA-256"},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			e, err := events.Decode([]byte(row.line))
			require.Nil(t, e)
			var refusal *events.Refusal
			require.ErrorAs(t, err, &refusal)
			require.Equal(t, row.code, string(refusal.Code), refusal.Text)
			require.Equal(t, row.field, refusal.Field, refusal.Text)
			require.Contains(t, refusal.Text, row.says)
			require.True(t, strings.HasSuffix(refusal.Text, "."), "a sentence ends: %s", refusal.Text)
		})
	}
}

// TestTakenThoughOdd has what looks odd and is well formed all the same: it is recorded, and flagged where it matters.
func TestTakenThoughOdd(t *testing.T) {
	rows := map[string]string{
		"a day ahead of everybody":           spoil(good, `2026-03-06`, `2126-03-06`),
		"UUID of version 4 in capitals":      spoil(good, `0199f1c2-7b1e-7c3a-9d55-0a4c6f1e2b77`, `9B1DEB4D-3B7D-4BAD-9BDD-2B0D7B3DCB6D`),
		"code as a scanner sends it":         spoil(good, `MBY-26-00417-A03`, `]d1mby2600417a031m`),
		"medium nobody knows":                about("pot.filled", "MBY-26-00417-A", `{"medium":"lemonade"}`),
		"organ nobody knows":                 spoil(opened, `thyroid`, `elbow`),
		"priority nobody knows":              spoil(opened, `routine`, `whenever`),
		"an empty bag":                       about("bag.opened", "MBY-26-00012-Z", `{"pots":[]}`),
		"a talk about a pot with no result":  about("case.discussed", "MBY-26-00417", `{"results":[],"concordance":"not-assessed","plan":"repeat-biopsy"}`),
		"pots amended without lesions":       about("case.amended", "MBY-26-00417", `{"pots":[{"pot":"B","lesion":"L9","medium":"vial","studies":["cytology"]}],"why":"x"}`),
		"frost":                              about("custody.taken", "MBY-26-00417-A", `{"place":"van","temperature_c":-12.5}`),
		"copy as number":                     about("label.printed", "MBY-26-00417", `{"copy":1}`),
		"copy as a small letter":             about("label.printed", "MBY-26-00417", `{"copy":"b"}`),
		"a note of 4000 characters":          about("note.added", "MBY-26-00417", `{"text":"`+strings.Repeat("ü", 4000)+`"}`),
		"the word null in a note":            about("note.added", "MBY-26-00417", `{"text":"result is null and void"}`),
		"an escaped member name":             spoil(good, `"station"`, `"sta\u0074ion"`),
		"no items in protocol.adopted":       spoil(about("protocol.adopted", "MBY", `{"sha256":"A1FCE4363854FF888CFF4B8E7875D600C2682390412A8CF79B37D0B11148B0FA","text":"y"}`), `["MBY"]`, `[]`),
		"unused pots by letter and name":     about("procedure.ended", "MBY-26-00417", `{"outcome":"done","unused":["b","mby2600417c"]}`),
		"sub-seconds of a precise clock":     spoil(good, `15:42:10+00:00`, `15:42:10.123456789-03:30`),
		"the first instant of the year 2000": spoil(good, `2026-03-06T15:42:10+00:00`, `2000-01-01T00:00:00Z`),
	}
	for name, line := range rows {
		t.Run(name, func(t *testing.T) {
			e, err := events.Decode([]byte(line))
			require.NoError(t, err)
			again, err := events.Decode(events.Encode(e))
			require.NoError(t, err)
			require.Equal(t, e, again)
		})
	}
}

// TestOneSpelling holds spellings that say the same against each other.
func TestOneSpelling(t *testing.T) {
	first, err := events.Decode([]byte(good))
	require.NoError(t, err)
	for name, line := range map[string]string{
		"Z for +00:00":      spoil(good, `+00:00`, `Z`),
		"id in capitals":    spoil(good, `0199f1c2`, `0199F1C2`),
		"name run together": spoil(good, `MBY-26-00417-A03`, `mby2600417 a03`),
		"scan said":         spoil(good, `"by"`, `"entered":"scan","by"`),
		"empty optional":    spoil(good, `"what"`, `"look":"","pass":0,"length_mm":-0.0,"what"`),
		"number otherwise":  spoil(good, `"what"`, `"gauge":0e3,"what"`),
		"spaced out":        strings.ReplaceAll(good, `,`, " ,\n\t"),
	} {
		t.Run(name, func(t *testing.T) {
			second, err := events.Decode([]byte(line))
			require.NoError(t, err)
			require.True(t, events.Same(first, second))
			require.Equal(t, first, second)
		})
	}
	other, err := events.Decode([]byte(spoil(good, `"L1"`, `"L2"`)))
	require.NoError(t, err)
	require.False(t, events.Same(first, other))
}
