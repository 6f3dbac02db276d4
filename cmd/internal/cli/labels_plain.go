package cli

import (
	"bytes"
	"context"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"github.com/pottrail/pottrail/labels"
)

// plainLabels draws labels that stand for no specimen, places' and badges': nothing of them is recorded, since a scan of one
// only says where or who.
type plainLabels struct {
	form   labels.Form
	out    string
	layout string
	dots   int
	paper  paper
}

func (p *plainLabels) addFlags(c *cobra.Command, out string) {
	var names []string
	for _, l := range labels.Layouts() {
		if l.Form == p.form {
			names = append(names, l.Name)
		}
	}
	c.Flags().StringVar(&p.out, "out", "", out)
	c.Flags().StringVar(&p.layout, "layout", names[len(names)-1], "`LAYOUT`, or any size: "+strings.Join(names, ", "))
	c.Flags().IntVar(&p.dots, "dots", 12, "the printer's `DOTS` a millimetre")
	p.paper.addFlags(c)
}

// write draws the labels and puts them into one PDF, or a PNG each.
func (p *plainLabels) write(ctx context.Context, a *app, contents []labels.Content) error {
	kind := strings.ToLower(filepath.Ext(p.out))
	if kind != ".png" && kind != ".pdf" {
		return usage("--out %s: name a file that ends in .png or .pdf", p.out)
	}
	if err := p.paper.check(p.out); err != nil {
		return err
	}
	if err := folderFor(p.out); err != nil {
		return err
	}
	layout, err := labels.ParseLayout(p.layout)
	if err != nil {
		return usage("--layout: %w", err)
	}
	if layout.Form != p.form {
		return usage("--layout %s is not for a %s", p.layout, p.form)
	}
	drawer, err := labels.NewDrawer()
	if err != nil {
		return err
	}
	files := map[string][]byte{}
	var pictures []*labels.Picture
	for _, c := range contents {
		picture, err := drawer.Draw(layout, c, labels.Options{DotsPerMM: p.dots})
		if err != nil {
			return unreadable("%s cannot be printed: %w", c.Key, err)
		}
		pictures = append(pictures, picture)
		if kind == ".png" {
			var png bytes.Buffer
			if err := labels.WritePNG(&png, picture); err != nil {
				return err
			}
			name := p.out
			if len(contents) > 1 {
				name = strings.TrimSuffix(p.out, filepath.Ext(p.out)) + "-" + c.Key + filepath.Ext(p.out)
			}
			files[name] = png.Bytes()
		}
	}
	if kind == ".pdf" {
		if files[p.out], err = p.paper.pdf(a, pictures); err != nil {
			return err
		}
	}
	if err := writeAround(ctx, files, func(context.Context) error { return nil }); err != nil {
		return err
	}
	return p.tell(a, contents, files)
}

func (p *plainLabels) tell(a *app, contents []labels.Content, files map[string][]byte) error {
	var names []string
	for name := range files {
		names = append(names, name)
	}
	slices.Sort(names)
	if a.json {
		type drawn struct {
			Key    string `json:"key"`
			Title  string `json:"title"`
			Layout string `json:"layout"`
		}
		list := make([]drawn, len(contents))
		for i, c := range contents {
			list[i] = drawn{c.Key, c.Title, p.layout}
		}
		return a.printJSON(map[string]any{"labels": list, "files": names})
	}
	for _, c := range contents {
		if _, err := fmt.Fprintf(a.Out, "label of %s, %s\n", c.Key, c.Title); err != nil {
			return err
		}
	}
	for _, name := range names {
		if _, err := fmt.Fprintf(a.Out, "in %s\n", name); err != nil {
			return err
		}
	}
	return p.paper.tellNext(a.Out, len(contents))
}
