package main

import (
	"go/ast"
	"go/constant"
	"go/token"
	"go/types"
	"strconv"
)

// swaps gives for each comparison its own boundary and its opposite.
var swaps = map[token.Token][]token.Token{
	token.LSS: {token.LEQ, token.GEQ},
	token.LEQ: {token.LSS, token.GTR},
	token.GTR: {token.GEQ, token.LEQ},
	token.GEQ: {token.GTR, token.LSS},
	token.EQL: {token.NEQ},
	token.NEQ: {token.EQL},
}

// turned gives for each arithmetic sign its opposite.
var turned = map[token.Token]token.Token{
	token.ADD: token.SUB, token.SUB: token.ADD, token.MUL: token.QUO, token.QUO: token.MUL,
	token.ADD_ASSIGN: token.SUB_ASSIGN, token.SUB_ASSIGN: token.ADD_ASSIGN,
}

func (w *finder) binary(n *ast.BinaryExpr) {
	left, right := w.source(n.X), w.source(n.Y)
	with := func(op token.Token) string { return left + " " + op.String() + " " + right }
	switch n.Op {
	case token.LAND, token.LOR:
		w.expr(n, with(token.LAND), with(token.LOR))
		if chain, ok := n.X.(*ast.BinaryExpr); !ok || chain.Op != n.Op { // else each part of the chain is left out by itself
			w.expr(n, right)
		}
		w.expr(n, left)
	case token.ADD, token.SUB, token.MUL, token.QUO:
		switch {
		case !w.isNumber(n) || w.inText():
		case w.p.info.Types[n].Value == nil:
			w.expr(n, with(turned[n.Op]))
		case w.untyped(n.X) && w.untyped(n.Y) && !w.untyped(n):
			w.expr(n, w.source(n)+" + 1", w.source(n)+" - 1")
		}
	default:
		for i, op := range swaps[n.Op] {
			opposite := i == len(swaps[n.Op])-1
			if opposite && w.negated() {
				continue // the same as leaving the negation out
			}
			w.expr(n, with(op))
		}
	}
}

// untyped reports whether an expression is a constant that has no type by itself.
func (w *finder) untyped(e ast.Expr) bool {
	b, ok := w.p.info.Types[e].Type.(*types.Basic)
	return ok && b.Info()&types.IsUntyped != 0
}

// negated reports whether the visited node stands behind a "!".
func (w *finder) negated() bool {
	n, ok := w.above().(*ast.UnaryExpr)
	return ok && n.Op == token.NOT
}

func (w *finder) isNumber(e ast.Expr) bool {
	b, ok := w.p.info.Types[e].Type.Underlying().(*types.Basic)
	return ok && b.Info()&types.IsNumeric != 0
}

func (w *finder) isBool(e ast.Expr) bool {
	b, ok := w.p.info.Types[e].Type.Underlying().(*types.Basic)
	return ok && b.Info()&types.IsBoolean != 0
}

// returned: an answer yes or no is turned round. What decides by itself whether it is yes has its own mutants.
func (w *finder) returned(e ast.Expr) {
	if tuple, _ := w.p.info.Types[e].Type.(*types.Tuple); tuple != nil || !w.isBool(e) {
		return
	}
	switch x := e.(type) {
	case *ast.BinaryExpr, *ast.UnaryExpr, *ast.ParenExpr:
		return
	case *ast.Ident:
		if x.Name == "true" || x.Name == "false" {
			return
		}
	case *ast.CallExpr:
		if w.isTimeCall(x) {
			return
		}
	}
	w.expr(e, "!"+w.source(e))
}

// isTimeCall reports whether two instants are compared.
func (w *finder) isTimeCall(n *ast.CallExpr) bool {
	sel, ok := n.Fun.(*ast.SelectorExpr)
	if !ok || len(n.Args) != 1 || !w.isType(sel.X, "time.Time") {
		return false
	}
	return sel.Sel.Name == "Before" || sel.Sel.Name == "After" || sel.Sel.Name == "Equal"
}

func (w *finder) isType(e ast.Expr, name string) bool {
	t := w.p.info.Types[e].Type
	return t != nil && types.TypeString(t, nil) == name
}

func (w *finder) call(n *ast.CallExpr) {
	switch fun := n.Fun.(type) {
	case *ast.Ident:
		_, builtin := w.p.info.Uses[fun].(*types.Builtin)
		other := map[string]string{"min": "max", "max": "min"}[fun.Name]
		if builtin && other != "" && w.p.info.Types[n].Value == nil {
			w.expr(n, other+w.source(n)[len(fun.Name):])
		}
	case *ast.SelectorExpr:
		w.method(n, fun)
	}
}

// method: calls whose meaning is known by their name.
func (w *finder) method(n *ast.CallExpr, fun *ast.SelectorExpr) {
	of := w.source(fun.X)
	rest := func() string { _, to := w.reach(fun.Sel); _, end := w.reach(n); return string(w.f.text[to:end]) }
	switch name := fun.Sel.Name; {
	case w.isTimeCall(n):
		boundary := map[string]string{"Before": "After", "After": "Before"}[name]
		if boundary != "" {
			w.expr(n, "!"+of+"."+boundary+rest())
		}
		if !w.negated() {
			w.expr(n, "!"+of+"."+name+rest())
		}
	case name == "Add" && w.isType(fun.X, "time.Time") && !w.inText():
		w.expr(n, of+".Add(-("+w.source(n.Args[0])+"))")
	case name == "reached" && w.isBool(n):
		w.expr(n, "true", "false", of+".missed"+rest())
	case name == "missed" && w.isBool(n):
		w.expr(n, "true", "false", of+".reached"+rest())
	}
}

// literal: a whole number one more and one less. Beside < and > that is the comparison's own boundary once more, and no
// count equals one less than nothing.
func (w *finder) literal(n *ast.BasicLit) {
	if n.Kind != token.INT || w.inText() {
		return
	}
	basic, ok := w.p.info.Types[n].Type.Underlying().(*types.Basic)
	if ok && basic.Info()&types.IsUntyped != 0 {
		return // part of a constant that gets its type as a whole
	}
	value, err := strconv.ParseInt(n.Value, 0, 32)
	if !ok || err != nil || basic.Info()&types.IsInteger == 0 {
		return
	}
	beside, compared := w.above().(*ast.BinaryExpr)
	compared = compared && swaps[beside.Op] != nil
	if compared && beside.Op != token.EQL && beside.Op != token.NEQ {
		return
	}
	w.expr(n, strconv.FormatInt(value+1, 10))
	if value > 0 || !compared && basic.Info()&types.IsUnsigned == 0 {
		w.expr(n, strconv.FormatInt(value-1, 10))
	}
}

// constant: a name for a number, a length of time, yes or no, or how bad a flag is. It reports whether it was one.
func (w *finder) constant(e ast.Expr, name *ast.Ident) bool {
	c, ok := w.p.info.Uses[name].(*types.Const)
	if !ok || w.inText() {
		return false
	}
	t := c.Type()
	switch named, _ := t.(*types.Named); {
	case c.Val().Kind() == constant.Bool && c.Pkg() == nil:
		w.expr(e, map[string]string{"true": "false", "false": "true"}[name.Name])
	case named != nil && named.Obj().Name() == "Severity" && c.Pkg() == w.p.types:
		for _, other := range []string{"Now", "Today", "Watch"} {
			if other != name.Name && w.p.types.Scope().Lookup(other) != nil {
				w.expr(e, other)
			}
		}
	case named != nil && named.Obj().Name() == "Duration":
		if typ, known := w.typeOf(e); known {
			w.expr(e, w.source(e)+" + "+typ+"(1e9)", w.source(e)+" - "+typ+"(1e9)")
		}
	case named == nil && c.Val().Kind() == constant.Int:
		w.expr(e, w.source(e)+" + 1", w.source(e)+" - 1")
	}
	return true
}
