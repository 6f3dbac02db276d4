package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
)

// refusal is a call that the system refuses, and why.
type refusal struct {
	call, why string
	ends      bool // nobody knows what it left, so nothing more may be written
}

func refusals() []refusal {
	return []refusal{
		{"fdatasync", "EIO", true},
		{"fsync", "EIO", true},
		{"pwrite64", "ENOSPC", false},
		{"pwrite64", "EIO", true},
		{"ftruncate", "EIO", true},
		{"ftruncate", "ENOSPC", false},
		{"openat", "EMFILE", false},
	}
}

// of is how strace is told to refuse the nth call, and where it writes that it did.
func (r refusal) of(n int, out string, more ...string) []string {
	args := append([]string{"strace", "-f", "-qq", "-e", "signal=none", "-o", out}, more...)
	return append(args, "-e", "trace="+r.call, "-e", fmt.Sprintf("inject=%s:error=%s:when=%d", r.call, r.why, n), "--")
}

func (r refusal) String() string { return r.call + " " + r.why }

// struck reports whether a call was refused.
func struck(out string) (bool, error) {
	text, err := os.ReadFile(out)
	return bytes.Contains(text, []byte("(INJECTED)")), err
}

// refused is a run with refused calls, looked at afterwards.
type refused struct {
	ctx    context.Context
	o      options
	folder string
	looker *looker
	trace  string

	struck, ended, acknowledged, stored, lost int
	wrong                                     string
}

// mostCalls is the highest number of a call that is refused: there are no more than that of most kinds.
const mostCalls = 200

// calls lets the system refuse one call: of a process that writes all files, the nth of each kind; of a daemon, some.
// The control says that all is recorded whatever came of it.
func calls(ctx context.Context, o options) (out result, err error) {
	r := &refused{ctx: ctx, o: o, looker: &looker{ctx: ctx, o: o}, folder: filepath.Join(quick(o), "refused"), trace: filepath.Join(o.folder, "calls")}
	defer r.looker.close()
	defer func() { _ = os.RemoveAll(filepath.Dir(r.folder)) }()
	kinds := refusals()
	chance := rand.New(rand.NewPCG(o.seed, 21))
	var counts [2]int // all, and those of daemons
	for i := range o.cycles {
		kind, n := kinds[i%len(kinds)], 1+i/len(kinds)
		if o.cycles < len(kinds)*mostCalls {
			n = 1 + chance.IntN(mostCalls/2)
		}
		if err := r.run(kind, n, false); err != nil {
			return out, err
		}
		counts[0]++
	}
	daemons, err := r.daemons(max(2, o.cycles/20), chance)
	if err != nil {
		return out, err
	}
	counts[1] = daemons.cycles
	out.Acknowledged, out.Stored = r.acknowledged+daemons.acknowledged, r.stored+daemons.stored
	out.Lost, out.Double = r.lost+daemons.lost, daemons.double
	out.Wrong = strings.Trim(r.wrong+"; "+daemons.wrong, "; ")
	out.Note = fmt.Sprintf("%d calls refused in %d runs, of which %d ended; %d in %d lives of a daemon, of which %d ended", r.struck, counts[0], r.ended,
		daemons.struck, counts[1], daemons.ended)
	control := &refused{ctx: ctx, o: o, looker: r.looker, folder: r.folder, trace: r.trace}
	for i := 0; i < 40 && (i < o.cycles/50 || control.lost == 0); i++ {
		if err := control.run(refusal{"pwrite64", "EIO", true}, 20+chance.IntN(mostCalls), true); err != nil {
			return out, err
		}
	}
	out.Control = control.lost
	return out, nil
}

// work is how many events a run records: enough for two hundred calls to write.
const work = 30

// run starts a run in which the nth call is refused, and looks at what it leaves.
func (r *refused) run(kind refusal, n int, lying bool) error {
	if err := put(r.folder, nil); err != nil {
		return err
	}
	more := []string{r.folder, strconv.Itoa(work), strconv.FormatUint(r.o.seed, 10)}
	if lying {
		more = append(more, "lying")
	}
	args := append(kind.of(n, r.trace), r.o.self(modeRun, more...)...)
	cmd := exec.CommandContext(r.ctx, args[0], args[1:]...)
	var said, complaints bytes.Buffer
	cmd.Stdout, cmd.Stderr = &said, &complaints
	err := cmd.Run()
	if err != nil && !errors.As(err, new(*exec.ExitError)) {
		return err
	}
	hit, readErr := struck(r.trace)
	if readErr != nil {
		return readErr
	}
	p := promised{done: map[string]string{}}
	p.hear(said.Bytes())
	s, lookErr := r.looker.look(question{Folder: r.folder, Seed: r.o.seed, Work: work, Whole: true})
	if lookErr != nil {
		return lookErr
	}
	lost, strange := p.against(s.Values)
	r.acknowledged += len(p.done)
	r.stored += len(s.Values)
	r.lost += len(lost)
	if hit {
		r.struck++
	}
	if err != nil {
		r.ended++
	}
	var wrong string
	switch {
	case s.Fault != "":
		wrong = s.Fault
	case len(lost) > 0:
		wrong = "lost: " + lost[0]
	case len(strange) > 0:
		wrong = strange[0]
	case p.late != "":
		wrong = p.late + " was done after an error after which nothing may be written"
	case strings.Contains(complaints.String(), "panic"), strings.Contains(complaints.String(), "fatal error"):
		wrong = "it panicked: " + complaints.String()
	case err == nil && hit && kind.ends:
		wrong = "it ended as if all had gone well"
	case err != nil && !hit:
		wrong = "it ended though nothing was refused: " + complaints.String()
	}
	if wrong != "" && len(r.wrong) < 1000 && !lying {
		r.wrong += fmt.Sprintf("%s at call %d: %s; ", kind, n, wrong)
	}
	return nil
}
