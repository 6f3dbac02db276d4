package main

import (
	"go/ast"
	"go/token"
	"go/types"
	"slices"
)

// steadyCalls change nothing and give the same each time. What is not here is taken to do something.
var steadyCalls = []string{"len", "cap", "min", "max", "string", "int", "Abs", "Add", "After", "AddDate", "Before", "Case", "Compare", "Contains", "Equal",
	"IsZero", "In", "Letter", "Location", "Pot", "Rank", "Seconds", "Second", "Hours", "Minutes", "Sub", "Thing", "UTC", "Valid", "When",
	"HasPrefix", "HasSuffix", "isCapital", "isDigit", "isPotLetter", "role", "limit", "until", "after", "rank"}

// pure reports whether an expression may be worked out twice, and compared: then a test that never sees another value need
// not be run.
func (w *finder) pure(e ast.Expr) bool {
	if _, basic := w.p.info.Types[e].Type.Underlying().(*types.Basic); !basic {
		return false
	}
	steady := true
	ast.Inspect(e, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.FuncLit:
			steady = false
		case *ast.UnaryExpr:
			steady = steady && n.Op != token.ARROW
		case *ast.CallExpr:
			var name string
			switch fun := n.Fun.(type) {
			case *ast.Ident:
				name = fun.Name
			case *ast.SelectorExpr:
				name = fun.Sel.Name
			}
			steady = steady && slices.Contains(steadyCalls, name)
		}
		return steady
	})
	return steady
}
