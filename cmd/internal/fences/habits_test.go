package fences

import (
	"fmt"
	"go/ast"
	"strings"
	"testing"
)

// mostLines is the length past which a file seldom has one subject. Tests may be longer: tables are.
const mostLines = 400

// small complains about files that have grown past one subject.
func small(all []*source) []complaint {
	var out []complaint
	for _, s := range all {
		if !s.isTest() && s.lines > mostLines {
			out = append(out, complaint{s.name, fmt.Sprintf("%d lines, of at most %d", s.lines, mostLines),
				"a file has one subject and can be read at one sitting: split it by nouns, not by layers"})
		}
	}
	return out
}

// awake complains about tests that sleep or that skip by themselves.
func awake(all []*source) []complaint {
	var out []complaint
	for _, s := range all {
		if !s.isTest() {
			continue
		}
		names := s.imports()
		ast.Inspect(s.tree, func(n ast.Node) bool {
			sel, ok := n.(*ast.SelectorExpr)
			if !ok {
				return true
			}
			id, named := sel.X.(*ast.Ident)
			switch {
			case named && names[id.Name] == "time" && sel.Sel.Name == "Sleep":
				out = append(out, complaint{s.at(sel), "sleeps",
					"a test that sleeps is slow on a fast machine and fails on a slow one: use testing/synctest, or wait for what is said to have happened"})
			case sel.Sel.Name == "Skip" || sel.Sel.Name == "Skipf" || sel.Sel.Name == "SkipNow":
				out = append(out, complaint{s.at(sel), "skips by itself",
					"a skipped check proves nothing: use testdata/outside (Need, Missing), whose skips become failures where nothing may skip"})
			}
			return true
		})
	}
	return out
}

func TestFilesAreSmall(t *testing.T) { stands(t, small(wholeTree(t))) }

func TestFilesAreSmallCanFail(t *testing.T) {
	long := "package x\n" + strings.Repeat("\n", mostLines)
	canFail(t, small, []bad{
		{"one line too many", "store/x.go", long, "401 lines"},
		{"the longest that may be", "store/x.go", long[:mostLines+9], ""},
		{"a table in a test", "store/x_test.go", long, ""},
	})
}

func TestTestsNeitherSleepNorSkip(t *testing.T) { stands(t, awake(wholeTree(t))) }

func TestTestsNeitherSleepNorSkipCanFail(t *testing.T) {
	in := func(imports, body string) string {
		return "package x\nimport (\n" + imports + "\n)\nfunc f(t *testing.T) {\n" + body + "\n}\n"
	}
	canFail(t, awake, []bad{
		{"sleeping", "x/x_test.go", in(`"time"`, `time.Sleep(1)`), "sleeps"},
		{"sleeping under another name", "x/x_test.go", in(`clock "time"`, `clock.Sleep(1)`), "sleeps"},
		{"skipping", "x/x_test.go", in("", `t.Skip("no printer here")`), "skips"},
		{"skipping with a reason", "x/x_test.go", in("", `t.Skipf("no %s here", "printer")`), "skips"},
		{"code may wait", "x/x.go", in(`"time"`, `time.Sleep(1)`), ""},
		{"a test that does neither", "x/x_test.go", in(`"time"`, `_ = time.Second`), ""},
	})
}
