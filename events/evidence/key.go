package evidence

import (
	"crypto/ed25519"
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"strings"

	"golang.org/x/mod/sumdb/note"
)

// namePrefix stands before a node's origin in checkpoints and keys, so that they are told from other logs'.
const namePrefix = "pottrail/"

// NodeName is what a node's log is called in checkpoints and keys.
func NodeName(origin string) string { return namePrefix + origin }

// originOf is the inverse of NodeName; ok is false for what is no name of ours.
func originOf(name string) (origin string, ok bool) {
	origin, ok = strings.CutPrefix(name, namePrefix)
	return origin, ok && origin != "" && len(origin) <= 64 && strings.Trim(origin, "abcdefghijklmnopqrstuvwxyz0123456789-") == ""
}

// ErrKey says that a key cannot be read.
var ErrKey = errors.New("not a key for evidence")

// Signer signs for one node.
type Signer struct {
	signer note.Signer
	public string
}

// NewKey makes the secret key of a node's log, one line of text. Whoever has it can sign for the node.
func NewKey(random io.Reader, origin string) (secret string, err error) {
	secret, _, err = note.GenerateKey(random, NodeName(origin))
	return secret, err
}

// NewSigner reads a secret key.
func NewSigner(secret string) (*Signer, error) {
	s, err := note.NewSigner(strings.TrimSpace(secret))
	if err != nil {
		return nil, fmt.Errorf("%w: the secret key is malformed", ErrKey) // never with the key
	}
	// PRIVATE+KEY+name+hash+base64 of the algorithm's byte and the seed. The base64 may hold a plus itself.
	parts := strings.SplitN(strings.TrimSpace(secret), "+", 5)
	raw, err := base64.StdEncoding.DecodeString(parts[len(parts)-1])
	if err != nil || len(raw) != 1+ed25519.SeedSize {
		return nil, fmt.Errorf("%w: the secret key is malformed", ErrKey)
	}
	private := ed25519.NewKeyFromSeed(raw[1:])
	public, err := note.NewEd25519VerifierKey(s.Name(), private.Public().(ed25519.PublicKey))
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrKey, err)
	}
	return &Signer{signer: s, public: public}, nil
}

// Key is the public key, one line of text: what is given to whoever will check.
func (s *Signer) Key() string { return s.public }

// Origin is the node that the key is of.
func (s *Signer) Origin() string {
	origin, _ := originOf(s.signer.Name())
	return origin
}

// CheckKey says whether a text is a public key.
func CheckKey(key string) error {
	_, err := note.NewVerifier(key)
	if err != nil {
		return fmt.Errorf("%w: write the whole line that `pottrail checkpoint --key` prints", ErrKey)
	}
	return nil
}

// KeyName is what a public key is called: its node and the number that signatures name it by, without the key itself.
func KeyName(key string) string {
	v, err := note.NewVerifier(key)
	if err != nil {
		return "a key that cannot be read"
	}
	return fmt.Sprintf("%s+%08x", v.Name(), v.KeyHash())
}

// verifiers are those of the keys; all must be readable.
func verifiers(keys []string) (note.Verifiers, error) {
	var list []note.Verifier
	seen := map[string]bool{}
	for _, key := range keys {
		v, err := note.NewVerifier(key)
		if err != nil {
			return nil, CheckKey(key)
		}
		if !seen[key] {
			seen[key] = true
			list = append(list, v)
		}
	}
	return note.VerifierList(list...), nil
}
