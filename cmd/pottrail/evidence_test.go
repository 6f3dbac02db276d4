package main

import (
	"os"
	"slices"
	"strconv"
	"strings"

	"github.com/rogpeppe/go-internal/testscript"

	"github.com/pottrail/pottrail/events/evidence"
)

// tamper FROM TO changed|missing|swapped|foreign|older [N] [FILE] writes a proof file anew with one thing wrong: event N
// changed; left out; its path in the place of the next one's; another file's event in its place; another checkpoint.
func scriptTamper(ts *testscript.TestScript, _ bool, args []string) {
	p, err := evidence.Parse([]byte(ts.ReadFile(args[0])))
	ts.Check(err)
	n := 0
	if len(args) > 3 {
		n, err = strconv.Atoi(args[3])
		ts.Check(err)
		n--
	}
	switch args[2] {
	case "changed":
		p.Events[n].Leaf = strings.Replace(p.Events[n].Leaf, "room-1", "room-2", 1)
	case "missing":
		p.Events = slices.Delete(p.Events, n, n+1)
	case "swapped":
		p.Events[n].Path, p.Events[n+1].Path = p.Events[n+1].Path, p.Events[n].Path
	case "foreign":
		other, err := evidence.Parse([]byte(ts.ReadFile(args[4])))
		ts.Check(err)
		p.Events[n] = other.Events[0]
	case "older":
		c, err := evidence.ReadCheckpoint(ts.ReadFile(args[4]))
		ts.Check(err)
		p.Checkpoints[0] = c
	default:
		ts.Fatalf("tamper knows no %s", args[2])
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[1]), evidence.Format(p), 0o600))
}
