package people

import (
	"crypto/hkdf"
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"errors"

	"github.com/pottrail/pottrail/store/sealing"
)

// keySize is the length of every key, in bytes.
const keySize = sealing.KeySize

// masterKey is what all others hang on. Each use has a key of its own derived from it (HKDF, RFC 5869), so that nothing
// sealed for one use opens in another.
type masterKey [keySize]byte

// Uses of keys derived from the master key.
const (
	forWrapping = "pottrail people 1: keys of records"
	forIndex    = "pottrail people 1: index"
	forRefused  = "pottrail people 1: refused messages"
	forReads    = "pottrail people 1: reads"
	forProof    = "pottrail people 1: proof of key"
)

func (m masterKey) derive(use string) ([]byte, error) {
	return hkdf.Key(sha256.New, m[:], nil, use, keySize)
}

// seal encrypts text under key; about, which is not stored, must be given again to open it.
func seal(key, text []byte, about string) ([]byte, error) { return sealing.Seal(key, text, about) }

// unseal is the inverse of seal; what does not open is [ErrSealed].
func unseal(key, sealed []byte, about string) ([]byte, error) {
	text, err := sealing.Unseal(key, sealed, about)
	if errors.Is(err, sealing.ErrSealed) {
		return nil, ErrSealed
	}
	return text, err
}

// blind is how the index writes a number down: nobody without the key can tell or try which it is.
func blind(key []byte, field, value string) []byte {
	mac := hmac.New(sha256.New, key)
	mac.Write([]byte(field))
	mac.Write([]byte{0})
	mac.Write([]byte(value))
	return mac.Sum(nil)
}

func randomKey() ([]byte, error) {
	key := make([]byte, keySize)
	_, err := rand.Read(key)
	return key, err
}
