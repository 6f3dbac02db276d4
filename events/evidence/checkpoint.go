package evidence

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"golang.org/x/mod/sumdb/note"
)

// Checkpoint is the state of one origin's tree.
type Checkpoint struct {
	Origin string `json:"origin"`
	Size   uint64 `json:"size"` // entries
	Root   Hash   `json:"root"` // RFC 6962, SHA-256
}

// Signed is a checkpoint with the note that says it.
type Signed struct {
	Checkpoint
	Note string `json:"note"`
}

// Errors of reading notes.
var (
	// ErrNote says that a text is no signed note of the kind that was expected.
	ErrNote = errors.New("not a signed checkpoint")
	// ErrUnknownKey says that none of the keys at hand has signed the note.
	ErrUnknownKey = errors.New("signed by another key")
	// ErrSignature says that the note was changed after it was signed, or signed by somebody else under that name.
	ErrSignature = errors.New("the signature does not fit")
)

// text is the checkpoint as C2SP tlog-checkpoint has it: origin, size, root, a line each.
func (c Checkpoint) text() string {
	return NodeName(c.Origin) + "\n" + strconv.FormatUint(c.Size, 10) + "\n" + c.Root.base64() + "\n"
}

// Short is the checkpoint in a form that a person can compare on paper: the number of entries and the first 80 bits of
// the root, in five groups of four digits. 80 bits are enough that nobody makes a second record that shares them.
func (c Checkpoint) Short() string {
	digits := strings.ToUpper(c.Root.String()[:20])
	return fmt.Sprintf("%d %s", c.Size, strings.Join([]string{digits[:4], digits[4:8], digits[8:12], digits[12:16], digits[16:]}, "-"))
}

// parseCheckpoint reads the text of a checkpoint, in its one spelling.
func parseCheckpoint(text string) (c Checkpoint, ok bool) {
	lines := strings.Split(text, "\n")
	if len(lines) != 4 || lines[3] != "" {
		return c, false
	}
	if c.Origin, ok = originOf(lines[0]); !ok {
		return c, false
	}
	size, err := strconv.ParseUint(lines[1], 10, 63)
	if err != nil || strconv.FormatUint(size, 10) != lines[1] {
		return c, false
	}
	c.Size = size
	c.Root, ok = parseHash(lines[2])
	return c, ok
}

// Checkpoint signs a checkpoint. Key names and origins differ where a node signs what it holds of another's log.
func (s *Signer) Checkpoint(c Checkpoint) (Signed, error) {
	signed, err := note.Sign(&note.Note{Text: c.text()}, s.signer)
	if err != nil {
		return Signed{}, fmt.Errorf("sign checkpoint: %w", err)
	}
	return Signed{c, string(signed)}, nil
}

// ReadCheckpoint reads a signed checkpoint without looking at its signatures.
func ReadCheckpoint(signed string) (Signed, error) {
	text, err := unsigned(signed)
	if err != nil {
		return Signed{}, err
	}
	c, ok := parseCheckpoint(text)
	if !ok {
		return Signed{}, ErrNote
	}
	return Signed{c, signed}, nil
}

// OpenCheckpoint reads a checkpoint that one of the keys must have signed: else the error is [ErrNote], [ErrUnknownKey]
// or [ErrSignature].
func OpenCheckpoint(signed string, keys ...string) (Signed, error) {
	c, err := ReadCheckpoint(signed)
	if err != nil {
		return c, err
	}
	return c, checkSignature(signed, keys)
}

// unsigned gives the text of a note, whoever signed it.
func unsigned(signed string) (text string, err error) {
	n, err := note.Open([]byte(signed), nil)
	var unverified *note.UnverifiedNoteError
	if errors.As(err, &unverified) {
		n, err = unverified.Note, nil
	}
	if err != nil {
		return "", ErrNote
	}
	return n.Text, nil
}

// checkSignature is nil when one of the keys signed the note, and none that claims to did not.
func checkSignature(signed string, keys []string) error {
	known, err := verifiers(keys)
	if err != nil {
		return err
	}
	_, err = note.Open([]byte(signed), known)
	var unverified *note.UnverifiedNoteError
	var invalid *note.InvalidSignatureError
	switch {
	case errors.As(err, &unverified):
		return ErrUnknownKey
	case errors.As(err, &invalid):
		return ErrSignature
	case err != nil:
		return ErrNote
	}
	return nil
}

// signersOf lists the keys that a note names, by name and number.
func signersOf(signed string) string {
	n, err := note.Open([]byte(signed), nil)
	var unverified *note.UnverifiedNoteError
	if errors.As(err, &unverified) {
		n = unverified.Note
	}
	if n == nil {
		return "nobody"
	}
	var names []string
	for _, s := range slices.Concat(n.Sigs, n.UnverifiedSigs) {
		names = append(names, fmt.Sprintf("%s+%08x", s.Name, s.Hash))
	}
	return strings.Join(names, ", ")
}
