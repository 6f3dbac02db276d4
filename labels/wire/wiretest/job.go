package wiretest

import (
	"bytes"
	"fmt"

	"github.com/pottrail/pottrail/labels"
	"github.com/pottrail/pottrail/labels/wire"
)

// Job is what a printer makes of a job's bytes.
type Job struct {
	Width, Height int    // of the picture, dots
	InBytes       bool   // the language says the width in whole bytes: dots beyond the picture are white
	Bits          []byte // rows of whole bytes, 1 is black
	Left, Top     int    // dots from the printer's corner to the picture's
	Copies        int
	// Commands is the whole job without the picture's data. Where data are compressed, numbers that only say how long
	// they are or where something stands after them are left out too.
	Commands []byte
	Data     int // bytes of picture data, of which the job says the number
}

// Read makes a printer's sense of a job. It refuses anything that it does not know, and anything left over.
func Read(l wire.Language, body []byte) (*Job, error) {
	s := &stream{rest: body}
	j := &Job{}
	switch l {
	case wire.ZPL:
		j.readZPL(s)
	case wire.EPL:
		j.readEPL(s)
	case wire.TSPL:
		j.readTSPL(s)
	case wire.ESCPOS:
		j.readESCPOS(s)
	case wire.PWG:
		j.readPWG(s)
	case wire.PNG:
		j.readPNG(s)
	case wire.PDF:
		j.readPDF(s)
	default:
		return nil, fmt.Errorf("no reader for %q", l)
	}
	if s.err == nil && len(s.rest) > 0 {
		s.fail("%d bytes after the end", len(s.rest))
	}
	if s.err != nil {
		return nil, fmt.Errorf("%s job at byte %d: %w", l, len(body)-len(s.rest), s.err)
	}
	j.Commands, j.Data = s.commands, s.data
	return j, nil
}

// Black reports whether a dot is black; outside of the picture it is white.
func (j *Job) Black(x, y int) bool {
	if x < 0 || y < 0 || x >= j.Width || y >= j.Height {
		return false
	}
	return j.Bits[y*wholeBytes(j.Width)+x/8]&(0x80>>(x%8)) != 0
}

// Same says how a job's dots differ from a picture's: nil if they are the same, dot for dot.
func (j *Job) Same(p *labels.Picture) error {
	if j.Height != p.Height || j.Width != p.Width && !(j.InBytes && j.Width == 8*wholeBytes(p.Width)) {
		return fmt.Errorf("%d × %d dots came out of a picture of %d × %d", j.Width, j.Height, p.Width, p.Height)
	}
	if j.Copies != 1 {
		return fmt.Errorf("%d copies", j.Copies)
	}
	wide := wholeBytes(p.Width)
	last := byte(0xff) << (8*wide - p.Width)
	for y := range j.Height {
		ours, theirs := j.Bits[y*wide:(y+1)*wide], p.Bits[y*p.Stride:y*p.Stride+wide]
		if bytes.Equal(ours[:wide-1], theirs[:wide-1]) && ours[wide-1] == theirs[wide-1]&last {
			continue
		}
		for x := range j.Width {
			if j.Black(x, y) != p.Black(x, y) {
				return fmt.Errorf("dot %d, %d of %d × %d: black should be %t", x, y, p.Width, p.Height, p.Black(x, y))
			}
		}
	}
	return nil
}

// take adds rows, given as a language counts: 1 is black, or all turned over. Bits beyond the width must be white.
func (j *Job) take(s *stream, rows []byte, turned bool) {
	wide := wholeBytes(j.Width)
	rows = bytes.Clone(rows)
	for i := range rows {
		if turned {
			rows[i] = ^rows[i]
		}
		if beyond := 8*wide - j.Width; i%wide == wide-1 && rows[i]&(1<<beyond-1) != 0 {
			s.fail("a bit beyond the last dot is black")
			return
		}
	}
	j.Bits = append(j.Bits, rows...)
	j.Height = len(j.Bits) / wide
}

func wholeBytes(dots int) int { return (dots + 7) / 8 }

// mostBytes bounds what is read of a picture, so that a job that lies about its size asks for no memory.
const mostBytes = 64 << 20

// stream reads a job from its start and notes what was command and what data. After the first failure it gives zeros.
type stream struct {
	rest     []byte
	commands []byte
	data     int
	err      error
}

func (s *stream) fail(format string, args ...any) {
	if s.err == nil {
		s.err = fmt.Errorf(format, args...)
	}
}

// next takes so many bytes off.
func (s *stream) next(n int) []byte {
	if s.err == nil && (n < 0 || n > len(s.rest)) {
		s.fail("%d bytes announced, %d there", n, len(s.rest))
	}
	if s.err != nil {
		return nil
	}
	out := s.rest[:n]
	s.rest = s.rest[n:]
	return out
}

// command takes so many bytes of command.
func (s *stream) command(n int) []byte {
	out := s.next(n)
	s.commands = append(s.commands, out...)
	return out
}

// picture takes so many bytes of picture data.
func (s *stream) picture(n int) []byte {
	out := s.next(n)
	s.data += len(out)
	return out
}

// word expects a command to stand next.
func (s *stream) word(w string) {
	if s.err == nil && !bytes.HasPrefix(s.rest, []byte(w)) {
		s.fail("%q should stand here", w)
	}
	s.command(len(w))
}

// follows reports whether a command stands next, and takes nothing.
func (s *stream) follows(w string) bool { return s.err == nil && bytes.HasPrefix(s.rest, []byte(w)) }

// number takes a whole number in decimal digits, without zeros in front.
func (s *stream) number() int {
	n, digits := 0, 0
	for digits < len(s.rest) && digits < 9 && s.rest[digits] >= '0' && s.rest[digits] <= '9' {
		n = n*10 + int(s.rest[digits]-'0')
		digits++
	}
	if digits == 0 || digits > 1 && s.rest[0] == '0' {
		s.fail("a number should stand here")
	}
	s.command(digits)
	return n
}

// decimal takes a number that may have decimals.
func (s *stream) decimal() {
	s.number()
	if s.follows(".") {
		s.word(".")
		digits := 0
		for digits < len(s.rest) && s.rest[digits] >= '0' && s.rest[digits] <= '9' {
			digits++
		}
		if digits == 0 || digits > 2 || s.rest[digits-1] == '0' {
			s.fail("one or two decimals should stand here, without a zero at the end")
		}
		s.command(min(digits, len(s.rest)))
	}
}

// size checks that a picture has dots and is no larger than can be.
func (s *stream) size(width, height int) {
	if s.err == nil && (width < 1 || height < 1 || width > 1<<20 || height > 1<<20 || wholeBytes(width)*height > mostBytes) {
		s.fail("a picture of %d × %d dots", width, height)
	}
}
