package store

import (
	"encoding/binary"
	"fmt"
	"time"

	"github.com/pottrail/pottrail/events"
)

func serialValue(key string, n int) []byte {
	return withSum(inSerials, []byte(key), binary.BigEndian.AppendUint32(nil, uint32(n)))
}

// flagLogValue is a row of the log of flags as it is stored; readFlagLog is its inverse.
func flagLogValue(seq uint64, at time.Time, c events.FlagChange) []byte {
	return withSum(inFlagLog, be64(seq), append(appendInstant(nil, at), events.EncodeFlagChange(c)...))
}

func readFlagLog(key, raw []byte) (row FlagChange, err error) {
	row.Seq = num64(key)
	value, err := cutSum(inFlagLog, key, raw, instantSize)
	if err != nil {
		return row, err
	}
	var ok bool
	if row.At, ok = readInstant(value); !ok {
		return row, fmt.Errorf("%w: row %d of the log of flags has no instant", ErrDamaged, row.Seq)
	}
	if row.FlagChange, err = events.DecodeFlagChange(value[instantSize:]); err != nil {
		return row, fmt.Errorf("%w: row %d of the log of flags: %w", ErrDamaged, row.Seq, err)
	}
	return row, nil
}

// idValue is what is kept of an id: its entry, and the verdict if that raised or cleared something. cutID is its inverse.
func idValue(key eventKey, seq uint64, kept []byte) []byte {
	value := append(be64(seq), kept...)
	if len(kept) == 0 { // the entry itself shows whether the position is right
		return value
	}
	return withSum(inIDs, key[:], value)
}

func cutID(key eventKey, raw []byte) (seq uint64, kept []byte, err error) {
	const head = 8
	if len(raw) < head {
		return 0, nil, fmt.Errorf("%w: id %s has no entry", ErrDamaged, idOf(key))
	}
	value, err := cutSum(inIDs, key[:], raw, head)
	if err != nil {
		return 0, nil, fmt.Errorf("id %s: %w", idOf(key), err)
	}
	return num64(value), value[head:], nil
}

// readSerial reads the last serial that was handed out.
func readSerial(key, raw []byte) (int, error) {
	const size = 4
	value, err := cutSum(inSerials, key, raw, size)
	if err == nil && len(value) != size {
		err = fmt.Errorf("%w: %d bytes are no number", ErrDamaged, len(value))
	}
	if err != nil {
		return 0, fmt.Errorf("the serials of %s: %w", key, err)
	}
	return int(binary.BigEndian.Uint32(value)), nil
}
