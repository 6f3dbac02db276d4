package cli

import (
	"errors"
	"fmt"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"github.com/pottrail/pottrail/cmd/internal/certificates"
	"github.com/pottrail/pottrail/cmd/internal/config"
	"github.com/pottrail/pottrail/cmd/internal/daemon"
)

func (a *app) certificates() *cobra.Command {
	c := &cobra.Command{
		Use: "certificates", Short: "Show under which certificate pages and NATS are served", Args: cobra.NoArgs,
		Long: "Shows under which certificate pages and NATS are served, for which names, and until when. Of an authority that the daemon made\n" +
			"itself (serve --tls local) it shows the fingerprint, to be held against the one on a phone before that is told to trust it,\n" +
			"what the authority can vouch for, and the file to give out. Nothing that is shown is secret.\n\n" +
			"It asks the daemon; where none runs it looks into the data folder, or at the files that the options name.\n" +
			"It exits with 1 if the certificate is not valid, or if a new one cannot be used.",
		Example: "  pottrail certificates --data ./clinic\n  pottrail certificates --json\n  pottrail certificates --tls-certificate station.crt --tls-key station.key",
		RunE: func(cmd *cobra.Command, _ []string) error {
			var status certificates.Status
			err := a.client().post(cmd.Context(), pathCertificates, struct{}{}, &status)
			if errors.As(err, new(*goneError)) {
				status, err = daemon.LookAtCertificate(a.options, time.Now())
			}
			if err != nil {
				return err
			}
			if a.json {
				err = a.printJSON(status)
			} else {
				err = a.tellCertificate(status)
			}
			if err == nil && status.Trouble != "" {
				return wrong()
			}
			return err
		},
	}
	a.options.AddFlags(c.Flags(), config.PartTLS)
	return a.withJSON(c)
}

func (a *app) tellCertificate(s certificates.Status) error {
	out := tabwriter.NewWriter(a.Out, 0, 8, 2, ' ', 0)
	row := func(what string, says ...string) {
		for i, line := range says {
			if i > 0 {
				what = ""
			}
			fmt.Fprintf(out, "%s\t%s\n", what, line)
		}
	}
	const minute = "2006-01-02 15:04"
	switch {
	case s.Kind == certificates.KindNone && s.Unencrypted:
		row("certificate", "none: pages are served to other machines WITHOUT ENCRYPTION", "`pottrail serve --tls local` makes one")
	case s.Kind == certificates.KindNone:
		row("certificate", "none: pages are for this machine alone", "`pottrail serve --tls local` makes one")
	case s.File == "":
		row("certificate", "none yet; the daemon makes one when it starts")
	default:
		now := ""
		if !s.Served {
			now = " (no daemon serves it now)"
		}
		row("certificate", s.File+now)
		row("for", strings.Join(s.Names, ", "))
		until := s.Until.Local().Format(minute)
		if !s.Renewal.IsZero() && s.Renewal.Before(s.Until) {
			until += ", made anew on " + s.Renewal.Local().Format(minute)
		}
		row("until", until)
	}
	if s.Authority == nil && s.Fingerprint != "" {
		row("SHA-256", strings.Fields(s.Fingerprint)...)
	}
	if at := s.Authority; at != nil {
		row("authority", at.Name, "until "+at.Until.Local().Format(minute))
		row("give out", at.File+", or let phones open the page /trust")
		row("SHA-256", strings.Fields(at.Fingerprint)...)
		row("vouches for", strings.Join(at.For, ", "), "and nothing else")
	}
	if s.Trouble != "" {
		row("WRONG", s.Trouble)
	}
	return out.Flush()
}
