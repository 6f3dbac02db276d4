package main

import (
	"go/ast"
	"go/token"
	"go/types"
	"slices"
)

// finder walks one file and notes what can be changed in it.
type finder struct {
	p     *loaded
	f     *file
	fn    string
	stack []ast.Node
	sites map[siteKey]*site
	order []*site
}

type siteKey struct {
	from, to  int
	statement bool
}

// find lists the sites of the package, or of some of its files.
func (p *loaded) find(only []string) []*site {
	var out []*site
	for _, f := range p.files {
		if len(only) > 0 && !slices.Contains(only, f.name) {
			continue
		}
		w := &finder{p: p, f: f, sites: make(map[siteKey]*site)}
		for _, d := range f.tree.Decls {
			w.decl(d)
		}
		out = append(out, w.order...)
	}
	return out
}

// decl walks a declaration. Constants must stay constants, and what a String method says is wording.
func (w *finder) decl(d ast.Decl) {
	switch d := d.(type) {
	case *ast.FuncDecl:
		if d.Body == nil || d.Recv != nil && d.Name.Name == "String" {
			return
		}
		w.fn = d.Name.Name
		if d.Recv != nil {
			w.fn = receiver(d.Recv.List[0].Type) + "." + w.fn
		}
		w.walk(d)
	case *ast.GenDecl:
		if d.Tok != token.VAR {
			return
		}
		for _, spec := range d.Specs {
			v := spec.(*ast.ValueSpec)
			w.fn = "var " + v.Names[0].Name
			for _, value := range v.Values {
				w.walk(value)
			}
		}
	}
}

func receiver(e ast.Expr) string {
	switch x := e.(type) {
	case *ast.StarExpr:
		return receiver(x.X)
	case *ast.IndexExpr:
		return receiver(x.X)
	case *ast.Ident:
		return x.Name
	}
	return "?"
}

func (w *finder) walk(n ast.Node) {
	w.stack = w.stack[:0]
	ast.Inspect(n, func(n ast.Node) bool {
		if n == nil {
			w.stack = w.stack[:len(w.stack)-1]
			return false
		}
		if !w.visit(n) {
			return false
		}
		w.stack = append(w.stack, n)
		return true
	})
}

// above is the node around the one that is visited, past parentheses; nil at the top.
func (w *finder) above() ast.Node {
	for i := len(w.stack) - 1; i >= 0; i-- {
		if _, paren := w.stack[i].(*ast.ParenExpr); !paren {
			return w.stack[i]
		}
	}
	return nil
}

// visit notes what can be changed in a node, and reports whether to go into it.
func (w *finder) visit(n ast.Node) bool {
	switch n := n.(type) {
	case *ast.ArrayType:
		return false // a length must be constant
	case *ast.GenDecl:
		return n.Tok == token.VAR
	case *ast.CompositeLit:
		return !w.keyedArray(n)
	case *ast.BlockStmt:
		w.statements(n.List)
	case *ast.CaseClause:
		w.cases(n)
		w.statements(n.Body)
	case *ast.CommClause:
		w.statements(n.Body)
	case *ast.IfStmt:
		w.expr(n.Cond, "true", "false")
	case *ast.ForStmt:
		if n.Cond != nil {
			w.expr(n.Cond, "false")
		}
	case *ast.ReturnStmt:
		for _, e := range n.Results {
			w.returned(e)
		}
	case *ast.BinaryExpr:
		w.binary(n)
	case *ast.UnaryExpr:
		if n.Op == token.NOT {
			w.expr(n, w.source(n.X))
		}
	case *ast.CallExpr:
		if id, ok := n.Fun.(*ast.Ident); ok && id.Name == "make" {
			return false // how much room is made in advance changes nothing
		}
		w.call(n)
	case *ast.BasicLit:
		w.literal(n)
	case *ast.SelectorExpr:
		if w.constant(n, n.Sel) {
			return false
		}
	case *ast.Ident:
		w.constant(n, n)
	}
	return true
}

// keyedArray reports whether a literal names indices, which must be constant.
func (w *finder) keyedArray(n *ast.CompositeLit) bool {
	switch w.p.info.Types[n].Type.Underlying().(type) {
	case *types.Array, *types.Slice:
		return slices.ContainsFunc(n.Elts, func(e ast.Expr) bool { _, keyed := e.(*ast.KeyValueExpr); return keyed })
	}
	return false
}

// cases: the conditions of a switch without a tag.
func (w *finder) cases(n *ast.CaseClause) {
	around, ok := w.stack[len(w.stack)-2].(*ast.SwitchStmt)
	if !ok || around.Tag != nil {
		return
	}
	for _, e := range n.List {
		w.expr(e, "true", "false")
	}
}

// source is the code of a node as it stands in the file.
func (w *finder) source(n ast.Node) string {
	from, to := w.reach(n)
	return string(w.f.text[from:to])
}

func (w *finder) reach(n ast.Node) (from, to int) {
	return w.p.fset.Position(n.Pos()).Offset, w.p.fset.Position(n.End()).Offset
}

// inText reports whether the visited node is part of a text that is put together: wording is not what is tried here.
func (w *finder) inText() bool {
	return slices.ContainsFunc(w.stack, func(n ast.Node) bool {
		call, ok := n.(*ast.CallExpr)
		if !ok {
			return false
		}
		sel, ok := call.Fun.(*ast.SelectorExpr)
		if !ok {
			return false
		}
		id, ok := sel.X.(*ast.Ident)
		return ok && id.Name == "fmt"
	})
}

// expr notes what may stand instead of an expression.
func (w *finder) expr(e ast.Expr, instead ...string) {
	typ, ok := w.typeOf(e)
	if !ok {
		return
	}
	from, to := w.reach(e)
	s := w.site(from, to, false)
	s.typ, s.pure = typ, w.pure(e)
	w.add(s, e, instead)
}

// stmt notes what may stand instead of a statement; "" takes it out.
func (w *finder) stmt(n ast.Stmt, instead ...string) {
	from, to := w.reach(n)
	w.add(w.site(from, to, true), n, instead)
}

func (w *finder) site(from, to int, statement bool) *site {
	key := siteKey{from, to, statement}
	s := w.sites[key]
	if s == nil {
		s = &site{in: w.f, from: from, to: to, statement: statement}
		w.sites[key] = s
		w.order = append(w.order, s)
	}
	return s
}

func (w *finder) add(s *site, n ast.Node, instead []string) {
	was := oneLine(w.source(n))
	for _, alt := range instead {
		now := oneLine(alt)
		if now == was || slices.ContainsFunc(s.mutants, func(m *mutant) bool { return m.now == now }) {
			continue
		}
		s.mutants = append(s.mutants, &mutant{file: w.f.name, fn: w.fn, was: was, now: now, alt: alt, line: w.p.fset.Position(n.Pos()).Line})
	}
}

// typeOf spells the type of an expression as this file can; not so when its package is not imported here.
func (w *finder) typeOf(e ast.Expr) (string, bool) {
	t := w.p.info.Types[e].Type
	if t == nil {
		return "", false
	}
	known := true
	text := types.TypeString(types.Default(t), func(of *types.Package) string {
		if of == w.p.types {
			return ""
		}
		for _, spec := range w.f.tree.Imports {
			if spec.Path.Value == `"`+of.Path()+`"` {
				if spec.Name != nil {
					return spec.Name.Name
				}
				return of.Name()
			}
		}
		known = false
		return of.Name()
	})
	return text, known
}
