package main

import (
	"fmt"
	"os/exec"
)

// straceTrials are the trials that look at, or meddle with, what a process asks of the system. They need the program strace
// (Debian: strace).
var straceTrials = []string{"power", "calls"}

// diskTrial is the trial that needs a small disk of its own, mounted where nobody else sees it.
const diskTrial = "full"

// needs says what a trial lacks on this machine, or nothing.
func (t trial) needs() error {
	for _, name := range straceTrials {
		if name == t.name {
			if _, err := exec.LookPath("strace"); err != nil {
				return fmt.Errorf("%w (Debian: apt-get install strace)", err)
			}
		}
	}
	if t.name == diskTrial {
		return mayMount()
	}
	return nil
}
