package fences

import (
	"go/ast"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

const parsersWhy = "what reads text or bytes from outside has a fuzz target in its package that calls it by its name: no panic on any input, and what is read says so"

// parserNames are the names that functions have which read text or bytes from outside. Where they are told so by the compiler alone,
// by another name or in a method of a type that nobody else knows, this fence does not see them.
var parserNames = regexp.MustCompile(`^(Parse|Decode|Unmarshal|Read)([A-Z].*)?$`)

// helped are readers whose input is a folder, so that another name stands for what is read.
var helped = map[string]string{
	"certificates.ReadAuthority": "reads a file that this program made, 0600, with Go's own parsers of PEM and X.509",
	"daemon.ReadCredentials":     "reads a file that this program made, 0600, with the JSON decoder",
}

// unfuzzed complains about readers that no fuzz target of their package calls.
func unfuzzed(all []*source) []complaint {
	called := map[string]bool{} // by folder and name
	for _, s := range all {
		if !s.isTest() {
			continue
		}
		for _, d := range s.tree.Decls {
			f, ok := d.(*ast.FuncDecl)
			if !ok || f.Recv != nil || !strings.HasPrefix(f.Name.Name, "Fuzz") {
				continue
			}
			ast.Inspect(f, func(n ast.Node) bool {
				if call, ok := n.(*ast.CallExpr); ok {
					called[s.folder()+" "+calledName(call)] = true
				}
				return true
			})
		}
	}
	var out []complaint
	for _, s := range all {
		if s.isTest() || s.isMain() || s.under("testdata") || strings.HasSuffix(s.folder(), "test") {
			continue
		}
		for _, d := range s.tree.Decls {
			f, ok := d.(*ast.FuncDecl)
			if !ok || !parserNames.MatchString(f.Name.Name) || !fromOutside(f) || !mayFail(f) || helped[s.tree.Name.Name+"."+f.Name.Name] != "" {
				continue
			}
			if !called[s.folder()+" "+f.Name.Name] {
				out = append(out, complaint{s.at(f), f.Name.Name + " has no fuzz target", parsersWhy})
			}
		}
	}
	return out
}

// calledName is the last part of what is called.
func calledName(call *ast.CallExpr) string {
	switch f := call.Fun.(type) {
	case *ast.Ident:
		return f.Name
	case *ast.SelectorExpr:
		return f.Sel.Name
	}
	return ""
}

// fromOutside reports whether a parameter is text, bytes, or a stream of them, and not something to be filled: that is what
// io.Reader's own Read has.
func fromOutside(f *ast.FuncDecl) bool {
	if f.Recv != nil && f.Name.Name == "Read" {
		return false
	}
	for _, p := range f.Type.Params.List {
		switch t := p.Type.(type) {
		case *ast.Ident:
			if t.Name == "string" {
				return true
			}
		case *ast.ArrayType:
			if of, ok := t.Elt.(*ast.Ident); ok && (of.Name == "byte" || of.Name == "string") {
				return true
			}
		case *ast.SelectorExpr:
			if t.Sel.Name == "Reader" {
				return true
			}
		}
	}
	return false
}

// mayFail reports whether the last result is an error or says whether it was read.
func mayFail(f *ast.FuncDecl) bool {
	if f.Type.Results == nil || !f.Name.IsExported() {
		return false
	}
	last, ok := f.Type.Results.List[len(f.Type.Results.List)-1].Type.(*ast.Ident)
	return ok && slices.Contains([]string{"error", "bool"}, last.Name)
}

func TestEveryParserHasItsFuzzTarget(t *testing.T) {
	for _, c := range unfuzzed(wholeTree(t)) {
		t.Error(c)
	}
}

func TestEveryParserHasItsFuzzTargetCanFail(t *testing.T) {
	parser := written(t, "labels/x.go", `package labels
func ParseShape(text string) (int, error) { return 0, nil }
func (s *Shape) UnmarshalText(text []byte) error { return nil }
func ReadAll(n int) error { return nil }
func (s *Shape) Read(p []byte) (int, error) { return 0, nil }
func parseEdge(text string) error { return nil }`)
	require.Len(t, unfuzzed([]*source{parser}), 2)
	target := written(t, "labels/x_test.go", `package labels_test
 func FuzzShape(f *testing.F) { f.Fuzz(func(t *testing.T, text string) { labels.ParseShape(text) }) }
func TestShape(t *testing.T) { s.UnmarshalText(nil) }`)
	require.Len(t, unfuzzed([]*source{parser, target}), 1, "a call in an ordinary test is none")
	elsewhere := written(t, "store/x_test.go", `package store_test
 func FuzzShape(f *testing.F) { labels.ParseShape(""); s.UnmarshalText(nil) }`)
	require.Len(t, unfuzzed([]*source{parser, elsewhere}), 2, "nor is one in another package")
}
