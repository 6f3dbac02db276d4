package cli

import (
	"bytes"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/press"
	"github.com/pottrail/pottrail/labels"
	"github.com/pottrail/pottrail/tracker"
)

// roll is how a downtime roll is drawn.
type roll struct {
	app     *app
	out     string
	printer string
	layout  string
	carrier string
	dots    int
	paper   paper
	written int // places of sheets, free ones too
}

func (r *roll) addFlags(c *cobra.Command) {
	c.Flags().StringVar(&r.out, "out", "", "`FILE`.pdf or FILE.png to draw the labels into")
	c.Flags().StringVar(&r.layout, "layout", "", "`LAYOUT` of cases and pots in place of the usual one: "+strings.Join(downtimeNames(), ", "))
	c.Flags().StringVar(&r.printer, "printer", "", "the `PRINTER` to print on, with downtime labels in its stock")
	c.Flags().StringVar(&r.carrier, "carrier", "cassette", "what the pieces' labels go on: cassette, tube or slide (`CARRIER`)")
	c.Flags().IntVar(&r.dots, "dots", 12, "the printer's `DOTS` a millimetre")
	c.MarkFlagsMutuallyExclusive("out", "printer")
	c.MarkFlagsMutuallyExclusive("dots", "printer") // a printer's are in the configuration
	r.paper.addFlags(c)
}

func downtimeNames() []string {
	var names []string
	for _, l := range labels.Layouts() {
		if l.Form == labels.FormDowntime {
			names = append(names, l.Name)
		}
	}
	return names
}

// check refuses what cannot be drawn before a number is taken.
func (r *roll) check() error {
	if err := r.paper.check(r.out); err != nil || r.out == "" {
		return err
	}
	kind := strings.ToLower(filepath.Ext(r.out))
	if kind != ".png" && kind != ".pdf" {
		return usage("--out %s: name a file that ends in .png or .pdf", r.out)
	}
	if err := folderFor(r.out); err != nil {
		return err
	}
	artist, err := press.NewArtist()
	if err != nil {
		return err
	}
	for _, text := range []string{"AAA-26-00001", "AAA-26-00001-A01"} { // any will do: all have as many characters
		name, err := tracker.ParseName(text)
		if err != nil {
			return err
		}
		layout, err := r.layoutFor(name.Thing())
		if err != nil {
			return err
		}
		wish := press.Wish{Stock: []labels.Layout{layout}, Layout: layout.Name, DotsPerMM: r.dots, At: time.Now()}
		if _, err := artist.Draw(ask.LabelContent{Name: name, Copy: '1'}, wish); err != nil {
			return unreadable("this roll cannot be printed: %w", errors.Unwrap(err))
		}
	}
	return nil
}

// layoutFor is the layout for a thing on the roll: that which was named or, on a sheet, the largest that its places hold.
func (r *roll) layoutFor(thing tracker.Thing) (labels.Layout, error) {
	usual, ok := labels.DowntimeFor(thing, r.carrier)
	if !ok {
		return labels.Layout{}, usage("--carrier %q: pieces that lie loose or on foam have no label; use cassette, tube or slide", r.carrier)
	}
	if thing == tracker.ThingPiece {
		return usual, nil
	}
	if r.layout != "" {
		named, err := labels.ParseLayout(r.layout)
		if err == nil && named.Form != labels.FormDowntime {
			err = fmt.Errorf("%s is no layout of a downtime roll: it has no places to write on; there are %s", r.layout, strings.Join(downtimeNames(), ", "))
		}
		if err != nil {
			return labels.Layout{}, usage("--layout: %w", err)
		}
		return named, nil
	}
	if r.paper.sheet == "" {
		return usual, nil
	}
	sheet, err := labels.SheetNamed(r.paper.sheet)
	if err != nil {
		return labels.Layout{}, usage("--sheet: %w", err)
	}
	for _, l := range labels.Layouts() { // the largest first
		if l.Form == labels.FormDowntime && l.WidthMM >= 50 && l.WidthMM <= sheet.PlaceWidthMM && l.HeightMM <= sheet.PlaceHeightMM {
			return l, nil
		}
	}
	return labels.Layout{}, usage("--sheet %s: its places of %g × %g mm are too small to write on; use one with larger places", r.paper.sheet, sheet.PlaceWidthMM, sheet.PlaceHeightMM)
}

// draw draws the labels of each case.
func (r *roll) draw(cases [][]tracker.Code) ([][]drawn, error) {
	artist, err := press.NewArtist()
	if err != nil {
		return nil, err
	}
	total, done := 0, 0
	for _, codes := range cases {
		total += len(codes)
	}
	bar := r.app.progress(total, "drawing labels")
	now := time.Now()
	all := make([][]drawn, len(cases))
	for i, codes := range cases {
		for _, code := range codes {
			layout, err := r.layoutFor(code.Name().Thing())
			if err != nil {
				return nil, err
			}
			d, err := artist.Draw(ask.LabelContent{Name: code.Name(), Copy: code.Copy()},
				press.Wish{Stock: []labels.Layout{layout}, Layout: layout.Name, DotsPerMM: r.dots, At: now})
			if err != nil {
				return nil, unreadable("%w", err)
			}
			all[i] = append(all[i], drawn{Drawing: d, file: fileOf(r.out, code.Name(), total), at: now})
			done++
			bar(done)
		}
	}
	return all, nil
}

// files gives the content of each file of the roll.
func (r *roll) files(all [][]drawn) (map[string][]byte, error) {
	files := map[string][]byte{}
	if strings.ToLower(filepath.Ext(r.out)) == ".pdf" {
		groups := make([][]*labels.Picture, len(all))
		for i, group := range all {
			for _, d := range group {
				groups[i] = append(groups[i], d.Picture)
			}
		}
		pictures := slices.Concat(groups...)
		if r.paper.sheet != "" {
			sheet, err := labels.SheetNamed(r.paper.sheet)
			if err != nil {
				return nil, err
			}
			sheet.Used = r.paper.used
			pictures = sheet.Together(groups)
		}
		pdf, err := r.paper.pdf(r.app, pictures)
		if err != nil {
			return nil, err
		}
		files[r.out], r.written = pdf, len(pictures)
		return files, nil
	}
	for _, group := range all {
		for _, d := range group {
			var png bytes.Buffer
			if err := labels.WritePNG(&png, d.Picture); err != nil {
				return nil, err
			}
			files[d.file] = png.Bytes()
		}
	}
	return files, nil
}
