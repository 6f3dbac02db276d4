package main

import (
	"bytes"
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
)

// Children of the trial of power cuts.
const (
	modeRun  = "power-run"
	modeLook = "power-look"
)

// promised is what a run had said up to a step: what is done must be there, what was being done may be.
type promised struct {
	done   map[string]string
	trying string // its key, "" when nothing was under way
	value  string
	late   string // a key that was done after an error after which nothing may be done
}

// hear takes up what was said.
func (p *promised) hear(said []byte) {
	for line := range bytes.Lines(said) {
		word, rest, _ := strings.Cut(strings.TrimSuffix(string(line), "\n"), "\t")
		key, value, _ := strings.Cut(rest, "\t")
		switch word {
		case saysTry:
			p.trying, p.value = key, value
		case saysDone:
			p.done[key], p.trying = value, ""
		case saysLate:
			p.late = key
		}
	}
}

// against holds what is found against what was promised: what is lost, and what is there that nobody made.
func (p *promised) against(found map[string]string) (lost, strange []string) {
	for key, want := range p.done {
		got, there := found[key]
		switch {
		case strings.HasPrefix(key, "count/"):
			n, _ := strconv.Atoi(got) // a number, or nothing, which is 0
			if least, _ := strconv.Atoi(want); n < least {
				lost = append(lost, fmt.Sprintf("%s: %q, and it was %s", key, got, want))
			}
		case got == want, key == p.trying && got == p.value:
		case there:
			strange = append(strange, fmt.Sprintf("%s: %q, and it was %q", key, got, want))
		default:
			lost = append(lost, fmt.Sprintf("%s, which was %q", key, want))
		}
	}
	for key, got := range found {
		if _, made := p.done[key]; !made && key != p.trying && key != signingKey && !strings.HasPrefix(key, "count/") {
			strange = append(strange, fmt.Sprintf("%s is there: %q", key, got))
		}
	}
	return lost, strange
}

// cut is a run whose power is cut at steps of it.
type cut struct {
	ctx    context.Context
	o      options
	ops    []op
	work   int
	folder string
	looker *looker
	// tally
	states, creating, bad, lost, strange, whole int
	first                                       string // of what was found
}

// power records a run step by step, cuts its power at thousands of instants, and opens what a disk may then hold. The control
// leaves out the syncs of one file after the other, and of the folder.
func power(ctx context.Context, o options) (out result, err error) {
	c := &cut{ctx: ctx, o: o, work: 60, looker: &looker{ctx: ctx, o: o}, folder: filepath.Join(quick(o), "cut")}
	defer c.looker.close()
	defer func() { _ = os.RemoveAll(filepath.Dir(c.folder)) }() // the folder of the trial, or one beside it
	if o.cycles >= 1000 {
		c.work = 300
	}
	run := filepath.Join(o.folder, "run")
	if err := os.Mkdir(run, 0o700); err != nil {
		return out, err
	}
	if c.ops, err = traced(ctx, run, o.self(modeRun, run, strconv.Itoa(c.work), strconv.FormatUint(o.seed, 10))); err != nil {
		return out, err
	}
	if err := c.cutAt(o.cycles, nil, 1); err != nil {
		return out, err
	}
	p := promised{done: map[string]string{}}
	for _, op := range c.ops {
		if op.kind == opSaid {
			p.hear(op.data)
		}
	}
	out.Acknowledged, out.Stored, out.Lost, out.Wrong = len(p.done), c.whole, c.lost, c.first
	out.Note = fmt.Sprintf("%d steps of %d events, their patients and labels; %d states, %d of them while the files were made; %d had all and no more",
		len(c.ops), c.work, c.states, c.creating, c.whole)
	noticed, err := c.controls(max(8, o.cycles/100))
	out.Control = noticed
	return out, err
}

// controls cuts the power of the same run without some of its syncs; each kind must be noticed.
func (c *cut) controls(n int) (noticed int, err error) {
	for i, name := range []string{ledgerFile, peopleFile, printsFile, staffFile, keyFile, "evidence.key", ""} {
		files := map[int]bool{}
		for _, o := range c.ops {
			if o.kind == opName && strings.HasPrefix(o.name, name) {
				files[o.file] = true
			}
		}
		control := &cut{ctx: c.ctx, o: c.o, ops: c.ops, work: c.work, folder: c.folder, looker: c.looker}
		for round := 0; round < 20 && control.bad == 0; round++ {
			err := control.cutAt(n, func(o op) bool {
				if name == "" {
					return o.kind == opFolder
				}
				return o.kind == opSync && files[o.file]
			}, uint64(2+i+10*round))
			if err != nil {
				return 0, err
			}
		}
		if control.bad == 0 {
			return 0, nil
		}
		noticed += control.bad
	}
	return noticed, nil
}

// cutAt looks at so many states.
func (c *cut) cutAt(n int, deaf func(op) bool, stream uint64) error {
	chance := rand.New(rand.NewPCG(c.o.seed, 100+stream))
	steps, firstDone := c.instants(n, chance)
	r := newReplay(c.ops, deaf)
	p := promised{done: map[string]string{}}
	heard := 0
	for i, step := range steps {
		r.until(step)
		for ; heard < step; heard++ {
			if c.ops[heard].kind == opSaid {
				p.hear(c.ops[heard].data)
			}
		}
		if err := put(c.folder, r.left(chance)); err != nil {
			return err
		}
		s, err := c.looker.look(question{Folder: c.folder, Seed: c.o.seed, Work: c.work, Whole: i%16 == 0})
		if err != nil {
			return err
		}
		c.states++
		if step <= firstDone {
			c.creating++
		}
		c.judge(&p, s, step, i)
	}
	return nil
}

// instants draws at which steps the power is cut, in order: anywhere, but often while the files are made, and around
// changes of names. It gives the step at which the first thing was done as well.
func (c *cut) instants(n int, chance *rand.Rand) (steps []int, firstDone int) {
	var names []int
	for i, o := range c.ops {
		switch {
		case o.kind == opSaid && firstDone == 0 && bytes.HasPrefix(o.data, []byte(saysDone)):
			firstDone = i
		case o.kind == opName, o.kind == opUnname, o.kind == opFolder:
			names = append(names, i)
		}
	}
	for range n {
		step := chance.IntN(len(c.ops) + 1)
		switch chance.IntN(8) {
		case 0:
			step = chance.IntN(firstDone + 1)
		case 1:
			step = max(0, min(len(c.ops), names[chance.IntN(len(names))]+chance.IntN(24)-12))
		}
		steps = append(steps, step)
	}
	slices.Sort(steps)
	return steps, firstDone
}

func (c *cut) judge(p *promised, s sight, step, state int) {
	lost, strange := p.against(s.Values)
	where := fmt.Sprintf("state %d, cut before step %d of %d: ", state, step, len(c.ops))
	told := ""
	switch {
	case s.Fault != "":
		told = where + s.Fault
	case len(lost) > 0:
		c.lost += len(lost)
		told = where + "lost: " + lost[0]
	case len(strange) > 0:
		c.strange += len(strange)
		told = where + strange[0]
	default:
		c.whole++
		return
	}
	c.bad++
	if c.first == "" {
		c.first = told
	}
}

// quick is a folder of which nothing is on a disk, where there is one: what a power cut leaves is worked out, so the
// thousands of files need not be slow.
func quick(o options) string {
	if folder, err := os.MkdirTemp("/dev/shm", "campaign-"); err == nil {
		return folder
	}
	return o.folder
}
