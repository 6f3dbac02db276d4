package fences

import (
	"go/ast"
	"go/token"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// literals returns the values of all string literals in a folder's sources, tests excepted, that a pattern matches.
func literals(all []*source, folder string, pattern *regexp.Regexp) []string {
	var out []string
	for _, s := range all {
		if s.folder() != folder || s.isTest() {
			continue
		}
		ast.Inspect(s.tree, func(n ast.Node) bool {
			if v, ok := text(n); ok && pattern.MatchString(v) {
				out = append(out, v)
			}
			return true
		})
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// uses returns the first word of each cobra command's Use in a folder, in order.
func uses(all []*source, folder string) []string {
	var out []string
	for _, s := range all {
		if s.folder() != folder || s.isTest() {
			continue
		}
		ast.Inspect(s.tree, func(n ast.Node) bool {
			pair, ok := n.(*ast.KeyValueExpr)
			if !ok {
				return true
			}
			if key, ok := pair.Key.(*ast.Ident); ok && key.Name == "Use" {
				if v, ok := text(pair.Value); ok {
					word, _, _ := strings.Cut(v, " ")
					out = append(out, word)
				}
			}
			return true
		})
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// functions returns the names of a source's functions and methods.
func functions(s *source) []string {
	var out []string
	for _, d := range s.tree.Decls {
		if f, ok := d.(*ast.FuncDecl); ok {
			out = append(out, f.Name.Name)
		}
	}
	return out
}

// text returns the value of a string literal.
func text(n ast.Node) (string, bool) {
	lit, ok := n.(*ast.BasicLit)
	if !ok || lit.Kind != token.STRING {
		return "", false
	}
	v, err := strconv.Unquote(lit.Value)
	return v, err == nil
}
