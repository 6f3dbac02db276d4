package cli

import (
	"bufio"
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"time"

	"github.com/go-json-experiment/json"
	"github.com/spf13/cobra"
	"golang.org/x/term"

	"github.com/pottrail/pottrail/cmd/internal/daemon"
	"github.com/pottrail/pottrail/cmd/internal/web"
	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/backup"
)

func (a *app) backup() *cobra.Command {
	var over bool
	c := &cobra.Command{
		Use: "backup [FILE|-]", Short: "Copy ledger and people into one verified file", Args: cobra.MaximumNArgs(1),
		Long: "Copies the ledger and the sealed people file, while the daemon goes on recording or while none runs, opens the copies,\n" +
			"works out the root of each log anew and holds it against the ledger's. FILE is written beside its place, read back,\n" +
			"and only then given its name; - is standard output; without FILE a name is made of folder and time.\n\n" +
			"NOT in it: the key of the people file (people.key), without which nobody can read a name in it. Keep a copy of the key\n" +
			"apart from the backups. Nor labels that waited for a printer, what NATS carried,\n" +
			"its credentials, or the configuration file.\n\n" +
			"By hand: tar xf FILE && sha256sum -c SHA256SUMS",
		Example: "  pottrail backup /mnt/safe/monday.tar --data ./clinic\n  pottrail backup - --data ./clinic | ssh vault 'cat >monday.tar'",
		RunE: func(cmd *cobra.Command, args []string) error {
			name := ""
			if len(args) > 0 {
				name = args[0]
			}
			m, err := a.makeBackup(cmd.Context(), &name, over)
			if err != nil {
				return err
			}
			return a.sayBackup(m, name)
		},
	}
	c.Flags().BoolVar(&over, "overwrite", false, "replace FILE if it is there")
	return a.withJSON(c)
}

// makeBackup writes a backup to a file or to standard output, and gives what is in it.
func (a *app) makeBackup(ctx context.Context, name *string, over bool) (backup.Manifest, error) {
	bar := a.phases()
	fetch := func(w io.Writer) error { return a.fetchBackup(ctx, w, bar) }
	if *name == "-" {
		if f, ok := a.Out.(*os.File); ok && term.IsTerminal(int(f.Fd())) {
			return backup.Manifest{}, usage("a backup is no text: send it into a file or a pipe, or name a FILE")
		}
		return a.streamBackup(fetch)
	}
	if *name == "" {
		*name = backup.FileName(filepath.Base(a.options.Folder.Dir), time.Now())
	}
	m, err := backup.WriteFile(*name, over, fetch, bar)
	var said *exitError
	switch {
	case errors.As(err, &said):
		return m, said
	case errors.Is(err, backup.ErrThere):
		return m, couldNot(fmt.Errorf("%s is there already, and was not touched", *name), "name another file, or say --overwrite")
	case errors.Is(err, os.ErrNotExist):
		return m, couldNot(err, "make the folder first, or connect its disk")
	case err != nil:
		return m, couldNot(err, cmp.Or(daemon.Hint(err), "nothing stands under that name that was not there before"))
	}
	return m, nil
}

// streamBackup checks what it sends to standard output while it goes.
func (a *app) streamBackup(fetch func(w io.Writer) error) (m backup.Manifest, err error) {
	r, w := io.Pipe()
	checked := make(chan error, 1)
	go func() {
		var err error
		m, err = backup.Read(r, "", nil)
		_ = r.CloseWithError(err) // never fails
		checked <- err
	}()
	err = fetch(io.MultiWriter(a.Out, w))
	_ = w.CloseWithError(err) // never fails; nil is the end
	read := <-checked
	if err == nil {
		err = read
	}
	var said *exitError
	if err != nil && !errors.As(err, &said) {
		err = couldNot(err, cmp.Or(daemon.Hint(err), "do not keep what was sent: it is not whole"))
	}
	return m, err
}

// fetchBackup lets the daemon make a backup, or makes one itself when no daemon answers.
func (a *app) fetchBackup(ctx context.Context, w io.Writer, bar backup.Progress) error {
	err := a.client().backup(ctx, w, bar)
	var g *goneError
	if !errors.As(err, &g) {
		return err
	}
	return daemon.StoppedBackup(ctx, a.options, readVersion().Version, w, bar)
}

// backup asks the daemon for a backup. A [goneError] says that none answered, and that nothing was written.
func (c *client) backup(ctx context.Context, w io.Writer, bar backup.Progress) error {
	address := url.URL{Scheme: "http", Host: "pottrail", Path: web.PathBackup}
	request, err := http.NewRequestWithContext(ctx, http.MethodPost, address.String(), http.NoBody)
	if err != nil {
		return fmt.Errorf("ask for a backup: %w", err)
	}
	patient := http.Client{Transport: c.http.Transport} // without a limit of time: a large ledger takes its own
	response, err := patient.Do(request)
	if err != nil {
		return &goneError{c.folder, err}
	}
	defer response.Body.Close()
	if response.StatusCode != http.StatusOK {
		text, _ := io.ReadAll(io.LimitReader(response.Body, mostText)) // without it the status must do
		if refused := refusalIn(text); refused.Code == string(events.CodeLedgerDamaged) {
			return couldNot(errors.New("the ledger is damaged, and what is damaged is not put away as a backup; older backups stay as they are"),
				"`pottrail fsck` says what is wrong; what to do: "+store.DamagedProcedure)
		}
		return readAnswer(response.StatusCode, text, nil, nil)
	}
	body := bufio.NewReaderSize(response.Body, 1<<20)
	for {
		text, err := body.ReadSlice('\n')
		if err != nil {
			return couldNot(fmt.Errorf("the daemon stopped before the backup was made: %w", err), "nothing was written")
		}
		var line web.BackupLine
		if err := json.Unmarshal(text, &line); err != nil {
			return couldNot(fmt.Errorf("the daemon's answer cannot be read: %w", err), "is it of another version? `pottrail version` tells")
		}
		switch {
		case line.Error != nil:
			return couldNot(errors.New(line.Error.Text), "")
		case !line.Archive:
			bar(line.What, line.Done, line.Total)
			continue
		}
		if _, err := io.Copy(w, body); err != nil {
			return fmt.Errorf("the backup: %w", err)
		}
		return nil
	}
}

// phases draws a bar for each thing that is done, one after the other.
func (a *app) phases() backup.Progress {
	bar, last := func(int) {}, ""
	return func(what string, done, total int64) {
		const unit = 1 << 12 // an int of 32 bits does for any ledger then
		if what != last {
			bar, last = a.progress(int((total+unit-1)/unit), what), what
		}
		bar(int((done + unit - 1) / unit))
	}
}

// sayBackup says what was made and, loudly, what is not in it.
func (a *app) sayBackup(m backup.Manifest, name string) error {
	if a.json && name != "-" {
		return a.printJSON(map[string]any{"file": name, "manifest": m})
	}
	out := a.Out
	if name == "-" {
		out, name = a.Err, "on standard output"
	}
	key := filepath.Join(a.options.Folder.Dir, "people.key")
	if _, err := os.Stat(key); err != nil { // kept elsewhere, by --people-key-file or a credential
		key = "the master key of the people file"
	}
	_, err := fmt.Fprintf(out, "backup   %s: %s, %s in %s, recorded until %s, and %s, sealed\n"+
		"checked  opened and read back; the root of each log is the ledger's\n"+
		"NO KEY   without %s nobody can read a name in it, and the key is NOT in it. Keep a copy\n"+
		"         of that file apart from the backups, and a new one whenever a person was forgotten, as that changes it\n"+
		"not in   labels that waited for a printer, what NATS carried and its credentials, the configuration file\n",
		name, size(m.Total()), many(m.Ledger.Entries, "event"), many(uint64(len(m.Ledger.Roots)), "log"), until(m), many(uint64(m.People.People), "patient"), key)
	return err
}

func until(m backup.Manifest) string {
	if m.Ledger.Recorded.IsZero() {
		return m.Created.Local().Format(time.RFC3339)
	}
	return m.Ledger.Recorded.Local().Format(time.RFC3339)
}

func many(n uint64, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

func size(n int64) string {
	if n < 10<<20 {
		return fmt.Sprintf("%d KiB", (n+1<<10-1)>>10)
	}
	return fmt.Sprintf("%d MiB", (n+1<<20-1)>>20)
}
