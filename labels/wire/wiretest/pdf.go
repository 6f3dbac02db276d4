package wiretest

import (
	"bytes"
	"compress/zlib"
	"io"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// pdfObject is one object of a PDF: its words, and its stream as it stands in the file.
type pdfObject struct {
	words  string
	stream []byte
}

var (
	pdfStart  = regexp.MustCompile(`^([1-9]\d{0,5}) 0 obj\n`)
	pdfLength = regexp.MustCompile(`/Length (\d+)\b`)
	pdfName   = regexp.MustCompile(`/([A-Za-z]+)\b`)
	pdfHash   = regexp.MustCompile(`/I[0-9a-f]{40} `) // fpdf names a picture by a hash of it
	pdfEnd    = regexp.MustCompile(`^xref\n0 \d+\n(?:\d{10} \d{5} [nf] \n)+(trailer\n<<\n/Size \d+\n/Root \d+ 0 R\n/Info \d+ 0 R\n>>\n)startxref\n\d+\n%%EOF\n$`)
	pdfImage  = regexp.MustCompile(`^<</Type /XObject\n/Subtype /Image\n/Width (\d+)\n/Height (\d+)\n` +
		`/ColorSpace \[/Indexed /DeviceRGB 1 (\d+) 0 R\]\n/BitsPerComponent 1\n/Filter /FlateDecode\n` +
		`/DecodeParms <</Predictor 15 /Colors 1 /BitsPerComponent 1 /Columns (\d+)>>\n/Length \d+>>\n$`)
	pdfContents = regexp.MustCompile(`\n/Contents (\d+) 0 R`)
	pdfDraw     = regexp.MustCompile(`^q ([\d.]+) 0 0 ([\d.]+) (-?[\d.]+) (-?[\d.]+) cm /I[0-9a-f]{40} Do Q$`)
	pdfSquare   = regexp.MustCompile(`^([\d.]+) ([\d.]+) ([\d.]+) -([\d.]+) re f$`)
	pdfSetting  = regexp.MustCompile(`^(\d J|\d j|[\d.]+ w|[\d.]+ [Gg])$`)
)

// pdfNames are all the names that an object may use: nothing that runs, links, or is text.
var pdfNames = strings.Fields(`Type Catalog Pages Page Kids Count Parent Resources Contents MediaBox Size Root Info
	XObject Subtype Image Width Height ColorSpace Indexed DeviceRGB BitsPerComponent Filter FlateDecode DecodeParms Predictor Colors
	Columns Length ProcSet PDF Text ImageB ImageC ImageI Font Producer CreationDate ModDate Names EmbeddedFiles I`)

// readPDF reads one page of the kind that fpdf writes: a picture of one bit a dot, and black rectangles over it. What is
// compressed of the page's drawing counts as command, as it stands when it is expanded.
func (j *Job) readPDF(s *stream) {
	s.word("%PDF-1.3\n")
	objects := map[string]pdfObject{}
	var page, picture []string // numbers
	var order []string
	for s.err == nil && !s.follows("xref\n") {
		start := pdfStart.FindSubmatch(s.rest)
		if start == nil {
			s.fail("an object should begin here")
			return
		}
		s.command(len(start[0]))
		number := string(start[1])
		o := pdfRest(s)
		if _, twice := objects[number]; twice {
			s.fail("object %s stands there twice", number)
		}
		objects[number] = o
		order = append(order, number)
		switch {
		case strings.Contains(o.words, "/Subtype /Image"):
			picture = append(picture, number)
		case strings.HasPrefix(o.words, "<</Type /Page\n"):
			page = append(page, number)
		}
	}
	end := pdfEnd.FindSubmatch(s.rest)
	if s.err == nil && (end == nil || len(page) != 1 || len(picture) != 1) {
		s.fail("%d pages, %d pictures, or no proper end", len(page), len(picture))
	}
	if s.err != nil {
		return
	}
	s.next(len(s.rest))
	s.commands = append(s.commands, end[1]...)
	j.Copies = 1

	found := pdfImage.FindStringSubmatch(objects[picture[0]].words)
	contents := pdfContents.FindStringSubmatch(objects[page[0]].words)
	if found == nil || contents == nil {
		s.fail("a picture of one bit a dot and a page with a drawing should be there")
		return
	}
	for _, number := range order {
		if o := objects[number]; o.stream != nil && number != picture[0] {
			if number != contents[1] && number != found[3] {
				s.fail("object %s has a stream and is neither picture, palette nor page", number)
			}
			s.commands = append(s.commands, pdfHash.ReplaceAll(expand(s, o.stream), []byte("/I# "))...)
		}
	}
	j.pdfDots(s, found, objects[picture[0]].stream, expand(s, objects[found[3]].stream), expand(s, objects[contents[1]].stream))
}

// pdfRest reads an object up to its end.
func pdfRest(s *stream) pdfObject {
	var o pdfObject
	for s.err == nil {
		end := bytes.IndexByte(s.rest, '\n')
		if end < 0 {
			s.fail("an object has no end")
			break
		}
		line := string(s.next(end + 1))
		switch line {
		case "endobj\n":
			for _, name := range pdfName.FindAllStringSubmatch(pdfHash.ReplaceAllString(o.words, "/I "), -1) {
				if !slices.Contains(pdfNames, name[1]) {
					s.fail("an object uses /%s", name[1])
				}
			}
			words := pdfHash.ReplaceAllString(o.words, "/I# ")
			if o.stream != nil {
				words = pdfLength.ReplaceAllString(words, "/Length #")
			}
			s.commands = append(s.commands, words...)
			return o
		case "stream\n":
			length := pdfLength.FindStringSubmatch(o.words)
			if length == nil || o.stream != nil {
				s.fail("a stream without its length")
				return o
			}
			n, _ := strconv.Atoi(length[1])
			o.stream = append([]byte{}, s.picture(n)...)
			s.word("\nendstream\n")
		default:
			o.words += line
		}
	}
	return o
}

// expand undoes the compression of a stream.
func expand(s *stream, packed []byte) []byte {
	r, err := zlib.NewReader(bytes.NewReader(packed))
	if err != nil {
		s.fail("%v", err)
		return nil
	}
	out, err := io.ReadAll(io.LimitReader(r, mostBytes))
	if err != nil {
		s.fail("%v", err)
	}
	return out
}

// pdfDots draws the page: the picture's dots, then the rectangles, each of which must be whole dots of it.
func (j *Job) pdfDots(s *stream, image []string, packed, palette, drawing []byte) {
	width, _ := strconv.Atoi(image[1])
	height, _ := strconv.Atoi(image[2])
	if s.size(width, height); s.err != nil {
		return
	}
	if len(palette) != 6 || image[4] != image[1] {
		s.fail("not a picture of two colours")
		return
	}
	j.dotsOf(s, pngOf(width, height, palette, packed))
	var across, down, left, bottom float64 // of the picture on the page, points
	for _, line := range bytes.Split(bytes.TrimSuffix(drawing, []byte("\n")), []byte("\n")) {
		if s.err != nil {
			return
		}
		if m := pdfDraw.FindSubmatch(line); m != nil && across == 0 {
			across, down, left, bottom = points(m[1]), points(m[2]), points(m[3]), points(m[4])
			continue
		}
		m := pdfSquare.FindSubmatch(line)
		if m == nil || across == 0 {
			if !pdfSetting.Match(line) {
				s.fail("the page draws %q", line)
			}
			continue
		}
		x, w := (points(m[1])-left)/across*float64(width), points(m[3])/across*float64(width)
		y, h := (bottom+down-points(m[2]))/down*float64(height), points(m[4])/down*float64(height)
		x0, x1, y0, y1 := math.Round(x), math.Round(x+w), math.Round(y), math.Round(y+h)
		// Points are written with two decimals, so an edge is off by up to a hundredth of one.
		slack := 0.02 / across * float64(width)
		if math.Abs(x-x0) > slack || math.Abs(x+w-x1) > slack || math.Abs(y-y0) > slack || math.Abs(y+h-y1) > slack ||
			x0 < 0 || y0 < 0 || x1 > float64(width) || y1 > float64(height) {
			s.fail("%q is not whole dots of the picture", line)
			return
		}
		for v := int(y0); v < int(y1); v++ {
			for u := int(x0); u < int(x1); u++ {
				j.Bits[v*wholeBytes(width)+u/8] |= 0x80 >> (u % 8)
			}
		}
	}
	if across == 0 {
		s.fail("the page does not draw its picture")
	}
}

func points(text []byte) float64 {
	f, err := strconv.ParseFloat(string(text), 64)
	if err != nil {
		return math.NaN()
	}
	return f
}
