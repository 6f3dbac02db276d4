package cli

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/store/staff"
	"github.com/pottrail/pottrail/tracker/protocol"
)

// mostPIN bounds what is read of a file that should hold a PIN, in bytes.
const mostPIN = 4 << 10

func addPINFile(c *cobra.Command, file *string) {
	c.Flags().StringVar(file, "pin-file", "", "read the PIN from the first line of this `FILE`, which others must not be able to read; - is standard input")
}

// readPIN reads a new PIN for somebody: from a file, from whoever types at a terminal, twice and unseen, or from standard
// input. What is wrong with the key or the PIN is said before anything is asked of the daemon.
func (a *app) readPIN(file, key string) (ask.Secret, error) {
	if !protocol.IsStaffKey(key) {
		return "", usage("the argument is no staff key: letters, digits, dots and hyphens, as in nurse.osei. A PIN is no argument, since others on this machine can see it") // without repeating it
	}
	pin, err := a.pinFrom(file, key)
	if err != nil {
		return "", err
	}
	if err := staff.CheckPIN(key, pin); err != nil {
		return "", unreadable("%w", err)
	}
	return ask.Secret(pin), nil
}

func (a *app) pinFrom(file, key string) (string, error) {
	if file == "" && a.atTerminal() {
		return a.typedPIN(key)
	}
	if file != "" && file != "-" {
		info, err := os.Stat(file)
		if err != nil {
			return "", unreadable("%w", err)
		}
		if info.Mode().Perm()&0o077 != 0 && info.Mode().IsRegular() {
			return "", unreadable("%s can be read by others on this machine: chmod 600, or let the person type the PIN", file)
		}
	}
	in, err := a.openInput(file)
	if err != nil {
		return "", err
	}
	defer in.Close()
	line, err := bufio.NewReader(io.LimitReader(in, mostPIN)).ReadString('\n')
	if err != nil && !errors.Is(err, io.EOF) {
		return "", unreadable("the PIN: %w", err)
	}
	if line = strings.TrimRight(line, "\r\n"); line == "" {
		return "", unreadable("a PIN is wanted, on the first line of standard input or of --pin-file")
	}
	return line, nil
}

// typedPIN asks for a PIN twice. Nothing of it is shown.
func (a *app) typedPIN(key string) (string, error) {
	f, ok := a.In.(*os.File)
	if !ok {
		return "", errors.New("standard input is no terminal")
	}
	var typed [2]string
	for i, prompt := range [...]string{"new PIN of " + key + "> ", "the same again> "} {
		fmt.Fprint(a.Err, prompt)
		raw, err := term.ReadPassword(int(f.Fd()))
		fmt.Fprintln(a.Err)
		if err != nil {
			return "", unreadable("the PIN: %w", err)
		}
		typed[i] = string(raw)
	}
	if typed[0] != typed[1] {
		return "", unreadable("the two are not the same: nothing was changed")
	}
	return typed[0], nil
}
