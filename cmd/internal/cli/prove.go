package cli

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strconv"

	"github.com/spf13/cobra"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/say"
	"github.com/pottrail/pottrail/events/evidence"
	"github.com/pottrail/pottrail/tracker"
)

// proofEnding is how files of proofs end.
const proofEnding = ".proof"

func (a *app) prove() *cobra.Command {
	var out, older string
	c := &cobra.Command{
		Use: "prove CODE", Short: "Write a file that shows that a case's events are in the record", Args: cobra.ExactArgs(1),
		Long: "Writes one file with the events of a case or bag, byte for byte as they were recorded, the proof that each is in the\n" +
			"record, and the signed checkpoint of the record that the proofs lead to. A pot or piece stands for its case. Whoever has\n" +
			"the file and the clinic's public key checks it with `pottrail verify`, without this program's daemon or its folder.\n\n" +
			"--older leads back to an earlier checkpoint as well: a file of one, or its number of entries from paper. The file then\n" +
			"shows that nothing recorded before that checkpoint has been changed or taken out since.\n\n" +
			"Who may be given the file: those who may know what happened to this case's samples, and when, and at whose hands. It holds no\n" +
			"name, birth date or number of a patient; it holds the case's codes, staff keys, places, times, results and free text, and\n" +
			"the codes of other pots that shared a bag. Local policy decides; it is no file to publish.",
		Example: "  pottrail prove MBY-26-00417\n  pottrail prove MBY-26-00417 --older march.checkpoint --out for-the-court.proof",
		RunE: func(cmd *cobra.Command, args []string) error {
			item, err := itemArgument(args[0])
			if err != nil {
				return err
			}
			request := ask.Request{Name: item.String()}
			if older != "" {
				if request.Older, request.Origin, err = a.olderSize(older); err != nil {
					return err
				}
			}
			var answer ask.ProofAnswer
			if err := a.client().question(cmd.Context(), "proof", request, &answer); err != nil {
				return err
			}
			if f := evidence.Verify(&answer.Proof, evidence.Against{}); f != nil { // never hand out what does not hold
				return couldNot(f, "the ledger or the daemon is damaged: `pottrail fsck` says more")
			}
			if a.json {
				return a.printJSON(answer)
			}
			return a.writeProof(out, &answer.Proof)
		},
	}
	c.Flags().StringVar(&out, "out", "", "the `FILE` to write (default: the name of the case and "+proofEnding+"; - for standard output)")
	c.Flags().StringVar(&older, "older", "", "lead back to an older checkpoint too: a `FILE` of one, or its number of entries")
	return a.withJSON(c)
}

// olderSize is the size and the origin of an older checkpoint: out of a file, or the number of entries alone.
func (a *app) olderSize(older string) (size uint64, origin string, err error) {
	if size, err := strconv.ParseUint(older, 10, 63); err == nil && size > 0 {
		return size, "", nil
	}
	signed, err := a.readText(older)
	if err != nil {
		return 0, "", err
	}
	c, err := evidence.ReadCheckpoint(signed)
	if err != nil {
		return 0, "", unreadable("%s: %w", older, err)
	}
	return c.Size, c.Origin, nil
}

// mostText is the longest file of a checkpoint or key that is read, in bytes.
const mostText = 1 << 20

// readText reads a short file.
func (a *app) readText(name string) (string, error) {
	in, err := a.openInput(name)
	if err != nil {
		return "", err
	}
	defer func() { _ = in.Close() }()
	text, err := io.ReadAll(io.LimitReader(in, mostText))
	if err != nil {
		return "", unreadable("%w", err)
	}
	return string(text), nil
}

func (a *app) writeProof(out string, p *evidence.Proof) error {
	data := evidence.Format(p)
	if out == "-" {
		_, err := a.Out.Write(data)
		return err
	}
	if out == "" {
		out = string(p.Name) + proofEnding
	}
	file, err := os.OpenFile(out, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if errors.Is(err, fs.ErrExist) {
		return couldNot(fmt.Errorf("%s is there already, and a proof is never written over", out), "name another file with --out")
	}
	if err != nil {
		return couldNot(err, "")
	}
	_, err = file.Write(data)
	if err = errors.Join(err, file.Sync(), file.Close()); err != nil {
		return couldNot(err, "what was written of it is not whole: remove it")
	}
	fmt.Fprintf(a.Out, "%s: %s of %s, as of %s\n", out, say.Count(len(p.Events), "event"), p.Name.Printed(), shorts(p.Checkpoints))
	fmt.Fprintf(a.Out, "check it anywhere with: pottrail verify %s --key %s\n", out, p.Key)
	return nil
}

// shorts are checkpoints as a person compares them.
func shorts(list []evidence.Signed) string {
	text := ""
	for i, c := range list {
		if i > 0 {
			text += "; "
		}
		text += "checkpoint " + c.Short() + " of " + evidence.NodeName(c.Origin)
	}
	return text
}

// verifyAnswer is what was found in a proof file.
type verifyAnswer struct {
	OK          bool              `json:"ok"`
	Name        tracker.Name      `json:"name"`
	Events      int               `json:"events"`
	Checkpoints []evidence.Signed `json:"checkpoints"`
	Older       *evidence.Older   `json:"older,omitzero"`
	Key         string            `json:"key"`       // inside the file
	KeyGiven    bool              `json:"key_given"` // and not taken from the file
	Fault       *evidence.Fault   `json:"fault,omitzero"`
}

func (a *app) verify() *cobra.Command {
	var keys []string
	var against evidence.Against
	var older string
	c := &cobra.Command{
		Use: "verify FILE", Short: "Check a file that `prove` wrote", Args: cobra.ExactArgs(1),
		Long: "Checks a proof file and says the first thing in it that does not hold: exit 1. It needs no daemon, no ledger and no\n" +
			"network, and trusts nothing but the public key.\n\n" +
			"--key gives the key of the clinic's node, as the clinic gives it out: the line itself or a file that holds it. Without it the\n" +
			"key inside the file is used, which shows that the parts of the file fit each other, and not who made it.\n\n" +
			"--older holds an earlier signed checkpoint against the file, and --paper one as it is printed. If they fit, nothing that was\n" +
			"recorded before has been changed since; the file must lead back to it (`pottrail prove --older`).\n\n" +
			"A file that holds shows that these events are in the record, as they were written then, and that the node named them as all\n" +
			"there was. It does not show that what was scanned is true, nor that nothing was left unscanned.",
		Example: "  pottrail verify MBY-26-00417.proof --key clinic.key\n  pottrail verify MBY-26-00417.proof --older march.checkpoint\n" +
			"  pottrail verify MBY-26-00417.proof --paper '1234 53F1-A0C4-77AA-90BE-12CD'",
		RunE: func(_ *cobra.Command, args []string) error {
			for _, key := range keys {
				text, err := a.keyArgument(key)
				if err != nil {
					return err
				}
				against.Keys = append(against.Keys, text)
			}
			if older != "" {
				text, err := a.readText(older)
				if err != nil {
					return err
				}
				if _, err := evidence.ReadCheckpoint(text); err != nil {
					return unreadable("%s: %w", older, err)
				}
				against.Older = text
			}
			if against.Paper != "" {
				if _, _, err := evidence.ParseShort(against.Paper); err != nil {
					return usage("--paper %q: %w", against.Paper, err)
				}
			}
			return a.verifyFile(args[0], against)
		},
	}
	c.Flags().StringArrayVar(&keys, "key", nil, "the public `KEY` that is trusted, or a file of it")
	c.Flags().StringVar(&older, "older", "", "a `FILE` of an earlier signed checkpoint that must lead up to this one")
	c.Flags().StringVar(&against.Paper, "paper", "", "an earlier `CHECKPOINT` as it is printed, with the same meaning")
	return a.withJSON(c)
}

// keyArgument is a public key, or what a file of it says.
func (a *app) keyArgument(text string) (string, error) {
	if evidence.CheckKey(text) == nil {
		return text, nil
	}
	if _, err := os.Stat(text); err != nil {
		return "", usage("--key %q is neither a public key nor a file: write the line that `pottrail checkpoint --key` prints", text)
	}
	data, err := a.readText(text)
	if err != nil {
		return "", err
	}
	key := firstLine(data)
	if err := evidence.CheckKey(key); err != nil {
		return "", unreadable("%s: %w", text, err)
	}
	return key, nil
}

func (a *app) verifyFile(name string, against evidence.Against) error {
	in, err := a.openInput(name)
	if err != nil {
		return err
	}
	defer func() { _ = in.Close() }()
	data, err := io.ReadAll(io.LimitReader(in, evidence.MostBytes+1))
	if err != nil {
		return unreadable("%w", err)
	}
	if len(data) > evidence.MostBytes {
		return unreadable("%s is longer than any proof file", name)
	}
	p, err := evidence.Parse(data)
	if err != nil {
		return unreadable("%s: %w", name, err)
	}
	answer := verifyAnswer{Name: p.Name, Events: len(p.Events), Checkpoints: p.Checkpoints, Older: p.Older, Key: p.Key, KeyGiven: len(against.Keys) > 0}
	answer.Fault = evidence.Verify(p, against)
	answer.OK = answer.Fault == nil
	if a.json {
		if err := a.printJSON(answer); err != nil {
			return err
		}
	} else {
		a.tellVerified(answer, against)
	}
	if !answer.OK {
		return wrong()
	}
	return nil
}

func (a *app) tellVerified(v verifyAnswer, against evidence.Against) {
	if v.Fault != nil {
		fmt.Fprintf(a.Out, "DOES NOT HOLD: %s\n", v.Fault.Text)
		return
	}
	fmt.Fprintf(a.Out, "it holds: %s of %s are in the record, as of %s\n", say.Count(v.Events, "event"), v.Name, shorts(v.Checkpoints))
	if against.Older != "" || against.Paper != "" {
		fmt.Fprintf(a.Out, "nothing that was recorded before the older checkpoint has been changed since\n")
	}
	if v.KeyGiven {
		fmt.Fprintf(a.Out, "signed by the key that was given\n")
		return
	}
	fmt.Fprintf(a.Out, "signed by the key inside the file, so it is not shown who made it: compare that key with the one that the clinic\n"+
		"gives out, and pass it with --key\n  %s\n", v.Key)
}
