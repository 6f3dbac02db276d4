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
	pdfPoint    = regexp.MustCompile(`^([\d.]+) ([\d.]+) ([ml])$`)
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

// pdfDots draws the page: the picture's dots, then a path of rectangles, each of which must be whole dots of it.
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
	var on pdfPlace
	var corners [][2]float64
	var closed [][][2]float64
	for _, line := range strings.Split(strings.TrimSuffix(string(drawing), "\n"), "\n") {
		if s.err != nil {
			return
		}
		draw, point := pdfDraw.FindStringSubmatch(line), pdfPoint.FindStringSubmatch(line)
		switch {
		case draw != nil && on.across == 0:
			on = pdfPlace{points(draw[1]), points(draw[2]), points(draw[3]), points(draw[4])}
		case pdfSetting.MatchString(line):
		case on.across == 0:
			s.fail("the page draws %q before its picture", line)
		case point != nil && (point[3] == "m") == (len(corners) == 0):
			corners = append(corners, [2]float64{points(point[1]), points(point[2])})
		case line == "h" && len(corners) == 4:
			closed, corners = append(closed, corners), nil
		case line == "f" && len(corners) == 0:
			for _, c := range closed {
				j.fill(s, on, c)
			}
			closed = nil
		default:
			s.fail("the page draws %q", line)
		}
	}
	if on.across == 0 || len(closed)+len(corners) > 0 {
		s.fail("the page does not draw its picture, or leaves a path open")
	}
}

// pdfPlace is where a picture stands on its page, in points: how large, and its lower left corner.
type pdfPlace struct{ across, down, left, bottom float64 }

// fill blackens a rectangle of the page, given by its corners in turn from the upper left, which must be whole dots of the
// picture.
func (j *Job) fill(s *stream, on pdfPlace, corners [][2]float64) {
	if corners[0][1] != corners[1][1] || corners[1][0] != corners[2][0] || corners[2][1] != corners[3][1] || corners[3][0] != corners[0][0] {
		s.fail("%v is no rectangle", corners)
		return
	}
	// Points are written with two decimals, so an edge is off by up to a hundredth of one.
	dot := func(point, start, length float64, dots int) int {
		exact := (point - start) / length * float64(dots)
		whole := math.Round(exact)
		if !(math.Abs(exact-whole) <= 0.02/math.Abs(length)*float64(dots)) || whole < 0 || whole > float64(dots) {
			s.fail("%v is not whole dots of the picture", corners)
		}
		return int(whole)
	}
	x0, x1 := dot(corners[0][0], on.left, on.across, j.Width), dot(corners[1][0], on.left, on.across, j.Width)
	y0, y1 := dot(corners[0][1], on.bottom+on.down, -on.down, j.Height), dot(corners[2][1], on.bottom+on.down, -on.down, j.Height)
	if s.err != nil {
		return
	}
	for v := y0; v < y1; v++ {
		for u := x0; u < x1; u++ {
			j.Bits[v*wholeBytes(j.Width)+u/8] |= 0x80 >> (u % 8)
		}
	}
}

func points(text string) float64 {
	f, err := strconv.ParseFloat(text, 64)
	if err != nil {
		return math.NaN()
	}
	return f
}
