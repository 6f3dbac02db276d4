package protocol

import (
	"fmt"
	"reflect"
	"slices"
	"strings"
)

// keyRule is how the things of a protocol are named: events carry these words.
const keyRule = "keys are lower-case letters, digits and hyphens, at most 40, the first no hyphen"

func isKey(word string) bool {
	if word == "" || len(word) > 40 || word[0] == '-' {
		return false
	}
	return !strings.ContainsFunc(word, func(r rune) bool {
		return (r < 'a' || r > 'z') && (r < '0' || r > '9') && r != '-'
	})
}

// shape compares the outline with the Go types: keys that the protocol does not know, values of another kind, spans that
// are none. What stands below a mistake is not judged.
func (o *outline) shape() []*Error {
	if len(o.odd) > 0 {
		return o.odd
	}
	var mistakes []*Error
	var below string
	names := map[reflect.Type]map[string]reflect.Type{}
	for _, key := range o.order {
		if below != "" && (strings.HasPrefix(key, below+".") || strings.HasPrefix(key, below+"[")) {
			continue
		}
		text, hint := o.judge(key, names)
		if text == "" {
			continue
		}
		s := o.nearest(key)
		mistakes = append(mistakes, &Error{Line: s.line, Column: s.column, Key: key, Text: text, Hint: hint})
		below = key
	}
	return mistakes
}

// judge says what is wrong with a key. It keeps in names the keys that tables of a type may have.
func (o *outline) judge(key string, names map[reflect.Type]map[string]reflect.Type) (text, hint string) {
	t := reflect.TypeFor[Protocol]()
	list, _, member := strings.Cut(key, "[")
	path := strings.Split(list, ".")
	for i, part := range path {
		switch t.Kind() {
		case reflect.Struct:
			if names[t] == nil {
				names[t] = fieldNames(t)
			}
			f, known := names[t][part]
			if !known {
				return unknownKey(part, names[t])
			}
			t = f
		case reflect.Map:
			if !isKey(part) {
				return fmt.Sprintf("%q cannot be a key", part), keyRule
			}
			t = t.Elem()
		default:
			return fmt.Sprintf("%s is %s and has no keys below it", strings.Join(path[:i], "."), wanted(t)), ""
		}
		if t.Kind() == reflect.Pointer {
			t = t.Elem()
		}
	}
	if member {
		t = t.Elem()
	}
	got := o.spots[key]
	want := wanted(t)
	if got.kind != want && (want != kindNumber || got.kind != kindWhole) {
		if t == reflect.TypeFor[Span]() {
			hint = `write a span as "20m", "1h30m", "14d" or "2wd"`
		}
		return fmt.Sprintf("it is %s and must be %s", got.kind, want), hint
	}
	if t == reflect.TypeFor[Span]() {
		if _, err := ParseSpan(got.words); err != nil {
			return err.Error(), ""
		}
	}
	return "", ""
}

// wanted is the kind of value that a Go type is read from.
func wanted(t reflect.Type) kind {
	if t == reflect.TypeFor[Span]() {
		return kindWords
	}
	switch t.Kind() {
	case reflect.Bool:
		return kindBool
	case reflect.Int:
		return kindWhole
	case reflect.Float64:
		return kindNumber
	case reflect.Slice:
		return kindList
	case reflect.String:
		return kindWords
	}
	return kindTable
}

// fieldNames are the keys that a table may have.
func fieldNames(t reflect.Type) map[string]reflect.Type {
	names := map[string]reflect.Type{}
	for i := range t.NumField() {
		f := t.Field(i)
		if name := f.Tag.Get("toml"); name != "" && name != "-" {
			names[name] = f.Type
		}
	}
	return names
}

func unknownKey(part string, names map[string]reflect.Type) (text, hint string) {
	known := make([]string, 0, len(names))
	for name := range names {
		known = append(known, name)
	}
	return "this key means nothing here", meant(part, known)
}

// meant names the known word that is nearest to one that is not known, or all of them.
func meant(word string, known []string) string {
	known = slices.Sorted(slices.Values(known))
	best, least := "", 3
	for _, k := range known {
		if d := distance(word, k); d < least && 2*d <= len(word) {
			best, least = k, d
		}
	}
	switch {
	case best != "":
		return fmt.Sprintf("did you mean %q?", best)
	case len(known) == 0:
		return "there are none"
	}
	return "known are " + strings.Join(known, ", ")
}

// distance is how many single letters must be put in, left out or changed to make b of a.
func distance(a, b string) int {
	if len(a) > 60 {
		return len(a)
	}
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		corner := row[0]
		row[0] = i + 1
		for j := range len(b) {
			change := corner
			if a[i] != b[j] {
				change++
			}
			corner = row[j+1]
			row[j+1] = min(change, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(b)]
}
