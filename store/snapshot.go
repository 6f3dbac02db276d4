package store

import (
	"bytes"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"time"

	"github.com/go-json-experiment/json"

	"github.com/pottrail/pottrail/tracker"
)

// foldVersion is raised when [tracker.Judge] answers otherwise, or in another shape, for the same events. Snapshots of
// an earlier version are judged again: what is open soon after opening, the rest when it is asked for or touched.
const foldVersion = 3

// snapshotHead is the length of what precedes the judgement: the version of the fold, and the protocol.
const snapshotHead = 2 + 8

// lawMark tells protocols apart: the first 8 bytes of their SHA-256.
type lawMark [8]byte

func lawMarkOf(r *tracker.Rules) (m lawMark) {
	sum, err := hex.DecodeString(r.Protocol().SHA256)
	if err == nil {
		copy(m[:], sum)
	}
	return m
}

// judged is a snapshot in memory.
type judged struct {
	version uint16
	law     lawMark
	tracker.Judgement
	raw []byte // as stored, with its checksum
}

// encodeJudged writes a snapshot as it is stored.
func encodeJudged(law lawMark, j tracker.Judgement) (*judged, error) {
	head := binary.BigEndian.AppendUint16(make([]byte, 0, 1024), foldVersion)
	head = append(head, law[:]...)
	buffer := bytes.NewBuffer(head)
	if err := json.MarshalWrite(buffer, &j); err != nil {
		return nil, fmt.Errorf("snapshot of %s: %w", j.Summary.Name, err)
	}
	raw := withSum(inThings, snapshotKey(j.Summary.Name), buffer.Bytes())
	return &judged{version: foldVersion, law: law, Judgement: j, raw: raw}, nil
}

// decodeJudged reads the snapshot of a thing; the bytes are copied. One of another version counts as none known of: its shape may be
// another, so only its version is set.
func decodeJudged(n tracker.Name, raw []byte) (*judged, error) {
	text, err := cutSum(inThings, snapshotKey(n), raw, snapshotHead)
	if err == nil && len(text) < snapshotHead {
		err = fmt.Errorf("%w: a snapshot of %d bytes", ErrDamaged, len(text))
	}
	if err != nil {
		return nil, err
	}
	j := &judged{version: binary.BigEndian.Uint16(raw), raw: bytes.Clone(raw)}
	copy(j.law[:], raw[2:])
	err = json.Unmarshal(j.raw[snapshotHead:len(text)], &j.Judgement)
	if err != nil && j.version == foldVersion {
		return nil, fmt.Errorf("%w: a snapshot: %w", ErrDamaged, err)
	}
	return j, nil
}

// stale reports whether the judgement may not hold at now by these rules.
func (j *judged) stale(law lawMark, now time.Time) bool {
	wake := j.Findings.Wake
	return j.version != foldVersion || j.law != law || !wake.IsZero() && !wake.After(now)
}

// settled reports whether nothing more is to come of a case or bag by itself: closed, an empty bag or a stranger, with
// no flag and no instant to wait for.
func (j *judged) settled() bool {
	s := &j.Summary
	if len(j.Findings.Flags) > 0 || !j.Findings.Wake.IsZero() {
		return false
	}
	switch {
	case !s.Known:
		return true
	case s.Name.Thing() == tracker.ThingBag:
		return len(s.Inside) == 0
	}
	return s.Closed
}

// flaggedKey files a flagged thing so that keys sort as the chase list does: by its worst flag, then that one's due,
// then priority; nil when nothing is flagged.
func (j *judged) flaggedKey() []byte {
	if len(j.Findings.Flags) == 0 {
		return nil
	}
	worst := &j.Findings.Flags[0] // findings are in order
	key := append(make([]byte, 0, 16+len(j.Summary.Name)), byte(worst.Severity.Rank()))
	if worst.Due.IsZero() {
		key = append(key, bytes.Repeat([]byte{0xff}, instantSize)...)
	} else {
		key = appendInstant(key, worst.Due)
	}
	key = append(key, byte(max(0, min(j.Summary.Rank, 255))))
	return append(key, j.Summary.Name...)
}

// flaggedName is the name in such a key.
func flaggedName(key []byte) tracker.Name {
	const before = 1 + instantSize + 1
	if len(key) <= before {
		return ""
	}
	return tracker.Name(key[before:])
}

// index is what the indexes hold of a thing.
type index struct {
	due     []byte // nil when time alone changes nothing
	flagged []byte
	open    bool
}

func (j *judged) index() index {
	var x index
	if j == nil {
		return x
	}
	if !j.Findings.Wake.IsZero() {
		x.due = dueKey(j.Findings.Wake, j.Summary.Name)
	}
	x.flagged = j.flaggedKey()
	x.open = !j.settled()
	return x
}

func (j *judged) public() Snapshot {
	return Snapshot{Judgement: j.Judgement, Protocol: hex.EncodeToString(j.law[:])}
}
