package cli

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"time"

	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"
	"github.com/spf13/cobra"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/store"
)

const (
	// batchEvents and batchBytes bound one request to record; the daemon takes 500 events or 1 MiB.
	batchEvents = 500
	batchBytes  = 900 << 10
	// longestLine is the longest line that is read; the daemon refuses events over 64 KiB.
	longestLine = 4 << 20
	// patience is how long the daemon may be gone.
	patience = 5 * time.Second
)

func (a *app) record() *cobra.Command {
	return a.withJSON(&cobra.Command{
		Use: "record [FILE]", Short: "Record events", Args: cobra.MaximumNArgs(1),
		Long: "Reads events, one JSON object a line (NDJSON), from a file or standard input, and records them in order.\n" +
			"With --json prints one verdict a line, in the order of the input.\n\n" +
			"Exit 1 if any was refused (flags alone: 0), 3 when the daemon has been gone for 5 seconds; while it is gone the\n" +
			"same events are sent again with the same ids, so nothing is recorded twice.",
		Example: "  pottrail record --data ./clinic <events.ndjson",
		RunE: func(cmd *cobra.Command, args []string) error {
			in, err := a.openInput(append(args, "")[0])
			if err != nil {
				return err
			}
			defer in.Close()
			r := &recorder{app: a, client: a.client()}
			if err := r.all(cmd.Context(), in); err != nil {
				return err
			}
			return r.end()
		},
	})
}

// recorder sends lines in batches and counts what came of them.
type recorder struct {
	app     *app
	client  *client
	batch   [][]byte
	lines   []int // of the input, for each event of the batch
	size    int
	done    int
	refused int
	raised  int
}

func (r *recorder) all(ctx context.Context, in io.Reader) error {
	lines := bufio.NewScanner(in)
	lines.Buffer(make([]byte, 0, 64<<10), longestLine)
	number := 0
	for lines.Scan() {
		number++
		line := bytes.TrimSpace(lines.Bytes())
		if len(line) == 0 {
			continue
		}
		if len(r.batch) == batchEvents || r.size+len(line) > batchBytes && len(r.batch) > 0 {
			if err := r.flush(ctx); err != nil {
				return err
			}
		}
		r.batch, r.lines, r.size = append(r.batch, bytes.Clone(line)), append(r.lines, number), r.size+len(line)+1
	}
	if err := lines.Err(); err != nil {
		if flushed := r.flush(ctx); flushed != nil {
			return flushed
		}
		return unreadable("line %d: %w", number+1, err)
	}
	return r.flush(ctx)
}

// flush sends the batch until the daemon has answered, and tells the verdicts.
func (r *recorder) flush(ctx context.Context) error {
	if len(r.batch) == 0 {
		return nil
	}
	verdicts, err := r.send(ctx, r.batch)
	if err != nil {
		return err
	}
	for i, v := range verdicts {
		if err := r.tell(r.lines[i], v); err != nil {
			return err
		}
	}
	r.batch, r.lines, r.size = r.batch[:0], r.lines[:0], 0
	return nil
}

// send records some lines in one request and gives a verdict for each. A line that is not a JSON object would spoil
// the array for the others, so it goes alone.
func (r *recorder) send(ctx context.Context, lines [][]byte) ([]verdictLine, error) {
	verdicts := make([]verdictLine, 0, len(lines))
	for len(lines) > 0 {
		n := 0
		for n < len(lines) && jsontext.Value(lines[n]).IsValid() && lines[n][0] == '{' {
			n++
		}
		body := append(append([]byte{'['}, bytes.Join(lines[:n], []byte{','})...), ']')
		if n == 0 {
			n, body = 1, lines[0]
		}
		more, err := r.persist(ctx, body, n)
		if err != nil {
			return nil, err
		}
		verdicts, lines = append(verdicts, more...), lines[n:]
	}
	return verdicts, nil
}

// verdictLine is a verdict as it came, and as it is read.
type verdictLine struct {
	raw jsontext.Value
	events.Verdict
}

// persist sends the same request until the daemon answers it, as long as patience lasts. It may be sent again safely:
// an id that is known gets its first verdict.
func (r *recorder) persist(ctx context.Context, body []byte, n int) ([]verdictLine, error) {
	end := time.Now().Add(patience)
	for {
		status, answer, err := r.client.do(ctx, http.MethodPost, "/v1/events", nil, "application/json", body)
		switch {
		case err == nil && status != http.StatusServiceUnavailable && status != http.StatusInsufficientStorage:
			return readVerdicts(status, answer, n)
		case err == nil && status == http.StatusInsufficientStorage:
			err = errors.New("nothing more was recorded: the disk of the data folder is full")
		case err == nil:
			if refused := refusalIn(answer); refused.Code == string(events.CodeLedgerDamaged) {
				return nil, couldNot(&refused, "what to do: "+store.DamagedProcedure)
			}
			err = errors.New("the daemon is stopping")
		}
		if ctx.Err() != nil || !time.Now().Before(end) {
			return nil, gone(err)
		}
		select {
		case <-ctx.Done():
		case <-time.After(100 * time.Millisecond):
		}
	}
}

// readVerdicts reads one verdict, or an array of them.
func readVerdicts(status int, answer []byte, n int) ([]verdictLine, error) {
	var raw []jsontext.Value
	if len(answer) > 0 && answer[0] == '[' {
		if err := json.Unmarshal(answer, &raw); err != nil {
			return nil, couldNot(fmt.Errorf("the daemon's verdicts cannot be read: %w", err), "")
		}
	} else {
		raw = []jsontext.Value{bytes.TrimSpace(answer)}
	}
	if len(raw) != n {
		return nil, couldNot(fmt.Errorf("the daemon gave %d verdicts for %d events (status %d)", len(raw), n, status), "")
	}
	verdicts := make([]verdictLine, n)
	for i, v := range raw {
		verdicts[i].raw = v
		if err := json.Unmarshal(v, &verdicts[i].Verdict); err != nil || !verdicts[i].OK && verdicts[i].Error == nil {
			return nil, couldNot(fmt.Errorf("a verdict of the daemon cannot be read: %.200s", v), "")
		}
	}
	return verdicts, nil
}

// tell prints a verdict: all of them as JSON, for people those that want something.
func (r *recorder) tell(line int, v verdictLine) error {
	r.done++
	if !v.OK {
		r.refused++
	}
	r.raised += len(v.Raised)
	if r.app.json {
		_, err := fmt.Fprintf(r.app.Out, "%s\n", v.raw)
		return err
	}
	if !v.OK {
		_, err := fmt.Fprintf(r.app.Out, "line %d refused: %s\n", line, v.Error.Text)
		return err
	}
	for _, f := range v.Raised {
		if _, err := fmt.Fprintf(r.app.Out, "line %d: %s\n", line, flagLine(f.Severity, f.Text, f.Remedy)); err != nil {
			return err
		}
	}
	return nil
}

func (r *recorder) end() error {
	if !r.app.json {
		fmt.Fprintf(r.app.Out, "%d recorded, %d refused, %d flags raised\n", r.done-r.refused, r.refused, r.raised)
	}
	if r.refused > 0 {
		return wrong()
	}
	return nil
}
