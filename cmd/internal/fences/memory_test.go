package fences

import (
	"go/ast"
	"maps"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// lasting are the folders whose values live as long as the daemon.
var lasting = []string{"store", "store/boltfile", "store/people", "store/prints", "store/staff", "cmd/internal/daemon", "cmd/internal/press", "cmd/internal/web", "events/broker", "labels/printers"}

// bounds says of each field there that holds many things what keeps it from growing for ever. What is of one batch, one
// request or one rebuild goes with it.
var bounds = map[string]string{
	"store.Ledger.copies":     "10,000 names, then it is emptied: what is recorded is read from the file",
	"store.past.rules":        "mostPast protocols, then it is emptied",
	"store.state.laws":        "one a clinic",
	"store.state.sweeps":      "one a clinic, while a change of rules is worked through",
	"store.state.serials":     "one a clinic and year",
	"store.things.by":         "Options.Cached cases and bags",
	"store.things.order":      "as many as by has",
	"store.draft.ids":         "one batch",
	"store.draft.hashes":      "one batch",
	"store.draft.things":      "one batch",
	"store.draft.was":         "one batch",
	"store.rebuilding.laws":   "one a clinic",
	"store.rebuilding.last":   "one an origin",
	"store.checkup.origins":   "one an origin",
	"people.checkup.marks":    "one check of a file",
	"prints.examination.want": "one check of a file",
	"daemon.crowd.guests":     "maxConnections",
	"daemon.lately.noted":     "mostLately reads, each for a minute",
	"daemon.notary.last":      "one an origin",
	"daemon.scans.open":       "mostAwaited labels",
	"daemon.rollLabel.struck": "one question",
	"press.Workers.workers":   "one a printer",
	"web.staffPage.No":        "one page",
	"web.attempts.paid":       "mostTriers stations and addresses, and one for all others",
	"broker.Doors.open":       "MaxAccounts",
	"staff.File.open":         "MostOpen sessions",
	"staff.File.tokens":       "as many as open has",
	"staff.File.places":       "as many as open has",
	"staff.checking.want":     "one check of a file",
}

const memoryWhy = "what a daemon keeps for years must have a bound: say it in memory_test.go, and hold it by a test if it is a number"

// unbounded complains about maps and lists in the lasting folders' types that have no line in bounds.
func unbounded(all []*source) ([]complaint, []string) {
	var out []complaint
	var found []string
	for _, s := range all {
		if s.isTest() || !slices.Contains(lasting, s.folder()) {
			continue
		}
		ast.Inspect(s.tree, func(n ast.Node) bool {
			spec, ok := n.(*ast.TypeSpec)
			if !ok {
				return true
			}
			fields, ok := spec.Type.(*ast.StructType)
			if !ok {
				return true
			}
			for _, f := range fields.Fields.List {
				if !holdsMany(f.Type) {
					continue
				}
				for _, name := range f.Names {
					at := s.tree.Name.Name + "." + spec.Name.Name + "." + name.Name
					found = append(found, at)
					if bounds[at] == "" {
						out = append(out, complaint{s.at(f), at + " has no bound", memoryWhy})
					}
				}
			}
			return true
		})
	}
	return out, found
}

// holdsMany reports whether a field's type is a map, or one of the library's that grow.
func holdsMany(t ast.Expr) bool {
	switch t := t.(type) {
	case *ast.MapType:
		return true
	case *ast.StarExpr:
		return holdsMany(t.X)
	case *ast.SelectorExpr:
		id, ok := t.X.(*ast.Ident)
		return ok && slices.Contains([]string{"list.List", "sync.Map"}, id.Name+"."+t.Sel.Name)
	}
	return false
}

func TestWhatLastsHasABound(t *testing.T) {
	complaints, found := unbounded(wholeTree(t))
	stands(t, complaints)
	for at := range maps.Keys(bounds) {
		require.Contains(t, found, at, "it has a line in memory_test.go and is there no more")
	}
}

func TestWhatLastsHasABoundCanFail(t *testing.T) {
	for _, row := range []struct{ name, text, says string }{
		{"store/x.go", "package store\ntype Index struct{ seen map[string]bool }", "store.Index.seen has no bound"},
		{"cmd/internal/web/x.go", "package web\nimport \"sync\"\ntype Server struct{ known sync.Map }", "web.Server.known has no bound"},
		{"store/x.go", "package store\nimport \"container/list\"\ntype Index struct{ order *list.List }", "store.Index.order has no bound"},
		{"store/x.go", "package store\nfunc f() { seen := map[string]bool{}; _ = seen }", ""},
		{"tracker/x.go", "package tracker\ntype Case struct{ seen map[string]bool }", ""},
		{"store/x_test.go", "package store\ntype Index struct{ seen map[string]bool }", ""},
	} {
		got, _ := unbounded([]*source{written(t, row.name, row.text)})
		if row.says == "" {
			require.Empty(t, got, row.text)
			continue
		}
		require.Len(t, got, 1, row.text)
		require.True(t, strings.HasPrefix(got[0].what, row.says), got[0].what)
	}
}
