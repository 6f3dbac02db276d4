package protocol

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2/unstable"
)

// kind is what a key has as its value in the file.
type kind string

const (
	kindTable  kind = "a table"
	kindTables kind = "a list of tables"
	kindList   kind = "a list"
	kindWords  kind = "words in quotes"
	kindBool   kind = "true or false"
	kindWhole  kind = "a whole number"
	kindNumber kind = "a number"
	kindTime   kind = "a date or time without quotes"
)

// spot is where a key stands, and what it has.
type spot struct {
	line, column int
	kind         kind
	words        string // of kindWords
}

// outline is the file by dotted key: "studies.receptors.window.min", and "media.formalin.serves[0]" for members of lists.
type outline struct {
	text   []byte
	starts []int // of lines, in bytes
	spots  map[string]spot
	order  []string // keys as they stand
	odd    []*Error // keys that only quotes make possible
}

// newOutline reads where everything stands. It returns a mistake when the text is not TOML.
func newOutline(text []byte) (*outline, *Error) {
	o := &outline{text: text, starts: []int{0}, spots: map[string]spot{}}
	for i, c := range text {
		if c == '\n' {
			o.starts = append(o.starts, i+1)
		}
	}
	var p unstable.Parser
	p.Reset(text)
	table := ""
	for p.NextExpression() {
		node := p.Expression()
		switch node.Kind {
		case unstable.Table:
			table = o.path("", node.Key(), kindTable)
		case unstable.ArrayTable:
			table = o.path("", node.Key(), kindTables)
		case unstable.KeyValue:
			o.keyValue(table, node)
		}
	}
	if err := p.Error(); err != nil {
		return nil, o.syntax(&p, err)
	}
	return o, nil
}

// path notes a dotted key below a table, every part of it; the last part has the kind.
func (o *outline) path(table string, parts unstable.Iterator, last kind) string {
	key := table
	for parts.Next() {
		part := parts.Node()
		if !isBare(part.Data) {
			odd := &Error{Line: 1, Column: 1, Key: key, Text: fmt.Sprintf("%q cannot be a key", part.Data), Hint: keyRule}
			odd.Line, odd.Column = o.position(int(part.Raw.Offset))
			o.odd = append(o.odd, odd)
		}
		key = dotted(key, string(part.Data))
		k := kindTable
		if parts.IsLast() {
			k = last
		}
		o.note(key, part, k, "")
	}
	return key
}

func (o *outline) keyValue(table string, node *unstable.Node) {
	value := node.Value()
	k, words := kindOf(value)
	key := o.path(table, node.Key(), k)
	if s := o.spots[key]; s.kind == k && words != "" {
		s.words = words
		o.spots[key] = s
	}
	switch value.Kind {
	case unstable.InlineTable:
		for members := value.Children(); members.Next(); {
			if members.Node().Kind == unstable.KeyValue {
				o.keyValue(key, members.Node())
			}
		}
	case unstable.Array:
		place := o.spots[key]
		n := 0
		for members := value.Children(); members.Next(); {
			member := members.Node()
			if member.Kind == unstable.Comment {
				continue
			}
			k, words := kindOf(member)
			name := fmt.Sprintf("%s[%d]", key, n)
			o.note(name, member, k, words)
			if s := o.spots[name]; s.line == 0 { // lists and tables in lists have no place of their own
				s.line, s.column = place.line, place.column
				o.spots[name] = s
			}
			n++
		}
	}
}

// note keeps the first place of a key; a key that stands twice is refused when the file is decoded.
func (o *outline) note(key string, node *unstable.Node, k kind, words string) {
	if _, known := o.spots[key]; known {
		return
	}
	s := spot{kind: k, words: words}
	if node.Raw.Length > 0 {
		s.line, s.column = o.position(int(node.Raw.Offset))
	}
	o.spots[key] = s
	o.order = append(o.order, key)
}

// position is the line and the column, in characters, of an offset in bytes.
func (o *outline) position(offset int) (line, column int) {
	i, exact := slices.BinarySearch(o.starts, offset)
	if !exact {
		i--
	}
	return i + 1, utf8.RuneCount(o.text[o.starts[i]:offset]) + 1
}

// nearest is the place of the key or, if it does not stand in the file, of what it would stand in.
func (o *outline) nearest(key string) spot {
	for key != "" {
		if s, ok := o.spots[key]; ok {
			return s
		}
		key = parent(key)
	}
	return spot{line: 1, column: 1}
}

func (o *outline) syntax(p *unstable.Parser, err error) *Error {
	mistake := &Error{Line: 1, Column: 1, Text: err.Error(), Hint: "the file must be TOML 1.0"}
	var at *unstable.ParserError
	if errors.As(err, &at) {
		mistake.Line, mistake.Column = o.position(min(int(p.Range(at.Highlight).Offset), len(o.text)))
	}
	return mistake
}

func kindOf(value *unstable.Node) (k kind, words string) {
	switch value.Kind {
	case unstable.String:
		return kindWords, string(value.Data)
	case unstable.Bool:
		return kindBool, ""
	case unstable.Integer:
		return kindWhole, ""
	case unstable.Float:
		return kindNumber, ""
	case unstable.Array:
		return kindList, ""
	case unstable.InlineTable:
		return kindTable, ""
	}
	return kindTime, ""
}

// isBare reports whether TOML needs no quotes for a key; then a dotted key can be taken apart again.
func isBare(key []byte) bool {
	return len(key) > 0 && !bytes.ContainsFunc(key, func(r rune) bool {
		return (r < 'a' || r > 'z') && (r < 'A' || r > 'Z') && (r < '0' || r > '9') && r != '-' && r != '_'
	})
}

func dotted(table, key string) string {
	if table == "" {
		return key
	}
	return table + "." + key
}

// parent is the key above: "studies.receptors" of "studies.receptors.window", the list of a member of one; "" at the top.
func parent(key string) string {
	if i := strings.LastIndexAny(key, ".["); i >= 0 {
		return key[:i]
	}
	return ""
}
