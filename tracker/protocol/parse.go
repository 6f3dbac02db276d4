package protocol

import (
	"bytes"
	"crypto/sha256"
	_ "embed" // the default protocol
	"encoding/hex"
	"errors"
	"fmt"
	"strings"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2"
)

// MaxBytes is the greatest length of a protocol file: it travels in one event, whose 64 KiB also hold its escapes.
const MaxBytes = 48 << 10

//go:embed default.toml
var defaultText string

// Default is the protocol inside the program, made anew at each call. Its numbers stand in default.toml with their
// sources.
func Default() *Protocol {
	p, err := Parse([]byte(defaultText))
	if err != nil {
		panic("the protocol inside the program has a mistake: " + err.Error()) // a test parses it: not input
	}
	return p
}

// Parse reads a protocol strictly. The file must be complete by itself; nothing is taken over from the default. The
// error joins one [Error] for each mistake found, in the order of the file.
func Parse(text []byte) (*Protocol, error) {
	if len(text) > MaxBytes {
		return nil, join([]*Error{{Text: fmt.Sprintf("the file has %d bytes, at most %d are read", len(text), MaxBytes), Hint: "leave out comments"}})
	}
	text = bytes.Clone(text)
	if !utf8.Valid(text) {
		return nil, join([]*Error{{Line: 1 + bytes.Count(valid(text), []byte("\n")), Column: 1, Text: "the file is not UTF-8", Hint: "save it as UTF-8"}})
	}
	o, mistake := newOutline(text)
	if mistake != nil {
		return nil, join([]*Error{mistake})
	}
	mistakes := o.shape()
	if len(mistakes) > 0 {
		return nil, join(mistakes)
	}
	p := &Protocol{}
	decoder := toml.NewDecoder(bytes.NewReader(text))
	decoder.DisallowUnknownFields()
	if err := decoder.Decode(p); err != nil {
		return nil, join([]*Error{undecoded(err)})
	}
	sum := sha256.Sum256(text)
	p.Text, p.SHA256 = string(text), hex.EncodeToString(sum[:])
	p.lines, p.sources = o.lines()
	p.cites = make(map[string]string, len(p.lines))
	for key := range p.lines { // rules cite at every check: said once
		p.cites[key] = p.cite(key)
	}
	p.indexResults()
	if mistakes := check(p, o); len(mistakes) > 0 {
		return nil, join(mistakes)
	}
	return p, nil
}

// valid is the beginning of the text that is UTF-8.
func valid(text []byte) []byte {
	n := 0
	for n < len(text) {
		r, size := utf8.DecodeRune(text[n:])
		if r == utf8.RuneError && size == 1 {
			break
		}
		n += size
	}
	return text[:n]
}

// undecoded is what the TOML library found: a key twice, a number too great.
func undecoded(err error) *Error {
	mistake := &Error{Text: err.Error()}
	var several *toml.StrictMissingError
	var one *toml.DecodeError
	switch {
	case errors.As(err, &several) && len(several.Errors) > 0:
		one = &several.Errors[0]
	case !errors.As(err, &one):
		return mistake
	}
	mistake.Line, mistake.Column = one.Position()
	mistake.Key = strings.Join(one.Key(), ".")
	mistake.Text = strings.TrimPrefix(one.Error(), "toml: ")
	return mistake
}

// lines gives the line of every key and the source beside it.
func (o *outline) lines() (lines map[string]int, sources map[string]string) {
	lines, sources = make(map[string]int, len(o.spots)), map[string]string{}
	for key, s := range o.spots {
		lines[key] = s.line
		if table, ok := strings.CutSuffix(key, ".source"); ok && s.kind == kindWords {
			sources[table] = s.words
		}
	}
	return lines, sources
}

// Line is where a dotted key stands in the file, "studies.receptors.window", or 0.
func (p *Protocol) Line(key string) int { return p.lines[key] }

// Cite is the basis of what a rule says: the line of the key, or of what it would stand in, and the nearest source at or
// above it: "protocol line 41: ASCO/CAP 2011 …".
func (p *Protocol) Cite(key string) string {
	if said, ok := p.cites[key]; ok {
		return said
	}
	return p.cite(key)
}

func (p *Protocol) cite(key string) string {
	line, source := 0, ""
	for ; key != "" && source == ""; key = parent(key) {
		if line == 0 {
			line = p.lines[key]
		}
		source = p.sources[key]
	}
	if source == "" {
		source = "no source given"
	}
	if line == 0 {
		return "protocol: " + source
	}
	return fmt.Sprintf("protocol line %d: %s", line, source)
}
