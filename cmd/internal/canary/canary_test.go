package canary_test

import (
	"bytes"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"html"
	"math/rand/v2"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf16"

	"github.com/stretchr/testify/require"
	"golang.org/x/text/unicode/norm"

	"github.com/pottrail/pottrail/cmd/internal/canary"
)

const plainWord, accented = "Zyxwhistle", "Ñandúbray"

// writers write a text down as programs do.
var writers = map[string]func(text string) []byte{
	"as it is":    func(s string) []byte { return []byte(s) },
	"decomposed":  func(s string) []byte { return norm.NFD.AppendString(nil, s) },
	"JSON":        func(s string) []byte { out, _ := json.Marshal(s); return out },
	"JSON, ASCII": func(s string) []byte { return fmt.Appendf(nil, "%+q", s) },
	"JSON, all escaped": func(s string) []byte {
		var out []byte
		for _, unit := range utf16.Encode([]rune(s)) {
			out = fmt.Appendf(out, `\u%04X`, unit)
		}
		return out
	},
	"HTML":          func(s string) []byte { return []byte(html.EscapeString(s)) },
	"query":         func(s string) []byte { return []byte(url.Values{"q": {s}}.Encode()) },
	"path":          func(s string) []byte { return []byte((&url.URL{Path: "/" + s}).String()) },
	"hex":           func(s string) []byte { return []byte(hex.EncodeToString([]byte(s))) },
	"HEX":           func(s string) []byte { return fmt.Appendf(nil, "%X", s) },
	"hex, spaced":   func(s string) []byte { return fmt.Appendf(nil, "% x", s) },
	"base64":        func(s string) []byte { return []byte(base64.StdEncoding.EncodeToString([]byte(s))) },
	"base64 of URL": func(s string) []byte { return []byte(base64.RawURLEncoding.EncodeToString([]byte(s))) },
	"UTF-16": func(s string) []byte {
		var out []byte
		for _, unit := range utf16.Encode([]rune(s)) {
			out = append(out, byte(unit), byte(unit>>8))
		}
		return out
	},
	"UTF-16, other end": func(s string) []byte {
		var out []byte
		for _, unit := range utf16.Encode([]rune(s)) {
			out = append(out, byte(unit>>8), byte(unit))
		}
		return out
	},
}

// A word is found in every form, in any case, at any place in a longer text that was written down in that form.
func TestAWordIsFoundHoweverItIsWritten(t *testing.T) {
	words := canary.New(plainWord, accented)
	for name, write := range writers {
		for _, word := range []string{plainWord, accented} {
			for _, said := range []string{word, strings.ToLower(word), strings.ToUpper(word)} {
				for before := range 7 {
					text := strings.Repeat("x", before) + said + "y and more"
					hits := words.Search("here", write(text))
					require.Equal(t, []string{word}, canary.Found(hits), "%s, %d before, %s", name, before, said)
				}
			}
		}
	}
	require.NotEmpty(t, words.Search("here", []byte("\xd1and\xfabray")), "Latin-1")
	require.Equal(t, `here, byte 1: "Zyxwhistle" (UTF-8)`, words.Search("here", []byte(" zyxWHISTLE"))[0].String())
}

// What does not hold a word is silent: words like it, and a lot of noise.
func TestNothingIsFoundWhereNothingIs(t *testing.T) {
	words := canary.New(plainWord, accented, "ZQ-9407713")
	noise := make([]byte, 8<<20)
	source := rand.New(rand.NewPCG(1, 2))
	for i := range noise {
		noise[i] = byte(source.Uint32())
	}
	require.Empty(t, words.Search("noise", noise))
	require.Empty(t, words.Search("noise", []byte(base64.StdEncoding.EncodeToString(noise))))
	require.Empty(t, words.Search("like it", []byte("Zyxwhistl Zyxwhistla andubray ZQ-9407714 ZQ 940 7713")))
	require.Empty(t, words.Search("nothing", nil))
}

func TestAFolderIsSearchedWithItsNames(t *testing.T) {
	dir := t.TempDir()
	words := canary.New(plainWord)
	hits, err := words.SearchFolder(dir, nil)
	require.NoError(t, err)
	require.Empty(t, hits)
	require.NoError(t, os.MkdirAll(filepath.Join(dir, "a", "zyxwhistle"), 0o700))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "a", "b"), bytes.Repeat([]byte("-"), 100), 0o600))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "a", "c"), []byte(plainWord), 0o600))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "label.png"), []byte(plainWord), 0o600))
	require.NoError(t, os.Symlink(plainWord, filepath.Join(dir, "link")))
	hits, err = words.SearchFolder(dir, func(path string) bool { return filepath.Ext(path) == ".png" })
	require.NoError(t, err)
	var where []string
	for _, h := range hits {
		where = append(where, h.Where)
	}
	require.Equal(t, []string{filepath.Join("a", "c"), filepath.Join("the name a", "zyxwhistle"), "the link link"}, where)
}
