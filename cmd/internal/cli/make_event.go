package cli

import (
	"bytes"
	"context"
	"fmt"
	"net/http"
	"os/user"
	"time"

	"github.com/go-json-experiment/json"
	"github.com/google/uuid"
	"github.com/spf13/cobra"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/tracker"
)

// newEvent makes an event of now, here.
func newEvent(clinic, by, station string, at time.Time, items []tracker.Item, fact tracker.Fact) *tracker.Event {
	return &tracker.Event{ID: newID(), Kind: fact.Kind(), Clinic: clinic, At: at, By: by, Station: station,
		Items: items, Data: fact, Entered: tracker.EnteredTyped}
}

// newID is a UUIDv7, which sorts by time.
func newID() tracker.EventID { return tracker.EventID(uuid.Must(uuid.NewV7()).String()) }

// addBy adds who says so and where.
func addBy(c *cobra.Command, by, station *string) {
	c.Flags().StringVar(by, "by", currentUser(), "`WHO` says so: a staff key")
	c.Flags().StringVar(station, "station", "command-line", "the `STATION` where it is entered")
}

// currentUser is the best guess at a staff key: whoever is signed in at this computer.
func currentUser() string {
	if u, err := user.Current(); err == nil && u.Username != "" {
		return u.Username
	}
	return "unknown"
}

// recordOwn records events that a command made itself. A refusal is a mistake in what was asked for.
func (a *app) recordOwn(ctx context.Context, made []*tracker.Event) error {
	verdicts, err := a.send(ctx, made)
	if err != nil {
		return err
	}
	for i, v := range verdicts {
		if !v.OK {
			return &exitError{code: exitWrong, err: fmt.Errorf("%s was refused: %s", made[i].Kind, v.Error.Text)}
		}
	}
	return nil
}

// send records events in one array and gives their verdicts, in order.
func (a *app) send(ctx context.Context, made []*tracker.Event) ([]events.Verdict, error) {
	var body bytes.Buffer
	body.WriteByte('[')
	for i, e := range made {
		if i > 0 {
			body.WriteByte(',')
		}
		body.Write(events.Encode(e))
	}
	body.WriteByte(']')
	status, answer, err := a.client().do(ctx, http.MethodPost, "/v1/events", nil, "application/json", body.Bytes())
	if err != nil {
		return nil, gone(err)
	}
	if status == http.StatusOK || status == http.StatusInsufficientStorage {
		var verdicts []events.Verdict
		if err := json.Unmarshal(answer, &verdicts); err != nil || len(verdicts) != len(made) {
			return nil, couldNot(fmt.Errorf("the daemon's verdicts cannot be read: %w", err), "")
		}
		if status == http.StatusInsufficientStorage {
			return nil, couldNot(fmt.Errorf("nothing was recorded: the disk of the data folder is full"), "make space, then do it again")
		}
		return verdicts, nil
	}
	return nil, readAnswer(status, answer, nil, nil)
}
