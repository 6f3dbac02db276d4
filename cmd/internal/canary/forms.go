package canary

import (
	"encoding/base64"
	"encoding/hex"
	"fmt"
	"html"
	"net/url"
	"strings"
	"unicode/utf16"

	"golang.org/x/text/unicode/norm"
)

// form is one way to write a word down.
type form struct {
	bytes  string
	name   string
	folded bool // looked for in any case of its ASCII letters
}

// forms lists the ways to write a word down, each once.
func forms(word string) []form {
	var out []form
	seen := map[form]bool{}
	add := func(name, text string, folded bool) {
		if folded {
			text = lower(text)
		}
		key := form{bytes: text, folded: folded}
		if len(text) >= shortest && !seen[key] {
			seen[key] = true
			out = append(out, form{text, name, folded})
		}
	}
	for _, text := range []string{word, strings.ToLower(word), strings.ToUpper(word)} {
		composed := norm.NFC.String(text)
		for _, text := range []string{composed, norm.NFD.String(text)} {
			add("UTF-8", text, true)
			add("UTF-16, little end first", utf16Text(text, false), true)
			add("UTF-16, big end first", utf16Text(text, true), true)
			add("escaped for JSON", escaped(text, `\u%04x`, false), true)
			add("escaped for JSON throughout", escaped(text, `\u%04x`, true), true)
			add("escaped for HTML", escapedRunes(html.EscapeString(text)), true)
			add("in an address", url.QueryEscape(text), true)
			add("in an address", url.PathEscape(text), true)
			add("percent signs throughout", eachByte(text, "%%%02x", ""), true)
			add("quoted-printable", quoted(text), true)
			add("hexadecimal digits", hex.EncodeToString([]byte(text)), true)
			add("hexadecimal digits, spaced", eachByte(text, "%02x", " "), true)
			add("hexadecimal digits, with colons", eachByte(text, "%02x", ":"), true)
			for shift := range 3 {
				add(fmt.Sprintf("base64, shifted by %d", shift), base64At(base64.RawStdEncoding, text, shift), false)
				add(fmt.Sprintf("base64 for addresses, shifted by %d", shift), base64At(base64.RawURLEncoding, text, shift), false)
			}
		}
		if latin, ok := latin1(composed); ok {
			add("Latin-1", latin, true)
		}
	}
	return out
}

// shortest is the shortest form that is looked for, in bytes: shorter ones are met by chance.
const shortest = 5

// lower takes capitals of ASCII away and leaves every other byte.
func lower(text string) string {
	out := []byte(text)
	for i, b := range out {
		if 'A' <= b && b <= 'Z' {
			out[i] = b | 0x20
		}
	}
	return string(out)
}

func utf16Text(text string, big bool) string {
	var out []byte
	for _, unit := range utf16.Encode([]rune(text)) {
		if big {
			out = append(out, byte(unit>>8), byte(unit))
		} else {
			out = append(out, byte(unit), byte(unit>>8))
		}
	}
	return string(out)
}

// escaped writes characters outside ASCII, or all, as escapes of their UTF-16 units.
func escaped(text, format string, all bool) string {
	var out strings.Builder
	for _, r := range text {
		if r < 0x80 && !all {
			out.WriteRune(r)
			continue
		}
		for _, unit := range utf16.Encode([]rune{r}) {
			fmt.Fprintf(&out, format, unit)
		}
	}
	return out.String()
}

// escapedRunes writes characters outside ASCII as numbers, as HTML does.
func escapedRunes(text string) string {
	var out strings.Builder
	for _, r := range text {
		if r < 0x80 {
			out.WriteRune(r)
		} else {
			fmt.Fprintf(&out, "&#%d;", r)
		}
	}
	return out.String()
}

func eachByte(text, format, between string) string {
	parts := make([]string, len(text))
	for i := range len(text) {
		parts[i] = fmt.Sprintf(format, text[i])
	}
	return strings.Join(parts, between)
}

func quoted(text string) string {
	var out strings.Builder
	for i := range len(text) {
		if text[i] < 0x80 {
			out.WriteByte(text[i])
		} else {
			fmt.Fprintf(&out, "=%02X", text[i])
		}
	}
	return out.String()
}

// base64At is what surely stands in base64 of a longer text in which the word begins at a place that leaves shift when
// divided by three.
func base64At(encoding *base64.Encoding, text string, shift int) string {
	whole := encoding.EncodeToString([]byte(strings.Repeat("\x00", shift) + text))
	begin := []int{0, 2, 3}[shift]     // the characters before hold bits of what stands before
	end := (shift + len(text)) * 8 / 6 // the one after holds bits of what follows
	return whole[begin:max(begin, end)]
}

func latin1(text string) (string, bool) {
	var out []byte
	beyond := false
	for _, r := range text {
		if r > 0xff {
			return "", false
		}
		beyond = beyond || r >= 0x80
		out = append(out, byte(r))
	}
	return string(out), beyond
}
