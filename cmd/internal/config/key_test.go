package config_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/cmd/internal/config"
)

func TestWhereTheMasterKeyIs(t *testing.T) {
	credentials, bare := t.TempDir(), t.TempDir()
	key := filepath.Join(credentials, "people.key")
	require.NoError(t, os.WriteFile(key, []byte("k"), 0o400))
	file := write(t, "people-key-file = '/etc/pottrail/of-the-file.key'\n")
	for name, row := range map[string]struct {
		args  []string
		file  string
		env   []string
		want  string
		given bool
	}{
		"nothing said: in the data folder":          {want: ""},
		"the option":                                {args: []string{"--people-key-file", "/etc/a.key"}, file: file, env: []string{"POTTRAIL_PEOPLE_KEY_FILE", "/etc/b.key"}, want: "/etc/a.key"},
		"the environment names the file":            {file: file, env: []string{"POTTRAIL_PEOPLE_KEY_FILE", "/etc/b.key"}, want: "/etc/b.key"},
		"the configuration file":                    {file: file, want: "/etc/pottrail/of-the-file.key"},
		"a credential of systemd":                   {env: []string{"CREDENTIALS_DIRECTORY", credentials}, want: key, given: true},
		"a file that was named before a credential": {file: file, env: []string{"CREDENTIALS_DIRECTORY", credentials}, want: "/etc/pottrail/of-the-file.key"},
		"a credential that was named":               {args: []string{"--people-key-file", key}, env: []string{"CREDENTIALS_DIRECTORY", credentials}, want: key, given: true},
		"credentials of other things":               {env: []string{"CREDENTIALS_DIRECTORY", bare}, want: ""},
		"a folder of credentials that is no path":   {env: []string{"CREDENTIALS_DIRECTORY", "credentials"}, want: ""},
	} {
		t.Run(name, func(t *testing.T) {
			o, err := load(t, row.args, row.file, env(append(row.env, "HOME", bare)...))
			require.NoError(t, err)
			require.Equal(t, config.People{KeyFile: row.want, KeyGiven: row.given}, o.People)
		})
	}
}

func TestAKeyItselfIsNoOption(t *testing.T) {
	key := strings.Repeat("5a", 32)
	for name, row := range map[string]struct {
		args []string
		env  []string
	}{
		"in the environment":                    {env: []string{"POTTRAIL_PEOPLE_KEY", key}},
		"in the environment in a file's place":  {env: []string{"POTTRAIL_PEOPLE_KEY_FILE", key}},
		"on the command line in a file's place": {args: []string{"--people-key-file", key}},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := load(t, row.args, "", env(append(row.env, "HOME", t.TempDir())...))
			require.ErrorIs(t, err, config.ErrKeyInEnvironment)
			require.NotContains(t, err.Error(), key)
		})
	}
}
