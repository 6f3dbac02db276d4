package sealing_test

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/store/sealing"
)

func TestWhatIsSealedOpensInItsPlaceAlone(t *testing.T) {
	key, other := bytes.Repeat([]byte{1}, sealing.KeySize), bytes.Repeat([]byte{2}, sealing.KeySize)
	text := []byte("Marigold Thistlewood")
	sealed, err := sealing.Seal(key, text, "job 1")
	require.NoError(t, err)
	require.NotContains(t, string(sealed), "Marigold")
	again, err := sealing.Seal(key, text, "job 1")
	require.NoError(t, err)
	require.NotEqual(t, sealed, again, "nobody can tell that it is the same")
	got, err := sealing.Unseal(key, sealed, "job 1")
	require.NoError(t, err)
	require.Equal(t, text, got)
	for name, open := range map[string]func() ([]byte, error){
		"another place": func() ([]byte, error) { return sealing.Unseal(key, sealed, "job 2") },
		"another key":   func() ([]byte, error) { return sealing.Unseal(other, sealed, "job 1") },
		"cut short":     func() ([]byte, error) { return sealing.Unseal(key, sealed[:len(sealed)-1], "job 1") },
		"hardly there":  func() ([]byte, error) { return sealing.Unseal(key, sealed[:5], "job 1") },
		"nothing":       func() ([]byte, error) { return sealing.Unseal(key, nil, "job 1") },
	} {
		_, err := open()
		require.ErrorIs(t, err, sealing.ErrSealed, name)
	}
	for i := range sealed {
		changed := bytes.Clone(sealed)
		changed[i] ^= 1
		_, err := sealing.Unseal(key, changed, "job 1")
		require.ErrorIs(t, err, sealing.ErrSealed)
	}
	_, err = sealing.Seal(key[:31], text, "")
	require.Error(t, err)
	_, err = sealing.Unseal(key[:31], sealed, "")
	require.Error(t, err)
}
