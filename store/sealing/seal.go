package sealing

import (
	"crypto/rand"
	"errors"

	"golang.org/x/crypto/chacha20poly1305"
)

// KeySize is the length of every key, in bytes.
const KeySize = chacha20poly1305.KeySize

// ErrSealed says that what was sealed cannot be opened: it was changed or damaged, or belongs to another key or place.
var ErrSealed = errors.New("what is sealed cannot be opened")

// Seal encrypts text under key; about, which is not stored, must be given again to open it.
func Seal(key, text []byte, about string) ([]byte, error) {
	aead, err := chacha20poly1305.NewX(key)
	if err != nil {
		return nil, err
	}
	nonce := make([]byte, aead.NonceSize(), aead.NonceSize()+len(text)+aead.Overhead())
	if _, err := rand.Read(nonce); err != nil {
		return nil, err
	}
	return aead.Seal(nonce, nonce, text, []byte(about)), nil
}

// Unseal is the inverse of [Seal]; what does not open is [ErrSealed].
func Unseal(key, sealed []byte, about string) ([]byte, error) {
	aead, err := chacha20poly1305.NewX(key)
	if err != nil {
		return nil, err
	}
	if len(sealed) < aead.NonceSize() {
		return nil, ErrSealed
	}
	text, err := aead.Open(nil, sealed[:aead.NonceSize()], sealed[aead.NonceSize():], []byte(about))
	if err != nil {
		return nil, ErrSealed
	}
	return text, nil
}
