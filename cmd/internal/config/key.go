package config

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
)

// ErrKeyInEnvironment says that a key itself was given where only the name of its file may stand.
var ErrKeyInEnvironment = errors.New("a key itself never stands in an option or in the environment: whoever lists processes, " +
	"reads a crash report or is started by this program can see it there. Put it into a file that only the daemon's user can read, and name that file")

const (
	// keyCredential is what the master key is called among the credentials that systemd hands to a service:
	// LoadCredential=people.key:FILE, or LoadCredentialEncrypted.
	keyCredential     = "people.key"
	settingKeyFile    = "people-key-file"
	environmentKey    = "POTTRAIL_PEOPLE_KEY"
	credentialsFolder = "CREDENTIALS_DIRECTORY" // source: systemd.exec(5), "Credentials"
)

var looksLikeKey = regexp.MustCompile(`^\s*[0-9A-Fa-f]{64}\s*$`)

// findKey finds the file with the master key: the one that was named, else the credential of systemd, else none, which means
// the one in the data folder.
func (o *Options) findKey(getenv func(string) string) error {
	if getenv(environmentKey) != "" {
		return fmt.Errorf("environment %s: %w in POTTRAIL_PEOPLE_KEY_FILE", environmentKey, ErrKeyInEnvironment)
	}
	if looksLikeKey.MatchString(o.People.KeyFile) {
		return fmt.Errorf("--%s: %w there", settingKeyFile, ErrKeyInEnvironment)
	}
	given := getenv(credentialsFolder)
	if !filepath.IsAbs(given) {
		given = ""
	}
	switch {
	case o.People.KeyFile != "":
		path, err := filepath.Abs(o.People.KeyFile)
		if err != nil {
			return fmt.Errorf("--%s %s: %w", settingKeyFile, o.People.KeyFile, err)
		}
		o.People.KeyFile = path
		o.People.KeyGiven = given != "" && filepath.Dir(path) == filepath.Clean(given)
	case given != "":
		path := filepath.Join(given, keyCredential)
		if _, err := os.Stat(path); err == nil {
			o.People = People{KeyFile: path, KeyGiven: true}
			o.origin[settingKeyFile] = "credential of systemd"
		}
	}
	return nil
}
