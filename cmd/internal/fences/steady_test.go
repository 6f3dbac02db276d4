package fences

import (
	"fmt"
	"go/ast"
	"go/token"
	"go/types"
	"path"
	"testing"
)

// steady complains about package variables of the core that change: each must have its value from its declaration and
// keep it. Assignment, also to an element or field, taking the address, delete, clear, copy and calls of methods with a
// pointer receiver all count as changing. Names are resolved by go/types, with foreign packages left empty.
func steady(all []*source) []complaint {
	var out []complaint
	for _, pkg := range packages(all) {
		if pkg[0].under("tracker") {
			out = append(out, steadyPackage(pkg)...)
		}
	}
	return out
}

const steadyWhy = "the core keeps no state between calls: two goroutines, or the same events twice, must not see each other. Build the value in its declaration, or pass it in"

func steadyPackage(pkg []*source) []complaint {
	var trees []*ast.File
	home := make(map[*ast.File]*source)
	for _, s := range pkg {
		if !s.isTest() {
			trees = append(trees, s.tree)
			home[s.tree] = s
		}
	}
	if len(trees) == 0 {
		return nil
	}
	info := &types.Info{
		Defs: map[*ast.Ident]types.Object{}, Uses: map[*ast.Ident]types.Object{}, Selections: map[*ast.SelectorExpr]*types.Selection{},
	}
	conf := types.Config{Importer: empty{}, Error: func(error) {}}
	checked, _ := conf.Check(pkg[0].folder(), set, trees, info) // errors are expected: foreign packages are empty
	var out []complaint
	for _, tree := range trees {
		s := home[tree]
		w := watcher{s: s, info: info, own: checked}
		ast.Inspect(tree, w.look)
		out = append(out, w.out...)
		out = append(out, valueless(s)...)
	}
	return out
}

// valueless finds package variables declared without a value: they can only be there to be changed.
func valueless(s *source) []complaint {
	var out []complaint
	for _, decl := range s.tree.Decls {
		group, ok := decl.(*ast.GenDecl)
		if !ok || group.Tok != token.VAR {
			continue
		}
		for _, spec := range group.Specs {
			v := spec.(*ast.ValueSpec)
			embedded := group.Doc != nil && hasEmbed(group.Doc) || v.Doc != nil && hasEmbed(v.Doc)
			if len(v.Values) == 0 && !embedded {
				out = append(out, complaint{s.at(v), fmt.Sprintf("package variable %s has no value", v.Names[0].Name), steadyWhy})
			}
		}
	}
	return out
}

func hasEmbed(doc *ast.CommentGroup) bool {
	for _, c := range doc.List {
		if len(c.Text) > 11 && c.Text[:11] == "//go:embed " {
			return true
		}
	}
	return false
}

// watcher looks for what changes a package variable.
type watcher struct {
	s    *source
	info *types.Info
	own  *types.Package
	out  []complaint
}

func (w *watcher) look(n ast.Node) bool {
	switch n := n.(type) {
	case *ast.AssignStmt:
		for _, left := range n.Lhs {
			w.changed(left, "assigns to")
		}
	case *ast.IncDecStmt:
		w.changed(n.X, "assigns to")
	case *ast.RangeStmt:
		if n.Tok == token.ASSIGN {
			w.changed(n.Key, "assigns to")
			w.changed(n.Value, "assigns to")
		}
	case *ast.UnaryExpr:
		if n.Op == token.AND {
			w.changed(n.X, "takes the address of")
		}
	case *ast.CallExpr:
		if id, ok := n.Fun.(*ast.Ident); ok && len(n.Args) > 0 && (id.Name == "delete" || id.Name == "clear" || id.Name == "copy") {
			if _, builtin := w.info.Uses[id].(*types.Builtin); builtin {
				w.changed(n.Args[0], "changes with "+id.Name)
			}
		}
	case *ast.SelectorExpr:
		sel := w.info.Selections[n]
		if sel == nil || sel.Kind() != types.MethodVal {
			return true
		}
		receiver := sel.Obj().(*types.Func).Signature().Recv()
		if _, pointer := receiver.Type().(*types.Pointer); pointer {
			if _, already := sel.Recv().(*types.Pointer); !already {
				w.changed(n.X, "calls "+n.Sel.Name+", which may change,")
			}
		}
	}
	return true
}

// changed complains if an expression is a package variable or a part of one.
func (w *watcher) changed(e ast.Expr, how string) {
	for e != nil {
		switch x := e.(type) {
		case *ast.ParenExpr:
			e = x.X
		case *ast.IndexExpr:
			e = x.X
		case *ast.SliceExpr:
			e = x.X
		case *ast.StarExpr:
			e = x.X
		case *ast.SelectorExpr:
			if id, ok := x.X.(*ast.Ident); ok {
				if _, foreign := w.info.Uses[id].(*types.PkgName); foreign {
					w.complain(x, how, id.Name+"."+x.Sel.Name)
					return
				}
			}
			e = x.X
		case *ast.Ident:
			v, ok := w.info.Uses[x].(*types.Var)
			if ok && v.Parent() == w.own.Scope() {
				w.complain(x, how, x.Name)
			}
			return
		default:
			return
		}
	}
}

func (w *watcher) complain(n ast.Node, how, name string) {
	w.out = append(w.out, complaint{w.s.at(n), fmt.Sprintf("%s package variable %s", how, name), steadyWhy})
}

// empty imports each package as one with a name and nothing in it.
type empty struct{}

func (empty) Import(p string) (*types.Package, error) {
	pkg := types.NewPackage(p, path.Base(p))
	pkg.MarkComplete()
	return pkg, nil
}

func TestCoreKeepsNothingCanFail(t *testing.T) {
	in := func(text string) string { return "package tracker\n" + text }
	canFail(t, steady, []bad{
		{"assigned", "tracker/x.go", in("var seen = 0\nfunc f() { seen = 1 }"), "assigns to package variable seen"},
		{"counted", "tracker/x.go", in("var seen = 0\nfunc f() { seen++ }"), "assigns to package variable seen"},
		{"element assigned", "tracker/x.go", in("var kept = map[string]int{}\nfunc f() { kept[\"a\"] = 1 }"), "assigns to package variable kept"},
		{"field assigned", "tracker/x.go", in("type box struct{ n int }\nvar one = box{}\nfunc f() { one.n = 1 }"), "assigns to package variable one"},
		{"field through a pointer", "tracker/x.go", in("type box struct{ n int }\nvar one = new(box)\nfunc f() { (*one).n = 1 }"), "assigns to package variable one"},
		{"by range", "tracker/x.go", in("var last = 0\nfunc f() { for last = range 3 {} }"), "assigns to package variable last"},
		{"in init", "tracker/x.go", in("var table = 0\nfunc init() { table = 3 }"), "assigns to package variable table"},
		{"address taken", "tracker/x.go", in("var seen = 0\nfunc f() *int { return &seen }"), "takes the address of package variable seen"},
		{"key deleted", "tracker/x.go", in("var kept = map[string]int{}\nfunc f() { delete(kept, \"a\") }"), "changes with delete package variable kept"},
		{"method with a pointer receiver", "tracker/x.go", in("type box struct{}\nfunc (b *box) put() {}\nvar one = box{}\nfunc f() { one.put() }"), "calls put"},
		{"declared without a value", "tracker/x.go", in("var later map[string]int"), "has no value"},
		{"somebody else's", "tracker/x.go", "package tracker\nimport \"errors\"\nfunc f() { errors.ErrUnsupported = nil }", "errors.ErrUnsupported"},
		{"read only", "tracker/x.go", in("var table = map[string]int{\"a\": 1}\nfunc f() int { return table[\"a\"] }"), ""},
		{"a local of the same name", "tracker/x.go", in("var seen = 0\nfunc f() { seen := 1; seen = 2; _ = seen }"), ""},
		{"an embedded file", "tracker/protocol/x.go", "package protocol\nimport _ \"embed\"\n//go:embed default.toml\nvar text string", ""},
	})
}
