package fences

import (
	"go/ast"
	"go/token"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/testdata/outside"
)

// paper reads a text at the root of the tree.
func paper(t *testing.T, name string) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(root(t), name))
	require.NoError(t, err)
	return string(text)
}

// literals returns the values of all string literals in a folder's sources, tests excepted, that a pattern matches.
func literals(all []*source, folder string, pattern *regexp.Regexp) []string {
	var out []string
	for _, s := range all {
		if s.folder() != folder || s.isTest() {
			continue
		}
		ast.Inspect(s.tree, func(n ast.Node) bool {
			lit, ok := n.(*ast.BasicLit)
			if ok && lit.Kind == token.STRING {
				if v, err := strconv.Unquote(lit.Value); err == nil && pattern.MatchString(v) && !slices.Contains(out, v) {
					out = append(out, v)
				}
			}
			return true
		})
	}
	slices.Sort(out)
	return out
}

// uses returns the first word of each cobra command's Use in a folder.
func uses(all []*source, folder string) []string {
	var out []string
	for _, s := range all {
		if s.folder() != folder || s.isTest() {
			continue
		}
		ast.Inspect(s.tree, func(n ast.Node) bool {
			pair, ok := n.(*ast.KeyValueExpr)
			if !ok {
				return true
			}
			key, ok := pair.Key.(*ast.Ident)
			lit, text := pair.Value.(*ast.BasicLit)
			if ok && text && key.Name == "Use" {
				if v, err := strconv.Unquote(lit.Value); err == nil {
					word, _, _ := strings.Cut(v, " ")
					out = append(out, word)
				}
			}
			return true
		})
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// coded returns all that stands between backquotes in a text.
func coded(text string) []string {
	var out []string
	for _, m := range regexp.MustCompile("`([^`\n]+)`").FindAllStringSubmatch(text, -1) {
		out = append(out, m[1])
	}
	return out
}

func TestReadmeBeginsWithTheJobAndTheTwoCommands(t *testing.T) {
	text := paper(t, "README.md")
	parts := strings.SplitN(text, "\n\n", 4)
	require.Len(t, parts, 4)
	require.Equal(t, "# pottrail", parts[0])
	require.Contains(t, parts[1], "needle biopsies", "the job stands first, in one paragraph")
	require.Equal(t, "    go run ./cmd/pottrail demo\n    go test ./...", parts[2], "the two commands come next")
}

func TestReadmeNamesEveryCommandAndNoOther(t *testing.T) {
	commands := uses(wholeTree(t), "cmd/internal/cli")
	require.Contains(t, commands, "serve", "commands are found by their Use")
	spans := coded(paper(t, "README.md"))
	told := make(map[string]bool)
	for _, span := range spans {
		for _, word := range strings.Fields(span) {
			told[word] = true
		}
	}
	for _, c := range commands {
		if !told[c] {
			t.Errorf("README.md does not name the command %q: add it to the table of commands", c)
		}
	}
	for _, m := range regexp.MustCompile("(?m)^\\| `pottrail ([a-z]+)").FindAllStringSubmatch(paper(t, "README.md"), -1) {
		if !slices.Contains(commands, m[1]) {
			t.Errorf("README.md has a command %q in its table that does not exist", m[1])
		}
	}
}

func TestReadmeNamesEveryQuestionOverHTTP(t *testing.T) {
	all := wholeTree(t)
	told := coded(paper(t, "README.md"))
	for i, span := range told {
		told[i] = strings.TrimPrefix(strings.TrimPrefix(span, "GET "), "POST ")
	}
	paths := literals(all, "cmd/internal/ask", regexp.MustCompile(`^/v1/[a-z]`))
	for _, route := range literals(all, "cmd/internal/web", regexp.MustCompile(`^(GET|POST) /(v1/[a-z]|[a-z]+$)`)) {
		_, p, _ := strings.Cut(route, " ")
		paths = append(paths, p)
	}
	require.Contains(t, paths, "/v1/live", "routes are found as string literals")
	require.Contains(t, paths, "/v1/flags", "questions are found as string literals")
	for _, p := range paths {
		if !slices.Contains(told, p) && !strings.HasPrefix(p, "/v1/local/") {
			t.Errorf("README.md does not name %s: add it to the table of questions", p)
		}
	}
}

// TestMapNamesEveryFolder holds the map in DEVELOPERS.md to the folders that have Go files.
func TestMapNamesEveryFolder(t *testing.T) {
	spans := coded(paper(t, "DEVELOPERS.md"))
	seen := make(map[string]bool)
	for _, s := range wholeTree(t) {
		folder := s.folder()
		if seen[folder] {
			continue
		}
		seen[folder] = true
		if !slices.Contains(spans, folder) {
			t.Errorf("DEVELOPERS.md does not name the folder %s: give it a line in the map", folder)
		}
	}
	for _, m := range regexp.MustCompile("(?m)^\\| `([a-z/]+)` \\|").FindAllStringSubmatch(mapOf(paper(t, "DEVELOPERS.md")), -1) {
		if info, err := os.Stat(filepath.Join(root(t), m[1])); err != nil || !info.IsDir() {
			t.Errorf("DEVELOPERS.md has a folder %s in its map that does not exist", m[1])
		}
	}
}

// mapOf returns the section with the map.
func mapOf(text string) string {
	_, rest, _ := strings.Cut(text, "\n## The map\n")
	section, _, _ := strings.Cut(rest, "\n## ")
	return section
}

// TestDevelopersNamesRealFilesAndTests holds the recipes to files and tests that exist.
func TestDevelopersNamesRealFilesAndTests(t *testing.T) {
	tests := make(map[string]bool)
	for _, s := range wholeTree(t) {
		for _, d := range s.tree.Decls {
			if f, ok := d.(*ast.FuncDecl); ok {
				tests[f.Name.Name] = true
			}
		}
	}
	named := 0
	for _, span := range coded(paper(t, "DEVELOPERS.md")) {
		if regexp.MustCompile(`^(Test|Fuzz|Benchmark)[A-Z]\w*$`).MatchString(span) {
			named++
			if !tests[span] {
				t.Errorf("DEVELOPERS.md names %s, which is not there", span)
			}
		}
		if regexp.MustCompile(`^[a-z/_0-9.]+/[a-z_0-9]+\.(go|toml|html|json|md)$`).MatchString(span) {
			named++
			if _, err := os.Stat(filepath.Join(root(t), span)); err != nil {
				t.Errorf("DEVELOPERS.md names the file %s, which is not there", span)
			}
		}
	}
	require.Greater(t, named, 10, "names are found between backquotes")
}

// TestEveryFlagIsExplained holds the kinds of flags to the catalog that explains them.
func TestEveryFlagIsExplained(t *testing.T) {
	all := wholeTree(t)
	var catalog *source
	for _, s := range all {
		if s.name == "tracker/catalog.go" {
			catalog = s
		}
	}
	require.NotNil(t, catalog)
	explained := make(map[string]bool)
	ast.Inspect(catalog.tree, func(n ast.Node) bool {
		if id, ok := n.(*ast.Ident); ok {
			explained[id.Name] = true
		}
		return true
	})
	kinds := 0
	for _, s := range all {
		if s.isTest() || s.folder() != "tracker" {
			continue
		}
		ast.Inspect(s.tree, func(n ast.Node) bool {
			v, ok := n.(*ast.ValueSpec)
			if !ok {
				return true
			}
			if id, typed := v.Type.(*ast.Ident); typed && id.Name == "FlagKind" {
				kinds++
				if !explained[v.Names[0].Name] {
					t.Errorf("%s: %s is not in the catalog: say in tracker/catalog.go when it is raised, when it goes, and why it matters", s.at(v), v.Names[0].Name)
				}
			}
			return true
		})
	}
	require.Greater(t, kinds, 20, "kinds of flags are found as constants")
}

// TestCheckInstallsWhatTestsAskFor holds .ci/run to the programs that tests may ask for.
func TestCheckInstallsWhatTestsAskFor(t *testing.T) {
	text := paper(t, ".ci/run")
	require.Contains(t, text, "export LC_ALL=C "+outside.NothingSkips+"=1")
	_, rest, found := strings.Cut(text, "packages=(")
	require.True(t, found)
	list, _, _ := strings.Cut(rest, ")")
	for _, p := range outside.Packages() {
		if !slices.Contains(strings.Fields(list), p) {
			t.Errorf(".ci/run does not install %s, which a test may ask for: add it to its packages", p)
		}
	}
}
