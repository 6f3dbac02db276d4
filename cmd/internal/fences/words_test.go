package fences

import (
	"bytes"
	"fmt"
	"io/fs"
	"os"
	"path"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// topLevel lists what may stand at the root of the tree: see the map in DEVELOPERS.md.
var topLevel = []string{
	"README.md", "DEVELOPERS.md", "LICENSE", "go.mod", "go.sum", ".ci", ".gitignore", ".git",
	"cmd", "store", "events", "labels", "tracker", "testdata",
}

// foreign is a word or path that does not belong in the tree. The patterns are put together from parts, so that this
// file does not hold them.
type foreign struct {
	pattern *regexp.Regexp
	what    string
	why     string
}

const (
	machineWhy = "the tree must build and read the same on any machine: use t.TempDir(), a path from the root of the tree, or a place that the user names"
	storyWhy   = "the tree says what the program is, not how it came about"
)

var foreigns = []foreign{
	{regexp.MustCompile(`(?m)(^|[^\w./:-])/(` + `work/|` + `root/|` + `farm/|` + `home/\w\w|` + `Users/\w\w)`), "a path of one machine", machineWhy},
	{regexp.MustCompile(`(?m)(^|[^\w./])/` + `tmp/`), "a path of one machine", machineWhy},
	{regexp.MustCompile(`(proxy|sum)\.` + `golang\.org|registry\.` + `npmjs|deb\.` + `debian\.org|security\.` + `debian\.org`), "the host of a package registry",
		"where packages come from is set up on the machine, not in the tree"},
	{regexp.MustCompile(`(?i)\btran` + `scripts?\b|seed ` + `document`), "a word about how the work was done", storyWhy},
	{regexp.MustCompile(`(?im)(^|[^-\w])(sub-?)?a` + `gents?\b`), "a word about how the work was done", storyWhy},
	{regexp.MustCompile(`(?i)cla` + `ude|anthro` + `pic`), "the name of a maker of tools", storyWhy},
}

// words complains about each place in a text that holds something foreign.
func words(name string, text []byte) []complaint {
	var out []complaint
	if bytes.IndexByte(text, 0) >= 0 || path.Base(name) == "go.sum" {
		return nil
	}
	for _, f := range foreigns {
		for _, at := range f.pattern.FindAllIndex(text, -1) {
			line := 1 + bytes.Count(text[:at[1]], []byte("\n")) // the end: a match may begin with the newline before it
			out = append(out, complaint{fmt.Sprintf("%s:%d", name, line), fmt.Sprintf("%s: %q", f.what, bytes.TrimSpace(text[at[0]:at[1]])), f.why})
		}
	}
	return out
}

// ignored holds the patterns of .gitignore, which may lie about at the root.
func ignored(t *testing.T) []string {
	text, err := os.ReadFile(root(t) + "/.gitignore")
	require.NoError(t, err)
	var out []string
	for line := range strings.Lines(string(text)) {
		if p := strings.Trim(strings.TrimSpace(line), "/"); p != "" && !strings.HasPrefix(p, "#") {
			out = append(out, p)
		}
	}
	return out
}

// stray returns the names that have no place at the root.
func stray(names, ignored []string) []string {
	var out []string
next:
	for _, name := range names {
		for _, p := range append(topLevel, ignored...) {
			if ok, _ := path.Match(p, name); ok {
				continue next
			}
		}
		out = append(out, name)
	}
	return out
}

func TestRootHoldsOnlyWhatIsPlanned(t *testing.T) {
	entries, err := os.ReadDir(root(t))
	require.NoError(t, err)
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	for _, name := range stray(names, ignored(t)) {
		t.Errorf("%s stands at the root of the tree, where only these may: %s.\n\tPut it in the folder it belongs to; a new folder at the root is a new floor of the house", name, strings.Join(topLevel, ", "))
	}
}

func TestRootHoldsOnlyWhatIsPlannedCanFail(t *testing.T) {
	require.Equal(t, []string{"util", "notes.md"}, stray([]string{"cmd", "util", "notes.md", "pottrail", "store.test"}, []string{"pottrail", "*.test"}))
}

func TestNothingForeignInTheTree(t *testing.T) {
	err := fs.WalkDir(os.DirFS(root(t)), ".", func(name string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && name == ".git":
			return fs.SkipDir
		case !d.Type().IsRegular():
			return nil
		}
		if strings.HasSuffix(name, ".test") || strings.HasSuffix(name, ".prof") {
			return nil // built by go test, never committed
		}
		text, err := fs.ReadFile(os.DirFS(root(t)), name)
		if err != nil {
			return err
		}
		stands(t, words(name, text))
		return nil
	})
	require.NoError(t, err)
}

func TestNothingForeignInTheTreeCanFail(t *testing.T) {
	for _, line := range []string{
		"dir := \"/" + "root/pottrail\"", "see /" + "home/someone/notes", "cd /" + "work/main", "out=/" + "tmp/out.png",
		"GOPROXY=https://proxy." + "golang.org", "from the tran" + "script", "the seed " + "document says", "asked another a" + "gent", "A" + "gents may",
		"made with Cla" + "ude",
	} {
		got := words("notes.md", []byte("first line\n"+line))
		require.NotEmpty(t, got, line)
		require.Equal(t, "notes.md:2", got[0].where)
		require.NotEmpty(t, got[0].why)
	}
	for _, line := range []string{
		"the header User-A" + "gent is not logged", "https://example.org/" + "work/page", "the " + "work/rest of it", "reagent", "HOME=/home/" + "x", "testdata/" + "tmp/x", "./" + "work/x",
	} {
		require.Empty(t, words("notes.md", []byte(line)), line)
	}
}
