package cli

import (
	"fmt"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/say"
)

func (a *app) stations() *cobra.Command {
	c := &cobra.Command{
		Use: "stations", Short: "Enrol the devices at which people sign in", Args: cobra.NoArgs,
		Long: "Looks after the screens, phones and scanners at which people sign in. Each is enrolled once, by a link that is opened on\n" +
			"it, and has a long key of its own from then on; that is why a PIN may be short.",
		Example: "  pottrail stations enrol room-2 --clinic MBY --place room-2 --shared",
		RunE:    func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	c.AddCommand(a.stationsEnrol(), a.stationsList(), a.stationsRemove())
	return c
}

func (a *app) stationsEnrol() *cobra.Command {
	var request ask.EnrolStationRequest
	c := &cobra.Command{
		Use: "enrol KEY", Short: "Make a link that enrols a device", Args: cobra.ExactArgs(1),
		Long: "Makes a link to be opened in the browser of the device that becomes this station. It is good once, for 30 minutes. The\n" +
			"key is what events call the station. At a device that several people use, --shared, who does nothing for 5 minutes is\n" +
			"signed out, and a scan of a badge brings back whoever is still signed in; at one's own it is 30 minutes. Enrolled again,\n" +
			"a station has a new key, and the old device is out.",
		Example: "  pottrail stations enrol room-2 --clinic MBY --place room-2 --shared\n  pottrail stations enrol phone-lund",
		RunE: func(cmd *cobra.Command, args []string) error {
			request.Key = args[0]
			var answer ask.LinkAnswer
			if err := a.client().post(cmd.Context(), pathStationEnrol, request, &answer); err != nil {
				return err
			}
			return a.tellLink(answer, "in the browser of the device that becomes station "+plain(request.Key))
		},
	}
	c.Flags().StringVar(&request.Clinic, "clinic", "", "the `CLINIC` that it belongs to")
	c.Flags().StringVar(&request.Place, "place", "", "the `PLACE` where it stands, a key of the protocol")
	c.Flags().BoolVar(&request.Shared, "shared", false, "several people use it")
	addBy(c, &request.By, &request.Station)
	return a.withJSON(c)
}

func (a *app) stationsList() *cobra.Command {
	var request ask.StationsRequest
	c := &cobra.Command{
		Use: "list", Short: "List the stations", Args: cobra.NoArgs,
		Long:    "Lists the stations that are enrolled, by whom, and when each was last heard of.",
		Example: "  pottrail stations list --all",
		RunE: func(cmd *cobra.Command, _ []string) error {
			var answer ask.StationsAnswer
			if err := a.client().post(cmd.Context(), pathStations, request, &answer); err != nil {
				return err
			}
			return a.tellStations(answer)
		},
	}
	c.Flags().BoolVar(&request.All, "all", false, "also those that were taken off the list")
	return a.withJSON(c)
}

func (a *app) tellStations(answer ask.StationsAnswer) error {
	if a.json {
		return a.printJSON(answer)
	}
	now := time.Now()
	table := tabwriter.NewWriter(a.Out, 0, 0, 2, ' ', 0)
	for _, s := range answer.Stations {
		use := "one person"
		if s.Shared {
			use = "several people"
		}
		state := "last seen " + say.Instant(s.Seen, time.Local, now)
		if !s.Removed.IsZero() {
			state = "taken off " + say.Instant(s.Removed, time.Local, now)
		}
		fmt.Fprintf(table, "%s\t%s\t%s\t%s\tenrolled %s by %s\t%s\n", plain(s.Key), or(s.Clinic, "-"), plain(or(s.Place, "-")), use, say.Instant(s.Enrolled, time.Local, now), plain(s.By), state)
	}
	if err := table.Flush(); err != nil {
		return err
	}
	if len(answer.Stations) == 0 {
		_, err := fmt.Fprintln(a.Out, "No station is enrolled.")
		return err
	}
	return nil
}

func (a *app) stationsRemove() *cobra.Command {
	var request ask.RemoveStationRequest
	c := &cobra.Command{
		Use: "remove KEY", Short: "Take a station off the list", Args: cobra.ExactArgs(1),
		Long: "Takes a station off the list, when a phone was lost or a screen is given away: its key is good no longer, whoever is\n" +
			"signed in there is signed out, and scans that wait on it are not taken.",
		Example: "  pottrail stations remove phone-lund",
		RunE: func(cmd *cobra.Command, args []string) error {
			request.Key = args[0]
			var answer ask.StationsAnswer
			if err := a.client().post(cmd.Context(), pathStationRemove, request, &answer); err != nil {
				return err
			}
			if a.json {
				return a.printJSON(answer)
			}
			_, err := fmt.Fprintf(a.Out, "station %s is taken off the list\n", plain(request.Key))
			return err
		},
	}
	addBy(c, &request.By, &request.Station)
	return a.withJSON(c)
}
