package say

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"github.com/pottrail/pottrail/tracker/protocol"
)

// Statement is one thing that a protocol says, in plain words.
type Statement struct {
	Key   string `json:"key"` // where it stands in the file, dotted: "studies.receptors.window"
	About string `json:"about"`
	Says  string `json:"says"`
	Basis string `json:"basis,omitzero"` // the line of the file, and the source
}

// Section is one part of a protocol in plain words.
type Section struct {
	Title      string      `json:"title"`
	Note       string      `json:"note,omitzero"` // how to read it, or that there is nothing
	Statements []Statement `json:"statements"`
	Table      *Table      `json:"table,omitzero"`
}

// Table is a table of words; each row has as many cells as there are columns.
type Table struct {
	Columns []string   `json:"columns"`
	Rows    [][]string `json:"rows"`
}

// Protocol says all of a protocol in plain words, part by part: what a nurse reads before it is adopted.
func Protocol(p *protocol.Protocol) []Section {
	w := reader{p}
	return []Section{w.fixation(), w.fresh(), w.media(), w.pieces(), w.looks(), w.targets(), w.places(), w.hours(), w.rounds(), w.runs(),
		w.benches(), w.answers(), w.limits(), w.contacts(), w.staff(), w.calendars()}
}

// reader reads one protocol aloud.
type reader struct{ p *protocol.Protocol }

// state makes a statement with the source of its key.
func (w reader) state(key, about, format string, args ...any) Statement {
	s := Statement{Key: key, About: about, Says: fmt.Sprintf(format, args...)}
	if basis := w.p.Cite(key); !strings.HasSuffix(basis, ": no source given") {
		s.Basis = basis
	}
	return s
}

// empty says that a section holds nothing.
func empty(s Section, note string) Section {
	if len(s.Statements) == 0 {
		s.Note = note
	}
	if s.Statements == nil {
		s.Statements = []Statement{}
	}
	return s
}

// study and the others are the names of keys, for people; a key without one stays as it is.
func (w reader) study(key string) string  { return named(key, w.p.Studies[key].Name) }
func (w reader) medium(key string) string { return named(key, w.p.Media[key].Name) }
func (w reader) organ(key string) string  { return named(key, w.p.Organs[key].Name) }
func (w reader) place(key string) string  { return named(key, w.p.Places[key].Name) }

func named(key, name string) string {
	if name == "" {
		return key
	}
	return name
}

// all are names of keys, put together: "histology, special stains and receptors".
func all(keys []string, name func(string) string) string {
	words := make([]string, len(keys))
	for i, key := range keys {
		words[i] = name(key)
	}
	return and(words)
}

func and(words []string) string {
	switch n := len(words); n {
	case 0:
		return "none"
	case 1:
		return words[0]
	default:
		return strings.Join(words[:n-1], ", ") + " and " + words[n-1]
	}
}

// capital is text as the beginning of a sentence.
func capital(text string) string {
	if text == "" || text[0] < 'a' || text[0] > 'z' {
		return text
	}
	return strings.ToUpper(text[:1]) + text[1:]
}

func sorted[V any](table map[string]V) []string { return slices.Sorted(maps.Keys(table)) }

// plural is a noun for a number of things: "core" and 2 give "2 cores". The noun may be plural already.
func plural(n int, noun string) string {
	if one, ok := strings.CutSuffix(noun, "es"); ok && strings.HasSuffix(one, "ss") {
		noun = one
	} else {
		noun = strings.TrimSuffix(noun, "s")
	}
	switch {
	case n == 1:
		return "1 " + noun
	case strings.HasSuffix(noun, "s"):
		return fmt.Sprintf("%d %ses", n, noun)
	}
	return fmt.Sprintf("%d %ss", n, noun)
}
