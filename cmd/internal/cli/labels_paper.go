package cli

import (
	"bytes"
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"github.com/pottrail/pottrail/labels"
)

// paper is what labels are written on when they go into a PDF: a page each, or adhesive sheets.
type paper struct {
	sheet string // name; empty: a page each
	used  int    // places already taken from the first sheet
}

func (p *paper) addFlags(c *cobra.Command) {
	var names []string
	for _, s := range labels.Sheets() {
		names = append(names, s.Name)
	}
	c.Flags().StringVar(&p.sheet, "sheet", "", "adhesive `SHEET` for an office printer, in a .pdf: "+strings.Join(names, ", "))
	c.Flags().IntVar(&p.used, "used", 0, "`PLACES` already taken from the first sheet, counted by rows")
}

// check refuses what cannot be before anything is asked for or recorded.
func (p *paper) check(out string) error {
	if p.sheet == "" {
		if p.used != 0 {
			return usage("--used %d: places are taken from a sheet: name it with --sheet", p.used)
		}
		return nil
	}
	if !strings.EqualFold(filepath.Ext(out), ".pdf") {
		return usage("--sheet %s: sheets are written as .pdf: name one with --out", p.sheet)
	}
	s, err := labels.SheetNamed(p.sheet)
	if err != nil {
		return usage("--sheet: %w", err)
	}
	if p.used < 0 || p.used >= s.Places() {
		return usage("--used %d: %s has %d places: 0 to %d of them may be taken", p.used, s.Name, s.Places(), s.Places()-1)
	}
	return nil
}

// pdf is the document of the pictures, with a bar when they are many.
func (p *paper) pdf(a *app, pictures []*labels.Picture) ([]byte, error) {
	document := labels.Document{Created: time.Now(), Progress: a.progress(len(pictures), "writing labels")}
	if p.sheet != "" {
		s, err := labels.SheetNamed(p.sheet)
		if err != nil {
			return nil, usage("--sheet: %w", err)
		}
		s.Used = p.used
		document.Sheet = &s
	}
	var out bytes.Buffer
	if err := document.Write(&out, pictures...); err != nil {
		return nil, unreadable("nothing was printed: %w", err)
	}
	return out.Bytes(), nil
}

// tellNext says where on the sheet the next labels begin.
func (p *paper) tellNext(w io.Writer, written int) error {
	s, err := labels.SheetNamed(p.sheet)
	if err != nil { // a page each
		return nil
	}
	s.Used = p.used
	next := s.UsedAfter(written)
	if next == 0 {
		_, err = fmt.Fprintf(w, "the last sheet is full\n")
	} else {
		_, err = fmt.Fprintf(w, "on the last sheet %d of %d places are taken: begin there next time with --used %d\n", next, s.Places(), next)
	}
	return err
}
