package config_test

import (
	"testing"

	"github.com/pottrail/pottrail/cmd/internal/config"
)

// FuzzParseBytes holds on any text: what is read is a size, and is spelled so that it reads the same.
func FuzzParseBytes(f *testing.F) {
	for _, seed := range []string{"1048576", "64MiB", "2 GiB", "-1", "9223372036854775807GiB", "KiB"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		n, err := config.ParseBytes(text)
		if err != nil {
			return
		}
		if again, err := config.ParseBytes(config.FormatBytes(n)); n < 0 || err != nil || again != n {
			t.Fatalf("%q reads as %d, whose spelling reads as %d, %v", text, n, again, err)
		}
	})
}

// FuzzLoad holds on any configuration file: it is taken or refused, and nothing panics.
func FuzzLoad(f *testing.F) {
	for _, seed := range []string{"", "data = \"/srv\"\n", "reserve = 5\n[printers.room]\nto = \"tcp:10.0.0.1:9100\"\nlanguage = \"zpl\"\n", "[[printers]]", "http = [1]", "\x00"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		o, err := load(t, nil, write(t, text), env())
		if err == nil {
			_ = o.Warnings()
		}
	})
}
