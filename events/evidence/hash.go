package evidence

import (
	"encoding/base64"
	"encoding/hex"
	"errors"

	"golang.org/x/mod/sumdb/tlog"
)

// Hash is a hash of the tree: SHA-256, in JSON as 64 hexadecimal digits, in files as base64.
type Hash tlog.Hash

var errHash = errors.New("not a hash")

// MarshalText writes the hash in hexadecimal digits.
func (h Hash) MarshalText() ([]byte, error) { return hex.AppendEncode(nil, h[:]), nil }

// UnmarshalText reads 64 hexadecimal digits.
func (h *Hash) UnmarshalText(text []byte) error {
	raw, err := hex.DecodeString(string(text))
	if err != nil || len(raw) != len(h) {
		return errHash
	}
	copy(h[:], raw)
	return nil
}

// base64 is the hash as checkpoints and files have it.
func (h Hash) base64() string { return base64.StdEncoding.EncodeToString(h[:]) }

// String is the hash in hexadecimal digits.
func (h Hash) String() string { return hex.EncodeToString(h[:]) }

// parseHash reads base64, in its one spelling.
func parseHash(text string) (h Hash, ok bool) {
	raw, err := base64.StdEncoding.Strict().DecodeString(text)
	if err != nil || len(raw) != len(h) {
		return h, false
	}
	copy(h[:], raw)
	return h, h.base64() == text
}

// LeafHash is the hash of one entry's bytes.
func LeafHash(leaf []byte) Hash { return Hash(tlog.RecordHash(leaf)) }

func tlogHashes(list []Hash) []tlog.Hash {
	out := make([]tlog.Hash, len(list))
	for i, h := range list {
		out[i] = tlog.Hash(h)
	}
	return out
}

// Hashes are hashes of the tree as this package has them.
func Hashes(list []tlog.Hash) []Hash {
	out := make([]Hash, len(list))
	for i, h := range list {
		out[i] = Hash(h)
	}
	return out
}
