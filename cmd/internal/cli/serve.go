package cli

import (
	"fmt"
	"log/slog"
	"strings"

	"github.com/spf13/cobra"

	"github.com/pottrail/pottrail/cmd/internal/config"
	"github.com/pottrail/pottrail/cmd/internal/daemon"
	"github.com/pottrail/pottrail/cmd/internal/examine"
	"github.com/pottrail/pottrail/store"
)

func (a *app) serve() *cobra.Command {
	var show bool
	c := &cobra.Command{
		Use: "serve", Short: "Run the daemon", Args: cobra.NoArgs,
		Long: "Runs the daemon: the ledger, the pages and the NATS server, all in one process over one folder. The first run makes\n" +
			"the folder and its keys. SIGTERM ends it in good order; kill -9 loses nothing that was answered as recorded.\n\n" +
			"Until --http names another address, the pages are served to this machine alone. Others are served encrypted: under a\n" +
			"certificate of your own, read again when it changes, or with --tls local under one that the daemon makes and renews itself,\n" +
			"and that phones are told once to trust: `pottrail certificates`. --http-plain serves them without encryption, which anybody\n" +
			"on the network can read. To other machines nothing is served before somebody has signed in.",
		Example: "  pottrail serve --data ./clinic --nats-listen 127.0.0.1:4222\n" +
			"  pottrail serve --data ./clinic --http 0.0.0.0:443 --tls local --http-hosts station.clinic.example,192.0.2.7\n" +
			"  pottrail serve --data ./clinic --http 0.0.0.0:443 --tls-certificate station.crt --tls-key station.key",
		RunE: func(cmd *cobra.Command, _ []string) error {
			if show {
				return a.options.Print(a.Out)
			}
			self, err := examine.Self()
			if err != nil {
				return err
			}
			return couldNotRun(daemon.Run(cmd.Context(), daemon.Options{Options: a.options, Log: a.log(), Version: readVersion().Version, Ready: a.sayReady, Self: self}))
		},
	}
	a.options.AddFlags(c.Flags(), config.PartDaemon, config.PartTLS)
	c.Flags().BoolVar(&show, "show-options", false, "print the options in force and where each comes from, and do nothing")
	return c
}

// couldNotRun gives a daemon's end its exit code.
func couldNotRun(err error) error {
	if err == nil {
		return nil
	}
	return couldNot(err, daemon.Hint(err))
}

// sayReady tells in plain lines where everything is; the address comes first.
func (a *app) sayReady(r daemon.Ready) {
	fmt.Fprintf(a.Out, "pages   %s\n", r.URL)
	if r.Plain {
		fmt.Fprintln(a.Out, "        NOT ENCRYPTED: whoever is on the network can read the pages, PINs too. --tls local or --tls-certificate puts an end to that.")
	}
	if r.Trust != "" {
		fmt.Fprintf(a.Out, "trust   %s tells phones how to trust this certificate; hold its fingerprint against\n        %s\n", r.Trust, r.Print)
	}
	fmt.Fprintf(a.Out, "data    %s\n", r.Folder)
	if r.NATS != "" {
		fmt.Fprintf(a.Out, "nats    %s, credentials in %s\n", r.NATS, r.NATSFile)
	}
	if r.Key != "" {
		fmt.Fprintf(a.Out, "key     %s\n", r.Key)
	}
	if r.Backups != "" {
		fmt.Fprintf(a.Out, "backups each night at %s into %s\n", r.BackupAt, r.Backups)
	} else if r.BackupAt != "" {
		fmt.Fprintf(a.Out, "backups none by night: name a folder on another disk with --backup-dir\n")
	}
	if r.Damaged != "" {
		fmt.Fprintf(a.Out, "LEDGER  damaged: nothing is recorded and nothing is printed\n        %s\n        what to do: %s\n", r.Damaged, store.DamagedProcedure)
	}
	if len(r.Printers) > 0 {
		fmt.Fprintf(a.Out, "labels  printed on %s\n", strings.Join(r.Printers, ", "))
	}
	if r.SetUp != "" {
		fmt.Fprintf(a.Out, "set-up  %s\n", r.SetUp)
		here := " on this machine"
		if r.Beyond {
			here = ""
		}
		fmt.Fprintf(a.Out, "        Nobody is set up yet. Open this link%s to be the first administrator: it is good once, for 30 minutes.\n"+
			"        `pottrail staff set-up-link` makes a new one.\n", here)
	}
}

// log writes to standard error. No identifier of a patient ever goes there.
func (a *app) log() *slog.Logger {
	var level slog.Level
	if err := level.UnmarshalText([]byte(strings.ToUpper(a.options.Log.Level))); err != nil {
		level = slog.LevelInfo // the options were checked
	}
	options := &slog.HandlerOptions{Level: level}
	if a.options.Log.Format == "json" {
		return slog.New(slog.NewJSONHandler(a.Err, options))
	}
	return slog.New(slog.NewTextHandler(a.Err, options))
}
