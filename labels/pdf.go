package labels

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"io"
	"slices"
	"time"

	"github.com/go-pdf/fpdf"
)

// ErrNoLabels is returned when a PDF of no labels is asked for.
var ErrNoLabels = errors.New("there are no labels to write")

// Document says how pictures become one PDF.
type Document struct {
	Created  time.Time      // goes into the file, so that the same pictures at the same time give the same bytes
	Sheet    *Sheet         // pages of many labels; nil: one page a label, each as large as its label
	Progress func(done int) // told after each label, if not nil
}

// WritePDF writes one page a label, each page as large as its label. Words are the picture's own dots; the symbol's
// modules are vector squares at the same places, so that no viewer smooths their edges.
func WritePDF(w io.Writer, created time.Time, pictures ...*Picture) error {
	return Document{Created: created}.Write(w, pictures...)
}

// WriteSheet writes labels onto sheets, row by row; see [Document.Write].
func WriteSheet(w io.Writer, created time.Time, s Sheet, pictures ...*Picture) error {
	return Document{Created: created, Sheet: &s}.Write(w, pictures...)
}

// Write writes the pictures in their order; nil leaves a place of the sheet free. No pictures are [ErrNoLabels]; a label
// larger than its place on the sheet is refused, and so is a sheet whose places leave the page. With an error nothing is
// written.
func (o Document) Write(w io.Writer, pictures ...*Picture) error {
	if o.Sheet == nil {
		pictures = slices.DeleteFunc(slices.Clone(pictures), func(p *Picture) bool { return p == nil })
	}
	first := slices.IndexFunc(pictures, func(p *Picture) bool { return p != nil })
	if first < 0 {
		return ErrNoLabels
	}
	width, height := pictures[first].WidthMM, pictures[first].HeightMM
	if o.Sheet != nil {
		if err := o.Sheet.check(pictures); err != nil {
			return err
		}
		width, height = o.Sheet.PageWidthMM, o.Sheet.PageHeightMM
	}
	doc := newDocument(o.Created, width, height)
	for i, p := range pictures {
		x, y := 0.0, 0.0
		if o.Sheet == nil {
			doc.AddPageFormat("P", fpdf.SizeType{Wd: p.WidthMM, Ht: p.HeightMM})
		} else {
			var fresh bool
			if x, y, fresh = o.Sheet.at(i, p); fresh {
				doc.AddPage()
			}
			if p == nil {
				continue
			}
		}
		if err := drawOn(doc, i, p, x, y); err != nil {
			return err
		}
		if o.Progress != nil {
			o.Progress(i + 1)
		}
	}
	return finish(w, doc)
}

func newDocument(created time.Time, widthMM, heightMM float64) *fpdf.Fpdf {
	doc := fpdf.NewCustom(&fpdf.InitType{OrientationStr: "P", UnitStr: "mm", Size: fpdf.SizeType{Wd: widthMM, Ht: heightMM}})
	doc.SetCreationDate(created)
	doc.SetModificationDate(created)
	doc.SetCatalogSort(true)
	doc.SetProducer("pottrail", true)
	doc.SetMargins(0, 0, 0)
	doc.SetAutoPageBreak(false, 0)
	doc.SetCellMargin(0)
	return doc
}

// drawOn puts a label with its top left at x, y: words as dots, the symbol as squares.
func drawOn(doc *fpdf.Fpdf, index int, p *Picture, x, y float64) error {
	dots := p.paletted()
	if p.Symbol != nil {
		wipe(dots, p.Symbol.Quiet())
	}
	if p.Linear != nil {
		wipe(dots, p.Linear.Quiet())
	}
	encoded, err := encodePNG(dots, p.DotsPerMM)
	if err != nil {
		return err
	}
	name := fmt.Sprintf("label-%d", index)
	options := fpdf.ImageOptions{ImageType: "PNG"}
	doc.RegisterImageOptionsReader(name, options, bytes.NewReader(encoded))
	perDot := 1 / float64(p.DotsPerMM)
	doc.ImageOptions(name, x, y, float64(p.Width)*perDot, float64(p.Height)*perDot, false, options, 0, "")
	if p.Symbol != nil {
		drawModules(doc, p, x, y)
	}
	return nil
}

// drawModules fills the dark modules of the symbol, and the bars beside it, as one path. Each drawn for itself would be
// rounded and put on the printer's dots for itself, and a white hairline would part neighbours at some resolutions.
func drawModules(doc *fpdf.Fpdf, p *Picture, x, y float64) {
	perDot := 1 / float64(p.DotsPerMM)
	rectangle := func(left, top, right, bottom int) {
		doc.MoveTo(x+float64(left)*perDot, y+float64(top)*perDot)
		doc.LineTo(x+float64(right)*perDot, y+float64(top)*perDot)
		doc.LineTo(x+float64(right)*perDot, y+float64(bottom)*perDot)
		doc.LineTo(x+float64(left)*perDot, y+float64(bottom)*perDot)
		doc.ClosePath()
	}
	doc.SetFillColor(0, 0, 0)
	s := p.Symbol
	for row := range s.Modules {
		for column := 0; column < s.Modules; column++ {
			if end := s.darkUntil(column, row); end > column {
				rectangle(s.X+column*s.ModuleDots, s.Y+row*s.ModuleDots, s.X+end*s.ModuleDots, s.Y+(row+1)*s.ModuleDots)
				column = end
			}
		}
	}
	if b := p.Linear; b != nil {
		for at := 0; at < b.Modules; at++ {
			if end := b.darkUntil(at); end > at {
				rectangle(b.X+at*b.ModuleDots, b.Y, b.X+end*b.ModuleDots, b.Y+b.Height)
				at = end
			}
		}
	}
	doc.DrawPath("F")
}

func wipe(img *image.Paletted, r image.Rectangle) {
	r = r.Intersect(img.Bounds())
	for y := r.Min.Y; y < r.Max.Y; y++ {
		clear(img.Pix[y*img.Stride+r.Min.X : y*img.Stride+r.Max.X])
	}
}

func finish(w io.Writer, doc *fpdf.Fpdf) error {
	// Into memory first: a failure writes nothing.
	var b bytes.Buffer
	if err := doc.Output(&b); err != nil {
		return fmt.Errorf("make PDF of labels: %w", err)
	}
	if _, err := w.Write(b.Bytes()); err != nil {
		return fmt.Errorf("write PDF of labels: %w", err)
	}
	return nil
}
