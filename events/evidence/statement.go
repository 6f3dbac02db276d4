package evidence

import (
	"fmt"
	"strconv"
	"strings"

	"golang.org/x/mod/sumdb/note"

	"github.com/pottrail/pottrail/tracker"
)

// Statement says which entries of the record belong to a case or bag, as the node that signs it knows. A tree shows what
// is in it and not what was left out of a file: this does, for whoever takes the node's word as of then.
type Statement struct {
	Name    tracker.Name
	Entries []Listed // in the order in which they are folded
}

// Listed is one entry of a statement.
type Listed struct {
	Origin string
	Index  uint64 // of the leaf, from 0
	Leaf   Hash
}

// statementHead is the first line; no checkpoint begins so, since a name of a log has no space in it.
const statementHead = "pottrail statement of what belongs to"

func (s Statement) text() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n%s\n%d\n", statementHead, s.Name, len(s.Entries))
	for _, e := range s.Entries {
		fmt.Fprintf(&b, "%s %d %s\n", e.Origin, e.Index, e.Leaf.base64())
	}
	return b.String()
}

// Statement signs a statement.
func (s *Signer) Statement(about Statement) (string, error) {
	signed, err := note.Sign(&note.Note{Text: about.text()}, s.signer)
	if err != nil {
		return "", fmt.Errorf("sign statement: %w", err)
	}
	return string(signed), nil
}

// readStatement reads a signed statement without looking at its signatures.
func readStatement(signed string) (s Statement, ok bool) {
	text, err := unsigned(signed)
	if err != nil {
		return s, false
	}
	lines := strings.Split(text, "\n")
	if len(lines) < 4 || lines[0] != statementHead || lines[len(lines)-1] != "" {
		return s, false
	}
	s.Name = tracker.Name(lines[1])
	count, err := strconv.Atoi(lines[2])
	entries := lines[3 : len(lines)-1]
	if err != nil || count != len(entries) {
		return s, false
	}
	for _, line := range entries {
		fields := strings.Split(line, " ")
		if len(fields) != 3 {
			return s, false
		}
		index, err := strconv.ParseUint(fields[1], 10, 63)
		if err != nil {
			return s, false
		}
		leaf, ok := parseHash(fields[2])
		if !ok {
			return s, false
		}
		s.Entries = append(s.Entries, Listed{Origin: fields[0], Index: index, Leaf: leaf})
	}
	return s, s.text() == text
}
