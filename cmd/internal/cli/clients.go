package cli

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/nats-io/nkeys"
	"github.com/spf13/cobra"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/tracker"
)

func (a *app) clients() *cobra.Command {
	c := &cobra.Command{
		Use: "clients", Short: "Let programs and devices in over NATS", Args: cobra.NoArgs,
		Long: "A client is a program or a device that records and asks over NATS by itself: a scanner at the hatch, the laboratory's\n" +
			"own system. Each has a name, a key and a role, and may do what people of that role may, for the clinics it is for. What\n" +
			"it may not see is not there for it, and no client hears what another is told.\n\n" +
			"The user in nats.json is the data folder's owner, as the socket is: give it to nobody.",
		Example: "  pottrail clients add hatch-scanner --role porter --clinic MBY --clinic HCX\n  pottrail clients list",
		RunE:    func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	c.AddCommand(a.clientsAdd(), a.clientsList(), a.clientsRemove())
	return c
}

func (a *app) clientsAdd() *cobra.Command {
	var request ask.AddClientRequest
	var out string
	c := &cobra.Command{
		Use: "add NAME", Short: "Let a program or device in", Args: cobra.ExactArgs(1),
		Long: "Makes a key for a client, writes its secret half into a file of its own, which nobody else can read, and tells the daemon\n" +
			"the public half. The secret is nowhere else: whoever loses it is removed and added again. A client that made its key\n" +
			"itself gives the public half with --key, and nothing is written.\n\n" +
			"Works at once. Take the file to the client over a way that nobody reads along; any NATS client takes it as the seed of\n" +
			"an nkey. Nothing else is to be set: its inbox is its own.\n\n" +
			"A scan of a pot of a clinic that the client is not for is not let through: give a porter's scanner all the clinics\n" +
			"whose pots it may meet.",
		Example: "  pottrail clients add hatch-scanner --role porter --clinic MBY --clinic HCX --out hatch-scanner.nk\n" +
			"  pottrail clients add tarn-road --role laboratory --clinic MBY --key UDXU4RCSJNZOIQHZNWXHXORDPRTGNJAHAHFRGZNEEJCPQTT2M7NLCNF4",
		RunE: func(cmd *cobra.Command, args []string) error {
			request.Name = args[0]
			file := ""
			if request.Key == "" {
				file = out
				if file == "" {
					file = request.Name + ".nk"
				}
				key, err := writeSeed(file)
				if err != nil {
					return err
				}
				request.Key = key
			}
			var answer ask.ClientsAnswer
			if err := a.client().post(cmd.Context(), pathAddClient, request, &answer); err != nil {
				if file != "" {
					err = errors.Join(err, os.Remove(file))
				}
				return err
			}
			if a.json {
				return a.printJSON(answer)
			}
			return a.tellAdded(answer, file)
		},
	}
	c.Flags().StringVar(&request.Role, "role", "", "the `ROLE` that it stands for: "+strings.Join(tracker.Everybody.Keys(), ", "))
	c.Flags().StringArrayVar(&request.Clinics, "clinic", nil, "a `CLINIC` that it is for; may be given several times")
	c.Flags().StringVar(&out, "out", "", "new `FILE` for its secret key (default: NAME.nk here)")
	c.Flags().StringVar(&request.Key, "key", "", "the public `KEY`, U…, of a client that made its key itself")
	_ = c.MarkFlagRequired("role")   // it exists: it was just added
	_ = c.MarkFlagRequired("clinic") // it exists: it was just added
	c.MarkFlagsMutuallyExclusive("out", "key")
	return a.withJSON(c)
}

// writeSeed makes a key and writes its secret half into a new file that its owner alone can read; it gives the public half.
func writeSeed(name string) (public string, err error) {
	pair, err := nkeys.CreateUser()
	if err != nil {
		return "", couldNot(fmt.Errorf("a key cannot be made: %w", err), "")
	}
	defer pair.Wipe()
	seed, err := pair.Seed()
	if err == nil {
		public, err = pair.PublicKey()
	}
	if err != nil {
		return "", couldNot(fmt.Errorf("a key cannot be made: %w", err), "")
	}
	file, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if errors.Is(err, fs.ErrExist) {
		return "", usage("%s is there already, and may be somebody's key: name another file with --out", name)
	}
	if err != nil {
		return "", couldNot(fmt.Errorf("the file for the key: %w", err), "name another with --out")
	}
	_, err = file.Write(append(seed, '\n'))
	if err = errors.Join(err, file.Sync(), file.Close()); err != nil {
		return "", couldNot(errors.Join(fmt.Errorf("the file for the key: %w", err), os.Remove(name)), "")
	}
	return public, nil
}

func (a *app) tellAdded(answer ask.ClientsAnswer, file string) error {
	for _, c := range answer.Clients {
		fmt.Fprintf(a.Out, "%s is let in as %s, for %s.\n", c.Name, c.Role, strings.Join(c.Clinics, ", "))
		if file != "" {
			fmt.Fprintf(a.Out, "key       %s, its secret; it is nowhere else: any NATS client takes the file as an nkey's seed\n", file)
		}
		fmt.Fprintf(a.Out, "address   %s\n", a.clientAddress(answer))
		a.tellSubjects(c)
	}
	return nil
}

func (a *app) clientAddress(answer ask.ClientsAnswer) string {
	if answer.Address == "" {
		return "none: the daemon listens nowhere; start it with --nats-listen"
	}
	return answer.Address
}

func (a *app) tellSubjects(c ask.Client) {
	for i, subject := range c.Sends {
		fmt.Fprintf(a.Out, "%-9s %s\n", onlyFirst(i, "sends"), subject)
	}
	for i, subject := range c.Reads {
		fmt.Fprintf(a.Out, "%-9s %s\n", onlyFirst(i, "reads"), subject)
	}
}

func onlyFirst(i int, word string) string {
	if i > 0 {
		return ""
	}
	return word
}

func (a *app) clientsList() *cobra.Command {
	return a.withJSON(&cobra.Command{
		Use: "list [NAME]", Short: "Say who is let in over NATS", Args: cobra.MaximumNArgs(1),
		Long: "Lists the clients that are let in over NATS, with how many connections each has open now. With a NAME it says the\n" +
			"subjects that this one may send to and read.",
		Example: "  pottrail clients list\n  pottrail clients list hatch-scanner",
		RunE: func(cmd *cobra.Command, args []string) error {
			var answer ask.ClientsAnswer
			if err := a.client().post(cmd.Context(), pathClients, ask.ListClientsRequest{Name: strings.Join(args, "")}, &answer); err != nil {
				return err
			}
			switch {
			case a.json:
				return a.printJSON(answer)
			case len(answer.Clients) == 0:
				_, err := fmt.Fprintln(a.Out, "No client is let in over NATS; `pottrail clients add` lets one in.")
				return err
			}
			if err := a.tellClients(answer); err != nil || len(args) == 0 {
				return err
			}
			fmt.Fprintf(a.Out, "\naddress   %s\n", a.clientAddress(answer))
			a.tellSubjects(answer.Clients[0])
			return nil
		},
	})
}

func (a *app) tellClients(answer ask.ClientsAnswer) error {
	table := tabwriter.NewWriter(a.Out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(table, "CLIENT\tROLE\tCLINICS\tADDED\tCONNECTED\tKEY")
	for _, c := range answer.Clients {
		fmt.Fprintf(table, "%s\t%s\t%s\t%s\t%d\t%s\n", c.Name, c.Role, strings.Join(c.Clinics, " "), c.Added.Format(time.DateOnly), c.Connected, c.Key)
	}
	return table.Flush()
}

func (a *app) clientsRemove() *cobra.Command {
	return a.withJSON(&cobra.Command{
		Use: "remove NAME", Short: "Shut a program or device out", Args: cobra.ExactArgs(1),
		Long: "Shuts a client out at once: its connections end, and its key is worth nothing any more. What it recorded stays. Do this\n" +
			"when a scanner is lost.",
		Example: "  pottrail clients remove hatch-scanner",
		RunE: func(cmd *cobra.Command, args []string) error {
			var answer ask.ClientsAnswer
			if err := a.client().post(cmd.Context(), pathRemoveClient, ask.RemoveClientRequest{Name: args[0]}, &answer); err != nil {
				return err
			}
			if a.json {
				return a.printJSON(answer)
			}
			for _, c := range answer.Clients {
				fmt.Fprintf(a.Out, "%s is shut out; connections of it that were ended: %d.\n", c.Name, c.Connected)
			}
			return nil
		},
	})
}
