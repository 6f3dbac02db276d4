package cli

import (
	"errors"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"github.com/pottrail/pottrail/cmd/internal/daemon"
)

func (a *app) rebuild() *cobra.Command {
	return a.withJSON(&cobra.Command{
		Use: "rebuild", Short: "Make everything that is derived from the ledger anew", Args: cobra.NoArgs,
		Long: "Throws away everything that is derived from the ledger's events and makes it again from them. It needs the ledger to\n" +
			"itself: stop the daemon first (exit 3 when it is in use).",
		Example: "  pottrail rebuild --data ./clinic",
		RunE: func(cmd *cobra.Command, _ []string) error {
			bar := func(int) {}
			last := 0
			start := time.Now()
			n, err := daemon.Rebuild(cmd.Context(), a.options, func(done, total int) {
				if last == 0 {
					bar = a.progress(total, "rebuilding")
				}
				last = total
				bar(done)
			})
			if err != nil {
				var e *exitError
				if errors.As(err, &e) {
					return err
				}
				return couldNot(err, daemon.Hint(err))
			}
			if a.json {
				return a.printJSON(map[string]any{"events": n})
			}
			_, err = fmt.Fprintf(a.Out, "rebuilt from %d events in %s\n", n, time.Since(start).Round(time.Millisecond))
			return err
		},
	})
}
