package examine

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os/exec"
	"sync/atomic"
	"time"

	"github.com/go-json-experiment/json"

	"github.com/pottrail/pottrail/store"
)

// silence is how long a child may say nothing before it is taken to hang in a circle of pages. A page is read in far less.
const silence = 2 * time.Minute

// Run looks at the files of a job in a child process: program and its arguments, which must call [Child] on standard input
// and output. Without a program it looks in this process, for tests and for files that are known to be whole. Tell, if not
// nil, is called with each progress. An error says that no child could be started, or that the context ended.
func Run(ctx context.Context, program []string, job Job, tell func(Progress)) (*Report, error) {
	return run(ctx, program, job, tell, silence)
}

func run(ctx context.Context, program []string, job Job, tell func(Progress), silence time.Duration) (*Report, error) {
	r := &Report{Looked: []string{}, Findings: []Finding{}}
	if len(program) == 0 {
		look(ctx, job, func(l line) { r.take(l, tell) })
		return r, ctx.Err()
	}
	text, err := json.Marshal(job)
	if err != nil {
		return nil, fmt.Errorf("look at the files: %w", err)
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	child := exec.CommandContext(ctx, program[0], program[1:]...)
	child.Stdin = bytes.NewReader(text)
	child.WaitDelay = time.Second
	out, err := child.StdoutPipe()
	if err != nil {
		return nil, fmt.Errorf("look at the files: %w", err)
	}
	if err := child.Start(); err != nil {
		return nil, fmt.Errorf("the process that looks at the files could not be started: %w", err)
	}
	var at Progress
	var silent atomic.Bool
	watch := time.AfterFunc(silence, func() { silent.Store(true); cancel() })
	ended := listen(out, func(l line) {
		watch.Reset(silence)
		if l.Progress != nil {
			at = *l.Progress
		}
		if l.Looked != "" {
			at = Progress{}
		}
		r.take(l, tell)
	})
	watch.Stop()
	status := child.Wait()
	if ended && status == nil {
		return r, nil
	}
	if err := context.Cause(ctx); err != nil && !silent.Load() {
		return r, err
	}
	if silent.Load() {
		status = fmt.Errorf("said nothing for %s and was ended", silence)
	}
	r.crashed(job, at, status)
	return r, nil
}

// listen reads a child's lines to their end, and reports whether it said that it came to its end.
func listen(out io.Reader, take func(line)) (ended bool) {
	lines := bufio.NewScanner(out)
	lines.Buffer(nil, 1<<20)
	for lines.Scan() {
		var l line
		if err := json.Unmarshal(lines.Bytes(), &l); err != nil {
			continue // cut off in the middle of a word
		}
		ended = ended || l.End
		take(l)
	}
	return ended
}

func (r *Report) take(l line, tell func(Progress)) {
	switch {
	case l.Progress != nil && tell != nil:
		tell(*l.Progress)
	case l.Finding != nil:
		r.Total++
		if len(r.Findings) < MostFindings {
			r.Findings = append(r.Findings, *l.Finding)
		}
	case l.Ledger != nil:
		r.Ledger = l.Ledger
	case l.Looked != "":
		r.Looked = append(r.Looked, l.Looked)
	case l.Trouble != nil:
		r.Troubles = append(r.Troubles, *l.Trouble)
	}
}

// crashed notes that a child ended, or had to be ended, while it looked at a file.
func (r *Report) crashed(job Job, at Progress, status error) {
	r.Crashed = true
	file := at.File
	if file == "" { // it had not yet told how far it was
		file = FileLedger
		for _, looked := range r.Looked {
			switch {
			case looked == FileLedger && job.People != "":
				file = FilePeople
			case looked == FilePeople && job.Prints != "":
				file = FilePrints
			case (looked == FilePeople || looked == FilePrints) && job.Staff != "":
				file = FileStaff
			}
		}
	}
	how := "ended in the middle"
	var exit *exec.ExitError
	switch {
	case errors.As(status, &exit):
		how = fmt.Sprintf("ended in the middle (%s)", exit.ProcessState)
	case status != nil:
		how = status.Error()
	}
	where := ""
	if at.Stage != "" {
		where = fmt.Sprintf(", while it looked at %s, after %d of %d", at.Stage, at.Done, at.Total)
	}
	r.take(line{Finding: &Finding{file, store.Finding{Part: store.PartFile,
		Text:   fmt.Sprintf("The file %s cannot be read: the process that read it %s%s. A page of it leads astray.", file, how, where),
		Remedy: "Open it with nothing. Copy the data folder, keep the copy, and put the last backup back."}}}, nil)
}
