package wiretest

import "encoding/hex"

// readZPL reads "^XA^PW…^LL…", strips of "^FO…,…^GFA,…,…,…,…^FS", "^PQ1^XZ".
func (j *Job) readZPL(s *stream) {
	s.word("^XA^PW")
	right := s.number()
	s.word("^LL")
	bottom := s.number()
	for s.follows("^FO") {
		s.word("^FO")
		left := s.number()
		s.word(",")
		top := s.number()
		s.word("^GFA,")
		total := s.number()
		s.word(",")
		again := s.number()
		s.word(",")
		wide := s.number()
		s.word(",")
		first := j.Bits == nil
		if first {
			j.Left, j.Top, j.Width = left, top, right-left
		}
		s.size(j.Width, bottom-j.Top)
		switch {
		case s.err != nil:
			return
		case total != again || total > 99999:
			s.fail("%d and %d bytes: should be the same, 99999 at most", total, again)
		case left != j.Left || top != j.Top+j.Height:
			s.fail("a strip at %d, %d does not join the one before", left, top)
		case wide != wholeBytes(j.Width) || total == 0 || total%wide != 0:
			s.fail("%d bytes in rows of %d for %d dots", total, wide, j.Width)
		}
		digits := s.picture(2 * total)
		rows := make([]byte, len(digits)/2)
		for _, d := range digits {
			if d >= 'a' {
				s.fail("small digits")
			}
		}
		if _, err := hex.Decode(rows, digits); err != nil {
			s.fail("%v", err)
		}
		if s.err == nil {
			j.take(s, rows, false)
		}
		s.word("^FS")
	}
	s.word("^PQ")
	j.Copies = s.number()
	s.word("^XZ")
	if s.err == nil && j.Top+j.Height != bottom {
		s.fail("%d rows on a label of %d", j.Top+j.Height, bottom)
	}
}

// raw takes a picture's bytes of a language in which 0 is black.
func (j *Job) raw(s *stream, wide, height int) {
	s.size(j.Width, height)
	if s.err == nil && wide != wholeBytes(j.Width) {
		s.fail("%d bytes a row for %d dots", wide, j.Width)
	}
	if rows := s.picture(wide * height); s.err == nil {
		j.take(s, rows, true)
	}
}

// readEPL reads "\nN\nq…\nQ…,…\nGW…,…,…,…,", the bytes, "\nP1\n".
func (j *Job) readEPL(s *stream) {
	s.word("\nN\nq")
	right := s.number()
	s.word("\nQ")
	bottom := s.number()
	s.word(",")
	if gap := s.number(); gap > 240 {
		s.fail("a gap of %d dots", gap)
	}
	s.word("\nGW")
	j.Left = s.number()
	s.word(",")
	j.Top = s.number()
	s.word(",")
	wide := s.number()
	s.word(",")
	height := s.number()
	s.word(",")
	j.Width = right - j.Left
	j.raw(s, wide, height)
	s.word("\nP")
	j.Copies = s.number()
	s.word("\n")
	if s.err == nil && j.Top+j.Height != bottom {
		s.fail("%d rows on a label of %d", j.Top+j.Height, bottom)
	}
}

// readTSPL reads SIZE, GAP, CLS, BITMAP with its bytes, and PRINT.
func (j *Job) readTSPL(s *stream) {
	s.word("SIZE ")
	s.decimal()
	s.word(" mm,")
	s.decimal()
	s.word(" mm\r\nGAP ")
	s.decimal()
	s.word(" mm,0\r\nCLS\r\nBITMAP ")
	j.Left = s.number()
	s.word(",")
	j.Top = s.number()
	s.word(",")
	wide := s.number()
	s.word(",")
	height := s.number()
	s.word(",0,")
	j.Width, j.InBytes = 8*wide, true
	j.raw(s, wide, height)
	s.word("\r\nPRINT ")
	j.Copies = s.number()
	s.word(",1\r\n")
}

// readESCPOS reads ESC @, strips of GS v 0 with their bytes, and GS V 66 0.
func (j *Job) readESCPOS(s *stream) {
	s.word("\x1b@")
	for s.follows("\x1dv") {
		s.word("\x1dv0\x00")
		sizes := s.command(4)
		if s.err != nil {
			return
		}
		wide, high := int(sizes[0])|int(sizes[1])<<8, int(sizes[2])|int(sizes[3])<<8
		s.size(8*wide, high)
		if j.Bits != nil && j.Width != 8*wide {
			s.fail("a strip of another width")
		}
		if high > 2303 {
			s.fail("%d rows at once", high)
		}
		j.Width, j.InBytes = 8*wide, true
		if rows := s.picture(wide * high); s.err == nil {
			j.take(s, rows, false)
		}
	}
	s.word("\x1dV\x42\x00")
	j.Copies = 1
	if s.err == nil && j.Height == 0 {
		s.fail("no picture")
	}
}
