package certificates

import (
	"crypto"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
)

// Why a certificate or its key cannot be used.
var (
	ErrKeyMode     = errors.New("others can read it")
	ErrCertificate = errors.New("the certificate cannot be used")
)

// longestFile is the most of a file that is read, in bytes: a long chain has some ten thousand.
const longestFile = 1 << 20

// readFile reads a file whole; private ones must be their reader's alone.
func readFile(path string, private bool) ([]byte, error) {
	info, err := os.Stat(path)
	switch {
	case err != nil:
		return nil, fmt.Errorf("%w: %w", ErrCertificate, err)
	case !info.Mode().IsRegular(): // a pipe would be waited for
		return nil, fmt.Errorf("%w: %s is no file", ErrCertificate, path)
	case info.Size() > longestFile:
		return nil, fmt.Errorf("%w: %s is longer than any certificate: %d bytes", ErrCertificate, path, info.Size())
	case private:
		if err := checkMode(path, info.Mode()); err != nil {
			return nil, err
		}
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrCertificate, err)
	}
	return data, nil
}

// checkMode refuses a key that others than its owner can read.
func checkMode(path string, mode fs.FileMode) error {
	if mode.Perm()&0o077 == 0 || runtime.GOOS == "windows" {
		return nil
	}
	return fmt.Errorf("%s holds a private key and %w (its mode is %04o): make it so with chmod 600, and think about who may have read it", path, ErrKeyMode, mode.Perm())
}

// pair reads certificate and key out of PEM, and says in a sentence what does not fit.
func pair(certificate, key []byte, name string) (*tls.Certificate, error) {
	made, err := tls.X509KeyPair(certificate, key)
	if err != nil {
		return nil, fmt.Errorf("%w: %s: %w", ErrCertificate, name, err)
	}
	if made.Leaf == nil {
		if made.Leaf, err = x509.ParseCertificate(made.Certificate[0]); err != nil {
			return nil, fmt.Errorf("%w: %s: %w", ErrCertificate, name, err)
		}
	}
	return &made, nil
}

// both is a certificate and its key as one PEM file, so that they are changed together or not at all.
func both(der []byte, key crypto.Signer) ([]byte, error) {
	secret, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return nil, fmt.Errorf("a new key cannot be written down: %w", err)
	}
	return append(public(der), pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: secret})...), nil
}

// public is a certificate as PEM.
func public(der []byte) []byte {
	return pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der})
}

// writeWhole writes a file so that it is there whole or not at all, also after a power cut.
func writeWhole(path string, data []byte, mode fs.FileMode) error {
	part := path + ".part"
	file, err := os.OpenFile(part, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, mode)
	if err != nil {
		return err
	}
	_, err = file.Write(data)
	if err = errors.Join(err, file.Chmod(mode), file.Sync(), file.Close()); err != nil {
		return err
	}
	if err := os.Rename(part, path); err != nil {
		return err
	}
	return syncFolder(filepath.Dir(path))
}

// syncFolder makes the names in a folder last.
func syncFolder(dir string) error {
	if runtime.GOOS == "windows" { // no folder can be opened for this there
		return nil
	}
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}
