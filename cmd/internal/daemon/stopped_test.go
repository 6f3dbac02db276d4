package daemon

import (
	"log/slog"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/cmd/internal/config"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/protocol"
)

// TestServeRefusesToStartOnAProtocolThatItCannotUse: contract page 3. It says whose, where and what to do; what it says to do
// helps.
func TestServeRefusesToStartOnAProtocolThatItCannotUse(t *testing.T) {
	o := config.Defaults(func(string) string { return "" })
	o.Folder.Dir = t.TempDir()
	adoption := func(text string) *tracker.Event {
		p, err := protocol.Parse([]byte(text))
		require.NoError(t, err)
		return &tracker.Event{ID: tracker.EventID(uuid.Must(uuid.NewV7()).String()), Kind: tracker.KindProtocolAdopted, Clinic: "MBY", At: time.Now(),
			By: "lead.moor", Station: "desk", Data: &tracker.ProtocolAdopted{SHA256: p.SHA256, Text: text}}
	}
	// A zone that this release's table of zones does not know, as a release that knew it would have taken it.
	strange := strings.Replace(protocol.Default().Text, "Europe/London", "Marram/Bay", 1)
	ledger, err := store.Open(folder{o.Folder.Dir}.path(fileLedger), store.Options{Zones: func(string) (*time.Location, error) { return time.UTC, nil }})
	require.NoError(t, err)
	verdicts, err := ledger.Record(time.Now(), []store.Intake{{Event: adoption(strange)}})
	require.NoError(t, err)
	require.True(t, verdicts[0].OK)
	require.NoError(t, ledger.Close())

	err = Run(t.Context(), Options{Options: o, Log: slog.New(slog.DiscardHandler), Version: "v1.2.3", Ready: func(Ready) { t.Error("it started") }})
	require.ErrorIs(t, err, store.ErrProtocol)
	require.ErrorContains(t, err, "MBY (entry 1")
	require.ErrorContains(t, err, "Marram/Bay")
	require.Contains(t, Hint(err), "protocol show --clinic KEY --stopped")
	require.Contains(t, Hint(err), "protocol adopt FILE --clinic KEY --stopped")

	shown, err := StoppedProtocol(o, "MBY")
	require.NoError(t, err)
	require.Equal(t, strange, shown.Text)
	require.Contains(t, shown.Fault, "Marram/Bay")
	require.Equal(t, "lead.moor", shown.By)

	verdict, err := StoppedAdopt(o, adoption(protocol.Default().Text))
	require.NoError(t, err)
	require.True(t, verdict.OK)
	_, err = StoppedAdopt(o, &tracker.Event{ID: "0199f1c2-7b1e-7c3a-9d55-000000000011", Kind: tracker.KindRoomCleared, Clinic: "MBY", At: time.Now(), Data: &tracker.RoomCleared{}})
	require.ErrorContains(t, err, "only that is recorded while the daemon is stopped")
	shown, err = StoppedProtocol(o, "MBY")
	require.NoError(t, err)
	require.Empty(t, shown.Fault)
	require.Equal(t, protocol.Default().SHA256, shown.SHA256)
	again, err := store.Open(folder{o.Folder.Dir}.path(fileLedger), store.Options{})
	require.NoError(t, err)
	require.NoError(t, again.Close())

	o.Folder.Dir = t.TempDir()
	_, err = StoppedProtocol(o, "MBY")
	require.ErrorIs(t, err, ErrForeign)
}
