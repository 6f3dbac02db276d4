package daemon

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"slices"
	"sync"
	"time"

	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/events/broker"
	"github.com/pottrail/pottrail/tracker"
)

// clients are the programs and devices that are let in over NATS. Their file is written whole at each change and holds no
// secret, only public keys; but whoever could write to it could come in, so it is its owner's alone.
type clients struct {
	folder folder
	server *broker.Server
	doors  *broker.Doors

	mu  sync.Mutex
	all []clientEntry // by name; at most broker.MaxAccounts
}

// clientEntry is one of them, as it is kept.
type clientEntry struct {
	Name    string    `json:"name"`
	Role    string    `json:"role"`
	Clinics []string  `json:"clinics"`
	Key     string    `json:"key"`
	Added   time.Time `json:"added"`
}

// clientsFile is the file's whole content.
type clientsFile struct {
	Clients []clientEntry `json:"clients"`
}

// clients reads who is let in; nobody where there is no file.
func (f folder) clients() ([]clientEntry, error) {
	path := f.path(fileClients)
	info, err := os.Stat(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("%s: %w", fileClients, err)
	}
	if info.Mode().Perm()&0o077 != 0 {
		return nil, fmt.Errorf("%s says who is let in over NATS, and %w: see that nobody changed it, then chmod 600 it", path, ErrKeyMode)
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", fileClients, err)
	}
	var content clientsFile
	if err := json.Unmarshal(data, &content, json.RejectUnknownMembers(true)); err != nil {
		return nil, fmt.Errorf("%s cannot be read: put a good copy in its place, or remove it and add the clients again: %w", path, err)
	}
	return content.Clients, nil
}

func (f folder) keepClients(all []clientEntry) error {
	data, err := json.Marshal(clientsFile{all}, jsontext.WithIndent("  "))
	if err != nil {
		return fmt.Errorf("%s: %w", fileClients, err)
	}
	return f.writeWhole(fileClients, append(data, '\n'))
}

// accounts says of each what it may do over NATS.
func accounts(all []clientEntry) []broker.Account {
	list := make([]broker.Account, len(all))
	for i, c := range all {
		list[i] = c.account()
	}
	return list
}

// account draws on the table of rights: all may record, since the verdict says which right is missing; a question is there
// for those who may ever ask it; read as they happen may be just what the role is shown.
func (c clientEntry) account() broker.Account {
	a := broker.Account{Name: c.Name, Role: c.Role, Key: c.Key, Clinics: c.Clinics}
	role, _ := tracker.ParseRole(c.Role) // a word that is none may nothing
	for _, q := range ask.Questions() {
		if mayEverAsk(q.What)&role != 0 {
			a.Asks = append(a.Asks, q.What)
		}
	}
	if tracker.ReadRight(tracker.MaySeeEvents).Roles&role != 0 {
		a.Reads = append(a.Reads, "event.>")
	}
	a.Reads = append(a.Reads, flagsShown(role)...)
	if tracker.ReadRight(tracker.MaySeeCheckpoint).Roles&role != 0 {
		a.Reads = append(a.Reads, "checkpoint.*")
	}
	return a
}

// mayEverAsk are the roles that may ask a question of at least some things.
func mayEverAsk(what string) tracker.Roles {
	bag, err := tracker.ParseName("MBY-26-00001-Z") // any bag
	if err != nil {
		return 0
	}
	may := tracker.Readers(what, "", "") | tracker.Readers(what, bag, "")
	for _, f := range tracker.FlagCatalog() {
		may |= tracker.Readers(what, "", f.Kind)
	}
	return may
}

// flagsShown lists the kinds of flags that a role may read as they change, by the end of their subject.
func flagsShown(role tracker.Roles) []string {
	var kinds []string
	all := tracker.FlagCatalog()
	for _, f := range all {
		if tracker.FlagSeers(f.Kind)&role != 0 {
			kinds = append(kinds, "flag."+string(f.Kind))
		}
	}
	if len(kinds) == len(all) {
		return []string{"flag.>"}
	}
	slices.Sort(kinds)
	return kinds
}

// change keeps a new list and lets it take effect; after an error all is as it was.
func (c *clients) change(all []clientEntry) error {
	list := accounts(all)
	if err := c.folder.keepClients(all); err != nil {
		return err
	}
	err := c.apply(list)
	if err == nil {
		c.all = all
		return nil
	}
	return errors.Join(err, c.folder.keepClients(c.all), c.apply(accounts(c.all)))
}

// apply opens doors before somebody may come to them.
func (c *clients) apply(list []broker.Account) error {
	before := accounts(c.all)
	if err := c.doors.Set(append(slices.Clone(list), lackedBy(before, list)...)); err != nil {
		return err
	}
	if err := c.server.SetAccounts(list); err != nil {
		return err
	}
	return c.doors.Set(list)
}

// lackedBy are the accounts of one list that another lacks.
func lackedBy(from, in []broker.Account) []broker.Account {
	return slices.DeleteFunc(slices.Clone(from), func(a broker.Account) bool {
		return slices.ContainsFunc(in, func(b broker.Account) bool { return a.Name == b.Name && a.Role == b.Role })
	})
}
