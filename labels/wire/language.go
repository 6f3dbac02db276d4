package wire

import (
	"fmt"
	"slices"
	"strings"
)

// Language is a form in which printers take pictures.
type Language string

// The languages. The first four are spoken by label printers, the others by print servers and folders.
const (
	ZPL    Language = "zpl"    // ZPL II
	EPL    Language = "epl"    // EPL2
	TSPL   Language = "tspl"   // TSPL and TSPL2
	ESCPOS Language = "escpos" // ESC/POS, as receipt printers take it
	PWG    Language = "pwg"    // PWG 5102.4 raster
	PNG    Language = "png"
	PDF    Language = "pdf"
)

// Languages lists them all, label printers' first.
func Languages() []Language { return []Language{ZPL, EPL, TSPL, ESCPOS, PWG, PNG, PDF} }

// ParseLanguage reads a language's key.
func ParseLanguage(key string) (Language, error) {
	l := Language(strings.ToLower(strings.TrimSpace(key)))
	if !slices.Contains(Languages(), l) {
		words := make([]string, len(Languages()))
		for i, known := range Languages() {
			words[i] = string(known)
		}
		return "", fmt.Errorf("printer language %q is unknown; use one of %s", key, strings.Join(words, ", "))
	}
	return l, nil
}

// MediaType is what a print server is told that a job is. Label printers' own languages have no registered name there,
// so their jobs are bytes that the printer knows.
func (l Language) MediaType() string {
	switch l {
	case PWG:
		return "image/pwg-raster"
	case PNG:
		return "image/png"
	case PDF:
		return "application/pdf"
	}
	return "application/octet-stream"
}

// Extension is the end of a job's file name, without a dot.
func (l Language) Extension() string { return string(l) }
