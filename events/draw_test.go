package events_test

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"reflect"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/tracker"
)

// TestDecodeIsTheInverseOfEncode draws events of every kind in their canonical form.
func TestDecodeIsTheInverseOfEncode(t *testing.T) {
	for _, info := range tracker.Kinds() {
		t.Run(string(info.Kind), rapid.MakeCheck(func(t *rapid.T) {
			e := drawEvent(t, info)
			written := events.Encode(e)
			read, err := events.Decode(written)
			require.NoError(t, err, "%s", written)
			bare := *e
			bare.Record = tracker.Record{}
			require.Equal(t, &bare, read)
			require.Equal(t, string(written), string(events.Encode(read)))

			stored := events.EncodeRecorded(e)
			back, err := events.DecodeRecorded(stored)
			require.NoError(t, err)
			require.Equal(t, e, back)

			line := events.AppendExport(nil, stored, 77)
			exported, err := events.DecodeRecorded(line)
			require.NoError(t, err)
			require.EqualValues(t, 77, exported.Record.Seq)
			exported.Record.Seq = 0
			require.Equal(t, e, exported)
		}))
	}
}

func drawEvent(t *rapid.T, info tracker.KindInfo) *tracker.Event {
	clinic := rapid.SampledFrom([]string{"MBY", "HCX", "Z09"}).Draw(t, "clinic")
	e := &tracker.Event{
		ID: drawID(t), Kind: info.Kind, Clinic: clinic, At: drawTime(t), By: drawText(t, true), Station: drawText(t, true),
		Entered: rapid.SampledFrom([]tracker.Entered{"", tracker.EnteredTyped, tracker.EnteredPaper, tracker.EnteredMessage}).Draw(t, "entered"),
	}
	if info.Things != nil {
		for i := range rapid.IntRange(1, 20).Draw(t, "items") {
			thing := rapid.SampledFrom(info.Things).Draw(t, "thing")
			name := drawName(t, clinic, thing, i+1)
			e.Items = append(e.Items, tracker.Item{Name: name, Copy: rapid.SampledFrom([]tracker.Copy{0, '1', '9', 'A', 'Z'}).Draw(t, "copy")})
		}
	}
	e.Data = info.New()
	drawStruct(t, reflect.ValueOf(e.Data).Elem(), clinic)
	drawTogether(t, e)
	if rapid.Bool().Draw(t, "recorded") {
		e.Record = tracker.Record{Origin: drawText(t, true), OSeq: rapid.Uint64Min(1).Draw(t, "oseq"), Recorded: drawTime(t),
			Skew: time.Duration(rapid.Int64Range(-9e18, 9e18).Draw(t, "skew"))}
	}
	return e
}

// drawTogether mends what the tags cannot say.
func drawTogether(t *rapid.T, e *tracker.Event) {
	request := func(lesions []tracker.Lesion, pots []tracker.PlannedPot) {
		for i := range lesions {
			lesions[i].Key = fmt.Sprintf("L%d", i)
			lesions[i].Side = "left"
		}
		for i := range pots {
			pots[i].Pot = string("ABCDEFGHJKLMNPQRSTUVWXY"[i])
			if len(lesions) > 0 {
				pots[i].Lesion = lesions[i%len(lesions)].Key
			}
		}
	}
	switch f := e.Data.(type) {
	case *tracker.CaseOpened:
		request(f.Lesions, f.Pots)
	case *tracker.CaseAmended:
		for _, text := range []*string{f.Patient, f.Priority} {
			if text != nil {
				*text += "x"
			}
		}
		if len(f.Lesions) == 0 {
			f.Lesions = nil
		}
		request(f.Lesions, f.Pots)
	case *tracker.PatientChecked:
		f.Identifiers = append(f.Identifiers, "name", "birth-date")
	case *tracker.ProcedureEnded:
		for i := range f.Unused {
			f.Unused[i] = rapid.SampledFrom([]string{"A", "Y", string(e.Items[0].Name.Case()) + "-B"}).Draw(t, "unused")
		}
	case *tracker.ProtocolAdopted:
		sum := sha256.Sum256([]byte(f.Text))
		f.SHA256 = hex.EncodeToString(sum[:])
	}
}

// drawStruct fills a fact by its tags. Lists are nil or have something in them.
func drawStruct(t *rapid.T, v reflect.Value, clinic string) {
	for i := range v.NumField() {
		field := v.Type().Field(i)
		must := field.Tag.Get("must") == "present"
		if !must && rapid.Bool().Draw(t, "leave out "+field.Name) {
			continue
		}
		value := v.Field(i)
		switch {
		case value.Kind() == reflect.Pointer:
			value.Set(reflect.New(value.Type().Elem()))
			drawValue(t, value.Elem(), field.Tag, must, clinic)
		case value.Kind() == reflect.Slice:
			n := rapid.IntRange(1, 4).Draw(t, field.Name)
			value.Set(reflect.MakeSlice(value.Type(), n, n))
			for j := range n {
				drawValue(t, value.Index(j), field.Tag, true, clinic)
			}
		default:
			drawValue(t, value, field.Tag, must, clinic)
		}
	}
}

func drawValue(t *rapid.T, v reflect.Value, tag reflect.StructTag, must bool, clinic string) {
	switch value := v.Addr().Interface().(type) {
	case *time.Time:
		*value = drawTime(t)
		return
	case *tracker.Copy:
		*value = rapid.SampledFrom([]tracker.Copy{'1', '9', 'A', 'Z'}).Draw(t, "copy")
		return
	case *tracker.EventID:
		*value = drawID(t)
		return
	case *tracker.Date:
		*value = tracker.Date(drawTime(t).Format(time.DateOnly))
		return
	case *tracker.Name:
		thing := rapid.SampledFrom([]tracker.Thing{tracker.ThingCase, tracker.ThingPot, tracker.ThingPiece}).Draw(t, "thing")
		for _, wanted := range []tracker.Thing{tracker.ThingCase, tracker.ThingPot, tracker.ThingPiece} {
			if tag.Get("thing") == wanted.String() {
				thing = wanted
			}
		}
		*value = drawName(t, clinic, thing, rapid.IntRange(1, tracker.MaxSerial).Draw(t, "serial"))
		return
	}
	switch v.Kind() {
	case reflect.String:
		if words := tag.Get("oneof"); words != "" {
			v.SetString(rapid.SampledFrom(strings.Fields(words)).Draw(t, "word"))
			return
		}
		v.SetString(drawText(t, must))
	case reflect.Int:
		v.SetInt(rapid.Int64Range(0, 1<<40).Draw(t, "count"))
	case reflect.Float64:
		v.SetFloat(rapid.Float64Range(0, 1e300).Draw(t, "measure"))
	case reflect.Bool:
		v.SetBool(rapid.Bool().Draw(t, "yes"))
	case reflect.Struct:
		drawStruct(t, v, clinic)
	}
}

func drawName(t *rapid.T, clinic string, thing tracker.Thing, serial int) tracker.Name {
	year := rapid.IntRange(0, 99).Draw(t, "year")
	if thing == tracker.ThingBag {
		name, err := tracker.BagName(clinic, year, serial)
		require.NoError(t, err)
		return name
	}
	name, err := tracker.CaseName(clinic, year, serial)
	require.NoError(t, err)
	if thing == tracker.ThingCase {
		return name
	}
	name, err = name.WithPot(rapid.SampledFrom([]string{"A", "H", "Y"}).Draw(t, "pot"))
	require.NoError(t, err)
	if thing == tracker.ThingPot {
		return name
	}
	name, err = name.WithPiece(rapid.IntRange(1, tracker.MaxPiece).Draw(t, "piece"))
	require.NoError(t, err)
	return name
}

func drawID(t *rapid.T) tracker.EventID {
	h := hex.EncodeToString(rapid.SliceOfN(rapid.Byte(), 16, 16).Draw(t, "id"))
	return tracker.EventID(h[:8] + "-" + h[8:12] + "-" + h[12:16] + "-" + h[16:20] + "-" + h[20:])
}

// drawTime gives instants from 2000 to 2100 with any offset of whole minutes, in the form that decoding gives.
func drawTime(t *rapid.T) time.Time {
	instant := time.Unix(rapid.Int64Range(946_684_800, 4_102_444_800).Draw(t, "seconds"), rapid.Int64Range(0, 999_999_999).Draw(t, "nanoseconds"))
	minutes := rapid.IntRange(-14*60, 14*60).Draw(t, "offset")
	if minutes == 0 {
		return instant.UTC()
	}
	return instant.In(time.FixedZone("", minutes*60))
}

func drawText(t *rapid.T, must bool) string {
	text := rapid.StringN(0, 20, -1).Draw(t, "text")
	if must && strings.TrimSpace(text) == "" {
		return "x"
	}
	return text
}
