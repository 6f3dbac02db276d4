package cli

import (
	"bufio"
	"errors"
	"fmt"
	"path/filepath"
	"regexp"

	"github.com/spf13/cobra"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/say"
	"github.com/pottrail/pottrail/labels"
)

// refPattern is a ref of ours; see people.NewRef.
var refPattern = regexp.MustCompile(`^[0-9a-f]{32}$`)

// forgetWord is what a person types to confirm.
const forgetWord = "forget"

func (a *app) peopleForget() *cobra.Command {
	var request ask.ForgetRequest
	var yes bool
	c := &cobra.Command{
		Use: "forget [CASE|REF]", Short: "Destroy one patient's record for good", Args: cobra.MaximumNArgs(1),
		Long: "Destroys who a patient is: the record, its key, and refused messages that name the patient; then the master key is\n" +
			"changed, so that nothing that was deleted can be opened. It cannot be undone. What happened to the patient's pots stays\n" +
			"on record under the case's number, without a name, each case says that the record was destroyed, and every proof still\n" +
			"holds. Labels of these cases cannot be printed any more; files, paper and backups that exist are not reached, and it\n" +
			"says so.\n\n" +
			"The patient is named by one of the cases or by the ref; without an argument it asks for the record number, or reads it\n" +
			"from standard input. At a terminal it shows whom it is about and asks; elsewhere it wants --yes. While a case is open\n" +
			"it wants --even-open.",
		Example: "  pottrail people forget MBY-26-00417 --why 'request of 3 March, answered by the privacy officer'",
		RunE: func(cmd *cobra.Command, args []string) error {
			in := bufio.NewReader(a.In)
			if err := a.whom(in, args, &request); err != nil {
				return err
			}
			if !yes {
				if !a.atTerminal() {
					return usage("this cannot be undone, and nobody is at a terminal to be asked: say --yes")
				}
				looked := request
				looked.Look = true
				var answer ask.ForgetAnswer
				if err := a.client().post(cmd.Context(), pathForget, looked, &answer); err != nil {
					return err
				}
				if sure, err := a.confirmForget(in, answer); err != nil || !sure {
					return errors.Join(err, couldNot(errors.New("nothing was destroyed"), ""))
				}
				request.Case, request.Number, request.Ref = "", "", answer.Ref // the one that was shown
			}
			var answer ask.ForgetAnswer
			if err := a.client().post(cmd.Context(), pathForget, request, &answer); err != nil {
				return err
			}
			if a.json {
				return a.printJSON(answer)
			}
			return a.tellForgotten(answer)
		},
	}
	c.Flags().StringVar(&request.Why, "why", "", "`WHY`, in words without the patient's name; it is kept")
	c.Flags().BoolVar(&request.EvenOpen, "even-open", false, "although a case of the patient is open")
	c.Flags().BoolVar(&yes, "yes", false, "do not ask")
	addBy(c, &request.By, &request.Station)
	return a.withJSON(c)
}

// whom reads whose record is meant. An argument that is neither a case nor a ref may be a name, and is not repeated.
func (a *app) whom(in *bufio.Reader, args []string, r *ask.ForgetRequest) (err error) {
	if len(args) == 0 {
		r.Number, err = a.wanted(in, "record number> ", "a record number")
		return err
	}
	if refPattern.MatchString(args[0]) {
		r.Ref = args[0]
		return nil
	}
	read, err := labels.Read(args[0])
	if err != nil || read.Item.Name.Case() == "" {
		return usage("the argument is neither a case nor a ref. A name or a number is no argument here, since others on this machine can see it: " +
			"start it without, and it asks for the record number; and clear what was typed from the shell's history")
	}
	r.Case = read.Item.String()
	return nil
}

// confirmForget shows whom it is about, where people look and not where data go, and asks.
func (a *app) confirmForget(in *bufio.Reader, answer ask.ForgetAnswer) (bool, error) {
	fmt.Fprintf(a.Err, "%s, with %s", patientWord(answer.Patient), say.Count(len(answer.Cases), "case"))
	if answer.Open > 0 {
		fmt.Fprintf(a.Err, ", OPEN: %d", answer.Open)
	}
	fmt.Fprintf(a.Err, "\n%s\n", answer.Backups)
	line, err := a.readLine(in, "this cannot be undone. Type "+forgetWord+" to destroy the record> ")
	return line == forgetWord, err
}

func (a *app) tellForgotten(answer ask.ForgetAnswer) error {
	stay := "stay"
	if len(answer.Cases) == 1 {
		stay = "stays"
	}
	fmt.Fprintf(a.Out, "destroyed the record of patient %s; %s %s on record, without a name\n", answer.Ref, say.Count(len(answer.Cases), "case"), stay)
	if answer.CalledOff > 0 {
		fmt.Fprintf(a.Out, "  %s that waited for a printer taken back\n", say.Count(answer.CalledOff, "label"))
	}
	if answer.KeyKept {
		fmt.Fprintln(a.Out, "  The master key is given to the daemon and was not changed: what a disk keeps of the old file can be opened with it.\n"+
			"  Change it: pottrail people rotate-key --new-key-file FILE")
	}
	_, err := fmt.Fprintf(a.Out, "  %s\n  Labels on paper, files of labels, and what other programs were sent are not reached.\n", answer.Backups)
	return err
}

func (a *app) peopleRotateKey() *cobra.Command {
	var request ask.RotateKeyRequest
	var station string
	c := &cobra.Command{
		Use: "rotate-key", Short: "Change the master key of the people file", Args: cobra.NoArgs,
		Long: "Seals the key of every record, and what waits for printers, under a new master key, and takes the old one out of the\n" +
			"key file: after somebody who knew it left, or a copy of it was lost. Killed at any instant it loses nothing, and the\n" +
			"next start ends it. Backups made before still open with the old key: keep that as long as they are kept, apart from\n" +
			"them. A key that systemd gives to the daemon cannot be replaced there: --new-key-file writes the new one elsewhere,\n" +
			"for it to give from the next start on.",
		Example: "  pottrail people rotate-key\n  pottrail people rotate-key --new-key-file ./people.key.new",
		RunE: func(cmd *cobra.Command, _ []string) error {
			if request.To != "" {
				path, err := filepath.Abs(request.To)
				if err != nil {
					return usage("--new-key-file %s: %w", request.To, err)
				}
				request.To = path
			}
			var answer ask.RotateKeyAnswer
			if err := a.client().post(cmd.Context(), pathRotate, request, &answer); err != nil {
				return err
			}
			if a.json {
				return a.printJSON(answer)
			}
			fmt.Fprintf(a.Out, "changed: the keys of %s are sealed under a new master key, in %s\n", say.Count(answer.People, "patient"), answer.KeyFile)
			if answer.Moved {
				fmt.Fprintln(a.Out, "  From the next start on the daemon needs that file: name it with --people-key-file, or give it as the credential.")
			}
			_, err := fmt.Fprintln(a.Out, "  Keep a copy of it where no backup of the data goes.")
			return err
		},
	}
	c.Flags().StringVar(&request.To, "new-key-file", "", "write the new key to this new `FILE`, in place of the file in use")
	addBy(c, &request.By, &station)
	return a.withJSON(c)
}
