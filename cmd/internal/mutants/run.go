package main

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"
)

// build makes the test binary of a package with an overlay.
func build(ctx context.Context, dir, overlay, binary string) error {
	c := exec.CommandContext(ctx, "go", "test", "-c", "-vet=off", "-overlay", overlay, "-o", binary, ".")
	c.Dir = dir
	if said, err := c.CombinedOutput(); err != nil {
		return fmt.Errorf("build the instrumented tests of %s: %w\n%s", dir, err, said)
	}
	return nil
}

// runner runs one test binary again and again.
type runner struct {
	binary, dir, work string
	rapid             bool // tests draw at random: always the same draws, so that a fate is not chance
	look              bool // run nothing with a fault on
	log               io.Writer
	tests             []*test
	mu                sync.Mutex
	killers           map[string]string // function → the test that noticed a mutant in it last
}

// test is one test function and what it can notice.
type test struct {
	name    string
	takes   time.Duration
	reaches []byte // what it sees of each mutant
}

// fate is how a test process ended.
type fate int

const (
	passed fate = iota
	failed
	hung
)

// few mutants are not worth finding out which tests come by them.
const few = 60

// once runs some tests, all of them if there are no names.
func (r *runner) once(ctx context.Context, names []string, limit time.Duration, env ...string) (fate, string, error) {
	args := []string{"-test.failfast"}
	if names != nil {
		quoted := make([]string, len(names))
		for i, n := range names {
			quoted[i] = regexp.QuoteMeta(n)
		}
		args = append(args, "-test.run=^("+strings.Join(quoted, "|")+")$")
	}
	if r.rapid {
		args = append(args, "-rapid.seed=1", "-rapid.nofailfile", "-rapid.shrinktime=0s")
	}
	within, cancel := context.WithTimeout(ctx, limit)
	defer cancel()
	var said bytes.Buffer
	c := exec.CommandContext(within, r.binary, args...)
	c.Dir, c.Env, c.Stdout, c.Stderr, c.WaitDelay = r.dir, append(os.Environ(), env...), &said, &said, time.Second
	err := c.Run()
	var exit *exec.ExitError
	switch {
	case ctx.Err() != nil:
		return failed, "", ctx.Err()
	case err == nil:
		return passed, "", nil
	case within.Err() != nil:
		return hung, said.String(), nil
	case errors.As(err, &exit):
		return failed, said.String(), nil
	}
	return failed, "", fmt.Errorf("run %s: %w", r.binary, err)
}

// clean runs all tests with no fault in the code: they must pass. It returns how long that takes.
func (r *runner) clean(ctx context.Context) (time.Duration, error) {
	start := time.Now()
	got, said, err := r.once(ctx, nil, 10*time.Minute)
	if err == nil && got != passed {
		err = fmt.Errorf("the tests in %s fail with no fault in the code:\n%s", r.dir, said)
	}
	return time.Since(start), err
}

// try finds out the fate of each mutant.
func (r *runner) try(ctx context.Context, all []*mutant, jobs int, out *outcome) error {
	start := time.Now()
	if err := r.measure(ctx, all); err != nil {
		return err
	}
	fmt.Fprintf(r.log, "%d mutants, %d parts of the tests; ready after %s\n", len(all), len(r.tests), time.Since(start).Round(time.Second))
	within, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	work := make(chan *mutant)
	var workers sync.WaitGroup
	for range jobs {
		workers.Go(func() {
			for m := range work {
				v, err := r.verdict(within, m)
				if err != nil {
					stop(err)
					continue
				}
				out.add(v)
				if v.end == passed && !r.look {
					fmt.Fprintf(r.log, "lives\t%s\n", v.mutant)
				}
			}
		})
	}
	for i, m := range all {
		if within.Err() != nil {
			break
		}
		if i%200 == 0 && i > 0 && !r.look {
			fmt.Fprintf(r.log, "%d tried, %s\n", i, time.Since(start).Round(time.Second))
		}
		work <- m
	}
	close(work)
	workers.Wait()
	return context.Cause(within)
}

// measure finds out for each test how long it takes and which mutants it comes by.
func (r *runner) measure(ctx context.Context, all []*mutant) error {
	if len(all) < few || r.look {
		t, err := r.comesBy(ctx, nil, 10*time.Minute)
		r.tests = []*test{t}
		return err
	}
	takes, err := r.clean(ctx)
	if err != nil {
		return err
	}
	list := exec.CommandContext(ctx, r.binary, "-test.list=^(Test|Fuzz|Example)")
	list.Dir = r.dir
	text, err := list.Output()
	if err != nil {
		return fmt.Errorf("list the tests in %s: %w", r.dir, err)
	}
	for _, name := range strings.Fields(string(text)) {
		t, err := r.comesBy(ctx, []string{name}, 10*takes+5*time.Second)
		if err != nil {
			return err
		}
		r.tests = append(r.tests, t)
	}
	slices.SortFunc(r.tests, func(a, b *test) int { return cmp.Compare(a.takes, b.takes) })
	return nil
}

// comesBy runs tests and notes what they reach.
func (r *runner) comesBy(ctx context.Context, names []string, limit time.Duration) (*test, error) {
	reached := filepath.Join(r.work, "reached")
	if err := os.WriteFile(reached, nil, 0o600); err != nil {
		return nil, fmt.Errorf("note what tests reach: %w", err)
	}
	start := time.Now()
	got, said, err := r.once(ctx, names, limit, envReached+"="+reached)
	if err != nil {
		return nil, err
	}
	if got != passed {
		return nil, fmt.Errorf("%v fails by itself, with no fault in the code:\n%s", names, said)
	}
	t := &test{takes: time.Since(start), name: strings.Join(names, "")}
	if t.reaches, err = os.ReadFile(reached); err != nil {
		return nil, fmt.Errorf("read what tests reach: %w", err)
	}
	return t, nil
}

// verdict is the fate of one mutant.
type verdict struct {
	*mutant
	end     fate
	reached bool // some test came by
	differs bool // and would have seen another value there
}

// verdict runs the tests that come by a mutant, the quick ones first, until one fails.
func (r *runner) verdict(ctx context.Context, m *mutant) (verdict, error) {
	v := verdict{mutant: m}
	var near []*test
	for _, t := range r.tests {
		if m.id < len(t.reaches) {
			v.reached = v.reached || t.reaches[m.id] >= cameBy
			if t.reaches[m.id] >= differs {
				near = append(near, t)
			}
		}
	}
	v.differs = len(near) > 0
	if r.look && v.differs {
		v.end = failed // perhaps: nobody tried
		return v, nil
	}
	if i := slices.IndexFunc(near, func(t *test) bool { return t.name != "" && t.name == r.lastKiller(m) }); i > 0 {
		killer := near[i]
		near = slices.Insert(slices.Delete(near, i, i+1), 0, killer)
		var err error
		if v.end, err = r.noticed(ctx, m, near[:1]); err != nil || v.end != passed {
			return v, err
		}
		near = near[1:]
	}
	for len(near) > 0 {
		n := quick(near)
		var err error
		if v.end, err = r.noticed(ctx, m, near[:n]); err != nil || v.end != passed {
			return v, err
		}
		near = near[n:]
	}
	return v, nil
}

// lastKiller is the test that noticed the last mutant of the same function: likely it notices this one too.
func (r *runner) lastKiller(m *mutant) string {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.killers[m.file+" "+m.fn]
}

var failedTest = regexp.MustCompile(`(?m)^--- FAIL: (\w+)`)

func (r *runner) noteKiller(m *mutant, said string) {
	if found := failedTest.FindStringSubmatch(said); found != nil {
		r.mu.Lock()
		defer r.mu.Unlock()
		if r.killers == nil {
			r.killers = make(map[string]string)
		}
		r.killers[m.file+" "+m.fn] = found[1]
	}
}

// quick says how many tests to try at first: those that together take little more than starting a process.
func quick(near []*test) int {
	var sum time.Duration
	for i, t := range near {
		if sum += t.takes; i > 0 && sum > 300*time.Millisecond && i < len(near)-1 {
			return i
		}
	}
	return len(near)
}

// noticed runs tests with a mutant on. One that hangs is tried again with more time, so that a busy machine kills none.
func (r *runner) noticed(ctx context.Context, m *mutant, tests []*test) (fate, error) {
	var names []string
	limit := 5 * time.Second
	for _, t := range tests {
		limit += 5 * t.takes
		if t.name != "" {
			names = append(names, t.name)
		}
	}
	on := envMutant + "=" + strconv.Itoa(m.id)
	got, said, err := r.once(ctx, names, limit, on)
	if err == nil && got == failed {
		r.noteKiller(m, said)
	}
	if err == nil && got == hung {
		got, _, err = r.once(ctx, names, 3*limit, on)
	}
	return got, err
}
