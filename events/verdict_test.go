package events_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/tracker"
)

// TestVerdictsAreSpelledAsTheContractHasThem compares with the two examples of contract page 2.
func TestVerdictsAreSpelledAsTheContractHasThem(t *testing.T) {
	flag := tracker.Flag{Kind: tracker.FlagContainerWrong, Case: sampleCase, Item: "MBY-26-00417-B", Severity: tracker.Now,
		Text: "Pot B holds formalin & flow is asked for.", Remedy: "Use RPMI.", Who: "operator"}
	for _, row := range []struct {
		verdict events.Verdict
		want    string
	}{
		{events.Verdict{ID: "0199f1c2", OK: true, Seq: 18231, Raised: []events.Brief{events.BriefOf(flag)}},
			`{"id":"0199f1c2","ok":true,"seq":18231,"raised":[{"kind":"container-wrong","item":"MBY-26-00417-B","severity":"now","text":"Pot B holds formalin & flow is asked for.","remedy":"Use RPMI."}],"cleared":[]}`},
		{events.Refused("0199f1c3", &events.Refusal{Code: "bad-check-character", Field: "items[0]", Text: "One character."}),
			`{"id":"0199f1c3","ok":false,"error":{"code":"bad-check-character","field":"items[0]","text":"One character."}}`},
		{events.Verdict{}, `{"id":"","ok":false,"error":{"code":"","field":"","text":""}}`},
	} {
		require.Equal(t, row.want, string(events.AppendVerdict(nil, row.verdict)))
		standard, err := json.Marshal([]events.Verdict{row.verdict})
		require.NoError(t, err)
		require.JSONEq(t, "["+row.want+"]", string(standard), "any JSON library writes it alike")
		require.Equal(t, "["+row.want+","+row.want+"]", string(events.AppendVerdicts(nil, []events.Verdict{row.verdict, row.verdict})))
		var back events.Verdict
		require.NoError(t, json.Unmarshal([]byte(row.want), &back))
		require.Equal(t, row.want, string(events.AppendVerdict(nil, back)))
	}
}

// TestReasonsAreNeverLost turns any error into a refusal.
func TestReasonsAreNeverLost(t *testing.T) {
	refusal := &events.Refusal{Code: events.CodeNoSpace, Text: "The disk is full."}
	require.Same(t, refusal, events.AsRefusal(fmt.Errorf("recording: %w", refusal)))
	require.Equal(t, "odd", events.AsRefusal(errors.New("odd")).Text)
	require.Nil(t, events.AsRefusal(nil))
}

// TestFlagChangesTravel holds the spelling of a change of a flag.
func TestFlagChangesTravel(t *testing.T) {
	change := events.FlagChange{Change: events.ChangeRaised, Flag: tracker.Flag{Kind: tracker.FlagPotLost, Case: sampleCase, Item: samplePot,
		Severity: tracker.Now, Since: sampleTime, Due: sampleTime.Add(4 * time.Hour), Text: "Pot A is lost.", Remedy: "Look.", Who: "coordinator", Basis: "pottrail default"}}
	written := events.EncodeFlagChange(change)
	require.Equal(t, `{"change":"raised","flag":{"kind":"pot-lost","case":"MBY-26-00417","item":"MBY-26-00417-A","severity":"now","since":"2026-03-06T15:42:10Z","due":"2026-03-06T19:42:10Z","text":"Pot A is lost.","remedy":"Look.","who":"coordinator","basis":"pottrail default"}}`, string(written))
	back, err := events.DecodeFlagChange(written)
	require.NoError(t, err)
	require.Equal(t, change, back)
	_, err = events.DecodeFlagChange([]byte(`{"change":"raised","colour":"red"}`))
	require.Error(t, err)
}

// TestSubjects holds the subjects of contract page 2.
func TestSubjects(t *testing.T) {
	require.Equal(t, "trail.v1.MBY.record", events.RecordSubject("MBY"))
	require.Equal(t, "trail.v1.MBY.event.piece.potted", events.EventSubject("MBY", tracker.KindPiecePotted))
	require.Equal(t, "trail.v1.MBY.flag.pot-lost", events.FlagSubject("MBY", tracker.FlagPotLost))
	require.Equal(t, "trail.v1.*.ask.flags", events.AskSubject("*", "flags"))
	for subject, clinic := range map[string]string{"trail.v1.MBY.record": "MBY", "trail.v1.HCX.event.pot.lost": "HCX", "trail.v1.MBY": "", "other.v1.MBY.record": "", "": ""} {
		require.Equal(t, clinic, events.SubjectClinic(subject), subject)
	}
}

// TestSkewIsExact writes and reads seconds to the nanosecond.
func TestSkewIsExact(t *testing.T) {
	for text, want := range map[string]time.Duration{
		"0": 0, "1": time.Second, "-0.25": -250 * time.Millisecond, "0.000000001": 1, "7200.5": 2*time.Hour + 500*time.Millisecond,
		"1.5e2": 150 * time.Second, "2E-3": 2 * time.Millisecond, "0.0000000019": 2,
	} {
		line := spoil(good, `"by"`, `"skew":`+text+`,"by"`)
		e, err := events.DecodeRecorded([]byte(line))
		require.NoError(t, err, text)
		require.Equal(t, want, e.Record.Skew, text)
	}
	for _, text := range []string{"1e300", "-1e300", "9223372036.854775808", "99999999999999999999", "9223372037"} {
		_, err := events.DecodeRecorded([]byte(spoil(good, `"by"`, `"skew":`+text+`,"by"`)))
		require.Equal(t, events.CodeBadNumber, events.AsRefusal(err).Code, text)
	}
	for _, field := range []string{"seq", "oseq"} {
		for _, text := range []string{"-1", "1.5", "1e3", "99999999999999999999"} {
			_, err := events.DecodeRecorded([]byte(spoil(good, `"by"`, `"`+field+`":`+text+`,"by"`)))
			require.Equal(t, events.CodeBadNumber, events.AsRefusal(err).Code, text)
		}
	}
}

// TestAnswersHaveTheShapeOfTheirRequests: an object for one, an array for an array, a line for a line.
func TestAnswersHaveTheShapeOfTheirRequests(t *testing.T) {
	one, two := events.Verdict{ID: "1", OK: true, Seq: 1}, events.Verdict{ID: "2", OK: true, Seq: 2}
	const first, second = `{"id":"1","ok":true,"seq":1,"raised":[],"cleared":[]}`, `{"id":"2","ok":true,"seq":2,"raised":[],"cleared":[]}`
	require.Equal(t, first, string(events.AppendAnswer(nil, events.ShapeOne, []events.Verdict{one})))
	require.Equal(t, "["+first+","+second+"]", string(events.AppendAnswer(nil, events.ShapeArray, []events.Verdict{one, two})))
	require.Equal(t, first+"\n"+second+"\n", string(events.AppendAnswer(nil, events.ShapeLines, []events.Verdict{one, two})))
	require.Equal(t, "[]", string(events.AppendAnswer(nil, events.ShapeArray, nil)))
}
