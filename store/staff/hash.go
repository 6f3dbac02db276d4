package staff

import (
	"context"
	"crypto/subtle"
	"encoding/base64"
	"fmt"
	"io"
	"strconv"
	"strings"

	"golang.org/x/crypto/argon2"
)

// Cost is what hashing a PIN costs with argon2id (RFC 9106).
type Cost struct {
	Memory uint32 // KiB
	Time   uint32 // passes
	Lanes  uint8
}

// DefaultCost is what the OWASP Password Storage Cheat Sheet (2025) asks for first: 19 MiB, two passes, one lane.
var DefaultCost = Cost{Memory: 19456, Time: 2, Lanes: 1}

// Lengths in bytes: RFC 9106, section 3.1, recommends 16 for salts; the hash is as long as a key.
const (
	saltSize = 16
	hashSize = 32
)

// What may cost more than this was not written by us: a damaged entry must not take the machine's memory.
const (
	mostMemory = 256 << 10 // KiB
	mostTime   = 16
	mostLanes  = 4
)

// hashed is a PIN as it is kept.
type hashed struct {
	cost Cost
	salt []byte
	hash []byte
}

// String is the PHC string format, which says how it was made: "$argon2id$v=19$m=19456,t=2,p=1$<salt>$<hash>".
func (h hashed) String() string {
	b64 := base64.RawStdEncoding
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version, h.cost.Memory, h.cost.Time, h.cost.Lanes, b64.EncodeToString(h.salt), b64.EncodeToString(h.hash))
}

// parseHashed is the inverse of String, and takes no other spelling.
func parseHashed(text string) (hashed, error) {
	bad := func(what string) (hashed, error) {
		return hashed{}, fmt.Errorf("%w: a PIN's %s cannot be read", ErrDamaged, what)
	}
	parts := strings.Split(text, "$")
	if len(parts) != 6 || parts[0] != "" || parts[1] != "argon2id" || parts[2] != "v="+strconv.Itoa(argon2.Version) {
		return bad("kind")
	}
	var h hashed
	costs := strings.Split(parts[3], ",")
	if len(costs) != 3 {
		return bad("cost")
	}
	for i, row := range []struct {
		prefix string
		most   uint64
		put    func(uint64)
	}{
		{"m=", mostMemory, func(n uint64) { h.cost.Memory = uint32(n) }},
		{"t=", mostTime, func(n uint64) { h.cost.Time = uint32(n) }},
		{"p=", mostLanes, func(n uint64) { h.cost.Lanes = uint8(n) }},
	} {
		digits, ok := strings.CutPrefix(costs[i], row.prefix)
		n, err := strconv.ParseUint(digits, 10, 32)
		if !ok || err != nil || n == 0 || n > row.most {
			return bad("cost")
		}
		row.put(n)
	}
	var err error
	strict := base64.RawStdEncoding.Strict()
	if h.salt, err = strict.DecodeString(parts[4]); err != nil || len(h.salt) != saltSize {
		return bad("salt")
	}
	if h.hash, err = strict.DecodeString(parts[5]); err != nil || len(h.hash) != hashSize {
		return bad("hash")
	}
	if h.String() != text { // leading zeros and signs
		return bad("spelling")
	}
	return h, nil
}

// What hashing PINs may take of the machine. [HashesAtOnce] hold some 20 MB each; who comes when [MostWaiting] wait is asked
// to try again.
const (
	HashesAtOnce = 2
	MostWaiting  = 32
)

// hashes hashes PINs, a few at once.
type hashes struct {
	cost   Cost
	random io.Reader
	line   chan struct{} // who waits or is at work
	work   chan struct{}
	decoy  hashed // what the PIN of nobody is compared with
	key    argon  // what hashes: tests count how often
}

// argon is the signature of [argon2.IDKey].
type argon func(pin, salt []byte, time, memory uint32, lanes uint8, size uint32) []byte

func newHashes(cost Cost, random io.Reader) *hashes {
	return &hashes{cost: cost, random: random, key: argon2.IDKey, line: make(chan struct{}, HashesAtOnce+MostWaiting), work: make(chan struct{}, HashesAtOnce),
		decoy: hashed{cost: cost, salt: make([]byte, saltSize), hash: make([]byte, hashSize)}}
}

// turn waits for a place to hash in; the caller gives it back.
func (h *hashes) turn(ctx context.Context) (back func(), err error) {
	select {
	case h.line <- struct{}{}:
	default:
		return nil, ErrBusy
	}
	select {
	case h.work <- struct{}{}:
		return func() { <-h.work; <-h.line }, nil
	case <-ctx.Done():
		<-h.line
		return nil, fmt.Errorf("%w: %w", ErrBusy, ctx.Err())
	}
}

// make hashes a new PIN; the caller has a turn.
func (h *hashes) make(pin string) (hashed, error) {
	out := hashed{cost: h.cost, salt: make([]byte, saltSize)}
	if _, err := io.ReadFull(h.random, out.salt); err != nil {
		return hashed{}, fmt.Errorf("salt of a PIN: %w", err)
	}
	out.hash = out.of(h.key, pin)
	return out, nil
}

// fits reports whether a PIN is the one that was hashed; the caller has a turn. It hashes as much for nobody.
func (h *hashes) fits(of *hashed, pin string) bool {
	known := of != nil
	if !known {
		of = &h.decoy
	}
	same := subtle.ConstantTimeCompare(of.of(h.key, pin), of.hash) == 1
	return same && known
}

// of hashes a text as this one was hashed.
func (h hashed) of(key argon, pin string) []byte {
	return key([]byte(tidyPIN(pin)), h.salt, h.cost.Time, h.cost.Memory, h.cost.Lanes, hashSize)
}
