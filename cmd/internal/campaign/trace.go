package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
)

// opKind is what a step of a traced run did.
type opKind int

const (
	opWrite  opKind = iota // bytes at an offset of a file
	opSize                 // a file's size set
	opSync                 // all of a file that was written before is on disk now
	opName                 // a name in a folder stands for a file from now on; old, if any, no longer does
	opUnname               // a name stands for nothing any more
	opFolder               // all names of a folder that were made before are on disk now
	opSaid                 // the run said something on its standard output
)

// op is one step of a traced run. Names are relative to the folder that was looked at.
type op struct {
	kind   opKind
	file   int // which; names come and go
	at     int64
	data   []byte // of a write, or what was said
	name   string // of opName and opUnname, or the folder of opFolder
	old    string // what a file was called before
	before int    // of opSync and opFolder: steps before this one are covered, since they were over when it began
}

// tracedCalls are the calls that change files. A call of copying that the replay cannot follow is asked for as well, so that
// it is noticed.
const tracedCalls = "openat,close,write,writev,pwrite64,pwritev,fsync,fdatasync,sync_file_range,ftruncate,truncate,fallocate," +
	"rename,renameat,renameat2,link,linkat,unlink,unlinkat,mkdirat,copy_file_range,sendfile,dup,dup2,dup3"

// traced runs a program to its end and gives what it did in a folder, and what it said, in order.
func traced(ctx context.Context, folder string, program []string) ([]op, error) {
	out := filepath.Join(filepath.Dir(folder), filepath.Base(folder)+".trace")
	defer func() { _ = os.Remove(out) }()
	args := append([]string{"-f", "-qq", "-xx", "--seccomp-bpf", "-e", "signal=none", "-s", "8388608", "-e", "trace=" + tracedCalls, "-o", out, "--"}, program...)
	cmd := exec.CommandContext(ctx, "strace", args...)
	var complaints strings.Builder
	cmd.Stderr = &complaints
	if err := cmd.Run(); err != nil {
		return nil, fmt.Errorf("the run to be traced: %w: %s", err, complaints.String())
	}
	file, err := os.Open(out)
	if err != nil {
		return nil, err
	}
	defer func() { _ = file.Close() }()
	return readTrace(file, folder)
}

// tracer makes steps of the lines of a trace.
type tracer struct {
	folder  string
	begun   map[string]begun // by process number: a call that another one's came between
	open    map[int]opened   // by descriptor
	names   map[string]int   // file by name
	lengths map[int]int64
	files   int
	ops     []op
}

type begun struct {
	text string
	op   int // how many steps there were
}

// opened is what a descriptor stands for.
type opened struct {
	file   int // 0: none of ours
	folder string
	append bool
	at     int64
}

// readTrace reads what strace wrote.
func readTrace(r io.Reader, folder string) ([]op, error) {
	t := &tracer{folder: folder, begun: map[string]begun{}, open: map[int]opened{}, names: map[string]int{}, lengths: map[int]int64{}}
	lines := bufio.NewReaderSize(r, 1<<20)
	for {
		line, err := lines.ReadString('\n')
		if errors.Is(err, io.EOF) {
			return t.ops, nil
		}
		if err == nil {
			err = t.line(strings.TrimSuffix(line, "\n"))
		}
		if err != nil {
			return nil, err
		}
	}
}

func (t *tracer) line(line string) error {
	process, call, ok := strings.Cut(line, " ")
	if !ok {
		return fmt.Errorf("a line of the trace that cannot be read: %.80q", line)
	}
	call = strings.TrimLeft(call, " ")
	since := len(t.ops)
	if head, unfinished := strings.CutSuffix(call, " <unfinished ...>"); unfinished {
		t.begun[process] = begun{head, since}
		return nil
	}
	if strings.HasPrefix(call, "<... ") {
		_, tail, ok := strings.Cut(call, " resumed>")
		first, known := t.begun[process]
		if !ok || !known {
			return fmt.Errorf("a line of the trace that belongs to none: %.80q", line)
		}
		delete(t.begun, process)
		call, since = first.text+tail, first.op
	}
	if strings.HasPrefix(call, "+++") || strings.HasPrefix(call, "---") {
		return nil
	}
	name, rest, ok := strings.Cut(call, "(")
	end := strings.LastIndex(rest, ") = ")
	if end < 0 { // strace pads short calls
		end = strings.LastIndex(rest, ")")
	}
	if !ok || end < 0 {
		return fmt.Errorf("a line of the trace that is no call: %.80q", line)
	}
	_, answer, _ := strings.Cut(rest[end:], "= ")
	answer, _, _ = strings.Cut(answer, " ")
	result, err := strconv.Atoi(answer)
	if err != nil || result < 0 {
		return nil // it failed, and changed nothing; or the process ended in it
	}
	return t.call(name, strings.Split(rest[:end], ", "), result, since)
}

// call takes up one call that succeeded.
func (t *tracer) call(name string, args []string, result, since int) error {
	number := func(i int) int64 {
		n, _ := strconv.ParseInt(args[i], 0, 64) // strace wrote it
		return n
	}
	add := func(o op) { t.ops = append(t.ops, o) }
	switch name {
	case "openat":
		t.opened(unquote(args[1]), args[2], result)
		return nil
	case "rename", "link":
		t.renamed(unquote(args[0]), unquote(args[1]), name == "rename")
		return nil
	case "renameat", "renameat2", "linkat":
		t.renamed(unquote(args[1]), unquote(args[3]), name != "linkat")
		return nil
	case "unlink", "unlinkat":
		if n := t.inside(unquote(args[len(args)-map[string]int{"unlink": 1, "unlinkat": 2}[name]])); n != "" {
			add(op{kind: opUnname, name: n})
			delete(t.names, n)
		}
		return nil
	case "truncate":
		if file := t.names[t.inside(unquote(args[0]))]; file != 0 {
			add(op{kind: opSize, file: file, at: number(1)})
			t.lengths[file] = number(1)
		}
		return nil
	case "mkdirat":
		if t.inside(unquote(args[1])) != "" {
			return fmt.Errorf("a folder was made in the one that is looked at, which the replay cannot undo: %s", unquote(args[1]))
		}
		return nil
	}
	descriptor := int(number(0))
	if name == "copy_file_range" {
		descriptor = int(number(2))
	}
	o := t.open[descriptor]
	switch {
	case name == "close":
		delete(t.open, descriptor)
	case name == "write" && descriptor == 1:
		add(op{kind: opSaid, data: []byte(unquote(args[1]))})
	case o.file == 0 && o.folder == "":
	case name == "fsync" && o.folder != "":
		add(op{kind: opFolder, name: o.folder, before: since})
	case name == "fsync", name == "fdatasync":
		add(op{kind: opSync, file: o.file, before: since})
	case name == "write", name == "pwrite64":
		if name == "pwrite64" {
			o.at = number(3)
		} else if o.append {
			o.at = t.lengths[o.file]
		}
		add(op{kind: opWrite, file: o.file, at: o.at, data: []byte(unquote(args[1])[:result])})
		o.at += int64(result)
		t.lengths[o.file] = max(t.lengths[o.file], o.at)
		t.open[descriptor] = o
	case name == "ftruncate":
		add(op{kind: opSize, file: o.file, at: number(1)})
		t.lengths[o.file] = number(1)
	default:
		return fmt.Errorf("a call that the replay cannot follow: %s", name)
	}
	return nil
}

// inside is a path relative to the folder that is looked at, "" when it is not in there.
func (t *tracer) inside(path string) string {
	name, ok := strings.CutPrefix(path, t.folder+string(filepath.Separator))
	if !ok {
		return ""
	}
	return name
}

func (t *tracer) opened(path, flags string, descriptor int) {
	delete(t.open, descriptor)
	if path == t.folder {
		t.open[descriptor] = opened{folder: "."}
		return
	}
	name := t.inside(path)
	if name == "" {
		return
	}
	file := t.names[name]
	if file == 0 {
		t.files++
		file = t.files
		t.names[name] = file
		t.ops = append(t.ops, op{kind: opName, file: file, name: name})
	}
	if strings.Contains(flags, "O_TRUNC") && t.lengths[file] > 0 {
		t.ops = append(t.ops, op{kind: opSize, file: file})
		t.lengths[file] = 0
	}
	t.open[descriptor] = opened{file: file, append: strings.Contains(flags, "O_APPEND")}
}

func (t *tracer) renamed(from, to string, gone bool) {
	from, to = t.inside(from), t.inside(to)
	file := t.names[from]
	if file == 0 || to == "" {
		return
	}
	step := op{kind: opName, file: file, name: to}
	t.names[to] = file
	if gone {
		step.old = from
		delete(t.names, from)
	}
	t.ops = append(t.ops, step)
}

// unquote gives the bytes of a string as strace -xx writes them.
func unquote(text string) string {
	text = strings.Trim(text, `"`)
	out := make([]byte, 0, len(text)/4)
	for i := 0; i+3 < len(text); i += 4 { // \x4f
		out = append(out, nibble(text[i+2])<<4|nibble(text[i+3]))
	}
	return string(out)
}

func nibble(c byte) byte {
	if c >= 'a' {
		return c - 'a' + 10
	}
	return c - '0'
}
