package fences

import (
	"go/ast"
	"slices"
	"testing"
)

// bodyReader is the one file that reads what a client sends as a request's body.
const bodyReader = "cmd/internal/web/body.go"

// bodyWays are the ways to a request's body.
var bodyWays = []string{"Body", "GetBody", "Form", "PostForm", "ParseForm", "FormValue", "PostFormValue", "FormFile", "MultipartForm", "MultipartReader", "ParseMultipartForm"}

// bodiesAreCapped complains about whatever in the pages reads a body past the one function that caps it.
func bodiesAreCapped(all []*source) []complaint {
	var out []complaint
	for _, s := range all {
		if s.folder() != "cmd/internal/web" || s.isTest() || s.name == bodyReader {
			continue
		}
		ast.Inspect(s.tree, func(n ast.Node) bool {
			if sel, ok := n.(*ast.SelectorExpr); ok && slices.Contains(bodyWays, sel.Sel.Name) {
				out = append(out, complaint{s.at(sel), "reads a request by ." + sel.Sel.Name,
					"a body without a cap fills the memory, and a form read with the address takes what stands in an address: use body or form of " + bodyReader})
			}
			return true
		})
	}
	return out
}

func TestEveryBodyIsReadUnderACap(t *testing.T) { stands(t, bodiesAreCapped(wholeTree(t))) }

func TestEveryBodyIsReadUnderACapCanFail(t *testing.T) {
	in := func(body string) string {
		return "package web\nfunc f(w http.ResponseWriter, r *http.Request) {\n" + body + "\n}\n"
	}
	canFail(t, bodiesAreCapped, []bad{
		{"the body itself", "cmd/internal/web/x.go", in("io.ReadAll(r.Body)"), "reads a request by .Body"},
		{"a form", "cmd/internal/web/x.go", in(`r.FormValue("badge")`), "reads a request by .FormValue"},
		{"a file", "cmd/internal/web/x.go", in(`r.FormFile("plan")`), "reads a request by .FormFile"},
		{"under the cap", "cmd/internal/web/body.go", in("io.ReadAll(http.MaxBytesReader(w, r.Body, 1))"), ""},
		{"the function for it", "cmd/internal/web/x.go", in("body(w, r, 1, \"\")"), ""},
		{"a test", "cmd/internal/web/x_test.go", in("io.ReadAll(r.Body)"), ""},
	})
}
