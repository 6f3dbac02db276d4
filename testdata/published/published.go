package published

import (
	"bufio"
	"embed"
	"fmt"
	"maps"
	"path"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
)

//go:embed *.tsv
var files embed.FS

// Sources is the table that says what each entry stands for.
const Sources = "sources.tsv"

// Row is one row of a table. Its methods fail the test when a column is missing or a cell cannot be read.
type Row struct {
	t     testing.TB
	place string // "testdata/published/fixation.tsv:12"
	cells map[string]string
}

// Tables lists the files there are, in the order of their names.
func Tables(t testing.TB) []string {
	t.Helper()
	found, err := files.ReadDir(".")
	if err != nil {
		t.Fatal(err)
	}
	names := make([]string, 0, len(found))
	for _, f := range found {
		names = append(names, f.Name())
	}
	return names
}

// Table reads all rows of a file. A file without rows, or a row with another number of cells than there are columns, fails
// the test.
func Table(t testing.TB, file string) []Row {
	t.Helper()
	open, err := files.Open(file)
	if err != nil {
		t.Fatalf("%v: known are %s", err, strings.Join(Tables(t), ", "))
	}
	defer func() { _ = open.Close() }() // a file inside the binary
	var columns []string
	var rows []Row
	number := 0
	for lines := bufio.NewScanner(open); lines.Scan(); {
		number++
		text := lines.Text()
		if text == "" || strings.HasPrefix(text, "#") {
			continue
		}
		cells := strings.Split(text, "\t")
		if columns == nil {
			columns = cells
			continue
		}
		r := Row{t: t, place: path.Join("testdata/published", file) + ":" + strconv.Itoa(number), cells: make(map[string]string, len(cells))}
		if len(cells) != len(columns) {
			t.Fatalf("%s: %d cells under %d columns", r.place, len(cells), len(columns))
		}
		for i, c := range cells {
			r.cells[columns[i]] = c
		}
		rows = append(rows, r)
	}
	if len(rows) == 0 {
		t.Fatalf("testdata/published/%s has no rows", file)
	}
	return rows
}

// Of keeps the rows whose column has one of the values, and fails the test when none does.
func Of(t testing.TB, rows []Row, column string, values ...string) []Row {
	t.Helper()
	var kept []Row
	for _, r := range rows {
		if slices.Contains(values, r.Text(column)) {
			kept = append(kept, r)
		}
	}
	if len(kept) == 0 {
		t.Fatalf("no row has %s %q", column, values)
	}
	return kept
}

// String says where the row stands and what its entry is, for the message of a failed check.
func (r Row) String() string {
	if entry := r.cells["entry"]; entry != "" {
		return r.place + " [" + entry + "]"
	}
	return r.place
}

// Has reports whether there is such a column and the cell is not empty; "-" counts as empty.
func (r Row) Has(column string) bool { return r.cells[column] != "" && r.cells[column] != "-" }

// Text is a cell as it stands.
func (r Row) Text(column string) string {
	r.t.Helper()
	text, ok := r.cells[column]
	if !ok {
		r.t.Fatalf("%s has no column %q", r, column)
	}
	return text
}

// Cells maps each column to its cell.
func (r Row) Cells() map[string]string { return maps.Clone(r.cells) }

// Words is a cell of several words with spaces between them; none when it is "-".
func (r Row) Words(column string) []string {
	r.t.Helper()
	text := r.Text(column)
	if text == "-" {
		return nil
	}
	return strings.Fields(text)
}

// Number is a cell that is a number.
func (r Row) Number(column string) float64 {
	r.t.Helper()
	x, err := strconv.ParseFloat(r.Text(column), 64)
	if err != nil {
		r.t.Fatalf("%s, column %s: %v", r, column, err)
	}
	return x
}

// Whole is a cell that is a whole number.
func (r Row) Whole(column string) int {
	r.t.Helper()
	n, err := strconv.Atoi(r.Text(column))
	if err != nil {
		r.t.Fatalf("%s, column %s: %v", r, column, err)
	}
	return n
}

// Length is a cell that is a length of time, "6h" or "59m59s".
func (r Row) Length(column string) time.Duration {
	r.t.Helper()
	d, err := time.ParseDuration(r.Text(column))
	if err != nil {
		r.t.Fatalf("%s, column %s: %v", r, column, err)
	}
	return d
}

// Day is a cell that is a day, "2026-04-07", as its noon in a zone.
func (r Row) Day(column string, zone *time.Location) time.Time {
	r.t.Helper()
	day, err := time.ParseInLocation(time.DateOnly, r.Text(column), zone)
	if err != nil {
		r.t.Fatalf("%s, column %s: %v", r, column, err)
	}
	return time.Date(day.Year(), day.Month(), day.Day(), 12, 0, 0, 0, zone)
}

// Entries maps each entry of sources.tsv to its row; an entry that stands twice fails the test.
func Entries(t testing.TB) map[string]Row {
	t.Helper()
	entries := make(map[string]Row)
	for _, r := range Table(t, Sources) {
		entry := r.Text("entry")
		if _, twice := entries[entry]; twice {
			t.Fatalf("%s stands twice", r)
		}
		entries[entry] = r
	}
	return entries
}

// Cited lists the entries that a source names in brackets: "FAQ 3: 6 to 72 h [F2]" is F2, "[C9, N1]" is both.
func Cited(source string) []string {
	var cited []string
	for rest := source; ; {
		_, after, found := strings.Cut(rest, "[")
		if !found {
			return cited
		}
		inside, behind, closed := strings.Cut(after, "]")
		if !closed {
			return append(cited, fmt.Sprintf("unclosed bracket: %s", after))
		}
		for one := range strings.SplitSeq(inside, ",") {
			cited = append(cited, strings.TrimSpace(one))
		}
		rest = behind
	}
}
