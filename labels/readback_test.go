package labels_test

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing"
	zxing "github.com/makiuchi-d/gozxing/datamatrix"
	"github.com/makiuchi-d/gozxing/oned"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/pottrail/pottrail/labels"
	"github.com/pottrail/pottrail/tracker"
)

// cut is a part of a picture.
func cut(p image.Image, r image.Rectangle) *image.Gray {
	out := image.NewGray(image.Rect(0, 0, r.Dx(), r.Dy()))
	for y := range r.Dy() {
		for x := range r.Dx() {
			out.Set(x, y, p.At(r.Min.X+x, r.Min.Y+y))
		}
	}
	return out
}

// readByZXing decodes the symbol cut out of a picture with its quiet zone, by gozxing's reader for clean pictures.
func readByZXing(t testing.TB, p *labels.Picture) string {
	t.Helper()
	return readPure(t, cut(p, p.Symbol.Quiet()))
}

func readPure(t testing.TB, img image.Image) string {
	t.Helper()
	bitmap, err := gozxing.NewBinaryBitmapFromImage(img)
	require.NoError(t, err)
	result, err := zxing.NewDataMatrixReader().Decode(bitmap, map[gozxing.DecodeHintType]interface{}{gozxing.DecodeHintType_PURE_BARCODE: true})
	require.NoError(t, err)
	return result.GetText()
}

// readImage decodes a symbol that has no white around it.
func readImage(t testing.TB, symbol image.Image) string {
	t.Helper()
	const margin, dots = 2, 4
	side := symbol.Bounds().Dx() + 2*margin
	img := image.NewGray(image.Rect(0, 0, side*dots, side*dots))
	for y := range side * dots {
		for x := range side * dots {
			img.Pix[y*img.Stride+x] = 0xff
			if at := image.Pt(x/dots-margin, y/dots-margin); at.In(symbol.Bounds()) {
				img.Set(x, y, symbol.At(at.X, at.Y))
			}
		}
	}
	return readPure(t, img)
}

// TestEverySymbolReadsBack: every layout at every resolution holds its own code and nothing else, in both its symbols.
func TestEverySymbolReadsBack(t *testing.T) {
	d := drawer(t)
	bars := 0
	for _, l := range labels.Layouts() {
		for _, dots := range resolutions {
			t.Run(fmt.Sprintf("%s at %d", l.Name, dots), func(t *testing.T) {
				c := contentFor(t, l)
				p, err := d.Draw(l, c, labels.Options{DotsPerMM: dots})
				require.NoError(t, err)
				require.Equal(t, symbolText(l, c), readByZXing(t, p))
				if p.Linear != nil {
					bars++
					require.Equal(t, symbolText(l, c), readBars(t, p))
				}
			})
		}
	}
	require.Positive(t, bars, "the wide request form has bars too")
}

// TestEveryCodeReadsBack draws what any label can hold on every layout: the number of codewords, and with it the size of
// the symbol, depends on where digits pair up. What gozxing reads, labels.Read understands.
func TestEveryCodeReadsBack(t *testing.T) {
	d := drawer(t)
	all := labels.Layouts()
	rapid.Check(t, func(r *rapid.T) {
		l := rapid.SampledFrom(all).Draw(r, "layout")
		dots := rapid.SampledFrom(resolutions).Draw(r, "dots")
		c := contentFor(t, l)
		key := rapid.StringMatching(`[a-z][a-z0-9._-]{0,11}`)
		want := labels.Scan{}
		switch l.Form {
		case labels.FormPlace:
			c.Key = key.Draw(r, "key")
			want = labels.Scan{Kind: labels.ScanPlace, Key: c.Key}
		case labels.FormBadge:
			c.Key = key.Draw(r, "key")
			want = labels.Scan{Kind: labels.ScanBadge, Key: c.Key}
		default:
			copy := tracker.Copy(rapid.SampledFrom([]byte("123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ")).Draw(r, "copy"))
			c.Code = code(t, drawNameLike(r, c.Code.Name()), copy)
			want = labels.Scan{Kind: labels.ScanItem, Item: c.Code.Item()}
		}
		p, err := d.Draw(l, c, labels.Options{DotsPerMM: dots})
		require.NoError(r, err)
		got := readByZXing(t, p)
		require.Equal(r, symbolText(l, c), got)
		if p.Linear != nil {
			require.Equal(r, got, readBars(t, p))
		}
		scan, err := labels.Read("]d1" + got + "\r")
		require.NoError(r, err)
		require.Equal(r, want, scan)
	})
}

// drawNameLike draws a name of the same sort of thing as another.
func drawNameLike(t *rapid.T, like tracker.Name) tracker.Name {
	clinic := rapid.StringMatching(`[A-Z][A-Z0-9]{2}`).Draw(t, "clinic")
	year, serial := rapid.IntRange(0, 99).Draw(t, "year"), rapid.IntRange(1, tracker.MaxSerial).Draw(t, "serial")
	if like.Thing() == tracker.ThingBag {
		name, err := tracker.BagName(clinic, year, serial)
		require.NoError(t, err)
		return name
	}
	name, err := tracker.CaseName(clinic, year, serial)
	require.NoError(t, err)
	if like.Thing() == tracker.ThingCase {
		return name
	}
	name, err = name.WithPot(rapid.StringMatching(`[A-HJ-NP-Y]`).Draw(t, "pot"))
	require.NoError(t, err)
	if like.Thing() == tracker.ThingPiece {
		name, err = name.WithPiece(rapid.IntRange(1, tracker.MaxPiece).Draw(t, "piece"))
		require.NoError(t, err)
	}
	return name
}

// TestReadByAnotherProgram: dmtxread, which searches a whole label as a scanner does, reads every layout at every
// resolution: the picture, and the page that poppler makes of the PDF, at the printer's own resolution and at another one,
// where the edges of modules fall between dots.
func TestReadByAnotherProgram(t *testing.T) {
	dmtxread, pdftoppm := program(t, "dmtxread", "dmtx-utils"), program(t, "pdftoppm", "poppler-utils")
	d := drawer(t)
	for _, l := range labels.Layouts() {
		for _, dots := range resolutions {
			t.Run(fmt.Sprintf("%s at %d", l.Name, dots), func(t *testing.T) {
				t.Parallel()
				c := contentFor(t, l)
				p, err := d.Draw(l, c, labels.Options{DotsPerMM: dots})
				require.NoError(t, err)
				want := symbolText(l, c)
				file := write(t, "label.png", func(b *bytes.Buffer) error { return labels.WritePNG(b, p) })
				require.Equal(t, want, readByDmtx(t, dmtxread, file), "PNG")
				pdf := write(t, "label.pdf", func(b *bytes.Buffer) error { return labels.WritePDF(b, created, p) })
				for _, perInch := range []float64{25.4 * float64(dots), otherPerInch[dots]} {
					page := pageOf(t, pdftoppm, pdf, perInch)
					require.Equalf(t, want, readByDmtx(t, dmtxread, page), "PDF at %g dots an inch", perInch)
					if p.Linear != nil {
						require.Equalf(t, want, readBarsOnPage(t, p, page, perInch), "bars in a PDF at %g dots an inch", perInch)
					}
				}
			})
		}
	}
}

// readBarsOnPage reads the bars of a page that holds one label, by gozxing.
func readBarsOnPage(t *testing.T, p *labels.Picture, file string, perInch float64) string {
	t.Helper()
	page := readPNG(t, file)
	dot := perInch / 25.4 / float64(p.DotsPerMM)
	place := func(n int) int { return int(float64(n) * dot) }
	r := p.Linear.Quiet()
	bitmap, err := gozxing.NewBinaryBitmapFromImage(cut(page, image.Rect(place(r.Min.X), place(r.Min.Y)+2, place(r.Max.X), place(r.Max.Y)-2)))
	require.NoError(t, err)
	result, err := oned.NewCode128Reader().Decode(bitmap, nil)
	require.NoError(t, err)
	return result.GetText()
}

func readPNG(t *testing.T, name string) image.Image {
	t.Helper()
	file, err := os.Open(name)
	require.NoError(t, err)
	defer file.Close()
	page, err := png.Decode(file)
	require.NoError(t, err)
	return page
}

// TestAPDFHasNoWords: a label's words are dots. So no printer can put another font or other letters in their place, and no
// program that looks through a spool or a drive for text finds a patient; people read them on paper.
func TestAPDFHasNoWords(t *testing.T) {
	pdftotext := program(t, "pdftotext", "poppler-utils")
	d := drawer(t)
	var all []*labels.Picture
	for _, l := range labels.Layouts() {
		p, err := d.Draw(l, contentFor(t, l), labels.Options{DotsPerMM: 12})
		require.NoError(t, err)
		all = append(all, p)
	}
	pdf := write(t, "labels.pdf", func(b *bytes.Buffer) error { return labels.WritePDF(b, created, all...) })
	out, err := exec.CommandContext(t.Context(), pdftotext, pdf, "-").Output()
	require.NoError(t, err)
	require.Empty(t, strings.Trim(string(out), "\f\n "))
}

// otherPerInch is a second resolution for each, of no whole dots a module: a 600 dpi office printer's, and for the finest
// labels a coarser one.
var otherPerInch = map[int]float64{8: 600, 12: 600, 24: 450}

// pageOf is a picture of a PDF's first page.
func pageOf(t *testing.T, pdftoppm, pdf string, perInch float64) string {
	t.Helper()
	root := filepath.Join(t.TempDir(), "page")
	out, err := exec.CommandContext(t.Context(), pdftoppm, "-png", "-r", fmt.Sprint(perInch), "-f", "1", "-l", "1", "-singlefile", pdf, root).CombinedOutput()
	require.NoErrorf(t, err, "%s", out)
	return root + ".png"
}

// TestRandomCodesAreReadByAnotherProgram: dmtxread on some codes drawn by a fixed seed, as other codes have other modules.
func TestRandomCodesAreReadByAnotherProgram(t *testing.T) {
	dmtxread := program(t, "dmtxread", "dmtx-utils")
	d := drawer(t)
	draw := rand.New(rand.NewPCG(2, 14))
	for i := range 20 {
		l := layout(t, "pot-50x25")
		c := contentFor(t, l)
		c.Code = randomPot(t, draw)
		t.Run(fmt.Sprint(i+1), func(t *testing.T) {
			t.Parallel()
			p, err := d.Draw(l, c, labels.Options{DotsPerMM: resolutions[i%2]})
			require.NoError(t, err)
			file := write(t, "label.png", func(b *bytes.Buffer) error { return labels.WritePNG(b, p) })
			require.Equal(t, c.Code.String(), readByDmtx(t, dmtxread, file))
		})
	}
}

// TestNoHairlinePartsTheModules: at whatever resolution a PDF is put on paper, the solid edges of the finder pattern have no
// gap along their middle.
func TestNoHairlinePartsTheModules(t *testing.T) {
	pdftoppm := program(t, "pdftoppm", "poppler-utils")
	for _, name := range []string{"piece-22x15", "pot-50x25"} {
		p := drawnLabel(t, name, 8)
		pdf := write(t, "label.pdf", func(b *bytes.Buffer) error { return labels.WritePDF(b, created, p) })
		for _, perInch := range []float64{150, 203, 300, 360, 457, 600, 720, 1016, 1200} {
			t.Run(fmt.Sprintf("%s at %g", name, perInch), func(t *testing.T) {
				t.Parallel()
				page := readPNG(t, pageOf(t, pdftoppm, pdf, perInch))
				s := p.Symbol
				// at is a place in modules from the symbol's corner.
				at := func(column, row float64) (x, y int) {
					dot := perInch / 25.4 / float64(p.DotsPerMM)
					return int((float64(s.X) + column*float64(s.ModuleDots)) * dot), int((float64(s.Y) + row*float64(s.ModuleDots)) * dot)
				}
				_, top := at(0, 0.5)
				x, bottom := at(0.5, float64(s.Modules)-0.5)
				for y := top; y <= bottom; y++ {
					gray, _, _, _ := page.At(x, y).RGBA()
					require.Lessf(t, gray, uint32(0x4000), "left edge, dot %d, %d", x, y)
				}
				end, _ := at(float64(s.Modules)-0.5, 0)
				for ; x <= end; x++ {
					gray, _, _, _ := page.At(x, bottom).RGBA()
					require.Lessf(t, gray, uint32(0x4000), "lower edge, dot %d, %d", x, bottom)
				}
			})
		}
	}
}
