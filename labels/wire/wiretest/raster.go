package wiretest

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/png"
)

// readPWG reads one page of PWG raster: "RaS2", 1796 bytes of header, packed lines.
func (j *Job) readPWG(s *stream) {
	s.word("RaS2")
	header := s.command(1796)
	if s.err != nil {
		return
	}
	number := func(at int) int { return int(binary.BigEndian.Uint32(header[at:])) }
	j.Copies, j.Width = number(340), number(372)
	height := number(376)
	s.size(j.Width, height)
	wide := number(392)
	switch {
	case s.err != nil:
		return
	case !bytes.HasPrefix(header, []byte("PwgRaster\x00")):
		s.fail("the page header has no name")
	case number(384) != 1 || number(388) != 1 || number(396) != 0 || number(400) != 3 || number(420) != 1:
		s.fail("not one bit of black a dot")
	case wide != wholeBytes(j.Width):
		s.fail("%d bytes a line for %d dots", wide, j.Width)
	case number(452) != 1:
		s.fail("%d pages", number(452))
	}
	for j.Height < height && s.err == nil {
		repeat := s.picture(1)
		if s.err != nil {
			return
		}
		line := unpack(s, wide)
		if same := int(repeat[0]) + 1; j.Height+same <= height {
			for range same {
				j.take(s, line, false)
			}
		} else {
			s.fail("%d equal lines go beyond the page", same)
		}
	}
}

// unpack reads the packets of one line, which must end where a packet ends.
func unpack(s *stream, wide int) []byte {
	var line []byte
	for len(line) < wide && s.err == nil {
		count := s.picture(1)
		if s.err != nil {
			break
		}
		switch n := int(count[0]); {
		case n < 128:
			line = append(line, bytes.Repeat(s.picture(1), n+1)...)
		case n > 128:
			line = append(line, s.picture(257-n)...)
		default:
			s.fail("a packet of count 128")
		}
	}
	if s.err == nil && len(line) != wide {
		s.fail("a line of %d bytes, %d announced", len(line), wide)
	}
	if s.err != nil {
		return make([]byte, wide)
	}
	return line
}

const signature = "\x89PNG\r\n\x1a\n"

// readPNG reads the chunks IHDR, pHYs, PLTE, IDAT and IEND, and no other.
func (j *Job) readPNG(s *stream) {
	whole := s.rest
	s.word(signature)
	for _, kind := range []string{"IHDR", "pHYs", "PLTE", "IDAT", "IEND"} {
		for first := true; s.err == nil; first = false {
			if !first && (kind != "IDAT" || len(s.rest) < 8 || string(s.rest[4:8]) != kind) {
				break
			}
			length := s.next(4)
			if s.err != nil {
				return
			}
			n := int(binary.BigEndian.Uint32(length))
			s.word(kind)
			if kind == "IDAT" {
				s.picture(n)
				s.next(4)
			} else {
				s.commands = append(s.commands, length...)
				s.command(n + 4)
			}
		}
	}
	if s.err != nil {
		return
	}
	j.Copies = 1
	j.dotsOf(s, whole[:len(whole)-len(s.rest)])
}

// dotsOf decodes a PNG of one bit a dot.
func (j *Job) dotsOf(s *stream, file []byte) {
	config, err := png.DecodeConfig(bytes.NewReader(file))
	if err != nil {
		s.fail("%v", err)
		return
	}
	if s.size(config.Width, config.Height); s.err != nil {
		return
	}
	decoded, err := png.Decode(bytes.NewReader(file))
	if err != nil {
		s.fail("%v", err)
		return
	}
	img, ok := decoded.(*image.Paletted)
	if !ok || len(img.Palette) != 2 || file[24] != 1 {
		s.fail("not a picture of one bit a dot")
		return
	}
	black := uint8(0)
	if r, _, _, _ := img.Palette[1].RGBA(); r == 0 {
		black = 1
	}
	j.Width, j.Height = config.Width, config.Height
	wide := wholeBytes(j.Width)
	j.Bits = make([]byte, wide*j.Height)
	for y := range j.Height {
		for x := range j.Width {
			if img.Pix[y*img.Stride+x] == black {
				j.Bits[y*wide+x/8] |= 0x80 >> (x % 8)
			}
		}
	}
}

// pngOf wraps the compressed rows of a one-bit picture, white first in its palette or not, as a PNG.
func pngOf(width, height int, palette, rows []byte) []byte {
	out := []byte(signature)
	chunk := func(kind string, data []byte) {
		out = binary.BigEndian.AppendUint32(out, uint32(len(data)))
		start := len(out)
		out = append(append(out, kind...), data...)
		out = binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(out[start:]))
	}
	header := binary.BigEndian.AppendUint32(nil, uint32(width))
	header = binary.BigEndian.AppendUint32(header, uint32(height))
	chunk("IHDR", append(header, 1, 3, 0, 0, 0)) // one bit, palette
	chunk("PLTE", palette)
	chunk("IDAT", rows)
	chunk("IEND", nil)
	return out
}
