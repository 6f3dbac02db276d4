package store

import (
	"encoding/binary"
	"encoding/hex"
	"errors"
	"strings"
	"time"

	"github.com/pottrail/pottrail/tracker"
)

// bucket is one bucket of the file.
type bucket uint8

// The buckets. Entries, serials, the log of flags, checkpoints and the verdicts kept in ids are the record itself; all else
// is derived from the entries, and made again by a rebuild.
const (
	inMeta        bucket = iota // format, origin, fold, now, building
	inEntries                   // be64 seq → stored bytes
	inRuns                      // origin 0 be64 oseq → be64 seq, at each place where seq-oseq changes
	inIDs                       // 16 bytes of id → be64 seq, then the verdict if it raised or cleared something
	inTree                      // origin 0 be64 stored hash index → hash
	inThings                    // name 0 → snapshot; name 1 be64 seq → nothing: that event concerns it
	inDue                       // instant name → nothing
	inOpen                      // name → nothing: not settled
	inFlagged                   // severity due priority name → nothing
	inFlagLog                   // be64 position → instant, change
	inProtocols                 // clinic instant id → be64 seq
	inSweeps                    // clinic or "*" → the last name that was judged again
	inSerials                   // clinic year → be32 last serial handed out
	inCheckpoints               // be64 position → instant, signed note; not there in ledgers from before
	bucketCount
)

func (b bucket) String() string {
	switch b {
	case inMeta:
		return "meta"
	case inEntries:
		return "entries"
	case inRuns:
		return "runs"
	case inIDs:
		return "ids"
	case inTree:
		return "tree"
	case inThings:
		return "things"
	case inDue:
		return "due"
	case inOpen:
		return "open"
	case inFlagged:
		return "flagged"
	case inFlagLog:
		return "flaglog"
	case inProtocols:
		return "protocols"
	case inSweeps:
		return "sweeps"
	case inSerials:
		return "serials"
	case inCheckpoints:
		return "checkpoints"
	}
	return "unknown"
}

// optional reports whether a ledger may be without the bucket, since an earlier program made it. It is made when
// something is first put into it; an earlier program leaves it as it is.
func (b bucket) optional() bool { return b == inCheckpoints }

// inOrder reports whether keys come in ascending order for ever, so that leaves can be packed full.
func (b bucket) inOrder() bool {
	return b == inEntries || b == inTree || b == inFlagLog || b == inRuns || b == inCheckpoints
}

const (
	snapshotMark = 0 // after a name in inThings
	concernMark  = 1
)

func be64(n uint64) []byte { return binary.BigEndian.AppendUint64(nil, n) }

func num64(b []byte) uint64 {
	if len(b) < 8 {
		return 0
	}
	return binary.BigEndian.Uint64(b)
}

// instantSize is the length of an instant in a key.
const instantSize = 12

// appendInstant spells an instant so that bytes sort as time does, for every year that a time can have.
func appendInstant(dst []byte, t time.Time) []byte {
	dst = binary.BigEndian.AppendUint64(dst, uint64(t.Unix())^1<<63)
	return binary.BigEndian.AppendUint32(dst, uint32(t.Nanosecond()))
}

// readInstant is the inverse of appendInstant, in UTC.
func readInstant(b []byte) (time.Time, bool) {
	if len(b) < instantSize {
		return time.Time{}, false
	}
	seconds := int64(binary.BigEndian.Uint64(b) ^ 1<<63)
	return time.Unix(seconds, int64(binary.BigEndian.Uint32(b[8:]))).UTC(), true
}

// eventKey is the 16 bytes of an event's id.
type eventKey [16]byte

var errNoUUID = errors.New("not a UUID")

func keyOf(id tracker.EventID) (k eventKey, err error) {
	if len(id) != 36 {
		return k, errNoUUID
	}
	plain := strings.ReplaceAll(string(id), "-", "")
	if n, err := hex.Decode(k[:], []byte(plain[:min(len(plain), 32)])); err != nil || n != 16 || len(plain) != 32 {
		return k, errNoUUID
	}
	return k, nil
}

// idOf is the inverse of keyOf.
func idOf(k eventKey) tracker.EventID {
	h := hex.EncodeToString(k[:])
	return tracker.EventID(h[:8] + "-" + h[8:12] + "-" + h[12:16] + "-" + h[16:20] + "-" + h[20:])
}

func snapshotKey(n tracker.Name) []byte {
	return append(append(make([]byte, 0, len(n)+1), n...), snapshotMark)
}

func concernPrefix(n tracker.Name) []byte {
	return append(append(make([]byte, 0, len(n)+9), n...), concernMark)
}

func concernKey(n tracker.Name, seq uint64) []byte {
	return binary.BigEndian.AppendUint64(concernPrefix(n), seq)
}

// splitThingKey takes a key of inThings apart; ok is false for what does not belong there.
func splitThingKey(key []byte) (n tracker.Name, mark byte, seq uint64, ok bool) {
	for i, c := range key {
		switch {
		case c == snapshotMark && i == len(key)-1:
			return tracker.Name(key[:i]), snapshotMark, 0, true
		case c == concernMark && len(key) == i+9:
			return tracker.Name(key[:i]), concernMark, num64(key[i+1:]), true
		case c <= concernMark:
			return "", 0, 0, false
		}
	}
	return "", 0, 0, false
}

func dueKey(at time.Time, n tracker.Name) []byte {
	return append(appendInstant(make([]byte, 0, instantSize+len(n)), at), n...)
}

func originKey(origin string, n uint64) []byte {
	key := append(make([]byte, 0, len(origin)+9), origin...)
	return binary.BigEndian.AppendUint64(append(key, 0), n)
}

func protocolKey(clinic string, when time.Time, id eventKey) []byte {
	key := append(make([]byte, 0, len(clinic)+instantSize+16), clinic...)
	return append(appendInstant(key, when), id[:]...)
}

func serialKey(clinic string, year int) string {
	return clinic + string([]byte{byte('0' + year/10%10), byte('0' + year%10)})
}
