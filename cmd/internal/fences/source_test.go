package fences

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path"
	"path/filepath"
	"sort"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"
)

// module is the path before each of our own imports.
const module = "github.com/pottrail/pottrail"

// set has the positions of all parsed files, so that files of one package can be checked together.
var set = token.NewFileSet()

// source is one Go file. name is its path from the root of the tree, with slashes.
type source struct {
	name  string
	lines int
	tree  *ast.File
}

func (s *source) folder() string { return path.Dir(s.name) }
func (s *source) isTest() bool   { return strings.HasSuffix(s.name, "_test.go") }
func (s *source) isMain() bool   { return s.tree.Name.Name == "main" }
func (s *source) at(n ast.Node) string {
	return fmt.Sprintf("%s:%d", s.name, set.Position(n.Pos()).Line)
}
func (s *source) under(dir string) bool {
	return s.folder() == dir || strings.HasPrefix(s.name, dir+"/")
}

// imports returns the local name and path of each import; the local name is guessed from the path when not given.
func (s *source) imports() map[string]string {
	names := make(map[string]string)
	for _, spec := range s.tree.Imports {
		p := strings.Trim(spec.Path.Value, `"`)
		name := path.Base(p)
		if strings.HasPrefix(name, "v") && strings.Trim(name[1:], "0123456789") == "" {
			name = path.Base(path.Dir(p))
		}
		if spec.Name != nil {
			name = spec.Name.Name
		}
		names[name] = p
	}
	return names
}

// complaint is one thing that a fence does not let pass.
type complaint struct{ where, what, why string }

func (c complaint) String() string { return fmt.Sprintf("%s: %s\n\t%s", c.where, c.what, c.why) }

// root finds the folder of go.mod above the test.
func root(t testing.TB) string {
	t.Helper()
	dir, err := os.Getwd()
	require.NoError(t, err)
	for {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return dir
		}
		up := filepath.Dir(dir)
		require.NotEqual(t, dir, up, "no go.mod above the working folder")
		dir = up
	}
}

var (
	once    sync.Once
	sources []*source
	failed  error
)

// wholeTree parses each Go file of the tree once, those under testdata too.
func wholeTree(t testing.TB) []*source {
	t.Helper()
	base := root(t)
	once.Do(func() { sources, failed = parseTree(base) })
	require.NoError(t, failed)
	require.Greater(t, len(sources), 20, "fences that see hardly any file hold nothing")
	return sources
}

func parseTree(base string) ([]*source, error) {
	var out []*source
	err := filepath.WalkDir(base, func(p string, d os.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && strings.HasPrefix(d.Name(), ".") && p != base:
			return filepath.SkipDir
		case d.IsDir() || !strings.HasSuffix(p, ".go"):
			return nil
		}
		text, err := os.ReadFile(p)
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(base, p)
		if err != nil {
			return err
		}
		s, err := parse(filepath.ToSlash(rel), string(text))
		out = append(out, s)
		return err
	})
	return out, err
}

func parse(name, text string) (*source, error) {
	tree, err := parser.ParseFile(set, name, text, parser.ParseComments|parser.SkipObjectResolution)
	return &source{name: name, lines: strings.Count(text, "\n"), tree: tree}, err
}

// written parses a source given as a string, for showing that a fence can fail.
func written(t testing.TB, name, text string) *source {
	t.Helper()
	s, err := parse(name, text)
	require.NoError(t, err)
	return s
}

// packages groups sources by folder and package name, in order of both. Tests in package x_test stand alone.
func packages(all []*source) [][]*source {
	byKey := make(map[string][]*source)
	for _, s := range all {
		key := s.folder() + " " + s.tree.Name.Name
		byKey[key] = append(byKey[key], s)
	}
	keys := make([]string, 0, len(byKey))
	for k := range byKey {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	out := make([][]*source, 0, len(keys))
	for _, k := range keys {
		out = append(out, byKey[k])
	}
	return out
}

// stands fails the test with each complaint and its reason.
func stands(t *testing.T, complaints []complaint) {
	t.Helper()
	for _, c := range complaints {
		t.Errorf("%s", c)
	}
}

// bad is one small source that a fence must complain about, and a part of what it must say. An empty says means that
// the source is good.
type bad struct{ label, name, text, says string }

// canFail runs a fence over each bad source by itself.
func canFail(t *testing.T, fence func([]*source) []complaint, rows []bad) {
	t.Helper()
	for _, row := range rows {
		t.Run(row.label, func(t *testing.T) {
			got := fence([]*source{written(t, row.name, row.text)})
			if row.says == "" {
				require.Empty(t, got)
				return
			}
			require.NotEmpty(t, got, "the fence let it pass")
			require.Contains(t, got[0].what, row.says)
			require.Contains(t, got[0].where, row.name)
			require.NotEmpty(t, got[0].why)
		})
	}
}
