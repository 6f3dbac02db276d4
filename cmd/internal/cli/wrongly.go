package cli

import (
	"errors"
	"fmt"
	"regexp"
	"strings"

	"github.com/spf13/pflag"
)

// What the library of commands says of a command that was called wrongly, which is made for programmers.
var (
	notTogether = regexp.MustCompile(`^if any flags in the group .*; \[(.+)\] were all set$`)
	tooFew      = regexp.MustCompile(`^requires at least (\d+) arg\(s\), only received (\d+)$`)
	tooMany     = regexp.MustCompile(`^accepts (?:at most )?(\d+) arg\(s\), received (\d+)$`)
	missing     = regexp.MustCompile(`^required flag\(s\) (.+) not set$`)
)

// calledWrongly says in plain words what was wrong with a command line; what it does not know it leaves as it is.
func calledWrongly(err error) error {
	var value *pflag.InvalidValueError
	if errors.As(err, &value) {
		what := "this will not do"
		switch value.GetFlag().Value.Type() {
		case "int", "uint", "uint64":
			what = "give a whole number"
		case "float64":
			what = "give a number, with a point before its fraction"
		case "duration":
			what = "give a length of time like 90m or 2h"
		}
		return fmt.Errorf("--%s %q: %s", value.GetFlag().Name, value.GetValue(), what)
	}
	text := err.Error()
	if m := notTogether.FindStringSubmatch(text); m != nil {
		return errors.New("--" + strings.Join(strings.Fields(m[1]), " and --") + " do not go together: give one")
	}
	if m := missing.FindStringSubmatch(text); m != nil {
		return errors.New("--" + strings.Join(strings.Split(strings.ReplaceAll(m[1], `"`, ""), ", "), " and --") + " must be given")
	}
	if m := tooFew.FindStringSubmatch(text); m != nil {
		return fmt.Errorf("%s, at least %s must be named", said(m[2]), m[1])
	}
	if m := tooMany.FindStringSubmatch(text); m != nil {
		return fmt.Errorf("%s, and %s is what this command takes", said(m[2]), m[1])
	}
	return err
}

// said completes how many things were named on the command line.
func said(count string) string {
	switch count {
	case "0":
		return "nothing was named"
	case "1":
		return "one thing was named"
	}
	return count + " things were named"
}
