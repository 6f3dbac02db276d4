package store

import (
	"encoding/binary"
	"fmt"
	"hash/crc32"
)

// What is neither a leaf of the tree nor made again from the entries (verdicts that were given, the log of flags, the serials
// that were handed out, a few words about the file) has a checksum behind it, so that a byte that rots is found. It is no
// guard against a person: that is what the tree is for.
//
// A value with a checksum ends in a zero byte and the CRC-32C of bucket, key and value. No value ends so by itself: texts
// hold no zero byte, and numbers and instants are told by their length. Values without are from before there were any.
const sumSize = 1 + 4

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

func sumOf(in bucket, key, value []byte) uint32 {
	sum := crc32.Update(0, castagnoli, []byte{byte(in), byte(len(key))})
	return crc32.Update(crc32.Update(sum, castagnoli, key), castagnoli, value)
}

// withSum puts the checksum behind a value. The value's own bytes may be reused.
func withSum(in bucket, key, value []byte) []byte {
	sum := sumOf(in, key, value)
	return binary.BigEndian.AppendUint32(append(value, 0), sum)
}

// cutSum takes the checksum off a stored value that begins with `head` bytes which are no text; an error says that it does
// not fit.
func cutSum(in bucket, key, raw []byte, head int) ([]byte, error) {
	at := len(raw) - sumSize
	if at < head || raw[at] != 0 {
		return raw, nil // from before there were checksums; a damaged one is no text and cannot be read
	}
	if binary.BigEndian.Uint32(raw[at+1:]) != sumOf(in, key, raw[:at]) {
		return nil, fmt.Errorf("%w: %s: the checksum of a value does not fit", ErrDamaged, in)
	}
	return raw[:at:at], nil
}
