package daemon

import (
	"crypto/rand"
	"encoding/base64"
	"errors"
	"fmt"
	"io/fs"
	"os"

	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"
)

// Credentials is what a NATS client outside needs; it is the content of nats.json.
type Credentials struct {
	URL      string `json:"url"` // "nats://127.0.0.1:4222"; empty while nothing listens
	User     string `json:"user"`
	Password string `json:"password"`
}

// ErrKeyMode says that others can read a file with a secret in it.
var ErrKeyMode = errors.New("others can read it")

// credentials reads nats.json, or makes a user and a password on the first run.
func (f folder) credentials() (Credentials, error) {
	var c Credentials
	info, err := os.Stat(f.path(fileNATS))
	if errors.Is(err, fs.ErrNotExist) {
		var secret [24]byte
		_, _ = rand.Read(secret[:]) // never fails; see its documentation
		return Credentials{User: "trail", Password: base64.RawURLEncoding.EncodeToString(secret[:])}, nil
	}
	if err != nil {
		return c, fmt.Errorf("%s: %w", fileNATS, err)
	}
	if info.Mode().Perm()&0o077 != 0 {
		return c, fmt.Errorf("%s holds a password and %w: chmod 600 it, or remove it to get new ones", f.path(fileNATS), ErrKeyMode)
	}
	data, err := os.ReadFile(f.path(fileNATS))
	if err != nil {
		return c, fmt.Errorf("%s: %w", fileNATS, err)
	}
	if err := json.Unmarshal(data, &c, json.RejectUnknownMembers(true)); err != nil || c.User == "" || c.Password == "" {
		return c, fmt.Errorf("%s cannot be read: remove it to get new credentials: %w", f.path(fileNATS), errors.Join(err))
	}
	return c, nil
}

func (f folder) keepCredentials(c Credentials) error {
	data, err := json.Marshal(c, jsontext.WithIndent("  "))
	if err != nil {
		return fmt.Errorf("%s: %w", fileNATS, err)
	}
	return f.writeWhole(fileNATS, append(data, '\n'))
}

// ReadCredentials reads what a NATS client outside needs from a data folder.
func ReadCredentials(dir string) (Credentials, error) { return folder{dir}.credentials() }
