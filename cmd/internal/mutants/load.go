package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"go/ast"
	"go/importer"
	"go/parser"
	"go/token"
	"go/types"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
)

// loaded is a package, parsed and with its types known.
type loaded struct {
	path  string // import path
	dir   string
	files []*file
	fset  *token.FileSet
	info  *types.Info
	types *types.Package
	needs types.Importer
	rapid bool // its tests draw at random
}

// file is one source file of the package, tests apart.
type file struct {
	name string // base name
	text []byte
	tree *ast.File
}

// listed is what `go list` tells of a package.
type listed struct {
	ImportPath   string
	Dir          string
	GoFiles      []string
	TestImports  []string
	XTestImports []string
	Export       string
	DepOnly      bool
	Standard     bool
}

// load reads the package in a folder. What it imports is known from the compiler's own export data.
func load(ctx context.Context, folder string) (*loaded, error) {
	p := &loaded{fset: token.NewFileSet()}
	exports := make(map[string]string)
	list := exec.CommandContext(ctx, "go", "list", "-export", "-deps", "-json=ImportPath,Dir,GoFiles,TestImports,XTestImports,Export,DepOnly,Standard",
		".", "os", "runtime/metrics", "strconv", "time") // these four: the switches import them
	var said bytes.Buffer
	list.Dir, list.Stderr = folder, &said
	text, err := list.Output()
	if err != nil {
		return nil, fmt.Errorf("go list %s: %w\n%s", folder, err, &said)
	}
	var names []string
	for decoder := json.NewDecoder(bytes.NewReader(text)); ; {
		var l listed
		if err := decoder.Decode(&l); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			return nil, fmt.Errorf("read what go list said of %s: %w", folder, err)
		}
		if l.DepOnly || l.Standard {
			exports[l.ImportPath] = l.Export
			continue
		}
		p.path, p.dir, names = l.ImportPath, l.Dir, l.GoFiles
		p.rapid = slices.Contains(append(l.TestImports, l.XTestImports...), "pgregory.net/rapid")
	}
	p.needs = importer.ForCompiler(p.fset, "gc", func(path string) (io.ReadCloser, error) { return os.Open(exports[path]) })
	var trees []*ast.File
	for _, name := range names {
		text, err := os.ReadFile(filepath.Join(p.dir, name))
		if err != nil {
			return nil, fmt.Errorf("read a file of %s: %w", folder, err)
		}
		tree, err := parser.ParseFile(p.fset, name, text, parser.ParseComments|parser.SkipObjectResolution)
		if err != nil {
			return nil, fmt.Errorf("read %s: %w", folder, err)
		}
		p.files = append(p.files, &file{name: name, text: text, tree: tree})
		trees = append(trees, tree)
	}
	p.info = &types.Info{Types: make(map[ast.Expr]types.TypeAndValue), Uses: make(map[*ast.Ident]types.Object), Defs: make(map[*ast.Ident]types.Object)}
	p.types, err = (&types.Config{Importer: p.needs}).Check(p.path, p.fset, trees, p.info)
	if err != nil {
		return nil, fmt.Errorf("types of %s: %w", folder, err)
	}
	return p, nil
}
