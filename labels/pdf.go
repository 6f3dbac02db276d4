package labels

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"io"
	"time"

	"github.com/go-pdf/fpdf"
)

// ErrNoLabels is returned when a PDF of no labels is asked for.
var ErrNoLabels = errors.New("there are no labels to write")

// WritePDF writes one page a label, each page as large as its label. Words are the picture's own dots; the symbol's
// modules are vector squares at the same places, so that no viewer smooths their edges. Created goes into the file, so
// that the same pictures at the same time give the same bytes.
func WritePDF(w io.Writer, created time.Time, pictures ...*Picture) error {
	if len(pictures) == 0 {
		return ErrNoLabels
	}
	doc := newDocument(created, pictures[0].WidthMM, pictures[0].HeightMM)
	for i, p := range pictures {
		doc.AddPageFormat("P", fpdf.SizeType{Wd: p.WidthMM, Ht: p.HeightMM})
		if err := drawOn(doc, i, p, 0, 0); err != nil {
			return err
		}
	}
	return finish(w, doc)
}

// Sheet is a page of labels in rows and columns, as adhesive sheets for office printers have them. Lengths are in
// millimetres.
type Sheet struct {
	PageWidthMM, PageHeightMM float64
	LeftMM, TopMM             float64 // of the first label
	PitchXMM, PitchYMM        float64 // from one label's corner to the next
	Columns, Rows             int
	Used                      int // places already taken from the first page
}

// SheetA4 is 3 × 10 places on A4 for labels up to 60 × 27 mm (ISO 216: 210 × 297 mm), centred on the page.
func SheetA4() Sheet {
	return Sheet{PageWidthMM: 210, PageHeightMM: 297, LeftMM: 15, TopMM: 13.5, PitchXMM: 60, PitchYMM: 27, Columns: 3, Rows: 10}
}

// WriteSheet writes labels onto sheets, row by row. A label larger than its place is refused, and so is a sheet whose
// places leave the page; then nothing is written.
func WriteSheet(w io.Writer, created time.Time, s Sheet, pictures ...*Picture) error {
	if len(pictures) == 0 {
		return ErrNoLabels
	}
	if err := s.check(pictures); err != nil {
		return err
	}
	doc := newDocument(created, s.PageWidthMM, s.PageHeightMM)
	onPage := s.Columns * s.Rows
	for i, p := range pictures {
		place := (s.Used + i) % onPage
		if i == 0 || place == 0 {
			doc.AddPage()
		}
		x := s.LeftMM + float64(place%s.Columns)*s.PitchXMM
		y := s.TopMM + float64(place/s.Columns)*s.PitchYMM
		if err := drawOn(doc, i, p, x, y); err != nil {
			return err
		}
	}
	return finish(w, doc)
}

func (s Sheet) check(pictures []*Picture) error {
	if s.Columns < 1 || s.Rows < 1 {
		return fmt.Errorf("a sheet of %d × %d places: give one column and one row at least", s.Columns, s.Rows)
	}
	if s.Used < 0 || s.Used >= s.Columns*s.Rows {
		return fmt.Errorf("%d places used of a sheet's %d: start with a fresh sheet", s.Used, s.Columns*s.Rows)
	}
	for i, p := range pictures {
		if s.Columns > 1 && p.WidthMM > s.PitchXMM || s.Rows > 1 && p.HeightMM > s.PitchYMM {
			return fmt.Errorf("label %d is %g × %g mm, a place on the sheet %g × %g mm; use a sheet with larger places",
				i+1, p.WidthMM, p.HeightMM, s.PitchXMM, s.PitchYMM)
		}
		right := s.LeftMM + float64(s.Columns-1)*s.PitchXMM + p.WidthMM
		bottom := s.TopMM + float64(s.Rows-1)*s.PitchYMM + p.HeightMM
		if !(s.LeftMM >= 0 && s.TopMM >= 0 && right <= s.PageWidthMM && bottom <= s.PageHeightMM) {
			return fmt.Errorf("label %d would leave the page: its last place ends at %g × %g mm, the page at %g × %g mm; use fewer places",
				i+1, right, bottom, s.PageWidthMM, s.PageHeightMM)
		}
	}
	return nil
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
	encoded, err := encodePNG(dots, p.DotsPerMM)
	if err != nil {
		return err
	}
	name := fmt.Sprintf("label-%d", index)
	options := fpdf.ImageOptions{ImageType: "PNG"}
	doc.RegisterImageOptionsReader(name, options, bytes.NewReader(encoded))
	perDot := 1 / float64(p.DotsPerMM)
	doc.ImageOptions(name, x, y, float64(p.Width)*perDot, float64(p.Height)*perDot, false, options, 0, "")
	if p.Symbol == nil {
		return nil
	}
	doc.SetFillColor(0, 0, 0)
	s := p.Symbol
	side := float64(s.ModuleDots) * perDot
	for row := range s.Modules {
		// Neighbouring dark modules are one rectangle, so that no hairline can show between them.
		for column := 0; column < s.Modules; column++ {
			end := s.darkUntil(column, row)
			if end == column {
				continue
			}
			doc.Rect(x+float64(s.X)*perDot+float64(column)*side, y+float64(s.Y)*perDot+float64(row)*side, float64(end-column)*side, side, "F")
			column = end
		}
	}
	return nil
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
