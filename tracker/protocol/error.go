package protocol

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"
)

// ErrMistake is wrapped by every [Error]: the text is not a protocol.
var ErrMistake = errors.New("the protocol has a mistake")

// Error is one mistake in a protocol file. [Parse] joins several; errors.As finds the first.
type Error struct {
	Line   int    // from 1; 0 when the mistake has no place
	Column int    // from 1, in characters
	Key    string // dotted, "studies.receptors.window"; "" when the text is not TOML
	Text   string // what is wrong
	Hint   string // what to do; may be empty
}

// Error is the mistake on one line, as people read it.
func (e *Error) Error() string {
	var b strings.Builder
	if e.Line > 0 {
		fmt.Fprintf(&b, "line %d, column %d: ", e.Line, e.Column)
	}
	if e.Key != "" {
		b.WriteString(e.Key + ": ")
	}
	b.WriteString(e.Text)
	if e.Hint != "" {
		b.WriteString("; " + e.Hint)
	}
	return b.String()
}

// Unwrap makes errors.Is(err, ErrMistake) true.
func (e *Error) Unwrap() error { return ErrMistake }

// join puts mistakes in the order of the file; nil when there are none.
func join(mistakes []*Error) error {
	if len(mistakes) == 0 {
		return nil
	}
	slices.SortStableFunc(mistakes, func(a, b *Error) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column))
	})
	all := make([]error, len(mistakes))
	for i, m := range mistakes {
		all[i] = m
	}
	return errors.Join(all...)
}
