package daemon

import (
	"log/slog"
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/cmd/internal/config"
)

// What keeps NATS from starting is told in words.
func TestCredentialsThatCannotBeUsed(t *testing.T) {
	n, f, _ := signing(t)
	open := func() error {
		_, err := openLink(f, config.NATS{MaxStore: 64 << 20}, nil, nil, &Service{ledger: n.ledger}, "v0.0.0", true, slog.New(slog.DiscardHandler))
		return err
	}
	require.NoError(t, os.WriteFile(f.path(fileNATS), []byte("{}"), 0o600))
	require.ErrorContains(t, open(), "remove it to get new credentials")
	require.NoError(t, os.Remove(f.path(fileNATS)))
	require.NoError(t, os.Mkdir(f.path(folderNATS), 0o500))
	require.NoError(t, os.WriteFile(f.path(folderNATS)+"/jetstream", nil, 0o400)) // a file where the server wants a folder
	require.ErrorContains(t, open(), "NATS")
}
