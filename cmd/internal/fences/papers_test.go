package fences

import (
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/testdata/outside"
)

const paperWhy = "a paper that does not tell what is there sends its reader the wrong way"

// paper reads a text at the root of the tree.
func paper(t *testing.T, name string) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(root(t), name))
	require.NoError(t, err)
	return string(text)
}

// coded returns all that stands between backquotes in a text.
func coded(text string) []string {
	var out []string
	for _, m := range regexp.MustCompile("`([^`\n]+)`").FindAllStringSubmatch(text, -1) {
		out = append(out, m[1])
	}
	return out
}

// begins complains if a README does not begin with its title, the job in one paragraph, and the two commands.
func begins(readme string) []complaint {
	const commands = "    go run ./cmd/pottrail demo\n    go test ./..."
	parts := strings.SplitN(readme, "\n\n", 4)
	if len(parts) == 4 && parts[0] == "# pottrail" && strings.Contains(parts[1], "needle biopsies") && parts[2] == commands {
		return nil
	}
	return []complaint{{"README.md", "does not begin with title, job in one paragraph, and the two commands", "who opens it wants to know what it is for, and how to see it, before anything else"}}
}

// commandsTold complains about commands that a README leaves out or makes up. A row of its table begins "| `pottrail x".
func commandsTold(readme string, commands []string) []complaint {
	var out []complaint
	told := make(map[string]bool)
	for _, span := range coded(readme) {
		for _, word := range strings.Fields(span) {
			told[word] = true
		}
	}
	for _, c := range commands {
		if !told[c] {
			out = append(out, complaint{"README.md", "does not name the command " + c, paperWhy})
		}
	}
	for _, m := range regexp.MustCompile("(?m)^\\| `pottrail ([a-z]+)").FindAllStringSubmatch(readme, -1) {
		if !slices.Contains(commands, m[1]) {
			out = append(out, complaint{"README.md", "has a command that does not exist: " + m[1], paperWhy})
		}
	}
	return out
}

// pathsTold complains about paths of the HTTP API that a README leaves out.
func pathsTold(readme string, paths []string) []complaint {
	var out []complaint
	told := coded(readme)
	for i, span := range told {
		told[i] = strings.TrimPrefix(strings.TrimPrefix(span, "GET "), "POST ")
	}
	for _, p := range paths {
		if !slices.Contains(told, p) {
			out = append(out, complaint{"README.md", "does not name the path " + p, paperWhy})
		}
	}
	return out
}

// mapTold complains about folders that the map in a DEVELOPERS.md leaves out or makes up.
func mapTold(developers string, folders []string, there func(string) bool) []complaint {
	var out []complaint
	_, rest, _ := strings.Cut(developers, "\n## The map\n")
	section, _, _ := strings.Cut(rest, "\n## ")
	var rows []string
	for _, m := range regexp.MustCompile("(?m)^\\| `([a-z/]+)` \\|").FindAllStringSubmatch(section, -1) {
		rows = append(rows, m[1])
		if !there(m[1]) {
			out = append(out, complaint{"DEVELOPERS.md", "has a folder in its map that does not exist: " + m[1], paperWhy})
		}
	}
	for _, f := range folders {
		if !slices.Contains(rows, f) {
			out = append(out, complaint{"DEVELOPERS.md", "has no row in its map for the folder " + f, paperWhy})
		}
	}
	return out
}

var (
	testName = regexp.MustCompile(`^(Test|Fuzz|Benchmark)[A-Z]\w*$`)
	fileName = regexp.MustCompile(`^[a-z/_0-9.]+/[a-z_0-9]+\.(go|toml|html|json|md)$`)
)

// namesReal complains about tests and files that a text names and that do not exist.
func namesReal(developers string, tests []string, there func(string) bool) []complaint {
	var out []complaint
	for _, span := range coded(developers) {
		if testName.MatchString(span) && !slices.Contains(tests, span) || fileName.MatchString(span) && !there(span) {
			out = append(out, complaint{"DEVELOPERS.md", "names what is not there: " + span, paperWhy})
		}
	}
	return out
}

// installs complains about packages, of Debian and for node, that a check script does not install.
func installs(script string, packages, forNode []string) []complaint {
	var out []complaint
	if !strings.Contains(script, outside.NothingSkips+"=1") {
		out = append(out, complaint{".ci/run", "does not set " + outside.NothingSkips, "a check that may skip is no check"})
	}
	for list, wanted := range map[string][]string{"packages": packages, "node_packages": forNode} {
		_, rest, _ := strings.Cut(script, "\n"+list+"=(")
		there, _, _ := strings.Cut(rest, ")")
		for _, p := range wanted {
			if !slices.Contains(strings.Fields(there), p) {
				out = append(out, complaint{".ci/run", "does not install " + p, "a test may ask for it: see testdata/outside"})
			}
		}
	}
	return out
}

func TestReadmeTellsWhatIsThere(t *testing.T) {
	all, readme := wholeTree(t), paper(t, "README.md")
	stands(t, begins(readme))

	commands := uses(all, "cmd/internal/cli")
	require.Contains(t, commands, "serve", "commands are found by their Use")
	stands(t, commandsTold(readme, commands))

	paths := literals(all, "cmd/internal/ask", regexp.MustCompile(`^/v1/[a-z]+(/\{name\})?$`))
	for _, route := range literals(all, "cmd/internal/web", regexp.MustCompile(`^(GET|POST) /(v1/[a-z]|[a-z]+$)`)) {
		_, p, _ := strings.Cut(route, " ")
		paths = append(paths, p)
	}
	require.Subset(t, paths, []string{"/v1/live", "/v1/flags", "/healthz"}, "paths are found as string literals")
	stands(t, pathsTold(readme, paths))
}

func TestDevelopersTellsWhatIsThere(t *testing.T) {
	text := paper(t, "DEVELOPERS.md")
	var folders, tests []string
	for _, s := range wholeTree(t) {
		folders = append(folders, s.folder())
		tests = append(tests, functions(s)...)
	}
	slices.Sort(folders)
	there := func(name string) bool {
		_, err := os.Stat(filepath.Join(root(t), name))
		return err == nil
	}
	stands(t, mapTold(text, slices.Compact(folders), there))
	stands(t, namesReal(text, tests, there))
}

func TestCheckInstallsWhatTestsAskFor(t *testing.T) {
	stands(t, installs(paper(t, ".ci/run"), outside.Packages(), outside.NodePackages()))
}

func TestPapersCanFail(t *testing.T) {
	none := func(string) bool { return false }
	rows := []struct {
		label string
		got   []complaint
		says  string
	}{
		{"README that begins with its licence", begins("# pottrail\n\nApache License\n\nmore\n\nmore"), "does not begin"},
		{"README without a command", commandsTold("only `pottrail serve`", []string{"serve", "scan"}), "does not name the command scan"},
		{"README with a command too many", commandsTold("| `pottrail fly` | flies |", nil), "does not exist: fly"},
		{"README without a path", pathsTold("`GET /v1/flags`", []string{"/v1/flags", "/v1/live"}), "/v1/live"},
		{"map without a folder", mapTold("x\n## The map\n\n## y `store`", []string{"store"}, none), "no row in its map for the folder store"},
		{"map with a folder too many", mapTold("x\n## The map\n| `attic` | old | |\n", nil, none), "does not exist: attic"},
		{"recipe with a test that is gone", namesReal("until `TestGone` passes", nil, none), "not there: TestGone"},
		{"recipe with a file that is gone", namesReal("see `store/gone.go`", nil, none), "not there: store/gone.go"},
		{"check without a package", installs("POTTRAIL_NOTHING_SKIPS=1\npackages=(\n\tgcc\n)", []string{"chromium"}, nil), "does not install chromium"},
		{"check without a package for node", installs("POTTRAIL_NOTHING_SKIPS=1\npackages=(\n\tgcc\n)\nnode_packages=(\n\tx@1.0.0\n)", []string{"gcc"}, []string{"x@1.0.1"}), "does not install x@1.0.1"},
		{"check that may skip", installs("\npackages=()", nil, nil), "does not set"},
	}
	for _, row := range rows {
		t.Run(row.label, func(t *testing.T) {
			require.Len(t, row.got, 1)
			require.Contains(t, row.got[0].what, row.says)
		})
	}
}
