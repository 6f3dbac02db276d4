package cli

import (
	"fmt"
	"runtime"
	"runtime/debug"

	"github.com/spf13/cobra"
)

type versionAnswer struct {
	Version string `json:"version"`
	Commit  string `json:"commit,omitzero"`
	Changed bool   `json:"changed,omitzero"` // built from files that were not committed
	Go      string `json:"go"`
	System  string `json:"system"`
}

// readVersion is what the binary knows of itself.
func readVersion() versionAnswer {
	v := versionAnswer{Version: "unreleased", Go: runtime.Version(), System: runtime.GOOS + "/" + runtime.GOARCH}
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return v
	}
	if m := info.Main.Version; m != "" && m != "(devel)" {
		v.Version = m
	}
	for _, s := range info.Settings {
		switch s.Key {
		case "vcs.revision":
			v.Commit = s.Value
		case "vcs.modified":
			v.Changed = s.Value == "true"
		}
	}
	return v
}

func (a *app) version() *cobra.Command {
	return a.withJSON(&cobra.Command{
		Use: "version", Short: "Say which version this is", Args: cobra.NoArgs,
		Long:    "Says which version this is. Needs no daemon.",
		Example: "  pottrail version --json",
		RunE: func(*cobra.Command, []string) error {
			v := readVersion()
			if a.json {
				return a.printJSON(v)
			}
			line := "pottrail " + v.Version
			if v.Commit != "" {
				line += ", commit " + v.Commit
			}
			if v.Changed {
				line += " with changes"
			}
			_, err := fmt.Fprintf(a.Out, "%s, %s on %s\n", line, v.Go, v.System)
			return err
		},
	})
}
