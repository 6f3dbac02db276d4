package fences

import (
	"fmt"
	"go/ast"
	"go/token"
	"slices"
	"testing"
)

// readers are the calls that run a function inside a transaction of a bbolt file.
var readers = []string{"View", "view", "Update", "update"}

// beginners may open a transaction by hand: each ends it before it waits for anybody.
var beginners = []string{"store/boltfile/update.go", "store/commit.go", "store/flow.go"}

const shortWhy = "while a transaction is open bbolt frees no page, so the file grows, and whoever must map it anew waits: copy out what is asked for, close it, then hand it on"

// shortReads complains about transactions of store that could last as long as somebody else likes: one in which a caller's
// loop runs, something is sent or waited for, or which nobody is seen to end.
func shortReads(all []*source) []complaint {
	var out []complaint
	for _, s := range all {
		if !s.under("store") || s.isTest() || s.folder() == "store/storetest" {
			continue
		}
		ast.Inspect(s.tree, func(n ast.Node) bool {
			call, ok := n.(*ast.CallExpr)
			if !ok {
				return true
			}
			sel, ok := call.Fun.(*ast.SelectorExpr)
			switch {
			case !ok:
			case sel.Sel.Name == "Begin" && !slices.Contains(beginners, s.name):
				out = append(out, complaint{s.at(sel), "begins a transaction by hand", "use view or update, which end it; " + shortWhy})
			case slices.Contains(readers, sel.Sel.Name):
				for _, arg := range call.Args {
					if fn, ok := arg.(*ast.FuncLit); ok {
						out = append(out, waits(s, fn.Body)...)
					}
				}
			}
			return true
		})
	}
	return out
}

// waits finds what in a body lasts as long as another likes.
func waits(s *source, body *ast.BlockStmt) []complaint {
	var out []complaint
	no := func(n ast.Node, what string) {
		out = append(out, complaint{s.at(n), what + " inside a transaction", shortWhy})
	}
	ast.Inspect(body, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.CallExpr:
			switch f := n.Fun.(type) {
			case *ast.Ident:
				if f.Name == "yield" {
					no(n, "runs a caller's loop")
				}
			case *ast.SelectorExpr:
				if slices.Contains([]string{"Sleep", "Wait", "Lock", "ServeHTTP", "Flush"}, f.Sel.Name) {
					no(n, fmt.Sprintf("calls %s", f.Sel.Name))
				}
			}
		case *ast.SendStmt:
			no(n, "sends on a channel")
		case *ast.SelectStmt:
			no(n, "waits for channels")
		case *ast.UnaryExpr:
			if n.Op == token.ARROW {
				no(n, "receives from a channel")
			}
		case *ast.GoStmt:
			no(n, "starts a goroutine")
		}
		return true
	})
	return out
}

func TestTransactionsAreShort(t *testing.T) { stands(t, shortReads(wholeTree(t))) }

func TestTransactionsAreShortCanFail(t *testing.T) {
	in := func(body string) string {
		return "package store\nfunc (l *Ledger) All(yield func(int) bool) {\n_ = l.view(func(tx *bolt.Tx) error {\n" + body + "\nreturn nil\n})\n}"
	}
	canFail(t, shortReads, []bad{
		{"a caller's loop", "store/x.go", in("for range 3 { if !yield(1) { break } }"), "runs a caller's loop"},
		{"a channel", "store/x.go", in("out <- 1"), "sends on a channel"},
		{"a wait", "store/people/x.go", in("<-done"), "receives from a channel"},
		{"a lock", "store/prints/x.go", in("l.mu.Lock()"), "calls Lock"},
		{"a goroutine with the transaction", "store/x.go", in("go read(tx)"), "starts a goroutine"},
		{"begun and perhaps never ended", "store/x.go", "package store\nfunc f(db *bolt.DB) { tx, _ := db.Begin(false); _ = tx }", "begins a transaction by hand"},
		{"copied out", "store/x.go", in("list = append(list, 1)"), ""},
		{"the loop after it", "store/x.go", "package store\nfunc (l *Ledger) All(yield func(int) bool) {\n_ = l.view(func(tx *bolt.Tx) error { return nil })\nyield(1)\n}", ""},
		{"in a test", "store/x_test.go", in("yield(1)"), ""},
	})
}
