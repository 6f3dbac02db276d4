package tracker_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/testdata/published"
)

// basesInCode lists the bases of flags that are written out in a file of this package, each with its line. What is read out
// of the protocol is not here: it has a source of its own.
func basesInCode(t *testing.T, set *token.FileSet, name string, text any) map[string]token.Position {
	t.Helper()
	file, err := parser.ParseFile(set, name, text, parser.SkipObjectResolution)
	require.NoError(t, err)
	found := map[string]token.Position{}
	add := func(value ast.Expr) {
		if literal, ok := value.(*ast.BasicLit); ok && literal.Kind == token.STRING {
			words, err := strconv.Unquote(literal.Value)
			require.NoError(t, err)
			found[words] = set.Position(literal.Pos())
		}
	}
	ast.Inspect(file, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.KeyValueExpr: // Flag{Basis: "..."}
			if key, ok := n.Key.(*ast.Ident); ok && key.Name == "Basis" {
				add(n.Value)
			}
		case *ast.AssignStmt: // f.Basis = "...", alone or among others
			for i, to := range n.Lhs {
				if field, ok := to.(*ast.SelectorExpr); ok && field.Sel.Name == "Basis" && len(n.Rhs) == len(n.Lhs) {
					add(n.Rhs[i])
				}
			}
		}
		return true
	})
	return found
}

// TestEveryBasisInCodeResolves: the basis of a flag that does not come out of the protocol is the source of an entry of
// testdata/published/sources.tsv, word for word.
func TestEveryBasisInCodeResolves(t *testing.T) {
	known := map[string]string{}
	for entry, r := range published.Entries(t) {
		known[r.Text("source")] = entry
	}
	files, err := os.ReadDir(".")
	require.NoError(t, err)
	set := token.NewFileSet()
	seen := 0
	for _, f := range files {
		if !strings.HasSuffix(f.Name(), ".go") || strings.HasSuffix(f.Name(), "_test.go") {
			continue
		}
		for basis, at := range basesInCode(t, set, f.Name(), nil) {
			seen++
			if _, ok := known[basis]; !ok {
				t.Errorf("%s: the basis %q is the source of no entry: take it out of the protocol with cite, say \"common practice, no source\", "+
					"or add an entry to testdata/published/%s", at, basis, published.Sources)
			}
		}
	}
	require.Greater(t, seen, 3, "bases in code are found at all")
}

func TestBasesInCodeAreFound(t *testing.T) {
	const text = `package tracker
func f() {
	a := Flag{Kind: "x", Basis: "one"}
	a.Severity, a.Basis = "now", "two"
	a.Basis = "three"
	b := Flag{Basis: cite("four")}
	c := Flag{Text: "five"}
}`
	found := basesInCode(t, token.NewFileSet(), "x.go", text)
	require.Len(t, found, 3)
	for basis, line := range map[string]int{"one": 3, "two": 4, "three": 5} {
		require.Equal(t, line, found[basis].Line, basis)
	}
}
