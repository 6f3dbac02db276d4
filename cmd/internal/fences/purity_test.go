package fences

import (
	"fmt"
	"go/ast"
	"go/token"
	"slices"
	"strings"
	"testing"
)

// pureImports is all that tracker and its folders may import from elsewhere. None of these packages reads a clock, a
// disk, a network or an environment by being called with plain values, except what pureBans names.
var pureImports = []string{
	"bytes", "cmp", "embed", "encoding", "encoding/base32", "encoding/base64", "encoding/binary", "encoding/hex",
	"encoding/json", "errors", "fmt", "hash/fnv", "iter", "maps", "math", "math/bits", "math/rand/v2", "crypto/sha256", "reflect",
	"regexp", "slices", "sort", "strconv", "strings", "time", "unicode", "unicode/utf8",
	// Modules: identifiers as values, rules written in TOML, public holidays by country, strict JSON.
	"github.com/google/uuid", "github.com/pelletier/go-toml/v2", "github.com/pelletier/go-toml/v2/unstable",
	"github.com/rickar/cal/v2", "github.com/rickar/cal/v2/au", "github.com/rickar/cal/v2/ca", "github.com/rickar/cal/v2/de",
	"github.com/rickar/cal/v2/fr", "github.com/rickar/cal/v2/gb", "github.com/rickar/cal/v2/ie", "github.com/rickar/cal/v2/nl",
	"github.com/rickar/cal/v2/nz", "github.com/rickar/cal/v2/se", "github.com/rickar/cal/v2/us", "github.com/rickar/cal/v2/za",
	"github.com/go-json-experiment/json",
	"github.com/go-json-experiment/json/jsontext",
}

// pureBans lists, by import, what of it must not be used: "*" stands for all names but those after it.
var pureBans = map[string]struct {
	names []string
	why   string
}{
	"time": {[]string{"Now", "Since", "Until", "Sleep", "After", "AfterFunc", "NewTimer", "NewTicker", "Tick", "Timer", "Ticker", "LoadLocation", "Local"},
		"the core knows no time but the instant passed in, and no zone but the one passed in: the same events must give the same answer on any machine"},
	"fmt": {[]string{"Print", "Printf", "Println", "Scan", "Scanf", "Scanln"}, "the core neither prints nor reads: return the value"},
	"math/rand/v2": {[]string{"*", "New", "NewPCG", "NewChaCha8", "NewZipf", "Rand", "PCG", "ChaCha8", "Zipf", "Source"},
		"chance must come from a seed passed in: use a source made from it, not the functions that share one"},
	"github.com/google/uuid": {[]string{"*", "UUID", "Parse", "ParseBytes", "FromBytes", "Nil", "Max", "Version", "Variant", "RFC4122"},
		"new ids come from a clock and from chance: make them outside and pass them in"},
}

// pure complains about what would make the core depend on more than its arguments.
func pure(all []*source) []complaint {
	var out []complaint
	for _, s := range all {
		if s.isTest() || !s.under("tracker") {
			continue
		}
		out = append(out, pureSource(s)...)
	}
	return append(out, steady(all)...)
}

func pureSource(s *source) []complaint {
	var out []complaint
	no := func(n ast.Node, what, why string) { out = append(out, complaint{s.at(n), what, why}) }
	names := s.imports()
	for _, spec := range s.tree.Imports {
		p := strings.Trim(spec.Path.Value, `"`)
		if !strings.HasPrefix(p, module+"/") && !slices.Contains(pureImports, p) {
			no(spec, "imports "+p, "the core touches no clock, disk, network, log, lock or chance; if this package touches none of them, add it to pureImports")
		}
		if spec.Name != nil && spec.Name.Name == "." {
			no(spec, "imports "+p+" without a name", "what is used of it can then not be seen")
		}
	}
	settled := make(map[ast.Node]bool) // calls of time.Unix whose zone is set at once
	ast.Inspect(s.tree, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.GoStmt:
			no(n, "starts a goroutine", "the core answers by itself, in one go: the caller may run several")
		case *ast.ChanType, *ast.SendStmt, *ast.SelectStmt:
			no(n, "uses a channel", "the core passes values, not messages")
		case *ast.UnaryExpr:
			if n.Op == token.ARROW {
				no(n, "uses a channel", "the core passes values, not messages")
			}
		case *ast.CallExpr:
			if sel, ok := n.Fun.(*ast.SelectorExpr); ok {
				if inner, ok := sel.X.(*ast.CallExpr); ok && (sel.Sel.Name == "UTC" || sel.Sel.Name == "In") {
					settled[inner] = true
				}
				if sel.Sel.Name == "Local" && len(n.Args) == 0 {
					no(n, "takes the machine's zone", pureBans["time"].why)
				}
			}
			if id, ok := n.Fun.(*ast.Ident); ok && (id.Name == "print" || id.Name == "println") {
				no(n, "prints", pureBans["fmt"].why)
			}
			if what := hiddenZone(n, names, settled[n]); what != "" {
				no(n, what, "it takes the machine's zone, or may, and then differs between machines")
			}
		case *ast.SelectorExpr:
			id, ok := n.X.(*ast.Ident)
			if !ok {
				return true
			}
			ban, ok := pureBans[names[id.Name]]
			if ok && banned(ban.names, n.Sel.Name) {
				no(n, "uses "+id.Name+"."+n.Sel.Name, ban.why)
			}
		}
		return true
	})
	return out
}

func banned(names []string, name string) bool {
	if names[0] == "*" {
		return !slices.Contains(names[1:], name)
	}
	return slices.Contains(names, name)
}

// hiddenZone names the calls of package time that use the machine's zone without saying so: Unix and its like return
// local time, and Parse takes the local zone when the offset fits it.
func hiddenZone(call *ast.CallExpr, names map[string]string, settled bool) string {
	sel, ok := call.Fun.(*ast.SelectorExpr)
	if !ok {
		return ""
	}
	id, ok := sel.X.(*ast.Ident)
	if !ok || names[id.Name] != "time" {
		return ""
	}
	switch sel.Sel.Name {
	case "Unix", "UnixMilli", "UnixMicro":
		if !settled {
			return fmt.Sprintf("calls time.%s without .UTC() or .In(zone) behind it", sel.Sel.Name)
		}
	case "Parse":
		if layout, ok := call.Args[0].(*ast.BasicLit); ok && !strings.ContainsAny(layout.Value, "ZM-") || zoneless(call.Args[0]) {
			return ""
		}
		return "calls time.Parse with a layout that may have a zone: use time.ParseInLocation"
	}
	return ""
}

// zoneless reports whether a layout is one of package time's own without a zone.
func zoneless(layout ast.Expr) bool {
	sel, ok := layout.(*ast.SelectorExpr)
	return ok && slices.Contains([]string{"DateOnly", "TimeOnly", "DateTime"}, sel.Sel.Name)
}

func TestCoreIsPure(t *testing.T) { stands(t, pure(wholeTree(t))) }

func TestCoreIsPureCanFail(t *testing.T) {
	in := func(imports, body string) string {
		return "package tracker\nimport (\n" + imports + "\n)\nfunc f() {\n" + body + "\n}\n"
	}
	rows := []bad{
		{"clock", "tracker/x.go", in(`"time"`, `_ = time.Now()`), "time.Now"},
		{"clock under another name", "tracker/x.go", in(`clock "time"`, `_ = clock.Now`), "clock.Now"},
		{"waiting", "tracker/protocol/x.go", in(`"time"`, `<-time.After(1)`), "channel"},
		{"zone of the machine", "tracker/x.go", in(`"time"`, `_ = time.Date(2026, 3, 6, 0, 0, 0, 0, time.Local)`), "time.Local"},
		{"zone by method", "tracker/x.go", in(`"time"`, `_ = time.Time{}.Local()`), "machine's zone"},
		{"zone from the disk", "tracker/timetable/x.go", in(`"time"`, `_, _ = time.LoadLocation("Europe/London")`), "time.LoadLocation"},
		{"zone hidden in Unix", "tracker/x.go", in(`"time"`, `_ = time.Unix(0, 0)`), "time.Unix"},
		{"Unix with its zone", "tracker/x.go", in(`"time"`, `_ = time.Unix(0, 0).UTC()`), ""},
		{"zone hidden in Parse", "tracker/x.go", in(`"time"`, `_, _ = time.Parse(time.RFC3339, "")`), "time.Parse"},
		{"a clock time without zone", "tracker/x.go", in(`"time"`, `_, _ = time.Parse("15:04", "")`), ""},
		{"disk", "tracker/x.go", in(`"os"`, ``), "imports os"},
		{"network", "tracker/x.go", in(`"net/http"`, ``), "imports net/http"},
		{"log", "tracker/x.go", in(`"log/slog"`, ``), "imports log/slog"},
		{"lock", "tracker/x.go", in(`"sync"`, ``), "imports sync"},
		{"context", "tracker/x.go", in(`"context"`, ``), "imports context"},
		{"chance", "tracker/demo/x.go", in(`"crypto/rand"`, ``), "imports crypto/rand"},
		{"shared chance", "tracker/demo/x.go", in(`"math/rand/v2"`, `_ = rand.IntN(6)`), "rand.IntN"},
		{"chance from a seed", "tracker/demo/x.go", in(`"math/rand/v2"`, `_ = rand.New(rand.NewPCG(1, 2))`), ""},
		{"ids from clock and chance", "tracker/demo/x.go", in(`"github.com/google/uuid"`, `_ = uuid.New()`), "uuid.New"},
		{"goroutine", "tracker/x.go", in("", `go f()`), "goroutine"},
		{"channel", "tracker/x.go", in("", `_ = make(chan int)`), "channel"},
		{"printing", "tracker/x.go", in(`"fmt"`, `fmt.Println()`), "fmt.Println"},
		{"tests excepted", "tracker/x_test.go", in(`"os"`, ``), ""},
		{"other folders excepted", "store/x.go", in(`"os"`, ``), ""},
	}
	canFail(t, pure, rows)
}
