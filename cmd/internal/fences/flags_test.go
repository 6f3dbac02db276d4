package fences

import (
	"go/ast"
	"testing"

	"github.com/stretchr/testify/require"
)

// flagsExplained complains about kinds of flags that the catalog of the core does not explain, and returns how many
// kinds it saw.
func flagsExplained(all []*source) ([]complaint, int) {
	explained := make(map[string]bool)
	var kinds []*ast.Ident
	home := make(map[*ast.Ident]*source)
	for _, s := range all {
		if s.folder() != "tracker" || s.isTest() {
			continue
		}
		ast.Inspect(s.tree, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.Ident:
				explained[n.Name] = explained[n.Name] || s.name == "tracker/catalog.go"
			case *ast.ValueSpec:
				if id, typed := n.Type.(*ast.Ident); typed && id.Name == "FlagKind" {
					kinds = append(kinds, n.Names...)
					for _, name := range n.Names {
						home[name] = s
					}
				}
			}
			return true
		})
	}
	var out []complaint
	for _, id := range kinds {
		if !explained[id.Name] {
			out = append(out, complaint{home[id].at(id), id.Name + " is not in the catalog",
				"who sees a flag asks what it means: say in tracker/catalog.go when it is raised, when it goes, and why it matters"})
		}
	}
	return out, len(kinds)
}

func TestEveryFlagIsExplained(t *testing.T) {
	complaints, kinds := flagsExplained(wholeTree(t))
	require.Greater(t, kinds, 20, "kinds of flags are found as constants")
	stands(t, complaints)
}

func TestEveryFlagIsExplainedCanFail(t *testing.T) {
	kinds := written(t, "tracker/flagkinds.go", "package tracker\nconst (\n\tFlagLate FlagKind = \"late\"\n\tFlagLost FlagKind = \"lost\"\n)")
	catalog := written(t, "tracker/catalog.go", "package tracker\nvar catalog = []any{FlagLate}")
	got, n := flagsExplained([]*source{kinds, catalog})
	require.Equal(t, 2, n)
	require.Len(t, got, 1)
	require.Contains(t, got[0].what, "FlagLost")
}
