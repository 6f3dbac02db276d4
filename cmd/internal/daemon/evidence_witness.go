package daemon

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"time"

	"github.com/go-json-experiment/json"

	"github.com/pottrail/pottrail/events/evidence"
	"github.com/pottrail/pottrail/store"
)

// witness is the file of all checkpoints that were made, apart from the ledger: one line of JSON each, only ever added
// to. A ledger that an older copy was put in the place of is found out by it, unless it was put back as well.
type witness struct{ path string }

// witnessLine is one line of the file.
type witnessLine struct {
	Position uint64    `json:"position"` // in the ledger
	Made     time.Time `json:"made"`
	Note     string    `json:"note"`
}

// mostWitness is how much of the end of the file is looked at when the daemon starts, in bytes: some ten thousand
// checkpoints, more than a year of them.
const mostWitness = 4 << 20

// witnessed is what the end of the file says.
type witnessed struct {
	kept []evidence.Kept
	last uint64 // the highest position
	bad  int    // lines that cannot be read
	torn bool   // the last line was cut off by a crash
	size int64  // of the file without that line
}

// read reads so many bytes of the end of the file. A file that is not there is an empty one.
func (w *witness) read(most int64) (out witnessed, err error) {
	file, err := os.Open(w.path)
	if errors.Is(err, fs.ErrNotExist) {
		return out, nil
	}
	if err != nil {
		return out, fmt.Errorf("%s: %w", fileWitness, err)
	}
	defer func() { _ = file.Close() }()
	info, err := file.Stat()
	if err != nil {
		return out, fmt.Errorf("%s: %w", fileWitness, err)
	}
	skipped := max(0, info.Size()-most)
	data, err := io.ReadAll(io.NewSectionReader(file, skipped, info.Size()-skipped))
	if err != nil {
		return out, fmt.Errorf("%s: %w", fileWitness, err)
	}
	out.size = skipped + int64(bytes.LastIndexByte(data, '\n')+1)
	out.torn = out.size < skipped+int64(len(data))
	number, at := 0, skipped // at: after the line that is read
	tail := tornTail{from: skipped}
	for line := range bytes.Lines(data[:out.size-skipped]) {
		number++
		at += int64(len(line))
		if skipped > 0 && number == 1 {
			tail.from = at
			continue // the rest of a line
		}
		kept, position, ok := readWitness(line)
		if !ok {
			out.bad++
			tail.lines++
			tail.gap = tail.gap || bytes.IndexByte(line, 0) >= 0
			continue
		}
		tail = tornTail{from: at}
		kept.Where = fmt.Sprintf("%s, position %d", fileWitness, position)
		out.kept, out.last = append(out.kept, kept), max(out.last, position)
	}
	if tail.gap {
		out.size, out.torn, out.bad = tail.from, true, out.bad-tail.lines
	}
	return out, nil
}

// tornTail is what follows the last line that can be read. Where it has a byte that no text has, a power cut left a gap in what
// was written last: the end of it may be on disk, and the beginning not. The ledger has what is lost by that.
type tornTail struct {
	from  int64
	lines int
	gap   bool
}

// readWitness reads one line.
func readWitness(line []byte) (kept evidence.Kept, position uint64, ok bool) {
	var l witnessLine
	if json.Unmarshal(line, &l, json.RejectUnknownMembers(true)) != nil || l.Position == 0 {
		return kept, 0, false
	}
	signed, err := evidence.ReadCheckpoint(l.Note)
	if err != nil {
		return kept, 0, false
	}
	return evidence.Kept{Signed: signed, At: l.Made}, l.Position, true
}

// add puts a checkpoint at the end, on disk when it returns.
func (w *witness) add(list ...store.KeptCheckpoint) error {
	if len(list) == 0 {
		return nil
	}
	var text []byte
	for _, kept := range list {
		line, err := json.Marshal(witnessLine{Position: kept.Position, Made: kept.At, Note: kept.Note})
		if err != nil {
			return fmt.Errorf("%s: %w", fileWitness, err)
		}
		text = append(append(text, line...), '\n')
	}
	file, err := os.OpenFile(w.path, os.O_WRONLY|os.O_CREATE|os.O_APPEND, 0o600)
	if err != nil {
		return fmt.Errorf("%s: %w", fileWitness, err)
	}
	_, err = file.Write(text)
	if err = errors.Join(err, file.Sync(), file.Close()); err != nil {
		return fmt.Errorf("%s: %w", fileWitness, err)
	}
	return nil
}

// mend takes a torn line away and adds what the ledger has and the file has not.
func (w *witness) mend(l *store.Ledger, found witnessed) error {
	if found.torn {
		if err := os.Truncate(w.path, found.size); err != nil {
			return fmt.Errorf("%s: %w", fileWitness, err)
		}
	}
	for from := found.last + 1; ; {
		page, err := l.Checkpoints(from, 0)
		if err != nil || len(page) == 0 {
			return err
		}
		if err := w.add(page...); err != nil {
			return err
		}
		from = page[len(page)-1].Position + 1
	}
}
