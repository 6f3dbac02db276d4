package config

import (
	"fmt"
	"io"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"github.com/pottrail/pottrail/labels"
	"github.com/pottrail/pottrail/labels/printers"
	"github.com/pottrail/pottrail/labels/wire"
	"github.com/pottrail/pottrail/tracker"
)

// Printer is one label printer, a table [printers.NAME] of the configuration file. There is no option on the command line
// for it.
type Printer struct {
	Name      string       // of small letters, digits and hyphens
	Way       printers.Way // how it is reached
	To        string       // where: host:port, a URI, a path
	Language  wire.Language
	DotsPerMM int             // of the print head, as its maker gives it: never worked out from dots an inch
	Stock     []labels.Layout // what fits the labels in it; the first for a thing is its usual one
	GapMM     float64         // between two labels on the roll; 0 for stock without one
	Stations  []string        // whose printer it is
}

// For is the usual layout of the printer for a kind of thing.
func (p Printer) For(thing tracker.Thing) (labels.Layout, bool) {
	i := slices.IndexFunc(p.Stock, func(l labels.Layout) bool { return l.Thing == thing })
	if i < 0 {
		return labels.Layout{}, false
	}
	return p.Stock[i], true
}

// Serves reports whether it is the printer of a station.
func (p Printer) Serves(station string) bool { return slices.Contains(p.Stations, station) }

// StockNames lists its layouts by name.
func (p Printer) StockNames() []string {
	names := make([]string, len(p.Stock))
	for i, l := range p.Stock {
		names[i] = l.Name
	}
	return names
}

// Warnings says what is odd about the printers and works all the same.
func (o *Options) Warnings() []string {
	var out []string
	for _, p := range o.Printers {
		for _, l := range p.Stock[min(1, len(p.Stock)):] {
			if first := p.Stock[0]; l.WidthMM != first.WidthMM || l.HeightMM != first.HeightMM {
				out = append(out, fmt.Sprintf("printer %s: %s and %s are of different sizes, and a printer holds one stock at a time: "+
					"whoever changes the roll must change this too", p.Name, first.Name, l.Name))
				break
			}
		}
	}
	return out
}

// printerTable is a printer as the file spells it.
type printerTable struct {
	Way       string   `toml:"way"`
	To        string   `toml:"to"`
	Language  string   `toml:"language"`
	DotsPerMM int      `toml:"dots_per_mm"`
	Stock     []string `toml:"stock"`
	GapMM     float64  `toml:"gap_mm"`
	Stations  []string `toml:"stations"`
}

// printerKeys are the keys of a printer's table.
func printerKeys() []string {
	t := reflect.TypeFor[printerTable]()
	keys := make([]string, t.NumField())
	for i := range keys {
		keys[i] = t.Field(i).Tag.Get("toml")
	}
	return keys
}

// printPrinters writes the printers as tables that read back.
func (o *Options) printPrinters(w io.Writer) error {
	for _, p := range o.Printers {
		_, err := fmt.Fprintf(w, "\n[%s.%s]\nway = %q\nto = %q\nlanguage = %q\ndots_per_mm = %d\nstock = %s\ngap_mm = %s\nstations = %s\n",
			keyPrinters, p.Name, p.Way, p.To, p.Language, p.DotsPerMM, list(p.StockNames()), strconv.FormatFloat(p.GapMM, 'f', -1, 64), list(p.Stations))
		if err != nil {
			return err
		}
	}
	return nil
}

// list writes words as a TOML array.
func list(words []string) string {
	quoted := make([]string, len(words))
	for i, word := range words {
		quoted[i] = strconv.Quote(word)
	}
	return "[" + strings.Join(quoted, ", ") + "]"
}

// DemoPrinters are the invented network's: every station's labels go into a folder, and never to a printer. Pieces have
// other stock than pots, so there are two.
func DemoPrinters(folder string) ([]Printer, error) {
	stations := []string{"room-1", "room-2", "room-3", "desk", "command-line"}
	return readPrinters(map[string]printerTable{
		"demo":        {Way: string(printers.WaySpool), To: folder, Language: string(wire.PNG), DotsPerMM: 12, Stock: []string{"pot-50x25", "bag-50x25", "request-50x25"}, Stations: stations},
		"demo-pieces": {Way: string(printers.WaySpool), To: folder, Language: string(wire.PNG), DotsPerMM: 24, Stock: []string{"piece-22x15"}, Stations: stations},
		"demo-slides": {Way: string(printers.WaySpool), To: folder, Language: string(wire.PNG), DotsPerMM: 12, Stock: []string{"slide-24x24"}, Stations: stations},
	})
}

// languagesOf are the languages that may go by a way. Print servers take what IPP names as document formats; a label
// printer on a cable or a port takes its own commands; a folder takes anything.
func languagesOf(way printers.Way) []wire.Language {
	switch way {
	case printers.WayRaw, printers.WayDevice:
		return []wire.Language{wire.ZPL, wire.EPL, wire.TSPL, wire.ESCPOS}
	case printers.WayIPP:
		return []wire.Language{wire.PWG, wire.PDF, wire.PNG, wire.ZPL, wire.EPL, wire.TSPL, wire.ESCPOS}
	case printers.WaySpool:
		return wire.Languages()
	}
	return nil
}

// usualLanguage is the language of a way where a wrong guess would show at once and print nothing; "" where it must be said,
// since commands of another language come out as a roll of rubbish.
func usualLanguage(way printers.Way) wire.Language {
	switch way {
	case printers.WayIPP:
		return wire.PWG // IPP Everywhere printers must take it
	case printers.WaySpool:
		return wire.PDF
	}
	return ""
}

// readPrinters turns tables into printers, in the order of their names.
func readPrinters(tables map[string]printerTable) ([]Printer, error) {
	var all []Printer
	for name, table := range tables {
		p, err := table.printer(name)
		if err != nil {
			return nil, fmt.Errorf("printer %s: %w", name, err)
		}
		all = append(all, p)
	}
	slices.SortFunc(all, func(a, b Printer) int { return strings.Compare(a.Name, b.Name) })
	return all, ambiguous(all)
}

func (t printerTable) printer(name string) (Printer, error) {
	p := Printer{Name: name, Way: printers.Way(t.Way), To: t.To, DotsPerMM: t.DotsPerMM, GapMM: t.GapMM, Stations: t.Stations}
	if !isPrinterName(name) {
		return p, fmt.Errorf("its name may hold small letters, digits and hyphens, 1 to 32 of them")
	}
	known := languagesOf(p.Way)
	if known == nil {
		return p, fmt.Errorf("way %q: write raw (TCP), ipp, device or spool", t.Way)
	}
	if t.To == "" {
		return p, fmt.Errorf("to: say where it is: host:port, an ipp URI, a device file or a folder")
	}
	if _, err := printers.Open(p.Way, t.To); err != nil {
		return p, fmt.Errorf("to: %w", err)
	}
	if p.Language = usualLanguage(p.Way); t.Language != "" {
		var err error
		if p.Language, err = wire.ParseLanguage(t.Language); err != nil {
			return p, fmt.Errorf("language: %w", err)
		}
	}
	if p.Language == "" {
		return p, fmt.Errorf("language: say which it speaks, one of %s; its manual or its self-test label tells", join(known))
	}
	if !slices.Contains(known, p.Language) {
		return p, fmt.Errorf("language %s does not go by way %s: write one of %s", p.Language, p.Way, join(known))
	}
	if p.DotsPerMM < labels.MinDotsPerMM || p.DotsPerMM > labels.MaxDotsPerMM {
		return p, fmt.Errorf("dots_per_mm = %d: give the print head's dots a millimetre as its maker states them, %d to %d (8 on most, also called 203 dpi; 12 for 300; 24 for 600)",
			p.DotsPerMM, labels.MinDotsPerMM, labels.MaxDotsPerMM)
	}
	if !(p.GapMM >= 0 && p.GapMM <= mostGapMM) { // so that a NaN is refused too
		return p, fmt.Errorf("gap_mm = %g: the gap between two labels is 0 to %d mm", p.GapMM, mostGapMM)
	}
	if err := p.tellable(); err != nil {
		return p, err
	}
	return p, p.load(t.Stock)
}

// tellable reports what the printer's language has no numbers for, before there is a label to print.
func (p *Printer) tellable() error {
	blank := &labels.Picture{Width: 1, Height: 1, Stride: 1, Bits: []byte{0}, DotsPerMM: p.DotsPerMM, WidthMM: 1, HeightMM: 1}
	if _, err := wire.Encode(p.Language, blank, wire.Setup{GapMM: p.GapMM}); err != nil {
		return fmt.Errorf("language %s: %w", p.Language, err)
	}
	return nil
}

// mostGapMM is far above any gap between labels; it catches a length of another unit. Common practice, no source.
const mostGapMM = 25

// load reads what is in the printer, and looks over its stations.
func (p *Printer) load(stock []string) error {
	if len(stock) == 0 {
		return fmt.Errorf("stock: say which labels are in it, as in [\"pot-50x25\"]")
	}
	for _, name := range stock {
		layout, err := labels.ParseLayout(name)
		if err != nil {
			return fmt.Errorf("stock: %w", err)
		}
		if slices.Contains(p.StockNames(), layout.Name) {
			return fmt.Errorf("stock: %s is there twice", layout.Name)
		}
		p.Stock = append(p.Stock, layout)
	}
	for i, s := range p.Stations {
		if strings.TrimSpace(s) == "" {
			return fmt.Errorf("stations: one of them has no name")
		}
		if slices.Contains(p.Stations[:i], s) {
			return fmt.Errorf("stations: %s is there twice", s)
		}
	}
	return nil
}

// ambiguous finds two printers that would both be a station's for the same label.
func ambiguous(all []Printer) error {
	for i, a := range all {
		for _, b := range all[:i] {
			for _, station := range a.Stations {
				if !b.Serves(station) {
					continue
				}
				for _, l := range a.Stock {
					if slices.ContainsFunc(b.Stock, func(other labels.Layout) bool { return other.Form == l.Form }) {
						return fmt.Errorf("printers %s and %s are both station %s's for %s labels: a label must have one place where it comes out; "+
							"take the station, or the stock, from one of them", b.Name, a.Name, station, l.Form)
					}
				}
			}
		}
	}
	return nil
}

func isPrinterName(name string) bool {
	const longest = 32
	return name != "" && len(name) <= longest && strings.Trim(name, "abcdefghijklmnopqrstuvwxyz0123456789-") == ""
}

func join(languages []wire.Language) string {
	words := make([]string, len(languages))
	for i, l := range languages {
		words[i] = string(l)
	}
	return strings.Join(words, ", ")
}
