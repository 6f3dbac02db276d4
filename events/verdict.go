package events

import (
	"strconv"

	"github.com/go-json-experiment/json"

	"github.com/pottrail/pottrail/tracker"
)

// Verdict answers one event: recorded, with the flags that it raised and cleared, or not, with the reason.
type Verdict struct {
	ID      string   `json:"id"` // as far as it could be read
	OK      bool     `json:"ok"`
	Seq     uint64   `json:"seq"`     // position in this node's ledger
	Raised  []Brief  `json:"raised"`  // always there when OK, perhaps empty
	Cleared []Brief  `json:"cleared"` // likewise
	Error   *Refusal `json:"error"`   // only when not OK
}

// Brief is a flag as a verdict tells it.
type Brief struct {
	Kind     tracker.FlagKind `json:"kind"`
	Item     tracker.Name     `json:"item"`
	Severity tracker.Severity `json:"severity"`
	Text     string           `json:"text"`
	Remedy   string           `json:"remedy"`
}

// BriefOf shortens a flag.
func BriefOf(f tracker.Flag) Brief {
	return Brief{Kind: f.Kind, Item: f.Item, Severity: f.Severity, Text: f.Text, Remedy: f.Remedy}
}

// Refused is the verdict on an event that was not recorded. A reason that is no [*Refusal] still becomes one.
func Refused(id string, reason error) Verdict {
	return Verdict{ID: id, Error: AsRefusal(reason)}
}

// MarshalJSON writes the members that belong to the case: seq and flags when recorded, the error when not.
func (v Verdict) MarshalJSON() ([]byte, error) { return AppendVerdict(nil, v), nil }

// AppendVerdict is the JSON of a verdict into a buffer, without a newline.
func AppendVerdict(dst []byte, v Verdict) []byte {
	dst = append(dst, `{"id":`...)
	dst = appendText(dst, v.ID)
	if !v.OK {
		dst = append(dst, `,"ok":false,"error":`...)
		reason := v.Error
		if reason == nil {
			reason = &Refusal{}
		}
		dst = append(dst, `{"code":`...)
		dst = appendText(dst, string(reason.Code))
		dst = append(dst, `,"field":`...)
		dst = appendText(dst, reason.Field)
		dst = append(dst, `,"text":`...)
		dst = appendText(dst, reason.Text)
		return append(dst, `}}`...)
	}
	dst = append(dst, `,"ok":true,"seq":`...)
	dst = strconv.AppendUint(dst, v.Seq, 10)
	dst = append(dst, `,"raised":`...)
	dst = appendBriefs(dst, v.Raised)
	dst = append(dst, `,"cleared":`...)
	return append(appendBriefs(dst, v.Cleared), '}')
}

// AppendVerdicts is the JSON array of several verdicts.
func AppendVerdicts(dst []byte, list []Verdict) []byte {
	dst = append(dst, '[')
	for i, v := range list {
		if i > 0 {
			dst = append(dst, ',')
		}
		dst = AppendVerdict(dst, v)
	}
	return append(dst, ']')
}

func appendBriefs(dst []byte, list []Brief) []byte {
	dst = append(dst, '[')
	for i, b := range list {
		if i > 0 {
			dst = append(dst, ',')
		}
		dst = append(dst, `{"kind":`...)
		dst = appendText(dst, string(b.Kind))
		dst = append(dst, `,"item":`...)
		dst = appendText(dst, string(b.Item))
		dst = append(dst, `,"severity":`...)
		dst = appendText(dst, string(b.Severity))
		dst = append(dst, `,"text":`...)
		dst = appendText(dst, b.Text)
		dst = append(dst, `,"remedy":`...)
		dst = appendText(dst, b.Remedy)
		dst = append(dst, '}')
	}
	return append(dst, ']')
}

// Change says what became of a flag.
type Change string

// What can become of a flag.
const (
	ChangeRaised  Change = "raised"
	ChangeChanged Change = "changed"
	ChangeCleared Change = "cleared"
)

// FlagChange is one message of the stream of flags.
type FlagChange struct {
	Change Change       `json:"change"`
	Flag   tracker.Flag `json:"flag"`
}

// EncodeFlagChange is the JSON of a change. A flag always has one, so there is no error.
func EncodeFlagChange(c FlagChange) []byte {
	out, err := json.Marshal(c)
	if err != nil {
		return nil
	}
	return out
}

// DecodeFlagChange is the inverse of [EncodeFlagChange].
func DecodeFlagChange(data []byte) (FlagChange, error) {
	var c FlagChange
	err := json.Unmarshal(data, &c, strict())
	return c, err
}

// AppendAnswer writes the verdicts of a request in the shape of the request: one object, an array, or one a line.
func AppendAnswer(dst []byte, shape Shape, list []Verdict) []byte {
	switch {
	case shape == ShapeArray || len(list) == 0:
		return AppendVerdicts(dst, list)
	case shape == ShapeLines:
		for _, v := range list {
			dst = append(AppendVerdict(dst, v), '\n')
		}
		return dst
	}
	return AppendVerdict(dst, list[0])
}
