package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
)

// A value of the file that is a span ("1h30m", "2wd"), a bare number, or neither.
var (
	spanValue = regexp.MustCompile(`"(\d+(wd|[dhms]))+"`)
	inSpan    = regexp.MustCompile(`\d+`)
	bareValue = regexp.MustCompile(`[=\[,] ?(-?\d+(?:\.\d+)?)\b`)
	aText     = regexp.MustCompile(`"(?:[^"\\]|\\.)*"`)
	header    = regexp.MustCompile(`^\[+([^\]]+)\]+`)
	keyOf     = regexp.MustCompile(`^\s*([\w-]+)\s*=`)
)

// numberMutants changes each number of a TOML file by a step, one at a time: a whole number by one, a fraction by one in
// its last place. Alt is the whole changed text.
func numberMutants(name, text string) []*mutant {
	var out []*mutant
	seen := make(map[string]int)
	table, at := "", 0
	for i, line := range strings.SplitAfter(text, "\n") {
		if h := header.FindStringSubmatch(line); h != nil {
			table = h[1]
		}
		where := table
		if k := keyOf.FindStringSubmatch(line); k != nil {
			where += "." + k[1]
		}
		for _, n := range numbersIn(line) {
			was, now := line[n[0]:n[1]], step(line[n[0]:n[1]])
			m := &mutant{id: len(out) + 1, file: filepath.Base(name), fn: where, line: i + 1, was: word(line, n, was), now: word(line, n, now),
				alt: text[:at+n[0]] + now + text[at+n[1]:]}
			seen[m.name()]++
			m.nth = seen[m.name()]
			out = append(out, m)
		}
		at += len(line)
	}
	return out
}

// word is a number with what stands right around it: "1h30m".
func word(line string, n [2]int, number string) string {
	before, after := line[:n[0]], line[n[1]:]
	before = before[strings.LastIndexAny(before, " [{,=\"")+1:]
	if i := strings.IndexAny(after, " ]},\"\n"); i >= 0 {
		after = after[:i]
	}
	return before + number + after
}

// uncommented is a line without its comment and without the texts that only people read.
func uncommented(line string) string {
	blank := aText.ReplaceAllStringFunc(line, func(s string) string { return strings.Repeat("x", len(s)) })
	if i := strings.IndexByte(blank, '#'); i >= 0 {
		return line[:i]
	}
	return line
}

// numbersIn finds the numbers of a line: in spans, and bare.
func numbersIn(line string) [][2]int {
	code := uncommented(line)
	var out [][2]int
	for _, s := range spanValue.FindAllStringIndex(code, -1) {
		for _, n := range inSpan.FindAllStringIndex(code[s[0]:s[1]], -1) {
			out = append(out, [2]int{s[0] + n[0], s[0] + n[1]})
		}
	}
	blank := strings.TrimRight(aText.ReplaceAllStringFunc(code, func(s string) string { return strings.Repeat("x", len(s)) }), " \n")
	for _, n := range bareValue.FindAllStringSubmatchIndex(blank, -1) {
		out = append(out, [2]int{n[2], n[3]})
	}
	return out
}

func step(number string) string {
	whole, fraction, decimal := strings.Cut(number, ".")
	if !decimal {
		n, _ := strconv.Atoi(whole)
		return strconv.Itoa(n + 1)
	}
	n, _ := strconv.Atoi(whole + fraction)
	digits := fmt.Sprintf("%0*d", len(fraction)+1, n+1)
	return digits[:len(digits)-len(fraction)] + "." + digits[len(digits)-len(fraction):]
}

// tryNumbers changes the numbers of an embedded file. The tests of the package that embeds it are asked, then those of
// the package of -package.
func tryNumbers(ctx context.Context, o options, work string, stdout, stderr io.Writer) (*outcome, error) {
	text, err := os.ReadFile(o.numbers)
	if err != nil {
		return nil, fmt.Errorf("read the numbers: %w", err)
	}
	all := numberMutants(o.numbers, string(text))
	if o.list {
		for _, m := range all {
			fmt.Fprintln(stdout, m)
		}
		return nil, nil
	}
	embeds, err := load(ctx, filepath.Dir(o.numbers))
	if err != nil {
		return nil, err
	}
	if err := embeds.openText(filepath.Base(o.numbers), filepath.Join(work, "text")); err != nil {
		return nil, err
	}
	judge, err := load(ctx, o.pkg)
	if err != nil {
		return nil, err
	}
	var runners []*runner
	for i, p := range []*loaded{embeds, judge} {
		r := &runner{binary: filepath.Join(work, fmt.Sprintf("text%d.test", i)), dir: p.dir, work: work, rapid: p.rapid, log: stderr}
		if err := build(ctx, p.dir, filepath.Join(work, "text", "overlay.json"), r.binary); err != nil {
			return nil, err
		}
		runners = append(runners, r)
	}
	chosen, err := chosen(all, o)
	if err != nil {
		return nil, err
	}
	return tryTexts(ctx, chosen, runners, work)
}

// tryTexts runs every binary with each changed text, until one notices.
func tryTexts(ctx context.Context, chosen []*mutant, runners []*runner, work string) (*outcome, error) {
	out := &outcome{}
	for _, r := range runners {
		takes, err := r.clean(ctx)
		if err != nil {
			return nil, err
		}
		r.tests = []*test{{takes: takes}}
	}
	for _, m := range chosen {
		v := verdict{mutant: m, reached: true, differs: true}
		file := filepath.Join(work, "changed")
		if err := os.WriteFile(file, []byte(m.alt), 0o600); err != nil {
			return nil, fmt.Errorf("write a changed text: %w", err)
		}
		for _, r := range runners {
			got, _, err := r.once(ctx, nil, r.tests[0].takes*5+5e9, envText+"="+file)
			if err != nil {
				return nil, err
			}
			if v.end = got; got != passed {
				break
			}
		}
		out.add(v)
	}
	return out, nil
}

// openText writes an overlay in which the embedded file is read from where the environment says.
func (p *loaded) openText(name, folder string) error {
	embedded := regexp.MustCompile(`(//go:embed ` + regexp.QuoteMeta(name) + `\nvar )(\w+)( string)`)
	for _, f := range p.files {
		if !embedded.Match(f.text) {
			continue
		}
		changed := embedded.ReplaceAll(f.text, []byte("${1}${2}Inside${3}\n\nvar ${2} = mutantText(${2}Inside)"))
		extra := "package " + p.types.Name() + "\nimport \"os\"\nfunc mutantText(inside string) string {\n" +
			"name := os.Getenv(\"" + envText + "\")\nif name == \"\" { return inside }\ntext, err := os.ReadFile(name)\nif err != nil { panic(err) }\nreturn string(text)\n}\n"
		if err := os.MkdirAll(folder, 0o700); err != nil {
			return fmt.Errorf("make a folder for instrumented files: %w", err)
		}
		return p.write(map[string]string{f.name: string(changed), switchFile: extra}, folder)
	}
	return fmt.Errorf("no file of %s embeds %s into a variable of type string", p.path, name)
}
