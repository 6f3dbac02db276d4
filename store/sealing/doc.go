// Package sealing encrypts what must not be read by whoever finds a file: XChaCha20-Poly1305 with random nonces, which
// are long enough never to meet. It keeps no key and reads no clock.
package sealing
