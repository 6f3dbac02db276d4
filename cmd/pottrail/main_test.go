package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"net"

	"github.com/rogpeppe/go-internal/testscript"

	"github.com/pottrail/pottrail/cmd/internal/daemon"
	"github.com/pottrail/pottrail/tracker"
)

// TestMain makes the test binary stand in for pottrail when it is called so.
func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"pottrail": func() { os.Exit(run()) }})
}

// TestStories runs people's days through the real program: one script a person, and what happens when things go wrong.
func TestStories(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir:                 filepath.Join("testdata", "stories"),
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Setup: func(env *testscript.Env) error {
			london, err := time.LoadLocation("Europe/London")
			if err != nil {
				return err
			}
			shared, err := filepath.Abs(filepath.Join("..", "..", "testdata"))
			if err != nil {
				return err
			}
			env.Setenv("YY", time.Now().In(london).Format("06")) // the year in codes
			env.Setenv("SHARED", shared)
			env.Setenv("HOME", env.WorkDir)
			env.Setenv("GORACE", os.Getenv("GORACE"))
			env.Values[printerKey{}] = map[string]*fakePrinter{}
			return nil
		},
		Cmds: map[string]func(ts *testscript.TestScript, neg bool, args []string){
			"ready": scriptReady, "exits": scriptExits, "stamp": scriptStamp, "sameflags": scriptSameFlags, "gone": scriptGone, "edit": scriptEdit,
			"printer": scriptPrinter, "called": scriptCalled, "spooled": scriptSpooled, "until": scriptUntil, "expand": scriptExpand, "found": scriptFound,
			"code": scriptCode, "strikes": scriptStrikes, "tamper": scriptTamper, "nats": scriptNATS, "kept": scriptKept, "spoil": scriptSpoil, "scrawl": scriptScrawl, "sick": scriptSick,
		},
	})
}

// within is how long a daemon may take to be well: far more than it needs, since the race detector and a busy machine
// make it slow.
const within = 2 * time.Minute

// health asks the daemon of a folder whether it is well.
func health(ctx context.Context, folder string) error {
	client := http.Client{Transport: &http.Transport{DisableKeepAlives: true,
		DialContext: func(ctx context.Context, _, _ string) (net.Conn, error) { return daemon.DialSocket(ctx, folder) }}}
	request, err := http.NewRequestWithContext(ctx, http.MethodGet, "http://pottrail/healthz", nil)
	if err != nil {
		return err
	}
	response, err := client.Do(request)
	if err != nil {
		return err
	}
	defer response.Body.Close()
	body, err := io.ReadAll(response.Body)
	if err == nil && response.StatusCode != http.StatusOK {
		err = fmt.Errorf("status %d: %s", response.StatusCode, body)
	}
	return err
}

// awaitHealth asks until the daemon is well, or well no longer.
func awaitHealth(ctx context.Context, folder string, well bool) error {
	ctx, cancel := context.WithTimeout(ctx, within)
	defer cancel()
	often := time.NewTicker(10 * time.Millisecond)
	defer often.Stop()
	for {
		err := health(ctx, folder)
		if (err == nil) == well {
			return nil
		}
		select {
		case <-ctx.Done():
			return fmt.Errorf("%s: waited %s: %w", folder, within, errors.Join(err, ctx.Err()))
		case <-often.C:
		}
	}
}

// ready FOLDER waits until the daemon of a folder is well.
func scriptReady(ts *testscript.TestScript, _ bool, args []string) {
	ts.Check(awaitHealth(context.Background(), ts.MkAbs(args[0]), true))
}

// gone FOLDER waits until no daemon of a folder answers.
func scriptGone(ts *testscript.TestScript, _ bool, args []string) {
	ts.Check(awaitHealth(context.Background(), ts.MkAbs(args[0]), false))
}

// edit FILE OLD NEW replaces words of a file, which must stand there once.
func scriptEdit(ts *testscript.TestScript, _ bool, args []string) {
	text := ts.ReadFile(args[0])
	if n := strings.Count(text, args[1]); n != 1 {
		ts.Fatalf("%q stands %d times in %s", args[1], n, args[0])
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(strings.Replace(text, args[1], args[2], 1)), 0o644))
}

// code VARIABLE NAME COPY puts into a variable what a scanner sends of one copy of a label.
func scriptCode(ts *testscript.TestScript, _ bool, args []string) {
	name, err := tracker.ParseName(args[1])
	ts.Check(err)
	code, err := tracker.MakeCode(name, tracker.Copy(args[2][0]))
	ts.Check(err)
	ts.Setenv(args[0], code.String())
}

// strikes NAME runs the command that the last refusal on standard error gave for striking an event of that name.
func scriptStrikes(ts *testscript.TestScript, _ bool, args []string) {
	found := strikePattern.FindStringSubmatch(ts.ReadFile("stderr"))
	if found == nil || found[2] != args[0] {
		ts.Fatalf("standard error gives no command that strikes an event of %s", args[0])
	}
	ts.Check(ts.Exec("pottrail", "scan", "--step", "event.struck", "--facts", found[1], "--by", "nurse.osei", "--data", ts.MkAbs("clinic"), found[2]))
}

var strikePattern = regexp.MustCompile(`pottrail scan --step event\.struck --facts '([^']+)' (\S+)`)

// exits CODE PROGRAM ARGS… runs a program and asks for its exact exit code.
func scriptExits(ts *testscript.TestScript, _ bool, args []string) {
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	code := 0
	if err := ts.Exec(args[1], args[2:]...); err != nil {
		var exit *exec.ExitError
		if !errors.As(err, &exit) {
			ts.Fatalf("%v", err)
		}
		code = exit.ExitCode()
	}
	if code != want {
		ts.Fatalf("exit %d, want %d", code, want)
	}
}

var agoPattern = regexp.MustCompile(`<(-?[0-9][0-9a-z]*)>`)

// stamp FROM TO copies a file and replaces "<-20m>" by the time 20 minutes ago, and the script's variables.
func scriptStamp(ts *testscript.TestScript, _ bool, args []string) {
	now := time.Now()
	text := ts.ReadFile(args[0])
	text = agoPattern.ReplaceAllStringFunc(text, func(s string) string {
		d, err := time.ParseDuration(s[1 : len(s)-1])
		ts.Check(err)
		return now.Add(d).Format(time.RFC3339Nano)
	})
	text = strings.ReplaceAll(text, "$YY", ts.Getenv("YY"))
	ts.Check(os.WriteFile(ts.MkAbs(args[1]), []byte(text), 0o600))
}

// sameflags FOLDER holds `check` over an export against `flags` of the daemon that made it, at the same instant.
func scriptSameFlags(ts *testscript.TestScript, _ bool, args []string) {
	folder := ts.MkAbs(args[0])
	flags := output(ts, "flags", "--data", folder, "--json")
	at := regexp.MustCompile(`"at":"([^"]+)"`).FindSubmatch(flags)
	if at == nil {
		ts.Fatalf("flags has no instant: %s", flags)
	}
	export := ts.MkAbs("sameflags.ndjson")
	ts.Check(os.WriteFile(export, output(ts, "export", "--data", folder), 0o600))
	check := output(ts, "check", "--events", export, "--at", string(at[1]), "--json")
	if !bytes.Equal(check, flags) {
		ts.Fatalf("check over the export differs from flags:\ncheck %s\nflags %s", check, flags)
	}
}

// output runs pottrail and gives what it printed; exit 1 is no failure here.
func output(ts *testscript.TestScript, args ...string) []byte {
	cmd := exec.Command("pottrail", args...)
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	var exit *exec.ExitError
	if err != nil && (!errors.As(err, &exit) || exit.ExitCode() != 1) {
		ts.Fatalf("pottrail %s: %v: %s", strings.Join(args, " "), err, stderr.String())
	}
	return out
}
