package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"go/types"
	"os"
	"path/filepath"
	"strconv"
	"strings"
)

// switchFile is the name of the file that the overlay adds to the package.
const switchFile = "zz_mutants.go"

// Names of what the instrumented binary reads from its environment.
const (
	envMutant  = "POTTRAIL_MUTANT"         // the number that is on
	envReached = "POTTRAIL_MUTANT_REACHED" // a file: byte n says what a test saw of mutant n, see below
	envText    = "POTTRAIL_MUTANT_TEXT"    // a file that is read in place of the embedded one
)

// What a test sees of a mutant: it came by, or what the code gave there would have been another with the fault.
const (
	cameBy  = 1
	differs = 2
)

// switchCode is what the instrumented code calls. It also ends a test process that eats the machine's memory, which a
// fault in a loop's end does quickly.
const switchCode = `
import (
	"os"
	"runtime/metrics"
	"strconv"
	"time"
)

var mutantOn, mutantReached, mutantSeen = mutantStart()

func mutantStart() (int, *os.File, []byte) {
	go func() {
		held := []metrics.Sample{{Name: "/memory/classes/heap/objects:bytes"}}
		for {
			time.Sleep(100 * time.Millisecond)
			if metrics.Read(held); held[0].Value.Uint64() > 1<<30 {
				os.Stderr.WriteString("more than 1 GiB in use\n")
				os.Exit(3)
			}
		}
	}()
	on, _ := strconv.Atoi(os.Getenv("` + envMutant + `"))
	name := os.Getenv("` + envReached + `")
	if name == "" {
		return on, nil, nil
	}
	f, err := os.OpenFile(name, os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		panic(err)
	}
	return on, f, make([]byte, mutantsMade+1)
}

func mutantAt(first, last int) bool {
	if mutantSeen != nil && mutantSeen[first] == 0 {
		for n := first; n <= last; n++ {
			mutantMark(n, 1)
		}
	}
	return mutantOn >= first && mutantOn <= last
}

func mutantMark(n int, mark byte) {
	if mutantSeen[n] < mark {
		mutantSeen[n] = mark
		mutantReached.WriteAt([]byte{mark}, int64(n))
	}
}

func mutantHit(first, last int) {
	if mutantSeen != nil && mutantSeen[first] < 2 {
		for n := first; n <= last; n++ {
			mutantMark(n, 2)
		}
	}
}

func mutantDiffer[T comparable](first int, is T, instead ...func() T) {
	for i, f := range instead {
		if mutantSeen[first+i] < 2 && mutantOther(is, f) {
			mutantMark(first+i, 2)
		}
	}
}

func mutantOther[T comparable](is T, f func() T) (other bool) {
	defer func() {
		if recover() != nil {
			other = true
		}
	}()
	return f() != is
}
`

// render gives a file's text with the switches of its sites in it. The sites are in order, outer before inner.
func render(text []byte, sites []*site) string {
	var out strings.Builder
	stretch(&out, text, sites, 0, len(text))
	return out.String()
}

// stretch writes a part of the text, and returns the sites that lie behind it.
func stretch(out *strings.Builder, text []byte, sites []*site, from, to int) []*site {
	for len(sites) > 0 && sites[0].from < to {
		s := sites[0]
		out.Write(text[from:s.from])
		s.began = out.Len()
		s.open(out)
		sites = stretch(out, text, sites[1:], s.from, s.to)
		s.close(out)
		s.ended = out.Len()
		from = s.to
	}
	out.Write(text[from:to])
	return sites
}

func (s *site) open(out *strings.Builder) {
	if len(s.mutants) == 0 {
		return
	}
	ask := fmt.Sprintf("mutantAt(%d, %d)", s.mutants[0].id, s.mutants[len(s.mutants)-1].id)
	if s.statement {
		fmt.Fprintf(out, "if %s { switch mutantOn { ", ask)
		for _, m := range s.mutants {
			fmt.Fprintf(out, "case %d: %s; ", m.id, m.alt)
		}
		fmt.Fprintf(out, "} } else { mutantHit(%d, %d); ", s.mutants[0].id, s.mutants[len(s.mutants)-1].id)
		return
	}
	fmt.Fprintf(out, "func() %s { if %s { switch mutantOn { ", s.typ, ask)
	for _, m := range s.mutants {
		fmt.Fprintf(out, "case %d: return %s; ", m.id, m.alt)
	}
	out.WriteString("} }; ")
	if s.pure {
		fmt.Fprintf(out, "var mutantIs %s = ", s.typ)
		return
	}
	fmt.Fprintf(out, "mutantHit(%d, %d); return ", s.mutants[0].id, s.mutants[len(s.mutants)-1].id)
}

func (s *site) close(out *strings.Builder) {
	switch {
	case len(s.mutants) == 0:
	case s.statement:
		out.WriteString(" }")
	case s.pure:
		fmt.Fprintf(out, "; if mutantSeen != nil { mutantDiffer(%d, mutantIs", s.mutants[0].id)
		for _, m := range s.mutants {
			fmt.Fprintf(out, ", func() %s { return %s }", s.typ, m.alt)
		}
		out.WriteString(") }; return mutantIs }()")
	default:
		out.WriteString(" }()")
	}
}

// instrument writes the package with all mutants into a folder, and beside it an overlay for the compiler. What does not
// compile is left out of the sites and returned.
func (p *loaded) instrument(sites []*site, folder string) (dropped []*mutant, err error) {
	if err := os.MkdirAll(folder, 0o700); err != nil {
		return nil, fmt.Errorf("make a folder for instrumented files: %w", err)
	}
	made := len(mutantsOf(sites))
	extra := "package " + p.types.Name() + "\n" + switchCode + "\nconst mutantsMade = " + strconv.Itoa(made) + "\n"
	for {
		texts := map[string]string{switchFile: extra}
		for _, f := range p.files {
			texts[f.name] = render(f.text, sitesIn(sites, f))
		}
		bad, err := p.mistakes(texts)
		if err != nil {
			return nil, err
		}
		gone := leaveOut(sites, bad)
		dropped = append(dropped, gone...)
		if len(bad) == 0 {
			return dropped, p.write(texts, folder)
		}
		if len(gone) == 0 {
			return nil, fmt.Errorf("the instrumented %s does not compile: %s: %s", p.path, bad[0].at, bad[0].what)
		}
	}
}

func sitesIn(sites []*site, f *file) []*site {
	var out []*site
	for _, s := range sites {
		if s.in == f {
			out = append(out, s)
		}
	}
	return out
}

// mistake is where an instrumented file does not compile.
type mistake struct {
	at   token.Position
	what string
}

func (p *loaded) mistakes(texts map[string]string) ([]mistake, error) {
	var out []mistake
	var trees []*ast.File
	fset := token.NewFileSet()
	for name, text := range texts {
		tree, err := parser.ParseFile(fset, name, text, parser.SkipObjectResolution)
		if err != nil {
			return nil, fmt.Errorf("an instrumented file cannot be read: %w", err)
		}
		trees = append(trees, tree)
	}
	check := types.Config{Importer: p.needs, Error: func(err error) {
		var e types.Error
		if errors.As(err, &e) && !e.Soft {
			out = append(out, mistake{e.Fset.Position(e.Pos), e.Msg})
		}
	}}
	if _, err := check.Check(p.path, fset, trees, nil); err != nil && len(out) == 0 {
		return nil, fmt.Errorf("the instrumented %s does not compile: %w", p.path, err)
	}
	return out, nil
}

// leaveOut drops the mutants of the innermost site around each mistake; around none, of the first site behind it.
func leaveOut(sites []*site, bad []mistake) []*mutant {
	var out []*mutant
	for _, b := range bad {
		var inner *site
		for _, s := range sites {
			if s.in.name != b.at.Filename || len(s.mutants) == 0 {
				continue
			}
			if s.began <= b.at.Offset && b.at.Offset < s.ended || inner == nil && s.began > b.at.Offset {
				inner = s
			}
		}
		if inner != nil {
			out = append(out, inner.mutants...)
			inner.mutants = nil
		}
	}
	return out
}

// write puts the texts and the overlay into the folder.
func (p *loaded) write(texts map[string]string, folder string) error {
	replace := make(map[string]string)
	for name, text := range texts {
		to := filepath.Join(folder, name)
		if err := os.WriteFile(to, []byte(text), 0o600); err != nil {
			return fmt.Errorf("write an instrumented file: %w", err)
		}
		replace[filepath.Join(p.dir, name)] = to
	}
	return writeOverlay(replace, folder)
}

func writeOverlay(replace map[string]string, folder string) error {
	var out bytes.Buffer
	if err := json.NewEncoder(&out).Encode(map[string]any{"Replace": replace}); err != nil {
		return fmt.Errorf("write the overlay: %w", err)
	}
	if err := os.WriteFile(filepath.Join(folder, "overlay.json"), out.Bytes(), 0o600); err != nil {
		return fmt.Errorf("write the overlay: %w", err)
	}
	return nil
}
