package config_test

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"

	"github.com/spf13/pflag"
	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/cmd/internal/config"
)

func env(pairs ...string) func(string) string {
	return func(name string) string {
		for i := 0; i < len(pairs); i += 2 {
			if pairs[i] == name {
				return pairs[i+1]
			}
		}
		return ""
	}
}

func load(t *testing.T, args []string, file string, getenv func(string) string) (config.Options, error) {
	t.Helper()
	o := config.Defaults(getenv)
	flags := pflag.NewFlagSet("serve", pflag.ContinueOnError)
	o.AddFlags(flags, config.PartFolder, config.PartDaemon, config.PartTLS)
	require.NoError(t, flags.Parse(args))
	return o, o.Load(flags, file, getenv, config.PartFolder, config.PartDaemon, config.PartTLS)
}

func write(t *testing.T, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "pottrail.toml")
	require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
	return path
}

func TestOptionsBeforeEnvironmentBeforeFile(t *testing.T) {
	file := write(t, "http = '127.0.0.1:1'\nnats-listen = '127.0.0.1:2'\nlog-format = 'json'\nreserve = 4096\nhttp-hosts = ['desk', 'hatch']\n")
	o, err := load(t, []string{"--http", "127.0.0.1:3"}, file, env("HOME", "/home/x", "POTTRAIL_HTTP", "127.0.0.1:4", "POTTRAIL_NATS_LISTEN", "127.0.0.1:5"))
	require.NoError(t, err)
	require.Equal(t, "127.0.0.1:3", o.Web.Listen, "the option wins")
	require.Equal(t, "127.0.0.1:5", o.NATS.Listen, "the environment wins over the file")
	require.Equal(t, "json", o.Log.Format, "the file wins over the default")
	require.Equal(t, int64(4096), o.Store.Reserve)
	require.Equal(t, []string{"desk", "hatch"}, o.Web.Hosts)
	require.Equal(t, "info", o.Log.Level)
	require.NoError(t, o.Validate())

	var printed bytes.Buffer
	require.NoError(t, o.Print(&printed))
	require.Contains(t, printed.String(), `http = "127.0.0.1:3" # command line`)
	require.Contains(t, printed.String(), `nats-listen = "127.0.0.1:5" # environment POTTRAIL_NATS_LISTEN`)
	require.Contains(t, printed.String(), `log-level = "info" # default`)
}

func TestWhatPrintsItselfReadsBack(t *testing.T) {
	o, err := load(t, []string{"--max-size", "3GiB", "--http-hosts", "a,b"}, "", env("HOME", "/home/x"))
	require.NoError(t, err)
	var printed bytes.Buffer
	require.NoError(t, o.Print(&printed))
	again, err := load(t, nil, write(t, printed.String()), env("HOME", "/home/y"))
	require.NoError(t, err)
	require.Equal(t, o.Store, again.Store)
	require.Equal(t, o.Web, again.Web)
	require.Equal(t, o.Folder, again.Folder)
}

func TestMistakesAreNamed(t *testing.T) {
	for name, c := range map[string]struct {
		file string
		env  []string
		want string
	}{
		"unknown key":        {file: "htpp = 'x'\n", want: `unknown key "htpp"`},
		"not TOML":           {file: "http = \n", want: "line 1"},
		"not bytes":          {file: "reserve = 'lots'\n", want: "key reserve"},
		"a table":            {file: "[http]\nx = 1\n", want: "does not fit"},
		"environment":        {env: []string{"POTTRAIL_RESERVE", "lots"}, want: "environment POTTRAIL_RESERVE"},
		"a file that is not": {env: []string{"POTTRAIL_CONFIG", "nowhere.toml"}, want: "configuration file"},
	} {
		t.Run(name, func(t *testing.T) {
			file := ""
			if c.file != "" {
				file = write(t, c.file)
			}
			_, err := load(t, nil, file, env(append(c.env, "HOME", "/home/x")...))
			require.ErrorContains(t, err, c.want)
		})
	}
}

func TestBeyondLoopbackItMustBeSaidHow(t *testing.T) {
	files := []string{"--tls-certificate", "own.crt", "--tls-key", "own.key"}
	validate := func(args ...string) error {
		o, err := load(t, args, "", env("HOME", "/home/x"))
		require.NoError(t, err)
		return o.Validate()
	}
	for address, here := range map[string]bool{
		"127.0.0.1:4460": true, "localhost:0": true, "[::1]:80": true, "127.8.9.1:1": true, "LocalHost:1": true,
		"0.0.0.0:4460": false, ":4460": false, "192.168.1.5:80": false, "[::]:80": false, "desk:4460": false, "localhost.evil.example:1": false, "[::ffff:10.0.0.1]:80": false,
	} {
		for option, ways := range map[string][]string{"--http": {"--tls-certificate FILE --tls-key FILE", "--tls local", "--http-plain", "127.0.0.1"},
			"--nats-listen": {"--tls-certificate FILE --tls-key FILE", "--tls local", "127.0.0.1"}} {
			err := validate(option, address)
			if here {
				require.NoError(t, err, "%s %s", option, address)
				continue
			}
			require.ErrorIs(t, err, config.ErrBeyondLoopback, "%s %s", option, address)
			for _, way := range ways {
				require.ErrorContains(t, err, way)
			}
			require.NoError(t, validate(append(files, option, address)...), "%s %s", option, address)
			require.NoError(t, validate("--tls", "local", "--http-hosts", "desk", option, address))
			plain := validate("--http-plain", "--http-hosts", "desk", option, address)
			require.Equal(t, option == "--http", plain == nil, "NATS is never plain beyond this machine: %v", plain)
		}
	}
	for says, args := range map[string][]string{
		"go together":                    {"--tls-certificate", "own.crt"},
		"name both files":                {"--tls-key", "own.key"},
		"write --tls local":              {"--tls", "lokal"},
		"use one or the other":           append(files, "--tls", "local"),
		"serves without encryption":      append(files, "--http-plain"),
		"say with --http-hosts":          {"--tls", "local", "--http", "0.0.0.0:4460"},
		"under any other nothing":        {"--http-plain", "--http", ":4460"},
		"write an address and a port":    {"--http", "4460"},
		`--nats-listen "x": write an ad`: {"--nats-listen", "x"},
	} {
		require.ErrorContains(t, validate(args...), says, "%q", args)
	}
	require.NoError(t, validate("--tls", "local"), "for this machine alone")
	require.NoError(t, validate("--http-plain"))
	require.NoError(t, validate("--tls", "local", "--http", "192.168.1.5:443"), "the address is a name")
	require.NoError(t, validate(append(files, "--http", "0.0.0.0:443")...), "the names are those of the certificate")
}

func TestTheCertificateFromEverywhere(t *testing.T) {
	file := write(t, "tls-certificate = 'a.crt'\ntls-key = 'a.key'\nhttp-plain = true\n")
	o, err := load(t, []string{"--tls-key", "b.key"}, file, env("HOME", "/home/x", "POTTRAIL_TLS_CERTIFICATE", "c.crt", "POTTRAIL_HTTP_PLAIN", "no"))
	require.NoError(t, err)
	require.Equal(t, config.TLS{Certificate: "c.crt", Key: "b.key"}, o.TLS)
	for text, plain := range map[string]bool{"true": true, "false": false, "'yes'": true, "'off'": false} {
		o, err := load(t, nil, write(t, "http-plain = "+text+"\n"), env("HOME", "/home/x"))
		require.NoError(t, err)
		require.Equal(t, plain, o.TLS.Plain, text)
	}
	_, err = load(t, nil, write(t, "http-plain = 'perhaps'\n"), env("HOME", "/home/x"))
	require.ErrorContains(t, err, "write yes or no")
	o, err = load(t, []string{"--http-plain", "--http", "desk:80"}, "", env("HOME", "/home/x"))
	require.NoError(t, err)
	require.True(t, o.TLS.Plain)
	require.True(t, o.Beyond())
	require.Equal(t, []string{"desk"}, o.ServedNames())
	var printed bytes.Buffer
	require.NoError(t, o.Print(&printed))
	require.Contains(t, printed.String(), `http-plain = "yes" # command line`)
}

func TestBytes(t *testing.T) {
	for text, want := range map[string]int64{"0": 0, "17": 17, "64MiB": 64 << 20, "2 GiB": 2 << 30, "1KiB": 1024} {
		n, err := config.ParseBytes(text)
		require.NoError(t, err)
		require.Equal(t, want, n)
		back, err := config.ParseBytes(config.FormatBytes(n))
		require.NoError(t, err)
		require.Equal(t, want, back)
	}
	for _, text := range []string{"", "-1", "1MB", "99999999999GiB", "x"} {
		_, err := config.ParseBytes(text)
		require.Error(t, err, text)
	}
}

func TestWhereNightlyBackupsGo(t *testing.T) {
	o, err := load(t, []string{"--data", "/srv/clinic", "--backup-dir", "/mnt/safe", "--backup-at", "05:15", "--backup-daily", "3"}, write(t, "backup-weekly = 0\n"), env("HOME", "/home/x"))
	require.NoError(t, err)
	require.NoError(t, o.Validate())
	require.Equal(t, config.Backup{Dir: "/mnt/safe", At: "05:15", Daily: 3}, o.Backup)
	hour, minute, err := o.Backup.TimeOfDay()
	require.NoError(t, err)
	require.Equal(t, []int{5, 15}, []int{hour, minute})
	for _, test := range []struct{ args, says string }{
		{"--backup-dir=/srv/clinic/backups", "what takes the one takes both"},
		{"--backup-dir=/srv/clinic", "what takes the one takes both"},
		{"--backup-at=half past four", "write a time of day, as in 04:30"},
		{"--backup-daily=0", "keep 1 to 1000 days"},
		{"--backup-weekly=-1", "keep 1 to 1000 days"},
	} {
		o, err := load(t, []string{"--data", "/srv/clinic", test.args}, "", env("HOME", "/home/x"))
		require.NoError(t, err)
		require.ErrorContains(t, o.Validate(), test.says)
	}
	_, err = load(t, nil, write(t, "backup-daily = 'a week'\n"), env("HOME", "/home/x"))
	require.ErrorContains(t, err, "not a whole number")
}
