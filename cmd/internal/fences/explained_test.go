package fences

import (
	"fmt"
	"go/ast"
	"go/token"
	"slices"
	"strings"
	"testing"
	"unicode"
)

const explainedWhy = "who reads the name elsewhere has only this comment: say in full sentences what it is, with units, errors and the source of its numbers"

// explained complains about exported names without a comment, in packages that can be imported, and about packages
// without doc.go. A comment over a group counts for the constants and variables in it, one at the end of the line too.
func explained(all []*source) []complaint {
	var out []complaint
	for _, pkg := range packages(all) {
		explains, code := false, 0
		for _, s := range pkg {
			if s.isTest() {
				continue
			}
			code++
			if !s.isMain() {
				out = append(out, explainedSource(s)...)
			}
			named := strings.HasSuffix(s.name, "/doc.go") || s.isMain()
			starts := "Package " + s.tree.Name.Name + " "
			if s.isMain() {
				starts = "Command " + s.folder()[strings.LastIndex(s.folder(), "/")+1:] + " "
			}
			explains = explains || named && strings.HasPrefix(s.tree.Doc.Text(), starts)
		}
		if code > 0 && !explains {
			out = append(out, complaint{pkg[0].name, "no doc.go that begins with \"Package " + pkg[0].tree.Name.Name + "\" (in package main: a comment \"Command …\")",
				"each package says in a few lines what it is for and what it never does"})
		}
	}
	return out
}

func explainedSource(s *source) []complaint {
	var out []complaint
	no := func(n ast.Node, kind, name string) {
		out = append(out, complaint{s.at(n), fmt.Sprintf("%s %s has no comment", kind, name), explainedWhy})
	}
	for _, decl := range s.tree.Decls {
		switch d := decl.(type) {
		case *ast.FuncDecl:
			kind, name := "function", d.Name.Name
			if d.Recv != nil {
				on := receiver(d)
				if !ast.IsExported(on) {
					continue
				}
				kind, name = "method", on+"."+name
			}
			if d.Name.IsExported() && empties(d.Doc) {
				no(d, kind, name)
			}
		case *ast.GenDecl:
			for _, spec := range d.Specs {
				switch v := spec.(type) {
				case *ast.TypeSpec:
					if v.Name.IsExported() && empties(v.Doc) && (empties(d.Doc) || len(d.Specs) > 1) {
						no(v, "type", v.Name.Name)
					}
				case *ast.ValueSpec:
					for _, id := range v.Names {
						if id.IsExported() && empties(d.Doc) && empties(v.Doc) && empties(v.Comment) && !namedIn(d, id.Name) {
							no(id, map[token.Token]string{token.CONST: "constant", token.VAR: "variable"}[d.Tok], id.Name)
						}
					}
				}
			}
		}
	}
	return out
}

// empties reports whether a comment says nothing.
func empties(doc *ast.CommentGroup) bool { return strings.TrimSpace(doc.Text()) == "" }

// namedIn reports whether a comment over another name of the same group speaks of this one too.
func namedIn(group *ast.GenDecl, name string) bool {
	for _, spec := range group.Specs {
		if v, ok := spec.(*ast.ValueSpec); ok && slices.Contains(strings.FieldsFunc(v.Doc.Text(), notInName), name) {
			return true
		}
	}
	return false
}

func notInName(r rune) bool { return r != '_' && !unicode.IsLetter(r) && !unicode.IsDigit(r) }

// receiver returns the name of the type that a method belongs to.
func receiver(d *ast.FuncDecl) string {
	e := d.Recv.List[0].Type
	for {
		switch x := e.(type) {
		case *ast.StarExpr:
			e = x.X
		case *ast.IndexExpr:
			e = x.X
		case *ast.IndexListExpr:
			e = x.X
		case *ast.Ident:
			return x.Name
		default:
			return ""
		}
	}
}

func TestExportedNamesAreExplained(t *testing.T) { stands(t, explained(wholeTree(t))) }

func TestExportedNamesAreExplainedCanFail(t *testing.T) {
	doc := "// Package x is for nothing.\npackage x\n"
	canFail(t, explained, []bad{
		{"type", "x/doc.go", doc + "type Pot struct{}", "type Pot"},
		{"types in a group each by itself", "x/doc.go", doc + "// Two.\ntype (\n\tPot struct{}\n\tBag struct{}\n)", "type Pot"},
		{"function", "x/doc.go", doc + "func Seal() {}", "function Seal"},
		{"empty comment", "x/doc.go", doc + "//\nfunc Seal() {}", "function Seal"},
		{"method", "x/doc.go", doc + "// Pot is one.\ntype Pot struct{}\nfunc (p *Pot) Seal() {}", "method Pot.Seal"},
		{"method of a generic type", "x/doc.go", doc + "// Pot is one.\ntype Pot[T any] struct{}\nfunc (p *Pot[T]) Seal() {}", "method Pot.Seal"},
		{"constant", "x/doc.go", doc + "const Limit = 3", "constant Limit"},
		{"variable", "x/doc.go", doc + "var Limit = 3", "variable Limit"},
		{"no doc.go", "x/x.go", "// Package x is for nothing.\npackage x", "no doc.go"},
		{"main without a comment", "cmd/x/main.go", "package main", "no doc.go"},
		{"group of constants", "x/doc.go", doc + "// The limits.\nconst (\n\tLow = 3\n\tHigh = 4\n)", ""},
		{"comment at the end of the line", "x/doc.go", doc + "const (\n\tLow = 3 // pieces\n)", ""},
		{"one comment for two", "x/doc.go", doc + "const (\n\t// Low and High bound it.\n\tLow = 3\n\tHigh = 4\n)", ""},
		{"not exported", "x/doc.go", doc + "type pot struct{}\nfunc (p pot) String() string { return \"\" }", ""},
		{"tests", "x/x_test.go", "package x\nfunc Seal() {}", ""},
	})
}
