package evidence

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"github.com/pottrail/pottrail/tracker"
)

// fileHead is the first line of a proof file.
const fileHead = "pottrail proof v1"

// MostBytes is the longest proof file that is read. Ours.
const MostBytes = 64 << 20

// ErrUnreadable says that a text is no proof file, or one that was damaged so that it cannot be read.
var ErrUnreadable = errors.New("not a proof file")

// Format writes a proof as a file; [Parse] reads it back.
func Format(p *Proof) []byte {
	var b strings.Builder
	fmt.Fprintf(&b, "%s\nabout %s\nkey %s\n", fileHead, p.Name, p.Key)
	block := func(kind, body string) { fmt.Fprintf(&b, "\n%s\n%send\n", kind, body) }
	block("statement", p.Statement)
	for _, c := range p.Checkpoints {
		block("checkpoint", c.Note)
	}
	if p.Older != nil {
		block("older", p.Older.text()+hashLines(p.Older.Path))
	}
	for _, e := range p.Events {
		block("event", fmt.Sprintf("origin %s\nindex %d\nleaf %s\n", e.Origin, e.Index, e.Leaf)+hashLines(e.Path))
	}
	return []byte(b.String())
}

func hashLines(path []Hash) string {
	var b strings.Builder
	for _, h := range path {
		b.WriteString("hash " + h.base64() + "\n")
	}
	return b.String()
}

// Parse reads a proof file. It is strict: a file has one spelling only. The error is [ErrUnreadable] with the line.
// Nothing is checked but the form.
func Parse(data []byte) (*Proof, error) {
	r := &reader{lines: strings.Split(string(data), "\n")}
	p, err := r.proof()
	if err == nil && string(Format(p)) != string(data) {
		err = r.wrong("it is not written as a proof file is")
	}
	if err != nil {
		return nil, err
	}
	return p, nil
}

type reader struct {
	lines []string
	at    int // lines read
}

func (r *reader) wrong(what string) error {
	return fmt.Errorf("%w: line %d: %s", ErrUnreadable, min(max(r.at, 1), len(r.lines)), what)
}

func (r *reader) next() (line string, ok bool) {
	if r.at >= len(r.lines) {
		return "", false
	}
	r.at++
	return r.lines[r.at-1], true
}

// field reads a line of a word and what follows it.
func (r *reader) field(word string) (string, error) {
	line, _ := r.next()
	value, ok := strings.CutPrefix(line, word+" ")
	if !ok {
		return "", r.wrong("a line that begins with " + word + " is missing")
	}
	return value, nil
}

func (r *reader) proof() (*Proof, error) {
	if line, _ := r.next(); line != fileHead {
		return nil, r.wrong("it does not begin with " + strconv.Quote(fileHead))
	}
	name, err := r.field("about")
	if err != nil {
		return nil, err
	}
	p := &Proof{Name: tracker.Name(name), Checkpoints: []Signed{}, Events: []Inclusion{}}
	if p.Key, err = r.field("key"); err != nil {
		return nil, err
	}
	for {
		if line, ok := r.next(); !ok || line != "" {
			return nil, r.wrong("an empty line is missing")
		}
		kind, ok := r.next()
		if !ok {
			return p, nil
		}
		if err := r.block(p, kind); err != nil {
			return nil, err
		}
	}
}

// block reads the lines of one block, up to its end.
func (r *reader) block(p *Proof, kind string) error {
	switch kind {
	case "statement", "checkpoint":
		start := r.at
		text, err := r.untilEnd()
		if err != nil {
			return err
		}
		if kind == "statement" {
			p.Statement = text
			return nil
		}
		c, err := ReadCheckpoint(text)
		if err != nil {
			r.at = start
			return r.wrong("no checkpoint can be read from here")
		}
		p.Checkpoints = append(p.Checkpoints, c)
		return nil
	case "older":
		return r.older(p)
	case "event":
		return r.event(p)
	}
	return r.wrong("a block begins with statement, checkpoint, older or event")
}

func (r *reader) untilEnd() (string, error) {
	start := r.at
	for {
		line, ok := r.next()
		if !ok {
			return "", r.wrong("the end of a block is missing: the file was cut short")
		}
		if line == "end" {
			return strings.Join(r.lines[start:r.at-1], "\n") + "\n", nil
		}
	}
}

// path reads hashes up to the end of a block.
func (r *reader) path() ([]Hash, error) {
	path := []Hash{}
	for {
		line, ok := r.next()
		if ok && line == "end" {
			return path, nil
		}
		text, found := strings.CutPrefix(line, "hash ")
		h, fits := parseHash(text)
		if !ok || !found || !fits {
			return nil, r.wrong("a hash is expected, or the end of the block")
		}
		path = append(path, h)
	}
}

func (r *reader) older(p *Proof) error {
	var text string
	for range 3 {
		line, _ := r.next()
		text += line + "\n"
	}
	c, ok := parseCheckpoint(text)
	if !ok || p.Older != nil {
		return r.wrong("the older state of the record cannot be read")
	}
	p.Older = &Older{Checkpoint: c}
	var err error
	p.Older.Path, err = r.path()
	return err
}

func (r *reader) event(p *Proof) (err error) {
	var e Inclusion
	if e.Origin, err = r.field("origin"); err != nil {
		return err
	}
	index, err := r.field("index")
	if err != nil {
		return err
	}
	if e.Index, err = strconv.ParseUint(index, 10, 63); err != nil {
		return r.wrong("an index is a number")
	}
	if e.Leaf, err = r.field("leaf"); err != nil {
		return err
	}
	if e.Path, err = r.path(); err != nil {
		return err
	}
	if len(p.Events) == MostEvents {
		return r.wrong(fmt.Sprintf("more than %d events", MostEvents))
	}
	p.Events = append(p.Events, e)
	return nil
}
