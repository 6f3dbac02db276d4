package main

import (
	"go/ast"
	"go/token"
	"slices"
)

// wording are the fields of a flag that only say something.
var wording = []string{"Text", "Remedy", "Basis"}

// statements: what can be left out of a list of statements, or done the other way.
func (w *finder) statements(list []ast.Stmt) {
	for _, n := range list {
		switch n := n.(type) {
		case *ast.ExprStmt:
			w.called(n)
		case *ast.AssignStmt:
			w.assigned(n)
		case *ast.IncDecStmt:
			other := map[token.Token]string{token.INC: "--", token.DEC: "++"}[n.Tok]
			w.stmt(n, "", w.source(n.X)+other)
		case *ast.BranchStmt:
			if n.Tok == token.BREAK || n.Tok == token.CONTINUE {
				w.stmt(n, "")
			}
		case *ast.ReturnStmt:
			if len(n.Results) == 0 && w.returnsNothing() {
				w.stmt(n, "")
			}
		}
	}
}

// called: a call for its effect is left out, and so is each kind of flag that a cause holds back.
func (w *finder) called(n *ast.ExprStmt) {
	call, ok := n.X.(*ast.CallExpr)
	if !ok {
		return
	}
	if id, ok := call.Fun.(*ast.Ident); ok && id.Name == "panic" {
		return
	}
	w.stmt(n, "")
	sel, ok := call.Fun.(*ast.SelectorExpr)
	if !ok || sel.Sel.Name != "hold" || len(call.Args) < 4 || call.Ellipsis.IsValid() {
		return
	}
	for i := 2; i < len(call.Args); i++ {
		from, _ := w.reach(n)
		_, before := w.reach(call.Args[i-1])
		_, after := w.reach(call.Args[i])
		_, to := w.reach(n)
		w.stmt(n, string(w.f.text[from:before])+string(w.f.text[after:to]))
	}
}

func (w *finder) assigned(n *ast.AssignStmt) {
	if n.Tok == token.DEFINE || slices.ContainsFunc(n.Lhs, isWording) {
		return
	}
	w.stmt(n, "")
	if other, ok := turned[n.Tok]; ok && w.isNumber(n.Lhs[0]) {
		w.stmt(n, w.source(n.Lhs[0])+" "+other.String()+" "+w.source(n.Rhs[0]))
	}
}

func isWording(e ast.Expr) bool {
	sel, ok := e.(*ast.SelectorExpr)
	return ok && slices.Contains(wording, sel.Sel.Name)
}

// returnsNothing reports whether the function around the visited node has no results.
func (w *finder) returnsNothing() bool {
	for _, n := range slices.Backward(w.stack) {
		switch n := n.(type) {
		case *ast.FuncLit:
			return n.Type.Results == nil
		case *ast.FuncDecl:
			return n.Type.Results == nil
		}
	}
	return false
}
